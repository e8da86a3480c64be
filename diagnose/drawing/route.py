"""Lines between two ranks: upright, level on a track of their own, upright again. Nothing lies on anything else.

Channel routing with the left-edge rule and vertical constraints (Hashimoto & Stevens 1971); circles of constraints are
broken by a dog-leg.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import networkx as nx

from diagnose.drawing.records import Edge, Line

TRACK = 12.0
MARGIN = 16.0
CLEAR = 6.0  # two level stretches on one track keep at least this apart
STEP = 4.0  # by how much a dog-leg leaves the column that it may not use


@dataclass(frozen=True, slots=True)
class Run:
    """All that is joined within one channel: columns above and below, and its edges."""

    net: int
    uppers: tuple[float, ...]
    lowers: tuple[float, ...]
    edges: tuple[tuple[Edge, float, float], ...]  # edge, x above, x below

    @property
    def straight(self) -> bool:
        """Whether it is one upright line."""
        return len({*self.uppers, *self.lowers}) == 1


@dataclass(frozen=True, slots=True)
class Channel:
    """The runs of one channel, each with its track; a straight run has none. Dog-legs have a second track, below."""

    runs: tuple[Run, ...]
    track: Mapping[int, int]
    dog_legs: Mapping[int, int]
    tracks: int


def channel_of(edges: Sequence[Edge], ports: Mapping[tuple[str, str, str], float]) -> Channel:
    """Find a track for everything between two ranks."""
    runs = _runs(edges, ports)
    bent = [run for run in runs if not run.straight]
    above: nx.DiGraph[int] = nx.DiGraph()
    above.add_nodes_from(run.net for run in bent)
    # Where one run leaves downwards in a column that another enters from above, the one from above must lie higher.
    for high in runs:
        for low in bent:
            if high.net != low.net and _meet(high.uppers, low.lowers):
                if high.straight:
                    continue
                above.add_edge(high.net, low.net)
    legs = _dog_legs(above, {run.net: run for run in bent})
    track = _tracks(bent, above)
    first_leg = max(track.values(), default=-1) + 1
    dog_legs = {net: first_leg + number for number, net in enumerate(legs)}
    return Channel(tuple(runs), track, dog_legs, first_leg + len(legs))


def _meet(some: Sequence[float], others: Sequence[float]) -> bool:
    return any(abs(one - other) < CLEAR for one in some for other in others)


def _runs(edges: Sequence[Edge], ports: Mapping[tuple[str, str, str], float]) -> list[Run]:
    joined: nx.Graph[tuple[str, str, str]] = nx.Graph()
    for edge in edges:
        joined.add_edge((edge.upper, "bottom", edge.upper_port), (edge.lower, "top", edge.lower_port))
    runs = []
    for number, members in enumerate(nx.connected_components(joined)):
        own = [edge for edge in edges if (edge.upper, "bottom", edge.upper_port) in members]
        runs.append(
            Run(
                number,
                tuple(sorted({ports[key] for key in members if key[1] == "bottom"})),
                tuple(sorted({ports[key] for key in members if key[1] == "top"})),
                tuple(
                    (
                        edge,
                        ports[edge.upper, "bottom", edge.upper_port],
                        ports[edge.lower, "top", edge.lower_port],
                    )
                    for edge in own
                ),
            )
        )
    return runs


def _dog_legs(above: nx.DiGraph[int], runs: Mapping[int, Run]) -> list[int]:
    """Runs that enter their lower columns from beside, so that no circle of constraints is left."""
    legs = []
    while not nx.is_directed_acyclic_graph(above):
        circle = nx.find_cycle(above)
        net = min((low for _, low in circle), key=lambda number: len(runs[number].lowers))
        above.remove_edges_from(list(above.in_edges(net)))
        legs.append(net)
    return legs


def _tracks(runs: Sequence[Run], above: nx.DiGraph[int]) -> dict[int, int]:
    spans = {run.net: (min(*run.uppers, *run.lowers), max(*run.uppers, *run.lowers)) for run in runs}
    taken: list[list[tuple[float, float]]] = []
    track: dict[int, int] = {}
    for net in nx.lexicographical_topological_sort(above, key=lambda number: (spans[number][0], number)):
        low, high = spans[net][0] - STEP - CLEAR, spans[net][1] + STEP + CLEAR
        least = max((track[other] + 1 for other in above.predecessors(net)), default=0)
        for number in range(least, len(taken) + 1):
            if number == len(taken):
                taken.append([])
            if all(high < start or end < low for start, end in taken[number]):
                taken[number].append((low, high))
                track[net] = number
                break
    return track


def routed(channel: Channel, top: float, feet: Mapping[str, float], heads: Mapping[str, float]) -> list[Line]:
    """The corners of every line of a channel whose first track lies at `top`."""
    lines = []
    for run in channel.runs:
        for edge, above, below in run.edges:
            start, end = (above, feet[edge.upper]), (below, heads[edge.lower])
            if run.straight:
                lines.append(Line(edge, run.net, (start, end)))
                continue
            y = top + TRACK * channel.track[run.net]
            if (
                edge.lower == edge.name and edge.lower_port == "through"
            ):  # a wire from a part to itself: its two ends meet on the track
                lines.append(Line(edge, run.net, (start, (above, y), (below, y))))
                continue
            if run.net not in channel.dog_legs:
                lines.append(Line(edge, run.net, (start, (above, y), (below, y), end)))
                continue
            leg, beside = top + TRACK * channel.dog_legs[run.net], below - STEP
            corners = (start, (above, y), (beside, y), (beside, leg), (below, leg), end)
            lines.append(Line(edge, run.net, corners))
    return lines
