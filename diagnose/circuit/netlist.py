"""The panel as nodes and branches: built once, and the same for every setup and every fault."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from math import cos, radians, sin, tau
from types import MappingProxyType
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from diagnose.circuit.nodal import Network
from diagnose.errors import CircuitError, Problem
from diagnose.exchanges import Pair, exchanges, moved
from diagnose.knowledge.curves import load_curves
from diagnose.knowledge.records import Branch, Condition, Effect, Fault
from diagnose.panel.records import Panel, Part, part_of
from diagnose.signals import signal_at

LEAK_SIEMENS = 1e-11
LEAST_OHMS = 1e-4
TRIAC_START_OHMS = 0.06  # 1.2 V at 20 A, until the current is known
MATE_OHMS = 0.002  # a sound blade in a sound socket: common practice
AMBIENT_CELSIUS = 20.0
COPPER_OHMS = 0.5  # less than this is a way, not a load: 240 V would drive 480 A through it
PASSES_ON = ("service", "connector", "feed", "wire", "probe")  # not loads: what comes in goes out again
ALWAYS_CLOSED = ("breaker", "residual", "isolator", "fuse", "emergency_stop")
JOINED_OHMS = 0.01  # a wire under one screw with another, where a fault names no resistance: common practice

ComplexArray = NDArray[np.complex128]
FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
IndexArray = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Place:
    """One branch of the circuit: whose it is, and what it is made of."""

    part: str
    name: str
    form: str
    low: float
    high: float
    closed: tuple[Condition, ...]
    path: str
    heats: bool
    socket: str = ""  # for a mating contact: what it is plugged into
    when: Pair | None = None  # conducts only with these two exchanged


@dataclass(frozen=True, slots=True)
class Follow:
    """A branch whose EMF is another's voltage times a ratio: a transformer's two windings."""

    branch: int
    of: int
    ratio: float


@dataclass(frozen=True, eq=False)
class Netlist:
    """Nodes and branches of a panel, with each branch's admittance when it conducts.

    `alternating` and `direct` are (B,) admittances in siemens in the two domains, zero where a branch does not
    exist in that domain; `emf_alternating`, `emf_direct` are (B,) in volts.
    `rewired` has, for a part and the effect of a fault on its wires, pairs of branches: the wire as it should be, or
    -1 where there should be none, and the branch that conducts instead.
    """

    panel: Panel
    network: Network
    nodes: Mapping[str, int]
    places: tuple[Place, ...]
    index: Mapping[tuple[str, str], tuple[int, ...]]
    alternating: ComplexArray
    direct: FloatArray
    emf_alternating: ComplexArray
    emf_direct: FloatArray
    relative: FloatArray  # (B,) half the width of each branch's tolerance, as a share of its admittance
    drops: FloatArray  # (B,) on-state drop in volts of triacs, zero elsewhere
    follows: tuple[Follow, ...]
    rewired: Mapping[tuple[str, Effect], tuple[tuple[int, int], ...]]

    def node(self, terminal: str) -> int:
        """The node of `part.terminal`; raises KeyError if there is none."""
        return self.nodes[terminal]

    def branches_of(self, part: str, name: str) -> tuple[int, ...]:
        """Branch numbers of a part's branch; a plug's blade has one for each socket that it fits."""
        return self.index.get((part, name), ())

    def unsolved(self, nodes: Sequence[int]) -> Problem:
        """Which parts a circuit without one solution is about, given the nodes that nothing determines."""
        names = {number: terminal for terminal, number in self.nodes.items()}
        parts = list(dict.fromkeys(part_of(names[node]) for node in nodes if node in names))
        labels = ", ".join(self.panel.label(part) for part in parts) or "the supply"
        place = self.panel.parts[parts[0]].place if parts else self.panel.place
        message = f"nothing ties the voltage of {labels} to the supply"
        return Problem(message, "a way to the supply for each part", place)


def build(panel: Panel) -> Netlist:
    """Lay out a panel's circuit.

    Raises
    ------
    CircuitError
        Where a value computed from a part's ratings can't be a resistance or a voltage, where a load has an end that
        nothing is wired to, and where bare copper shorts the supply.
    """
    builder = _Builder(panel)
    for name, part in panel.parts.items():
        builder.add_part(name, part)
    for wire in panel.wires:
        builder.add_wire(wire.name, wire.a, wire.b, wire.resistance_ohms)
    for name, socket in panel.plugs.items():
        builder.add_mates(name, socket)
    for name in (*panel.parts, *panel.wires_by_name):
        for fault in panel.kind_of(name).faults.values():
            if panel.built == "new" or not fault.new_only:
                builder.add_rewiring(name, fault)
    builder.add_exchanges()
    netlist = builder.finish()
    _refuse_loose_ends(panel)
    _refuse_shorts(netlist)
    return netlist


class _Builder:
    def __init__(self, panel: Panel) -> None:
        self.panel = panel
        self.omega = tau * panel.supply.frequency_hertz
        self.nodes: dict[str, int] = {f"{panel.supply.service}.earth": 0}
        self.places: list[Place] = []
        self.ends: list[tuple[int, int]] = []
        self.values: list[tuple[complex, float, complex, float, float]] = []
        self.follows: list[tuple[int, str, str, float]] = []
        self.rewired: dict[tuple[str, Effect], tuple[tuple[int, int], ...]] = {}
        self.wires: dict[str, int] = {}
        self.sockets: dict[tuple[str, str], tuple[int, ...]] = {}

    def add_part(self, name: str, part: Part) -> None:
        for terminal in part.kind.terminals:
            self._node(f"{name}.{terminal}")
        for branch in part.kind.branches.values():
            ends = (self._node(f"{name}.{branch.tail}"), self._node(f"{name}.{branch.head}"))
            if branch.form == "follow":
                self.follows.append((len(self.places), name, branch.of, branch.values["ratio"].value(part.ratings)))
            self._add(_place(name, branch), ends, self._values(part, branch))

    def add_wire(self, name: str, a: str, b: str, ohms: float) -> None:
        siemens = 1 / max(ohms, LEAST_OHMS)
        place = Place(name, "run", "resistance", 0.9, 1.1, (), "power", False)
        self.wires[name] = len(self.places)
        self._add(place, (self._node(a), self._node(b)), (siemens, siemens, 0, 0.0, 0.0))

    def add_mates(self, name: str, socket: str) -> None:
        for own, its in self.panel.parts[name].kind.plug.items():
            place = Place(name, f"mate_{own}", "mate", 0.5, 2.0, (), "power", False, socket)
            ends = (self._node(f"{name}.{own}"), self._node(f"{socket}.{its}"))
            # A blade's contact is the plug's and the outlet's alike: either may have spoiled it.
            key = (socket, f"mate_{its}")
            self.sockets[key] = (*self.sockets.get(key, ()), len(self.places))
            self._add(place, ends, (1 / MATE_OHMS, 1 / MATE_OHMS, 0, 0.0, 0.0))

    def add_exchanges(self) -> None:
        """Branches that conduct only where plugs, or the wires at two terminals, have changed places."""
        pairs = dict.fromkeys(pair for exchange in exchanges(self.panel) for pair in sorted(exchange))
        for number, place in enumerate(tuple(self.places)):
            for pair in pairs:
                swapped = frozenset({pair})
                ends, socket, its = self.ends[number], "", ""
                if place.form == "mate" and place.part in pair:
                    socket = self.panel.plugs[moved(place.part, swapped)]
                    its = self.panel.parts[place.part].kind.plug[place.name.removeprefix("mate_")]
                    ends = (ends[0], self._node(f"{socket}.{its}"))
                elif place.name == "run" and place.part in self.wires and self.wires[place.part] == number:
                    wire = self.panel.wires_by_name[place.part]
                    ends = (self._node(moved(wire.a, swapped)), self._node(moved(wire.b, swapped)))
                if set(ends) != set(self.ends[number]):
                    if place.form == "mate":
                        key = (socket, f"mate_{its}")
                        self.sockets[key] = (*self.sockets.get(key, ()), len(self.places))
                    self._add(replace(place, socket=socket, when=pair), ends, self.values[number])

    def add_rewiring(self, name: str, fault: Fault) -> None:
        """Branches that conduct only where this fault joins ends, or lands wires on the wrong terminals."""
        for effect in fault.effects:
            if effect.change == "joined":
                ends = tuple(self._end(name, end) for end in effect.ends)
                if "" not in ends:
                    self.rewired[(name, effect)] = ((-1, self._astray(name, *ends)),)
            elif effect.change == "swapped":
                a, b = (f"{name}.{end}" for end in effect.ends)
                self.rewired[(name, effect)] = (*self._landing(name, a, b), *self._landing(name, b, a))
            elif effect.change == "moved":
                a, b = (self._end(name, end) for end in effect.ends)
                if a and b:
                    self.rewired[(name, effect)] = self._landing(name, a, b)

    def _end(self, part: str, end: str) -> str:
        """A terminal of the part, or of the panel where the end is one of its references; '' where it has none."""
        if end in self.panel.kind_of(part).terminals and part in self.panel.parts:
            return f"{part}.{end}"
        return self.panel.references.get(end, "")

    def _landing(self, part: str, right: str, wrong: str) -> tuple[tuple[int, int], ...]:
        """The part's wires at one terminal, each with a branch that lands on another instead."""
        found = []
        for wire in self.panel.wires:
            own = part == wire.name or part in (part_of(wire.a), part_of(wire.b))
            if not own or right not in (wire.a, wire.b):
                continue
            other = wire.b if wire.a == right else wire.a
            if other != wrong:
                found.append((self.wires[wire.name], self._astray(wire.name, other, wrong)))
        return tuple(found)

    def _astray(self, name: str, a: str, b: str) -> int:
        place = Place(name, "astray", "leak", 1.0, 1.0, (), "power", False)
        self._add(place, (self._node(a), self._node(b)), (0, 0.0, 0, 0.0, 0.0))
        return len(self.places) - 1

    def _node(self, terminal: str) -> int:
        return self.nodes.setdefault(terminal, len(self.nodes))

    def _add(self, place: Place, ends: tuple[int, int], values: tuple[complex, float, complex, float, float]) -> None:
        self.places.append(place)
        self.ends.append(ends)
        self.values.append(values)

    def _values(self, part: Part, branch: Branch) -> tuple[complex, float, complex, float, float]:
        """Admittance in AC and in DC, EMF in AC and in DC, on-state drop."""
        try:
            given = {key: expression.value(part.ratings) for key, expression in branch.values.items()}
        except ValueError as error:
            raise self._impossible(part, branch) from error
        if any(not 0 <= value < 1e12 for key, value in given.items()):
            raise self._impossible(part, branch)
        if branch.form == "sensor":
            given["ohms"] = sensor_ohms(branch, part.ratings, AMBIENT_CELSIUS)
        alternating, direct = _admittances(branch, given, self.omega)
        emf_ac: complex = 0
        emf_dc = 0.0
        if branch.form == "source":
            angle = radians(given["degrees"]) if "degrees" in given else 0.0
            # Current flows from tail to head when driven, so the head is the positive end.
            emf_ac = given["volts"] * complex(cos(angle), sin(angle))
            emf_dc = given["volts"]
        in_ac, in_dc = branch.domain != "dc", branch.domain != "ac"
        return (
            alternating if in_ac else 0,
            direct if in_dc else 0.0,
            emf_ac if in_ac and branch.domain == "ac" else 0,
            emf_dc if in_dc and branch.domain == "dc" else 0.0,
            given.get("drop", 0.0),
        )

    def _impossible(self, part: Part, branch: Branch) -> CircuitError:
        values = ", ".join(f"{name} {value:g}" for name, value in part.ratings.items())
        return CircuitError(
            Problem(f"{part.label}: its {branch.name} can't be worked out from {values}", "other ratings", part.place)
        )

    def finish(self) -> Netlist:
        index: dict[tuple[str, str], tuple[int, ...]] = dict(self.sockets)
        for number, place in enumerate(self.places):
            key = (place.part, place.name)
            index[key] = (*index.get(key, ()), number)
        alternating, direct, emf_ac, emf_dc, drops = zip(*self.values, strict=True)
        tail, head = zip(*self.ends, strict=True)
        return Netlist(
            panel=self.panel,
            network=Network(len(self.nodes), np.array(tail), np.array(head), LEAK_SIEMENS),
            nodes=MappingProxyType(self.nodes),
            places=tuple(self.places),
            index=MappingProxyType(index),
            alternating=np.array(alternating, dtype=np.complex128),
            direct=np.array(direct, dtype=np.float64),
            emf_alternating=np.array(emf_ac, dtype=np.complex128),
            emf_direct=np.array(emf_dc, dtype=np.float64),
            relative=np.array([(place.high - place.low) / 2 for place in self.places]),
            drops=np.array(drops),
            follows=tuple(Follow(number, index[(part, of)][0], ratio) for number, part, of, ratio in self.follows),
            rewired=MappingProxyType(self.rewired),
        )


def _place(part: str, branch: Branch) -> Place:
    return Place(part, branch.name, branch.form, branch.low, branch.high, branch.closed, branch.path, branch.heats)


def _admittances(branch: Branch, given: Mapping[str, float], omega: float) -> tuple[complex, float]:
    ohms = max(given.get("ohms", 0.0), LEAST_OHMS)
    match branch.form:
        case "impedance":
            return 1 / complex(ohms, given["reactance"]), 1 / ohms
        case "snubber":
            return 1 / complex(ohms, -1 / (omega * given["farads"])), 0.0
        case "triac":
            return 1 / TRIAC_START_OHMS, 1e-12  # no ohmmeter gets a triac to conduct
        case "leak":
            return 0, 0.0
    return 1 / ohms, 1 / ohms


def sensor_ohms(branch: Branch, ratings: Mapping[str, float], celsius: float) -> float:
    """The resistance of a sensor at a temperature; that of a digital one is what it draws."""
    curve = load_curves()[branch.curve]
    if curve.gives == "ohms":
        return signal_at(curve, celsius)
    ohms = branch.values.get("ohms")
    return curve.values["ohms"] if ohms is None else ohms.value(ratings)


def parts_with(panel: Panel, what: Literal["coil", "powered", "control", "output", "trip", "sense"]) -> Iterator[str]:
    """Names of the parts that have a state of this kind."""
    for name, part in panel.parts.items():
        if getattr(part.kind, what):
            yield name


# A panel whose drawing can't be right ------------------------------------------------------------------


def _refuse_loose_ends(panel: Panel) -> None:
    """Raise CircuitError for every load with a terminal that no wire and no plug comes to."""
    landed = {end for wire in panel.wires for end in (wire.a, wire.b)}
    for plug, socket in panel.plugs.items():
        for own, its in panel.parts[plug].kind.plug.items():
            landed |= {f"{plug}.{own}", f"{socket}.{its}"}
    problems = []
    for name, part in panel.parts.items():
        loose = [f"{name}.{terminal}" for terminal in _load_ends(part) if f"{name}.{terminal}" not in landed]
        for terminal in loose:
            message = f"nothing is wired to {panel.terminal_label(terminal)}"
            problems.append(Problem(message, "a wire to each end of a load", part.place))
    if problems:
        raise CircuitError(*problems)


def _load_ends(part: Part) -> list[str]:
    """Terminals where one load of the part ends alone: a star point, where several meet, may stay free."""
    if part.kind.role in PASSES_ON:
        return []
    loads = [
        branch
        for branch in part.kind.branches.values()
        if branch.form in ("resistance", "impedance") and branch.path in ("power", "control") and branch.domain != "dc"
    ]
    ends = [end for branch in loads for end in (branch.tail, branch.head)]
    return [terminal for terminal in part.kind.terminals if ends.count(terminal) == 1]


def _refuse_shorts(netlist: Netlist) -> None:
    """Raise CircuitError where bare copper joins two conductors of the supply, whatever is switched."""
    service = netlist.panel.supply.service
    terminals = netlist.panel.parts[service].kind.terminals
    sources = {f"{service}.{name}": netlist.node(f"{service}.{name}") for name in terminals}
    for number, (first, start) in enumerate(sources.items()):
        reached = _reached(netlist, start)
        for second, end in list(sources.items())[number + 1 :]:
            if end in reached:
                raise CircuitError(_short(netlist.panel, first, second, _trail(netlist, reached, end)))


def _reached(netlist: Netlist, start: int) -> dict[int, int]:
    """Nodes that wires, plugs, cords and closed protection join to a node, each with the branch that leads to it."""
    came: dict[int, int] = {start: -1}
    ways: dict[int, list[tuple[int, int]]] = {}
    for number, place in enumerate(netlist.places):
        if _bare(netlist, number, place):
            tail, head = int(netlist.network.tail[number]), int(netlist.network.head[number])
            ways.setdefault(tail, []).append((head, number))
            ways.setdefault(head, []).append((tail, number))
    queue = [start]
    for node in queue:
        for other, number in ways.get(node, ()):
            if other not in came:
                came[other] = number
                queue.append(other)
    return came


def _bare(netlist: Netlist, number: int, place: Place) -> bool:
    """Whether a branch is copper that always conducts in use: no load, no source, no contact that work switches."""
    if (
        place.when is not None
        or place.part == netlist.panel.supply.service
        or netlist.alternating[number] == 0
        or place.heats
    ):
        return False
    if place.form == "contact":
        role = netlist.panel.kind_of(place.part).role
        return role in ALWAYS_CLOSED or not place.closed
    return place.form == "mate" or (place.form == "resistance" and abs(netlist.alternating[number]) > 1 / COPPER_OHMS)


def _trail(netlist: Netlist, came: Mapping[int, int], end: int) -> list[str]:
    """Parts and wires on the way to a node, from its start."""
    parts: list[str] = []
    node = end
    while came[node] >= 0:
        number = came[node]
        parts.append(netlist.places[number].part)
        tail, head = int(netlist.network.tail[number]), int(netlist.network.head[number])
        node = tail if node == head else head
    return list(dict.fromkeys(reversed(parts)))


def _short(panel: Panel, first: str, second: str, trail: list[str]) -> Problem:
    ends = " and ".join(panel.terminal_label(end) for end in (first, second))
    wires = [panel.wires_by_name[name] for name in trail if name in panel.wires_by_name]
    parts = ", ".join(panel.label(name) for name in trail if name in panel.parts) or "wires alone"
    # A wire that is drawn wrong lies in the panel, at the middle of the way, rather than in the building.
    place = wires[len(wires) // 2].place if wires else panel.place
    return Problem(f"{ends} are shorted to each other, by way of {parts}", "a load between two conductors", place)
