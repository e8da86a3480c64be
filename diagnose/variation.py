"""What varies about a solved circuit, and how far volts and amperes in it may lie from their nominal values."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from diagnose.checks import Check
from diagnose.circuit.netlist import AMBIENT_CELSIUS, ComplexArray, FloatArray, IndexArray
from diagnose.circuit.settle import Settled
from diagnose.knowledge.curves import load_curves
from diagnose.meter import reader_of
from diagnose.panel.records import Panel
from diagnose.physics.conductors import COPPER_COEFFICIENT_20C
from diagnose.signals import share_per_kelvin

UNKNOWN_WARMTH_KELVIN = 8.0  # how well the warmth of a room is known: common practice
COPPER_SHARE = 40 * COPPER_COEFFICIENT_20C  # wires work between 20 and 60 degrees Celsius: common practice
WANDERS_SHARE = 0.005  # what else in the house does to the volts within a minute: common practice
HOUSE_SHARE = 0.75  # how well the ohms of a house's wiring are known: half to twice as much, common practice

Contributions = Mapping[str, tuple[FloatArray, FloatArray]]


@dataclass(frozen=True, eq=False, slots=True)
class TrueRange:
    """What is there to be read, before the meter's own error: (H,) nominal values, in SI, inf for OL.

    `width` names what widens them, each with (H,) how much it takes off and how much it adds at most. They
    add up: supply and copper move everything together, and parts are a root sum square already. Where they are
    `independent`, as in a heating power, they add as squares.
    """

    value: FloatArray
    width: Contributions
    independent: bool = False

    @property
    def low(self) -> FloatArray:
        """(H,) lowest true values."""
        return self.value - self._sum([below for below, _ in self.width.values()])

    @property
    def high(self) -> FloatArray:
        """(H,) highest true values."""
        return self.value + self._sum([above for _, above in self.width.values()])

    def _sum(self, widths: list[FloatArray]) -> FloatArray:
        if self.independent:
            return np.asarray(np.sqrt(sum((each**2 for each in widths), np.zeros_like(self.value))))
        return sum(widths, np.zeros_like(self.value))


def ends_of(settled: Settled, check: Check) -> tuple[int, int]:
    """The nodes of a check's two ends."""
    return settled.netlist.node(check.tail), settled.netlist.node(check.head)


def alternating_volts(settled: Settled, check: Check) -> TrueRange:
    """Volts with the meter across them, and what parts do to them."""
    branches = uncertain(settled)
    volts, change = _phasors(settled, check, branches)
    return _phasor_range(settled, volts, change, branches)


def _phasors(settled: Settled, check: Check, branches: IndexArray) -> tuple[ComplexArray, ComplexArray]:
    """(H,) volts with the meter across them, and (H, K) their changes with the logarithms of the branches' admittances.

    By the adjoint. Tellegen: the change is minus the branch's admittance times its own voltage times its voltage when
    one ampere is driven between the nodes.
    """
    a, b = ends_of(settled, check)
    meter = reader_of(check.quantity, check.instrument).siemens
    driven = np.asarray(settled.alternating.transfer(a, b))
    gain = 1 / (1 + meter * (driven[:, a] - driven[:, b]))
    volts = np.asarray(settled.alternating.between(a, b)) * gain
    back = across(settled, driven, branches)
    own = across(settled, settled.alternating.voltages, branches) - (meter * volts)[:, None] * back
    own += settled.alternating.emf[:, branches]
    return volts, np.asarray(-own * back * settled.y_alternating[:, branches] * gain[:, None])


def amperes(settled: Settled, check: Check) -> TrueRange:
    """Amperes through the wires in the jaws, towards the terminals named: what flows back takes off."""
    network, y = settled.netlist.network, settled.y_alternating
    branches = uncertain(settled)
    own = across(settled, settled.alternating.voltages, branches)
    own += settled.alternating.emf[:, branches]
    total = np.zeros(len(y), dtype=complex)
    change = np.zeros(own.shape, dtype=complex)
    for wire, towards in check.around:
        for number in settled.netlist.branches_of(wire, "run"):
            tail, head = int(network.tail[number]), int(network.head[number])
            side = 1 if settled.netlist.node(towards) == head else -1
            through = side * y[:, number]
            total += through * np.asarray(settled.alternating.between(tail, head))
            # The wire's own ohms come in as any other's: I = y V, of which y changes with itself.
            back = across(settled, np.asarray(settled.alternating.transfer(tail, head)), branches)
            change -= through[:, None] * back * y[:, branches] * own
            change += (branches == number) * through[:, None] * own
    return _phasor_range(settled, total, change, branches)


def volts_lost(loaded: Settled, unloaded: Settled, check: Check) -> TrueRange:
    """Volts that a load draws down between two terminals: those without it less those with it.

    Whatever the supply gives, both readings have it; what matters is what it does in the minute between them. Each
    part's share is that in the difference. How much the wiring of the house draws down by itself is known badly.
    """
    netlist = loaded.netlist
    house = [number for number, place in enumerate(netlist.places) if place.part == netlist.panel.supply.service]
    own = uncertain(loaded)
    branches = np.r_[own, np.array(house, dtype=own.dtype)]
    sizes: list[FloatArray] = []
    slopes: list[FloatArray] = []
    for settled in (unloaded, loaded):
        volts, change = _phasors(settled, check, branches)
        size = np.abs(volts)
        sizes.append(size)
        along = np.conj(volts) / np.where(size > 0, size, 1)
        slopes.append(np.asarray((along[:, None] * change).real))
    lost, slope = sizes[0] - sizes[1], slopes[0] - slopes[1]
    supply = netlist.panel.supply
    parts = np.sqrt(slope[:, : len(own)] ** 2 @ netlist.relative[own] ** 2)
    warmer = -COPPER_SHARE * (slope[:, : len(own)] @ copper_of(loaded)[own])
    # That of the first row, the sound panel: a fault in the house brings ohms of its own.
    wiring = np.full_like(lost, HOUSE_SHARE * np.sqrt((slope[0, len(own) :] ** 2).sum()))
    wanders = WANDERS_SHARE * sizes[0]
    return TrueRange(
        lost,
        {
            "supply": ((1 - supply.low) * np.abs(lost), (supply.high - 1) * np.abs(lost)),
            "wiring": (wiring, wiring),
            "house": (wanders, wanders),
            "parts": (parts, parts),
            "copper": (np.maximum(-warmer, 0), np.maximum(warmer, 0)),
        },
    )


def _phasor_range(settled: Settled, value: ComplexArray, change: ComplexArray, branches: IndexArray) -> TrueRange:
    """Magnitudes; the supply's range scales them, parts differ one by one, copper warms together.

    `change` (H, K) is that of the value with the logarithm of each uncertain branch's admittance.
    """
    size = np.abs(value)
    supply = settled.netlist.panel.supply
    parts = np.sqrt(np.abs(change) ** 2 @ settled.netlist.relative[branches] ** 2)
    along = np.conj(value) / np.where(size > 0, size, 1)
    warmer = -COPPER_SHARE * (along * (change @ copper_of(settled)[branches])).real
    below = np.minimum(parts, size)
    return TrueRange(
        size,
        {
            "supply": ((1 - supply.low) * size, (supply.high - 1) * size),
            "parts": (below, parts),
            "copper": (np.maximum(-warmer, 0), np.maximum(warmer, 0)),
        },
    )


# What varies -----------------------------------------------------------------------------------------------


def across(settled: Settled, voltages: NDArray[Any], branches: IndexArray) -> NDArray[Any]:
    """(H, K) voltages from tail to head of some branches."""
    network = settled.netlist.network
    return np.asarray(voltages[:, network.tail[branches]] - voltages[:, network.head[branches]])


def uncertain(settled: Settled) -> IndexArray:
    """Branches that have a tolerance or are of copper."""
    return np.flatnonzero((relative_of(settled) > 0) | (copper_of(settled) > 0))


def relative_of(settled: Settled) -> FloatArray:
    """(B,) tolerances; a sensor that is not in water of a known temperature may be some degrees off."""
    relative = settled.netlist.relative.copy()
    known = dict(settled.setup.baths)
    for number, place in enumerate(settled.netlist.places):
        if place.form == "sensor" and place.part not in known:
            curve = load_curves()[settled.netlist.panel.parts[place.part].kind.branches[place.name].curve]
            relative[number] = UNKNOWN_WARMTH_KELVIN * share_per_kelvin(curve, AMBIENT_CELSIUS)
    return relative


def copper_of(settled: Settled) -> FloatArray:
    """(B,) 1 for branches that are wire, 0 for others."""
    parts, places = _copper_parts(settled.netlist.panel), settled.netlist.places
    return np.array([float(each.form == "resistance" and each.part in parts) for each in places])


@lru_cache(maxsize=16)
def _copper_parts(panel: Panel) -> frozenset[str]:
    return frozenset(panel.of_role("connector", "feed")) | frozenset(panel.wires_by_name)
