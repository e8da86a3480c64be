"""The closed circuits of a panel: from a source through a load and back, each found in the graph of its terminals."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache
from itertools import combinations, pairwise

import networkx as nx

from diagnose.checks import Check
from diagnose.panel.records import Panel, part_of
from diagnose.topology import CARRIES, Step, Terminal, source_terminals, terminal_graph

LOADS = ("resistance", "impedance", "sensor", "thermocouple")
SOURCES = ("source", "follow")


@dataclass(frozen=True)
class Circuit:
    """One way round: from a terminal of the source to the load (`out`), and from it back to the source (`back`)."""

    source: tuple[Terminal, Terminal]
    out: tuple[Step, ...]
    load: str
    back: tuple[Step, ...]

    @cached_property
    def terminals(self) -> tuple[Terminal, ...]:
        """All terminals in the order in which the current passes them."""
        return tuple(dict.fromkeys([*_passed(self.source[0], self.out), *_passed(_end(self), self.back)]))

    @cached_property
    def parts(self) -> tuple[str, ...]:
        """All parts and wires in the order in which the current passes them, the load in the middle."""
        names = [
            *_parts_of(self.source[0], self.out), self.load, *(_parts_of(_end(self), self.back)),
        ]  # fmt: skip
        return tuple(dict.fromkeys(names))


def _end(circuit: Circuit) -> Terminal:
    return circuit.back[0].tail if circuit.back else circuit.source[1]


def _passed(first: Terminal, steps: Sequence[Step]) -> list[Terminal]:
    return [first, *(step.head for step in steps)]


def _parts_of(first: Terminal, steps: Sequence[Step]) -> Iterator[str]:
    yield part_of(first)
    for step in steps:
        yield step.part
        yield part_of(step.head)


@lru_cache(maxsize=16)
def circuits_of(panel: Panel) -> tuple[Circuit, ...]:
    """Every load of a panel with its way from a source and back, in the file's order of the parts."""
    way = _way_graph(panel)
    sources = list(_sources(panel))
    found = []
    for part in panel.parts:
        if panel.parts[part].kind.role == "probe_socket":
            continue  # thermocouple metal on the way to the probe, not the probe
        for ends in _joined(panel, part, LOADS, CARRIES):
            best = _shortest(way, part, ends, sources)
            if best is not None:
                found.append(best)
    return tuple(found)


def _way_graph(panel: Panel) -> nx.MultiGraph[Terminal]:
    """What carries current on, without earth, since a circuit through an earth is a fault, nor the service's inside."""
    graph = terminal_graph(panel)
    earths = {
        f"{name}.{terminal.name}"
        for name, part in panel.parts.items()
        for terminal in part.kind.terminals.values()
        if terminal.path == "earth" or part.kind.role == "earth"
    }
    way: nx.MultiGraph[Terminal] = nx.MultiGraph()
    way.add_nodes_from(node for node in graph if node not in earths)
    way.add_edges_from(
        (tail, head, data)
        for tail, head, data in graph.edges(data=True)
        if data["form"] in (*CARRIES, "thermocouple")  # its metal carries the little current of an input
        and data["part"] != panel.supply.service
        and tail not in earths
        and head not in earths
    )
    return way


def _inner(panel: Panel, part: str, forms: Sequence[str]) -> nx.Graph[Terminal]:
    """A part's own branches of these forms."""
    graph = terminal_graph(panel)
    inner: nx.Graph[Terminal] = nx.Graph()
    inner.add_nodes_from(f"{part}.{name}" for name in panel.parts[part].kind.terminals)
    inner.add_edges_from(
        (tail, head)
        for tail, head, data in graph.edges(data=True)
        if data["part"] == part and data["form"] in forms and not data["branch"].startswith("mate_")
    )
    return inner


def _joined(
    panel: Panel, part: str, forms: Sequence[str], not_by: Sequence[str] = ()
) -> Iterator[tuple[Terminal, Terminal]]:
    """Pairs of a part's terminals joined inside by branches of these forms, and not by the others alone."""
    kind = panel.parts[part].kind
    ends = [f"{part}.{name}" for name, terminal in kind.terminals.items() if terminal.path != "earth"]
    through, around = _inner(panel, part, (*forms, *not_by)), _inner(panel, part, not_by)
    for one, two in combinations(ends, 2):
        if nx.has_path(through, one, two) and not nx.has_path(around, one, two):
            yield one, two


def _sources(panel: Panel) -> Iterator[tuple[Terminal, Terminal]]:
    """Pairs of terminals that drive a current: the service's, an output's, a second winding's, an input's."""
    yield from combinations(source_terminals(panel), 2)
    for name, part in panel.parts.items():
        yield from _joined(panel, name, SOURCES, CARRIES)
        sense = part.kind.sense
        if sense is not None:
            yield f"{name}.{sense.plus}", f"{name}.{sense.minus}"


def _shortest(
    way: nx.MultiGraph[Terminal],
    load: str,
    ends: tuple[Terminal, Terminal],
    sources: Sequence[tuple[Terminal, Terminal]],
) -> Circuit | None:
    best: Circuit | None = None
    for source in sources:
        if part_of(source[0]) == load:
            continue
        for first, second in (source, source[::-1]):
            try:
                out, back = (nx.shortest_path(way, *pair) for pair in ((first, ends[0]), (ends[1], second)))
            except nx.NetworkXNoPath:
                continue
            if set(out) & set(back):
                continue
            if best is None or len(out) + len(back) < len(best.out) + len(best.back) + 2:
                best = Circuit((first, second), _steps(way, out), load, _steps(way, back))
    return best


def _steps(way: nx.MultiGraph[Terminal], nodes: Sequence[Terminal]) -> tuple[Step, ...]:
    steps = []
    for tail, head in pairwise(nodes):
        data = next(iter(way.get_edge_data(tail, head).values()))
        steps.append(Step(tail, head, data["part"], data["branch"]))
    return tuple(steps)


def circuit_for(panel: Panel, subject: str | None, check: Check | None) -> Circuit | None:
    """The circuit to draw: the subject's own where it holds what the check is about, else the one that holds most.

    None on a panel without any load that a source feeds.
    """
    circuits = circuits_of(panel)
    if not circuits:
        return None
    fallback = subject or next(iter([*panel.of_role("heater"), *panel.of_role("pump")]), circuits[0].load)

    told_by = _told_by(panel, check)

    def order(circuit: Circuit) -> tuple[int, bool, bool, int]:
        own = circuit.load == fallback
        return (-_holds(panel, circuit, check), not own, not told_by(circuit), len(circuit.out) + len(circuit.back))

    return min(circuits, key=order)


def _told_by(panel: Panel, check: Check | None) -> Callable[[Circuit], bool]:
    """Which of several circuits through a part a look at it is about: its probe's, its output's, its supply's."""
    if check is None:
        return lambda circuit: False
    sign = panel.kind_of(check.part).signs[check.sign] if check.quantity == "sign" else None
    if check.quantity.startswith("temperature") or (sign and sign.measure in ("shown", "error")):
        roles = panel.of_role("probe")
        return lambda circuit: part_of(circuit.source[0]) == check.part and circuit.load in roles
    if sign and sign.of == "output":
        return lambda circuit: part_of(circuit.source[0]) == check.part and circuit.load not in panel.of_role("probe")
    return lambda circuit: circuit.load == check.part


def _holds(panel: Panel, circuit: Circuit, check: Check | None) -> int:
    """How much of what a check touches lies on a circuit."""
    if check is None:
        return 0
    if check.tail:
        on_path = set(circuit.terminals)
        return sum(end in on_path or _same_bar(panel, end, circuit) for end in (check.tail, check.head))
    wires = [wire for wire, _ in check.around]
    return sum(name in circuit.parts for name in (wires or [check.part]))


def _same_bar(panel: Panel, end: Terminal, circuit: Circuit) -> bool:
    part = part_of(end)
    return part in panel.parts and panel.parts[part].kind.role == "bar" and part in circuit.parts
