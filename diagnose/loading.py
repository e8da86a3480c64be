"""What a review of a design is made from: loads, the ways to them, the devices on these, the currents."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache
from itertools import pairwise, product
from math import sqrt
from types import MappingProxyType

import networkx as nx
import numpy as np

from diagnose.circuit.netlist import FloatArray, Netlist, build
from diagnose.circuit.rows import Row
from diagnose.circuit.settle import settle
from diagnose.circuit.setup import Setup, at_rest
from diagnose.errors import Level, Place
from diagnose.knowledge.records import Branch
from diagnose.panel.records import Panel, Part
from diagnose.topology import CARRIES, Step, source_terminals, terminal_graph

# NEC 210.20(A), from memory: a breaker is at least 125 % of a load of three hours or more.
CONTINUOUS_SHARE = 0.8
CONTINUOUS = ("ul489", "ul943")  # IEC breakers carry their rated current for ever
# A GFCI breaker's trip is described by its residual part, but it is a breaker as well; an RCD is not.
RESIDUAL_BREAKERS = ("ul943",)
SETUPS = 64
NEVER_AMPERES = 1e6
CONDUCTOR_OHMS = 0.1  # less is a piece of a conductor, more is a load: common practice


SOURCES: Mapping[str, str] = MappingProxyType(
    {
        "not_supplied": "what is read from the file",
        "no_breaker": "NEC 240.4, IEC 60364-4-43; from memory",
        "no_residual_protection": "NEC 210.8, IEC 60364-4-41 cl. 411.3.3; from memory",
        "no_earth": "NEC 250.110, 250.114, IEC 60364-4-41 cl. 411.3.1.1; from memory",
        "fuse_too_small": "what a rated current means",
        "fuse_too_large": "common practice: control wiring behind a fuse of 1 A",
        "overloaded": "what a rated current means",
        "relay_near_its_rating": "common practice",
        "relay_heat": "trade data: drop 1.0–1.6 V; base of 85 °C in air of 50 °C from memory",
        "below_its_breaker": "NEC 210.21(B), IEC 60364-4-43 cl. 433.3.1; from memory",
        "element_voltage": "power goes with the square of the voltage",
        "coil_voltage": "IEC 60947-4-1 cl. 8.2.1.2: 85–110 %; from memory",
        "rated_voltage": "IEC 60034-1, ANSI C84.1: about ±10 %; from memory",
        "voltage_drop": "NEC 210.19(A), informational note; from memory",
    }
)


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing in the design that doesn't suit another; `explains` names complaints it may be behind."""

    rule: str
    parts: tuple[str, ...]
    message: str
    expected: str
    source: str
    severity: Level
    place: Place
    explains: tuple[str, ...] = ()

    def as_data(self) -> dict[str, object]:
        """For JSON; the keys are stable."""
        return {
            "rule": self.rule, "severity": self.severity, "parts": list(self.parts),
            "message": self.message, "expected": self.expected, "source": self.source,
            "explains": list(self.explains),
            "file": self.place.file, "line": self.place.line, "column": self.place.column,
        }  # fmt: skip


def found(
    panel: Panel, rule: str, parts: tuple[str, ...], severity: Level, message: str, expected: str,
    explains: tuple[str, ...] = (), source: str = "",
) -> Finding:  # fmt: skip
    """A finding with its place, that of the first part, and its rule's source."""
    first = parts[0]
    place = panel.parts[first].place if first in panel.parts else panel.wires_by_name[first].place
    source = source or SOURCES[rule]
    return Finding(rule, parts, message, expected, source, severity, place, explains)


def amps(value: float) -> str:
    """A current for a message: '22.9 A'."""
    return f"{value:.3g} A"


def volts(value: float) -> str:
    """A voltage for a message: '240 V'."""
    return f"{value:.3g} V"


@dataclass(frozen=True, slots=True)
class Load:
    """Something that takes current: what it is made for, what it gets, and the ways from the supply to it.

    Volts are between two of the ways, amperes are along each: with three ways, those of a balanced load.
    """

    part: str
    what: str  # 'element', 'pump', 'fan', 'coil', 'controller', 'supply', 'lamp'
    rated_volts: float
    rated_amperes: float
    volts: float
    ways: tuple[tuple[Step, ...], ...]

    @property
    def amperes(self) -> float:
        """What it takes at the voltage it gets."""
        return self.rated_amperes * self.volts / self.rated_volts


@dataclass(frozen=True, slots=True)
class Device:
    """A breaker, fuse or GFCI breaker."""

    name: str
    rating: float
    standard: str
    fuse: bool

    @property
    def allowed(self) -> float:
        """What it may carry for hours."""
        return self.rating * (CONTINUOUS_SHARE if self.standard in CONTINUOUS else 1.0)


@dataclass(frozen=True)
class Study:
    """A panel, its loads and its protective devices."""

    panel: Panel
    netlist: Netlist

    @cached_property
    def devices(self) -> Mapping[str, Device]:
        """The devices that open on too much current."""
        found = {}
        for name, part in self.panel.parts.items():
            trip = part.kind.trip
            if trip is None or (trip.form == "residual" and trip.standard not in RESIDUAL_BREAKERS):
                continue
            rating = part.ratings.get("current", 0.0)
            if rating > 0:
                standard = part.choices.get(trip.standard, trip.standard)
                found[name] = Device(name, rating, standard, trip.form == "fuse")
        return found

    @cached_property
    def loads(self) -> tuple[Load, ...]:
        """Every load that the supply reaches on both sides."""
        return tuple(_loads(self))

    def protective(self, step: Step) -> bool:
        """Whether a step goes through a pole that opens on too much current; a neutral's contact does not."""
        if step.part not in self.devices:
            return False
        branch = self.panel.parts[step.part].kind.branches.get(step.branch)  # the blades of its plug are none
        return branch is not None and any(condition.what == "tripped" for condition in branch.closed)

    def on_way(self, way: tuple[Step, ...]) -> list[Device]:
        """The devices along a way, nearest the supply first."""
        return [self.devices[step.part] for step in way if self.protective(step)]

    def devices_of(self, load: Load) -> list[Device]:
        """The devices on either way, nearest the supply first, each once."""
        return list(dict.fromkeys(device for way in load.ways for device in self.on_way(way)))

    @cached_property
    def amperes(self) -> FloatArray:
        """(B,) the most that each branch carries with all on that the handles let be on together.

        Worked out as if nothing tripped: the current is what the ratings are compared with.
        """
        parts = {
            name: replace(part, ratings=MappingProxyType({**part.ratings, "current": NEVER_AMPERES}))
            if name in self.devices else part
            for name, part in self.panel.parts.items()
        }  # fmt: skip
        netlist = build(replace(self.panel, parts=MappingProxyType(parts)))
        most = np.zeros(len(netlist.places))
        for setup in all_on(netlist.panel):
            settled = settle(netlist, setup, [Row(None)])
            voltages, network = settled.alternating.voltages[0], netlist.network
            across = voltages[network.tail] - voltages[network.head] + netlist.emf_alternating
            most = np.maximum(most, np.abs(across * settled.y_alternating[0]))
        return most

    def carried(self, part: str, branch: str) -> float:
        """The most that a part's branch carries."""
        numbers = self.netlist.branches_of(part, branch)
        return max((float(self.amperes[number]) for number in numbers), default=0.0)


def study(panel: Panel) -> Study:
    """Make ready to review a panel; raises CircuitError where its ratings make no circuit."""
    return Study(panel, build(panel))


def all_on(panel: Panel) -> Iterator[Setup]:
    """Everything switched on and called for, in each way that the handles allow: an either/or has two."""
    setup = at_rest(panel).commanding("call", *panel.of_role("controller"))
    handles, choices = [], []
    for name, part in panel.parts.items():
        branches = part.kind.branches.values()
        closing = [at for at in part.kind.positions if any(_closes(branch, at) for branch in branches)]
        if closing:
            handles.append(name)
            choices.append(closing)
    for number, positions in enumerate(product(*choices)):
        if number == SETUPS:
            return
        yield setup.moved(**dict(zip(handles, positions, strict=True)))


def _closes(branch: Branch, at: str) -> bool:
    handles = [condition for condition in branch.closed if condition.what == "handle"]
    return bool(handles) and all((at in condition.values) != condition.negated for condition in handles)


# Loads ------------------------------------------------------------------------------------------------------


def _loads(of: Study) -> Iterator[Load]:
    for name, part in of.panel.parts.items():
        kind, ratings = part.kind, part.ratings
        if kind.role == "heater":
            yield from _legs(of, name, part)
        elif kind.role in ("pump", "fan", "lamp"):
            own = [kind.branches[each] for each in ("winding", "lamp") if each in kind.branches]
            for branch in own[:1]:
                yield from _branch_load(of, name, kind.role, branch, ratings.get("voltage"))
        if kind.coil is not None and kind.coil.domain == "ac":
            volts = ratings.get("coil_voltage", ratings.get("voltage"))
            yield from _branch_load(of, name, "coil", kind.branches[kind.coil.branch], volts)
        if kind.powered is not None and kind.powered.domain == "ac":
            what = "controller" if kind.role == "controller" else "supply"
            yield from _branch_load(of, name, what, kind.branches[kind.powered.branch], ratings.get("voltage"))


def _legs(of: Study, name: str, part: Part) -> Iterator[Load]:
    """An element's two poles, or three lines to a star or delta, or legs with a pole in common."""
    power, rated = part.ratings["power"], part.ratings["voltage"]
    heating = [branch for branch in part.kind.branches.values() if branch.heats]
    poles = [each.name for each in part.kind.terminals.values() if each.path not in ("earth", "sensing")]
    if len(poles) == 2:
        yield from _load(of, name, "element", poles, rated, power / rated)
    elif len(heating) == 3:
        lines = [pole for pole in poles if pole != "star"]
        yield from _load(of, name, "element", lines, rated, power / rated / sqrt(3))
    else:
        for leg in heating:
            yield from _load(of, name, "element", (leg.tail, leg.head), rated, power / rated / len(heating))


def _branch_load(of: Study, name: str, what: str, branch: Branch, volts: float | None) -> Iterator[Load]:
    if volts:
        siemens = abs(of.netlist.alternating[of.netlist.branches_of(name, branch.name)[0]])
        yield from _load(of, name, what, (branch.tail, branch.head), volts, float(volts * siemens))


def _load(
    of: Study, name: str, what: str, ends: Sequence[str], rated_volts: float, rated_amperes: float
) -> Iterator[Load]:
    terminals = [f"{name}.{end}" for end in ends if end in of.panel.parts[name].kind.terminals]
    ways = tuple(way for way in (way_to(of.panel, end) for end in terminals) if way)
    if len(ways) > 1:
        first, second = (_source_volts(of.netlist, way[0].tail) for way in ways[:2])
        yield Load(name, what, rated_volts, rated_amperes, abs(first - second), ways)


@lru_cache(maxsize=16)
def power_graph(panel: Panel) -> nx.MultiGraph[str]:
    """Terminals joined by what carries power on: contacts, wires, plugs, and a meter's piece of the conductor."""
    whole = terminal_graph(panel)
    graph: nx.MultiGraph[str] = nx.MultiGraph()
    graph.add_nodes_from(whole.nodes)
    for tail, head, data in whole.edges(data=True):
        if data["form"] in CARRIES or (data["form"] == "resistance" and _is_conductor(panel, data)):
            graph.add_edge(tail, head, **data)
    return graph


def _is_conductor(panel: Panel, edge: Mapping[str, str]) -> bool:
    part = panel.parts[edge["part"]]
    branch = part.kind.branches[edge["branch"]]
    if branch.heats or branch.path == "earth" or part.kind.role == "service":
        return False
    return branch.values["ohms"].value(part.ratings) < CONDUCTOR_OHMS


def way_to(panel: Panel, end: str) -> tuple[Step, ...]:
    """The shortest way from the supply to a terminal through what carries power; empty without one."""
    graph = power_graph(panel)
    sources = [source for source in source_terminals(panel) if nx.has_path(graph, source, end)]
    best = min((nx.shortest_path(graph, source, end) for source in sources), key=len, default=[])
    steps = []
    for tail, head in pairwise(best):
        data = next(iter(graph.get_edge_data(tail, head).values()))
        steps.append(Step(tail, head, data["part"], data["branch"]))
    return tuple(steps)


def _source_volts(netlist: Netlist, terminal: str) -> complex:
    node = netlist.node(terminal)
    heads = netlist.network.head
    sources = [number for number, place in enumerate(netlist.places) if place.form == "source"]
    return sum((complex(netlist.emf_alternating[number]) for number in sources if heads[number] == node), 0j)
