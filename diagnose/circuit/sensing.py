"""Probes in the circuit: what they give where they are, and what each controller makes of it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from diagnose.circuit.netlist import AMBIENT_CELSIUS, ComplexArray, FloatArray, Netlist, parts_with, sensor_ohms
from diagnose.circuit.nodal import Batch
from diagnose.circuit.rows import Acting
from diagnose.circuit.setup import Setup
from diagnose.exchanges import probe_seen
from diagnose.knowledge.curves import Curve, load_curves
from diagnose.knowledge.records import Branch, Effect, Sense
from diagnose.panel.records import Panel
from diagnose.physics.digital_probes import POWER_ON_CELSIUS, STEP_KELVIN
from diagnose.signals import celsius_of_all, signal_at

BOX_RISE_KELVIN = 10.0  # a controller's terminals over the room, with its supply on: common practice
BROKEN_OHMS = 1e6  # a lead that carries the measuring current is broken above this: common practice
BIAS_AMPERES = 1e-7  # drives a broken thermocouple out of range, and a poor joint a little: common practice
COPPER = "copper"
WRONG_KINDS = ("wrong_kind", "other_kind")  # an input set for the first, or the second, that its sensor is taken for
# A one-wire sensor: below the first it converts nothing and holds its power-on value, below the second it is
# silent, and so it is where its data line idles below the last. Trade data, from memory.
CONVERTS_VOLTS, ANSWERS_VOLTS, IDLE_VOLTS = 3.0, 2.0, 2.2


def curve_of(panel: Panel, part: str) -> Curve | None:
    """The curve of a probe's sensor, if the part has one."""
    branch = next((each for each in panel.parts[part].kind.branches.values() if each.curve), None)
    return None if branch is None else load_curves()[branch.curve]


def set_for(panel: Panel, controller: str) -> Curve:
    """The curve that a controller's input is set to when sound: that of the probe it was fitted with."""
    probe = probe_seen(panel, controller, frozenset())
    curve = curve_of(panel, probe) if probe else None
    return curve or load_curves()["pt100"]


def tip_celsius(setup: Setup, probe: str) -> float:
    """Where a probe's tip is: in a bath, in its own place with liquid around it, or in the room."""
    return dict(setup.baths).get(probe, dict(setup.placed).get(probe, AMBIENT_CELSIUS))


def bathe(netlist: Netlist, conducting: ComplexArray, setup: Setup, acting: Sequence[Acting]) -> None:
    """Give sensors the (H, B) admittance that they have where they are."""
    for number, place in enumerate(netlist.places):
        if place.form != "sensor":
            continue
        branch = netlist.panel.parts[place.part].kind.branches[place.name]
        ratings = netlist.panel.parts[place.part].ratings
        for celsius, which in _tips(setup, place.part, acting):
            conducting[which, number] = 1 / sensor_ohms(branch, ratings, celsius)


def _tips(setup: Setup, probe: str, acting: Sequence[Acting]) -> list[tuple[float, slice | int]]:
    """The tip's temperature in all rows, then in those where it is not quite in the liquid."""
    celsius = tip_celsius(setup, probe)
    found: list[tuple[float, slice | int]] = [(celsius, slice(None))]
    if probe in dict(setup.baths):
        return found  # held in the water by hand
    for acts, _ in _effects(acting, probe, "tip"):
        found.append((celsius - (acts.level or 0.0) * (celsius - AMBIENT_CELSIUS), acts.row))
    return found


def _effects(acting: Sequence[Acting], part: str, target: str) -> list[tuple[Acting, Effect]]:
    return [
        (acts, effect)
        for acts in acting
        if acts.part == part
        for effect in acts.fault.effects
        if effect.target == target
    ]


# Thermocouples --------------------------------------------------------------------------------------------


def junction_volts(netlist: Netlist, setup: Setup, count: int, acting: Sequence[Acting]) -> FloatArray:
    """(H, B) direct EMFs of each of `count` rows: the netlist's, and those of stretches of thermocouple metal."""
    emf = np.repeat(netlist.emf_direct[None, :], count, axis=0)
    for number, place in enumerate(netlist.places):
        if place.form != "thermocouple":
            continue
        branch = netlist.panel.parts[place.part].kind.branches[place.name]
        for celsius, which in _tips(setup, place.part, acting):
            emf[which, number] = _stretch(branch, branch.curve, setup, celsius)
        for acts, effect in _effects(acting, place.part, place.name):
            if effect.change == "metal":
                emf[acts.row, number] = _stretch(branch, effect.state, setup, tip_celsius(setup, place.part))
            elif effect.change == "reversed":
                emf[acts.row, number] *= -1
    return emf


def _stretch(branch: Branch, metal: str, setup: Setup, tip: float) -> float:
    """The EMF of a run of one metal pair between two places: law of intermediate temperatures."""
    if metal == COPPER:
        return 0.0
    places = {"tip": tip, "head": AMBIENT_CELSIUS, "terminals": terminal_celsius(setup)}
    hot, cold = (places[place] for place in branch.between)
    curve = load_curves()[metal]
    return signal_at(curve, hot) - signal_at(curve, cold)


def terminal_celsius(setup: Setup) -> float:
    """How warm a controller's terminals are, which it takes off by itself."""
    return AMBIENT_CELSIUS + (BOX_RISE_KELVIN if setup.supply_on else 0.0)


# What a controller makes of it ----------------------------------------------------------------------------


def read_probes(
    netlist: Netlist, setup: Setup, acting: Sequence[Acting], dc: Batch
) -> tuple[dict[str, FloatArray], dict[str, FloatArray]]:
    """For each controller what it measures, (H,) ohms, volts or degrees, and the (H,) degrees Celsius that it shows.

    Infinity stands for a message above the range or of an open probe, minus infinity for one below it.
    """
    sensed, shown = {}, {}
    for name in parts_with(netlist.panel, "sense"):
        sense = netlist.panel.parts[name].kind.sense
        if sense is None:
            continue
        curve = set_for(netlist.panel, name)
        sensed[name] = _signals(netlist, setup, name, sense, curve, dc, acting)
        celsius = _converted(curve, sensed[name], setup)
        for acts, effect in _effects(acting, name, "shown"):
            if effect.state in WRONG_KINDS:
                place = WRONG_KINDS.index(effect.state)
                if place < len(curve.taken_for):
                    other = load_curves()[curve.taken_for[place]]
                    signals = _signals(netlist, setup, name, sense, other, dc, acting)
                    celsius[acts.row] = _converted(other, signals[acts.row : acts.row + 1], setup)[0]
        # What is done to the number comes after what makes it one.
        for acts, effect in _effects(acting, name, "shown"):
            if effect.state == "offset":
                celsius[acts.row] += acts.level or 0.0
            elif effect.state == "fahrenheit":
                celsius[acts.row] = celsius[acts.row] * 1.8 + 32.0
        shown[name] = celsius
    return sensed, shown


def _converted(curve: Curve, signals: FloatArray, setup: Setup) -> FloatArray:
    if curve.gives == "volts":
        signals = signals + signal_at(curve, terminal_celsius(setup))
    return celsius_of_all(curve, signals)


def _signals(
    netlist: Netlist, setup: Setup, name: str, sense: Sense, curve: Curve, dc: Batch, acting: Sequence[Acting]
) -> FloatArray:
    """(H,) what an input set to a curve measures at its terminals."""
    ends = {end for wire in netlist.panel.wires for end in (wire.a, wire.b)}
    plus, minus = netlist.node(f"{name}.{sense.plus}"), netlist.node(f"{name}.{sense.minus}")
    if curve.gives == "volts":
        return np.asarray(dc.between(plus, minus)).real + BIAS_AMPERES * _ohms(dc, plus, minus)
    if curve.gives == "degrees":
        return _answered(netlist, setup, name, sense, dc, acting)
    third = f"{name}.{sense.compensate}"
    fourth = f"{name}.{sense.force}"
    if sense.force and {third, fourth} <= ends:
        return _four_wire(dc, netlist.node(fourth), netlist.node(third), plus, minus)
    if not sense.compensate or third not in ends:
        return _ohms(dc, plus, minus)
    lead = _ohms(dc, minus, netlist.node(third))
    return np.where(lead > BROKEN_OHMS, np.inf, _ohms(dc, plus, minus) - lead)


def _four_wire(dc: Batch, force: int, back: int, plus: int, minus: int) -> FloatArray:
    """Volts at two terminals for an ampere through the other two; no number where a lead is broken."""
    driven = dc.transfer(force, back).real
    broken = (_ohms(dc, force, plus) > BROKEN_OHMS) | (_ohms(dc, back, minus) > BROKEN_OHMS)
    return np.where(broken, np.inf, driven[:, plus] - driven[:, minus])


def _ohms(dc: Batch, a: int, b: int) -> FloatArray:
    seen = dc.transfer(a, b)
    return np.array((seen[:, a] - seen[:, b]).real)


def _answered(
    netlist: Netlist, setup: Setup, name: str, sense: Sense, dc: Batch, acting: Sequence[Acting]
) -> FloatArray:
    """(H,) what a digital sensor sends: the temperature, its power-on value, or nothing, by the volts that reach it."""
    probe = probe_seen(netlist.panel, name, setup.swapped)
    kind = netlist.panel.parts[probe].kind if probe else None
    chips = [branch.name for branch in kind.branches.values() if branch.form == "sensor"] if kind else []
    silent = np.full(len(dc.emf), np.inf)
    if probe is None or len(chips) != 2:
        return silent
    network = netlist.network
    numbers = [netlist.branches_of(probe, chip)[0] for chip in chips]
    supply, data = (np.asarray(dc.between(int(network.tail[n]), int(network.head[n]))).real for n in numbers)
    line = netlist.node(f"{name}.{sense.compensate}"), netlist.node(f"{name}.{sense.minus}")
    idle = np.minimum(np.asarray(dc.between(*line)).real, data)
    celsius = np.empty_like(silent)
    for tip, which in _tips(setup, probe, acting):
        celsius[which] = round(tip / STEP_KELVIN) * STEP_KELVIN
    return np.select(
        [(supply < ANSWERS_VOLTS) | (idle < IDLE_VOLTS), supply < CONVERTS_VOLTS], [silent, POWER_ON_CELSIUS], celsius
    )
