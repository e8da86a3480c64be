"""One real panel: its parts, wires and supply, read from a file that a brewer can write."""
