"""Drawings of a panel in SVG: its wiring, terminal by terminal, and its one-line diagram."""
