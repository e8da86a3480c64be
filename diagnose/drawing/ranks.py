"""Which rank each node stands in, and in which order: layered drawing of a directed graph.

The steps are those of Sugiyama, Tagawa & Toda 1981, IEEE Trans. SMC 11(2): rank by the longest path, give long lines a
place in each rank that they pass, order each rank by barycentres to have few crossings.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import pairwise

import networkx as nx

from diagnose.drawing.records import Diagram, Edge, Node, Port

PASS_WIDTH = 16.0
SWEEPS = 12

Order = list[list[str]]


def longest_path_ranks(names: Sequence[str], edges: Sequence[Edge]) -> dict[str, int]:
    """The rank of each node: one more than the lowest of those that lead to it.

    Raises ValueError where the lines run in a circle.
    """
    graph: nx.DiGraph[str] = nx.DiGraph()
    graph.add_nodes_from(names)
    graph.add_edges_from((edge.upper, edge.lower) for edge in edges)
    if not nx.is_directed_acyclic_graph(graph):
        raise ValueError("the lines run in a circle")
    ranks: dict[str, int] = {}
    for name in nx.lexicographical_topological_sort(graph):
        ranks[name] = 1 + max((ranks[before] for before in graph.predecessors(name)), default=-1)
    return ranks


def with_passes(diagram: Diagram) -> Diagram:
    """The same with every long line cut into lines between neighbouring ranks. Lines from one port pass together."""
    nodes, ranks = dict(diagram.nodes), dict(diagram.ranks)
    edges: dict[tuple[str, str, str, str], Edge] = {}

    def add(edge: Edge) -> None:
        edges.setdefault((edge.upper, edge.upper_port, edge.lower, edge.lower_port), edge)

    for edge in diagram.edges:
        above, port = edge.upper, edge.upper_port
        for rank in range(ranks[edge.upper] + 1, ranks[edge.lower]):
            name = f"{edge.upper}.{edge.upper_port}@{rank}"
            if name not in nodes:
                through = (Port("through", ""),)
                nodes[name] = Node(name, "pass", "", "", "", through, through, PASS_WIDTH, 0.0)
                ranks[name] = rank
            add(replace(edge, upper=above, upper_port=port, lower=name, lower_port="through", plug=False))
            above, port = name, "through"
        add(replace(edge, upper=above, upper_port=port))
    return Diagram(nodes, ranks, tuple(edges.values()))


def ordered(diagram: Diagram) -> Order:
    """Each rank's nodes from left to right, with few crossings. Deterministic."""
    depth = max(diagram.ranks.values(), default=-1) + 1
    order: Order = [[] for _ in range(depth)]
    for name in _first_order(diagram):
        order[diagram.ranks[name]].append(name)
    best, fewest = [list(rank) for rank in order], crossings(diagram, order)
    for sweep in range(SWEEPS):
        down = sweep % 2 == 0
        for rank in range(1, depth) if down else range(depth - 2, -1, -1):
            order[rank] = _by_barycentre(diagram, order, rank, down)
        count = crossings(diagram, order)
        if count < fewest:
            best, fewest = [list(rank) for rank in order], count
    return best


def _first_order(diagram: Diagram) -> list[str]:
    """Nodes in the order of a walk, so that what hangs together starts together."""
    graph: nx.Graph[str] = nx.Graph()
    graph.add_nodes_from(diagram.nodes)
    graph.add_edges_from((edge.upper, edge.lower) for edge in diagram.edges)
    seen: dict[str, None] = {}
    for name in sorted(diagram.nodes, key=lambda node: diagram.ranks[node]):
        if name not in seen:
            seen.update(dict.fromkeys(nx.dfs_preorder_nodes(graph, name)))
    return list(seen)


def _by_barycentre(diagram: Diagram, order: Order, rank: int, down: bool) -> list[str]:
    beside = order[rank - 1 if down else rank + 1]
    at = _port_positions(diagram, beside, "bottom" if down else "top")
    weight: dict[str, float] = {}
    for name in order[rank]:
        places = [
            at[(edge.upper, edge.upper_port) if down else (edge.lower, edge.lower_port)]
            for edge in diagram.edges
            if (edge.lower if down else edge.upper) == name
            and (edge.upper if down else edge.lower) in diagram.ranks
            and ((edge.upper if down else edge.lower), (edge.upper_port if down else edge.lower_port)) in at
        ]
        weight[name] = sum(places) / len(places) if places else -1.0
    known = sorted((name for name in order[rank] if weight[name] >= 0), key=lambda name: weight[name])
    # What has no neighbour there keeps its place among the others.
    after = iter(known)
    return [name if weight[name] < 0 else next(after) for name in order[rank]]


def _port_positions(diagram: Diagram, names: Sequence[str], side: str) -> dict[tuple[str, str], float]:
    positions = {}
    for number, name in enumerate(names):
        ports = diagram.nodes[name].bottoms if side == "bottom" else diagram.nodes[name].tops
        for index, port in enumerate(ports):
            positions[name, port.name] = number + (index + 0.5) / max(len(ports), 1)
    return positions


def crossings(diagram: Diagram, order: Sequence[Sequence[str]]) -> int:
    """How many pairs of lines cross between neighbouring ranks."""
    count = 0
    for upper, lower in pairwise(order):
        tops = _port_positions(diagram, upper, "bottom")
        feet = _port_positions(diagram, lower, "top")
        pairs = sorted(
            (tops[edge.upper, edge.upper_port], feet[edge.lower, edge.lower_port])
            for edge in diagram.edges
            if (edge.upper, edge.upper_port) in tops and (edge.lower, edge.lower_port) in feet
        )
        count += sum(one[1] > two[1] for number, one in enumerate(pairs) for two in pairs[number + 1 :])
    return count


def with_ports_in_order(node: Node, at: Mapping[tuple[str, str], float]) -> Node:
    """The node with the ports of each side in the order of what they lead to; `at` by side and port."""

    def arranged(side: str, ports: tuple[Port, ...]) -> tuple[Port, ...]:
        first = {port.name: number for number, port in enumerate(ports)}
        return tuple(sorted(ports, key=lambda port: (at.get((side, port.name), 0.0), first[port.name])))

    return replace(node, tops=arranged("top", node.tops), bottoms=arranged("bottom", node.bottoms))
