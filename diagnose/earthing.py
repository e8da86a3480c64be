"""Metal that can be touched and that no earth conductor reaches: read from the file, as the other rules of design."""

from __future__ import annotations

from collections.abc import Iterator

import networkx as nx

from diagnose.loading import Finding, Study, found
from diagnose.topology import terminal_graph

_JOINS = ("wire", "mate", "follow")


def earth_missing(of: Study) -> Iterator[Finding]:
    """Parts with a terminal for the earth from which no conductor leads to the panel's earth."""
    panel = of.panel
    graph = terminal_graph(panel)
    joined: nx.Graph[str] = nx.Graph()
    joined.add_nodes_from(graph.nodes)
    joined.add_edges_from((tail, head) for tail, head, data in graph.edges(data=True) if data["form"] in _JOINS)
    earthed = nx.node_connected_component(joined, panel.references["earth"])
    for name, part in panel.parts.items():
        if panel.at_the_service(name):
            continue
        for terminal in part.kind.terminals.values():
            if terminal.path == "earth" and f"{name}.{terminal.name}" not in earthed:
                yield found(
                    panel, "no_earth", (name,), "error",
                    f"no earth reaches {panel.terminal_label(f'{name}.{terminal.name}')}",
                    "a wire, or a plug and its outlet, all the way to the panel's earth; nothing is used until then",
                )  # fmt: skip
