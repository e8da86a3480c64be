"""A panel with only what has to do with some of its parts: a drawing of that alone is small enough for a page."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from types import MappingProxyType

import networkx as nx

from diagnose.drawing.wiring import TELLERS, rails_of
from diagnose.panel.records import Panel, part_of
from diagnose.topology import carrying_graph, drivers_of, sensed_by, source_terminals


def cropped(panel: Panel, places: Iterable[str]) -> Panel:
    """The panel with these parts, wires and terminals, the ways of the power to them, and what acts on those.

    What is left out has no part in the way of the current to them: it is not drawn, and everything else stays as it is.
    """
    named = {part for place in places for part in _parts_at(panel, place)}
    kept = {panel.supply.service, *panel.supply.protection, *rails_of(panel), *named}
    kept |= {part for name in named for part in _ways(panel, name)}
    new = kept
    while new:  # what acts on a contactor may itself be moved by something else
        acting = {part for name in new & panel.parts.keys() for part in _acting_on(panel, name)}
        new = acting - kept
        kept |= new
    parts = {name: part for name, part in panel.parts.items() if name in kept}
    wires = tuple(wire for wire in panel.wires if {part_of(wire.a), part_of(wire.b)} <= parts.keys())
    plugs = {plug: socket for plug, socket in panel.plugs.items() if {plug, socket} <= parts.keys()}
    references = {name: at for name, at in panel.references.items() if part_of(at) in parts}
    return replace(
        panel, parts=MappingProxyType(parts), wires=wires, plugs=MappingProxyType(plugs),
        references=MappingProxyType(references),
    )  # fmt: skip


def _parts_at(panel: Panel, place: str) -> Iterator[str]:
    if place in panel.wires_by_name:
        wire = panel.wires_by_name[place]
        yield from (part_of(wire.a), part_of(wire.b))
    elif part_of(place) in panel.parts:
        yield part_of(place)


def _ways(panel: Panel, name: str) -> Iterator[str]:
    """The parts between the supply and each terminal of a part; behind a transformer, those to it and it as well."""
    graph = carrying_graph(panel)
    inner = {end: part for part in panel.parts for end in _second_sides(panel, part) if part != name}
    for terminal in panel.parts[name].kind.terminals:
        end = f"{name}.{terminal}"
        ways = [nx.shortest_path(graph, source, end) for source in (*source_terminals(panel), *inner)
                if nx.has_path(graph, source, end)]  # fmt: skip
        way = min(ways, key=len, default=[])
        for at in way:
            yield part_of(at)
        if way and way[0] in inner:
            yield from _ways(panel, inner[way[0]])


def _second_sides(panel: Panel, name: str) -> Iterator[str]:
    """Where a transformer or a small supply gives its own voltage."""
    if name != panel.supply.service:
        for branch in panel.parts[name].kind.branches.values():
            if branch.form in ("follow", "source"):
                yield from (f"{name}.{branch.tail}", f"{name}.{branch.head}")


def _acting_on(panel: Panel, name: str) -> Iterator[str]:
    """What moves a part's contacts: its coil's circuit, its controller, and the probe that this one reads."""
    kind = panel.parts[name].kind
    if kind.coil is not None or kind.control is not None:
        yield from _ways(panel, name)
        for beside in _at_coil(panel, name):  # a way through a holding contact is not the only one
            yield from (beside, *_ways(panel, beside))
        for controller in drivers_of(panel, name):
            yield from (controller, *_ways(panel, controller), *_sensors(panel, controller))
    elif kind.role == "controller":
        yield from _sensors(panel, name)
    elif kind.role in ("probe", "probe_socket"):
        for controller in sensed_by(panel, name):
            yield from (controller, *_ways(panel, controller))


def _at_coil(panel: Panel, name: str) -> Iterator[str]:
    """The parts that a wire joins to an end of a part's coil, but for those that only tell of it."""
    kind = panel.parts[name].kind
    branches = [kind.branches[coil.branch] for coil in (kind.coil, kind.control) if coil is not None]
    ends = {f"{name}.{end}" for branch in branches for end in (branch.tail, branch.head)}
    for wire in panel.wires:
        for mine, other in ((wire.a, wire.b), (wire.b, wire.a)):
            if mine in ends and panel.kind_of(part_of(other)).role not in TELLERS:
                yield part_of(other)


def _sensors(panel: Panel, controller: str) -> Iterator[str]:
    for role in ("probe_socket", "probe"):
        yield from (name for name in panel.of_role(role) if controller in sensed_by(panel, name))
