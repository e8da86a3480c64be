"""The panel as nodes and branches: built once, and the same for every setup and every fault."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from math import cos, radians, sin, tau
from types import MappingProxyType
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from diagnose.circuit.nodal import Network
from diagnose.errors import CircuitError, Problem
from diagnose.knowledge.records import Branch, Condition
from diagnose.panel.records import Panel, Part
from diagnose.physics.platinum import platinum_ohms

LEAK_SIEMENS = 1e-11
LEAST_OHMS = 1e-4
TRIAC_START_OHMS = 0.06  # 1.2 V at 20 A, until the current is known
MATE_OHMS = 0.002  # a sound blade in a sound socket: common practice
AMBIENT_CELSIUS = 20.0

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


@dataclass(frozen=True)
class Netlist:
    """Nodes and branches of a panel, with each branch's admittance when it conducts.

    `alternating` and `direct` are (B,) admittances in siemens in the two domains, zero where a branch does not
    exist in that domain; `emf_alternating`, `emf_direct` are (B,) in volts.
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

    def node(self, terminal: str) -> int:
        """The node of `part.terminal`; raises KeyError if there is none."""
        return self.nodes[terminal]

    def branches_of(self, part: str, name: str) -> tuple[int, ...]:
        """Branch numbers of a part's branch; a plug's blade has one for each socket that it fits."""
        return self.index.get((part, name), ())


def build(panel: Panel) -> Netlist:
    """Lay out a panel's circuit.

    Raises
    ------
    CircuitError
        Where a value computed from a part's ratings can't be a resistance or a voltage.
    """
    builder = _Builder(panel)
    for name, part in panel.parts.items():
        builder.add_part(name, part)
    for wire in panel.wires:
        builder.add_wire(wire.name, wire.a, wire.b, wire.resistance_ohms)
    for name, socket in panel.plugs.items():
        builder.add_mates(name, socket)
    return builder.finish()


class _Builder:
    def __init__(self, panel: Panel) -> None:
        self.panel = panel
        self.omega = tau * panel.supply.frequency_hertz
        self.nodes: dict[str, int] = {f"{panel.supply.service}.earth": 0}
        self.places: list[Place] = []
        self.ends: list[tuple[int, int]] = []
        self.values: list[tuple[complex, float, complex, float, float]] = []

    def add_part(self, name: str, part: Part) -> None:
        for terminal in part.kind.terminals:
            self._node(f"{name}.{terminal}")
        for branch in part.kind.branches.values():
            ends = (self._node(f"{name}.{branch.tail}"), self._node(f"{name}.{branch.head}"))
            self._add(_place(name, branch), ends, self._values(part, branch))

    def add_wire(self, name: str, a: str, b: str, ohms: float) -> None:
        siemens = 1 / max(ohms, LEAST_OHMS)
        place = Place(name, "run", "resistance", 0.9, 1.1, (), "power", False)
        self._add(place, (self._node(a), self._node(b)), (siemens, siemens, 0, 0.0, 0.0))

    def add_mates(self, name: str, socket: str) -> None:
        for own, its in self.panel.parts[name].kind.plug.items():
            place = Place(name, f"mate_{own}", "mate", 0.5, 2.0, (), "power", False, socket)
            ends = (self._node(f"{name}.{own}"), self._node(f"{socket}.{its}"))
            self._add(place, ends, (1 / MATE_OHMS, 1 / MATE_OHMS, 0, 0.0, 0.0))

    def _node(self, terminal: str) -> int:
        return self.nodes.setdefault(terminal, len(self.nodes))

    def _add(
        self, place: Place, ends: tuple[int, int], values: tuple[complex, float, complex, float, float]
    ) -> None:
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
        index: dict[tuple[str, str], tuple[int, ...]] = {}
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
        )


def _place(part: str, branch: Branch) -> Place:
    return Place(
        part, branch.name, branch.form, branch.low, branch.high, branch.closed, branch.path, branch.heats
    )


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
        case "sensor":
            ohms = float(platinum_ohms(AMBIENT_CELSIUS, given["at_zero"]))
    return 1 / ohms, 1 / ohms


def parts_with(panel: Panel, what: Literal["coil", "powered", "control", "output", "trip", "sense"]) -> Iterator[str]:
    """Names of the parts that have a state of this kind."""
    for name, part in panel.parts.items():
        if getattr(part.kind, what):
            yield name

