"""What eyes and ears would tell of settled circuits: shares of each outcome of a sign, row by row.

And coils that anyone can read to be the wrong ones for their circuit.
"""

from __future__ import annotations

import numpy as np

from diagnose.circuit.netlist import (
    BoolArray,
    FloatArray,
    Netlist,
    parts_with,
)
from diagnose.circuit.rows import Row
from diagnose.circuit.settle import Settled, settle
from diagnose.circuit.setup import Setup, at_rest
from diagnose.circuit.trips import outcome_shares
from diagnose.controller_signs import error_shares, front_shares, senses, shown_shares
from diagnose.errors import Problem
from diagnose.knowledge.records import Sign
from diagnose.topology import commanded_by
from diagnose.warmth import excess_kelvin

STILL_HEATS = 0.04  # of its power: as for the sign of heat
EDGE = 0.08  # a share this near to a band's edge may be seen either way
# Shares of its voltage between which a coil works, 85 to 110 % by IEC 60947-4-1 cl. 8.2.1.2, from memory, with some
# room for the supply; below the last it gets none.
COIL_AT_LEAST, COIL_AT_MOST, COIL_DEAD = 0.8, 1.2, 0.05
BUZZES = "buzzes"
HUMS = 0.35  # an alternating coil at a third of its pull-in voltage hums audibly without closing: common practice


def grade_sign(settled: Settled, part: str, sign_name: str, looked: Setup | None = None) -> FloatArray:
    """(H, O) shares of a sign's outcomes in each row; rows sum to one.

    `looked` is the setup that it is looked at in, where that is not the settled one: switched off just before.

    Raises KeyError where the part has no such sign.
    """
    sign = settled.netlist.panel.kind_of(part).signs[sign_name]
    match sign.measure:
        case "voltage":
            shares = _banded(settled, part, sign, settled.volts(part, sign.of))
        case "current":
            shares = _banded(settled, part, sign, settled.amperes(part, sign.of))
        case "power":
            shares = _banded(settled, part, sign, settled.heat_watts(part))
        case "trip":
            shares = _tripping(settled, part)
        case "shown":
            shares = shown_shares(settled, part, sign)
        case "error":
            shares = error_shares(settled, part)
        case "front":
            shares = front_shares(settled, part, sign)
        case "state":
            shares = _state(settled, part, sign)
        case "warmth":
            shares = _warmth(settled, part, sign, looked or settled.setup)
        case "sag":
            shares = _sag(settled, part, sign)
        case "course":
            shares = _course(settled, part, sign)
    return _told(settled, part, sign, shares)


def _banded(settled: Settled, part: str, sign: Sign, values: FloatArray) -> FloatArray:
    """Shares of bands, over the supply's range: voltage follows it, power follows its square."""
    supply = settled.netlist.panel.supply
    ratings = settled.netlist.panel.parts[part].ratings
    rated = sign.rated.value(ratings) if sign.rated else 1.0
    power = 2 if sign.measure == "power" else 1
    shares = np.zeros((len(values), len(sign.bands)))
    for factor in ((1 + supply.low) / 2, 1.0, (1 + supply.high) / 2):
        level = values / rated * factor**power
        for number, (_, low, high) in enumerate(sign.bands):
            last = number == len(sign.bands) - 1
            inside = _rising(level, low) * (1.0 if last else 1 - _rising(level, high))
            shares[:, number] += inside
    return np.asarray(shares / shares.sum(axis=1, keepdims=True))


def _rising(level: FloatArray, edge: float) -> FloatArray:
    """0 well below an edge, 1 well above it, in between near it."""
    if edge <= 0:
        return np.ones_like(level)
    return np.asarray(np.clip((level / edge - 1) / (2 * EDGE) + 0.5, 0, 1))


def _tripping(settled: Settled, part: str) -> FloatArray:
    never = np.full((len(settled.rows), 2), np.inf)
    return outcome_shares(settled.trips.get(part, never))


def _state(settled: Settled, part: str, sign: Sign) -> FloatArray:
    states = settled.states.get(sign.of, {})
    on = states[part] if part in states else np.zeros(len(settled.rows), dtype=bool)
    index = on.astype(int)
    if BUZZES in sign.outcomes:
        index = np.where(_buzzing(settled, part, on), sign.outcomes.index(BUZZES), index)
    return np.asarray(np.eye(len(sign.outcomes))[index])


def _buzzing(settled: Settled, part: str, on: BoolArray) -> BoolArray:
    """A coil that pulls in and drops out in turn, or that has too little to pull in and too much to stay silent."""
    chattering = settled.chattering.get(part, np.zeros_like(on))
    coil = settled.netlist.panel.parts[part].kind.coil
    if coil is None:
        return chattering
    ratings = settled.netlist.panel.parts[part].ratings
    volts = settled.volts(part, coil.branch)
    number = settled.netlist.branches_of(part, coil.branch)[0]
    works = settled.y_alternating[:, number] != 0
    hums = ~on & works & (volts >= HUMS * coil.pull_in.value(ratings)) & (coil.domain == "ac")
    return np.asarray(chattering | hums)


def _warmth(settled: Settled, part: str, sign: Sign, looked: Setup) -> FloatArray:
    """Shares of bands of kelvin above a sound twin, the spread of the thermal resistances taken in."""
    found = excess_kelvin(settled, part, sign.of, off=not looked.supply_on, opened=sign.exposure != "outside")
    shares = np.zeros((len(settled.rows), len(sign.bands)))
    for kelvin in (
        found.low,
        (found.low + found.middle) / 2,
        found.middle,
        (found.middle + found.high) / 2,
        found.high,
    ):
        for number, (_, low, high) in enumerate(sign.bands):
            last = number == len(sign.bands) - 1
            # Bands are written as hundredths, since shares are what the others are graded by.
            shares[:, number] += _rising(kelvin, 100 * low) * (1.0 if last else 1 - _rising(kelvin, 100 * high))
    return np.asarray(shares / shares.sum(axis=1, keepdims=True))


def _sag(settled: Settled, part: str, sign: Sign) -> FloatArray:
    """As a voltage; what switches itself off and on again with its load resets, whatever it gets at this moment."""
    shares = _banded(settled, part, sign, settled.volts(part, sign.of))
    resets = settled.chattering.get(part, np.zeros(len(shares), dtype=bool))
    shares[resets] = np.eye(len(sign.outcomes))[0]
    return shares


def _course(settled: Settled, part: str, sign: Sign) -> FloatArray:
    """Of a kettle whose controller is content: it settles, or climbs on where its element still heats."""
    rated = settled.netlist.panel.parts[part].ratings.get("power", 1.0)
    climbs = settled.heat_watts(part) > STILL_HEATS * rated
    return np.asarray(np.eye(len(sign.outcomes))[np.where(climbs, sign.outcomes.index("climbs"), 0)])


def _told(settled: Settled, part: str, sign: Sign, shares: FloatArray) -> FloatArray:
    """Where the knowledge base says what a fault looks like, that is what is seen."""
    panel = settled.netlist.panel
    shares = shares.copy()
    for number, row in enumerate(settled.rows):
        for cause, _ in row.members:
            fault = panel.kind_of(cause.part).faults[cause.fault]
            told = fault.signs.get(sign.name)
            if told not in sign.outcomes or (fault.when_warm and not (settled.setup.warm or sign.dead)):
                continue
            if (sign.measure == "voltage" or told == BUZZES) and shares[number, 0] > 0.5:
                continue  # nothing hums, glows or rattles where no voltage comes
            through_probe = senses(settled, cause.part, part)
            powered = settled.states["powered"].get(part, np.ones(len(settled.rows), dtype=bool))[number]
            plugged = cause.part not in settled.setup.unplugged
            loop = sign.measure == "course" and _in_its_loop(settled, cause.part, part)
            loop |= {cause.part, part} == _runs_round(settled)
            if cause.part == part or loop or (through_probe and powered and plugged):
                seen = np.eye(len(sign.outcomes))[sign.outcomes.index(told)]
                shares[number] = sign.sure * seen + (1 - sign.sure) * shares[number]
    return shares


def _in_its_loop(settled: Settled, part: str, heater: str) -> bool:
    """Whether a controller or probe is what an element's kettle is kept at its temperature by."""
    panel = settled.netlist.panel
    if panel.kind_of(part).role not in ("controller", "probe"):
        return False
    controllers = commanded_by(panel, heater)
    return part in controllers or any(senses(settled, part, controller) for controller in controllers)


def _runs_round(settled: Settled) -> set[str]:
    """A recirculation coil and the pump that runs the wort through it: what ails one is seen at the other, too."""
    panel = settled.netlist.panel
    return {*panel.of_role("exchanger")[:1], *panel.of_role("pump")[:1]}


def misfits(netlist: Netlist) -> tuple[Problem, ...]:
    """Warnings of coils that get a voltage they are not made for, with all of the sound panel switched on.

    Raises
    ------
    CircuitError
        Where the circuit can't be solved.
    """
    panel = netlist.panel
    setup = at_rest(panel).commanding("call", *panel.of_role("controller"))
    setup = setup.moved(**{name: panel.parts[name].kind.run for name, _ in setup.positions})
    settled = settle(netlist, setup, [Row(None)])
    found = []
    for name in parts_with(panel, "coil"):
        part = panel.parts[name]
        made_for = part.ratings.get("coil_voltage")
        if part.kind.coil is None or made_for is None:
            continue
        volts = float(settled.volts(name, part.kind.coil.branch)[0])
        share = volts / made_for
        if share > COIL_AT_MOST or COIL_DEAD < share < COIL_AT_LEAST:
            problem = f"{part.label}: its coil is made for {made_for:g} V and gets {volts:.0f} V"
            found.append(Problem(problem, "a coil for the voltage of its circuit", part.place, "warning", "coil"))
    return tuple(found)
