"""Parts that no wire or plug joins to the supply: most often a slip in the file."""

from __future__ import annotations

from collections.abc import Iterator

import networkx as nx

from diagnose.errors import Problem
from diagnose.panel.records import Panel, part_of


def problems(panel: Panel) -> Iterator[Problem]:
    """A problem for each part that hangs in the air, and for each terminal that must be wired and isn't."""
    graph: nx.Graph[str] = nx.Graph()
    graph.add_nodes_from(panel.parts)
    for wire in panel.wires:
        graph.add_edge(part_of(wire.a), part_of(wire.b))
    graph.add_edges_from(panel.plugs.items())
    reached = nx.node_connected_component(graph, panel.supply.service)
    # Probes and their sockets float from the mains by design, so reaching any controller is enough for them:
    # they share the graph with it, since a part joins all its own terminals here.
    for name, part in panel.parts.items():
        if name not in reached:
            yield Problem(
                f"{part.kind.name} {name} is joined to nothing that reaches the supply",
                "a wire or a plug line for it",
                part.place,
            )
