"""The panel as a graph of terminals: named paths, what lies upstream, what would cut, where the middle is."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache

import networkx as nx

from diagnose.knowledge.records import Branch
from diagnose.panel.records import Panel, Part, part_of

Terminal = str  # 'part.terminal'


@dataclass(frozen=True, slots=True)
class Step:
    """One stretch of a path: from a terminal, through a part, wire or plug, to the next terminal."""

    tail: Terminal
    head: Terminal
    part: str
    branch: str


@dataclass(frozen=True, slots=True)
class PowerPath:
    """How power gets to a load and back: the steps from the first source terminal, and those to the second."""

    load: str
    out: tuple[Step, ...]
    back: tuple[Step, ...]


# What a person would not call a way for power: a device's own electronics, leaks, and other loads.
CONDUCTOR_OHMS = 0.1  # a resistance below this is a piece of a conductor, above it is a load: common practice
CARRIES = ("contact", "triac", "wire", "mate")


@lru_cache(maxsize=16)
def terminal_graph(panel: Panel) -> nx.MultiGraph[str]:
    """Terminals joined by what conducts in a sound panel, each edge with its part, branch, form and path."""
    graph: nx.MultiGraph[str] = nx.MultiGraph()
    for name, part in panel.parts.items():
        graph.add_nodes_from(f"{name}.{terminal}" for terminal in part.kind.terminals)
        for branch in part.kind.branches.values():
            if branch.form == "leak" or branch.form == "snubber":
                continue
            plain = branch.form == "resistance" and _is_conductor(part, branch)
            graph.add_edge(
                f"{name}.{branch.tail}", f"{name}.{branch.head}", part=name, branch=branch.name,
                form="wire" if plain else branch.form, path=branch.path,
            )  # fmt: skip
    for wire in panel.wires:
        graph.add_edge(wire.a, wire.b, part=wire.name, branch="run", form="wire", path="")
    for plug, socket in panel.plugs.items():
        for own, its in panel.parts[plug].kind.plug.items():
            graph.add_edge(f"{plug}.{own}", f"{socket}.{its}", part=plug, branch=f"mate_{own}", form="mate", path="")
    return graph


def _is_conductor(part: Part, branch: Branch) -> bool:
    """Whether a resistance inside a part only carries current on: a core, a meter's window."""
    return not branch.heats and branch.values["ohms"].value(part.ratings) < CONDUCTOR_OHMS


@lru_cache(maxsize=16)
def carrying_graph(panel: Panel) -> nx.MultiGraph[str]:
    """The part of the terminal graph that carries power on: no loads, no coils, no earth."""
    graph = terminal_graph(panel)
    carrying: nx.MultiGraph[str] = nx.MultiGraph()
    carrying.add_nodes_from(graph.nodes)
    carrying.add_edges_from(
        (tail, head, data) for tail, head, data in graph.edges(data=True) if data["form"] in CARRIES
    )
    return carrying


def source_terminals(panel: Panel) -> tuple[Terminal, ...]:
    """The service's terminals that carry load current: legs and neutral."""
    service = panel.supply.service
    kind = panel.parts[service].kind
    return tuple(f"{service}.{name}" for name, terminal in kind.terminals.items() if terminal.path != "earth")


def load_terminals(panel: Panel, load: str) -> tuple[Terminal, Terminal]:
    """The two terminals between which a load sits.

    Raises ValueError for a part that has fewer than two that aren't earth.
    """
    kind = panel.kind_of(load).terminals.values()
    names = [f"{load}.{terminal.name}" for terminal in kind if terminal.path not in ("earth", "sensing")]
    if len(names) < 2:
        raise ValueError(f"{load} is no load")
    return names[0], names[1]


def power_path(panel: Panel, load: str) -> PowerPath:
    """The way of the current to a load and back. Either way is empty where nothing joins the load to the supply."""
    graph = carrying_graph(panel)
    first, second = load_terminals(panel, load)
    return PowerPath(load, tuple(_way(panel, graph, first)), tuple(_way(panel, graph, second)))


def _way(panel: Panel, graph: nx.MultiGraph[str], end: Terminal) -> Iterable[Step]:
    best: list[str] | None = None
    for source in source_terminals(panel):
        try:
            way = nx.shortest_path(graph, source, end)
        except nx.NetworkXNoPath:
            continue
        if best is None or len(way) < len(best):
            best = way
    for tail, head in zip(best or [], (best or [])[1:], strict=False):
        data = next(iter(graph.get_edge_data(tail, head).values()))
        yield Step(tail, head, data["part"], data["branch"])


def upstream(panel: Panel, load: str) -> tuple[str, ...]:
    """Parts and wires between the supply and a load, both ways, nearest the supply first, each once."""
    path = power_path(panel, load)
    return tuple(dict.fromkeys(step.part for step in (*path.out, *path.back)))


def cuts(panel: Panel, load: str) -> tuple[str, ...]:
    """Parts with a handle, a coil, a plug or a trip on a load's path: any of them open leaves it without current."""

    def opens(name: str) -> bool:
        kind = panel.kind_of(name)
        return bool(kind.positions or kind.coil or kind.control or kind.trip or kind.plug)

    return tuple(name for name in upstream(panel, load) if opens(name))


def middle(steps: tuple[Step, ...]) -> Terminal | None:
    """The terminal half-way along a path: where one look says which half to go on with."""
    return steps[len(steps) // 2].tail if steps else None


def commanded_by(panel: Panel, load: str) -> tuple[str, ...]:
    """Controllers whose outputs drive a relay or contactor on a load's path."""
    return tuple(dict.fromkeys(name for part in upstream(panel, load) for name in drivers_of(panel, part)))


def drivers_of(panel: Panel, part: str) -> tuple[str, ...]:
    """Controllers whose outputs drive a relay or contactor itself."""
    found: list[str] = []
    graph = carrying_graph(panel)
    kind = panel.kind_of(part)
    for coil in (kind.control, kind.coil):
        if coil is None:
            continue
        branch = kind.branches[coil.branch]
        for end in (branch.tail, branch.head):
            for controller in panel.of_role("controller"):
                outputs = [
                    f"{controller}.{t}" for t in panel.parts[controller].kind.terminals if t in ("plus", "minus")
                ]
                if any(nx.has_path(graph, f"{part}.{end}", output) for output in outputs):
                    found.append(controller)
    return tuple(dict.fromkeys(found))


def sensed_by(panel: Panel, probe: str) -> tuple[str, ...]:
    """Controllers that a probe is joined to."""
    graph = carrying_graph(panel)
    start = [f"{probe}.{terminal}" for terminal in panel.parts[probe].kind.terminals]
    return tuple(
        name
        for name in panel.of_role("controller")
        if any(
            nx.has_path(graph, terminal, f"{name}.{own.name}")
            for terminal in start
            for own in panel.parts[name].kind.terminals.values()
            if own.path == "sensing"
        )
    )


def sensing_probe(panel: Panel, controller: str) -> str | None:
    """The probe that a controller reads, if it has one."""
    return next((probe for probe in panel.of_role("probe") if controller in sensed_by(panel, probe)), None)


def beside(panel: Panel, load: str, role: str) -> tuple[str, ...]:
    """Parts of a role that a wire joins to a part on a load's path, or to a relay that switches the coil of one.

    A lamp beside a contactor's coil, or beside that of the small relay before it, tells of the load.
    """
    path = {name for name in upstream(panel, load) if name in panel.parts}
    path |= {relay for name in path for relay in _switching(panel, name)}
    path = {name for name in path if panel.parts[name].kind.role not in ("bar", "earth")}
    found = []
    for wire in panel.wires:
        ends = [part_of(end) for end in (wire.a, wire.b)]
        for mine, other in (ends, ends[::-1]):
            if mine in path and panel.parts[other].kind.role == role:
                found.append(other)
    return tuple(dict.fromkeys(found))


def _switching(panel: Panel, name: str) -> set[str]:
    """Relays whose contacts lie between the supply and a part's coil."""
    kind = panel.parts[name].kind
    if kind.coil is None:
        return set()
    coil = kind.branches[kind.coil.branch]
    ways = [_way(panel, carrying_graph(panel), f"{name}.{end}") for end in (coil.tail, coil.head)]
    return {step.part for way in ways for step in way if step.part in panel.parts and panel.parts[step.part].kind.coil}
