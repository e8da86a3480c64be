"""What a controller's display and lamps tell: shares of outcomes, row by row, from what it makes of its probe."""

from __future__ import annotations

import numpy as np

from diagnose.circuit.netlist import BoolArray, FloatArray
from diagnose.circuit.sensing import tip_celsius
from diagnose.circuit.settle import Settled
from diagnose.exchanges import probe_seen
from diagnose.knowledge.records import Sign
from diagnose.panel.records import Panel
from diagnose.topology import sensed_by

RIGHT_WITHIN_KELVIN = 2.0
SAME_WITHIN_KELVIN = 2.0  # two errors no further apart than this are called the same: common practice
CHANGES = ("falls", "same", "rises")  # how an error goes from one setup to another
ALARM, DARK, JUMPING = "alarm or lockout", "dark", "jumping"
DISTURBING_AMPERES = 0.05  # what a load draws that disturbs a cable as it switches: common practice
LOADS = ("heater", "pump")


def shown_shares(settled: Settled, part: str, sign: Sign) -> FloatArray:
    """(H, O) nothing, a plausible number, a message above the range or below it, or a number that jumps."""
    powered, shown = settled.states["powered"][part], settled.shown[part]
    index = np.select([~powered, shown == -np.inf, ~np.isfinite(shown)], [0, 3, 2], default=1)
    if JUMPING in sign.outcomes:
        index = np.where(powered & disturbed(settled, part), sign.outcomes.index(JUMPING), index)
    return np.asarray(np.eye(len(sign.outcomes))[index])


def error_shares(settled: Settled, part: str) -> FloatArray:
    """(H, 4) low, right, high, no number - against the water that the probe is in."""
    error, none = _error(settled, part)
    high = np.where(none, 0, np.clip((error - RIGHT_WITHIN_KELVIN) + 0.5, 0, 1))
    low = np.where(none, 0, np.clip((-error - RIGHT_WITHIN_KELVIN) + 0.5, 0, 1))
    return np.asarray(np.stack([low, np.where(none, 0, 1 - low - high), high, none.astype(float)], axis=1))


def change_shares(before: Settled, after: Settled, part: str) -> FloatArray:
    """(H, 3) whether a reading's error falls, stays or rises from one setup to another; no number is none of them."""
    first, no_first = _error(before, part)
    second, no_second = _error(after, part)
    none = no_first | no_second
    change = np.where(none, 0, second - first)
    rises = np.where(none, 0, np.clip((change - SAME_WITHIN_KELVIN) + 0.5, 0, 1))
    falls = np.where(none, 0, np.clip((-change - SAME_WITHIN_KELVIN) + 0.5, 0, 1))
    return np.asarray(np.stack([falls, np.where(none, 0, 1 - rises - falls), rises], axis=1))


def front_shares(settled: Settled, part: str, sign: Sign) -> FloatArray:
    """(H, O) what a front or a menu tells: as it should be, dark without supply, an alarm without a temperature."""
    index = np.zeros(len(settled.rows), dtype=np.int64)
    powered = settled.states["powered"][part]
    if ALARM in sign.outcomes and part in settled.shown:
        index = np.where(~np.isfinite(settled.shown[part]), sign.outcomes.index(ALARM), index)
    if DARK in sign.outcomes:
        index = np.where(powered, index, sign.outcomes.index(DARK))
    return np.asarray(np.eye(len(sign.outcomes))[index])


def _error(settled: Settled, part: str) -> tuple[FloatArray, BoolArray]:
    probe = probe_seen(settled.netlist.panel, part, settled.setup.swapped)
    none = ~np.isfinite(settled.shown[part]) | ~settled.states["powered"][part]
    error = np.where(none, 0.0, settled.shown[part]) - tip_celsius(settled.setup, probe or "")
    return error, np.asarray(none)


def disturbed(settled: Settled, controller: str) -> BoolArray:
    """(H,) whether loads make a number jump: those that run, by way of a cable that picks them up."""
    panel = settled.netlist.panel
    found = np.zeros(len(settled.rows), dtype=bool)
    for number, row in enumerate(settled.rows):
        for cause, _ in row.members:
            effects = panel.kind_of(cause.part).faults[cause.fault].effects if not cause.as_built else ()
            if any(effect.target == "shown" and effect.state == "disturbed" for effect in effects):
                found[number] |= senses(settled, cause.part, controller)
    return found & _loaded(settled) if found.any() else found


def _loaded(settled: Settled) -> BoolArray:
    panel = settled.netlist.panel
    on = np.zeros(len(settled.rows), dtype=bool)
    for load in panel.of_role(*LOADS):
        for branch in panel.parts[load].kind.branches.values():
            if branch.form in ("resistance", "impedance") and branch.domain != "dc":
                on |= settled.amperes(load, branch.name) > DISTURBING_AMPERES
    return on


def senses(settled: Settled, part: str, controller: str) -> bool:
    """Whether a controller's reading comes through this probe or probe socket, where the plugs sit now."""
    panel: Panel = settled.netlist.panel
    match panel.kind_of(part).role:
        case "probe":
            return probe_seen(panel, controller, settled.setup.swapped) == part
        case "probe_socket":
            return controller in sensed_by(panel, part)
    return False
