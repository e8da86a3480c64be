"""What a check would show under every cause: an interval for a reading, shares of outcomes for a sign."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from diagnose.causes import Cause
from diagnose.checks import Check
from diagnose.circuit.netlist import FloatArray, Netlist
from diagnose.circuit.settle import Row, Settled, settle
from diagnose.circuit.setup import Setup
from diagnose.grading import grade_sign
from diagnose.meter import INSTRUMENTS, shown_interval

UNKNOWN_WARMTH_SHARE = 0.03  # a Pt100 changes by 0.385 % a kelvin, and a room is known within 8 K
PROBE_TOLERANCE_KELVIN = 0.3  # IEC 60751 class B at 0 degrees Celsius


@dataclass(frozen=True, eq=False, slots=True)
class Prediction:
    """What a check shows: the sound panel first (row 0), then one row for each cause.

    For a reading `low`, `high` and `value` are (1 + H,) in SI, inf for OL; for a sign `table` is (1 + H, O).
    """

    low: FloatArray
    high: FloatArray
    value: FloatArray
    table: FloatArray | None = None


class Predictor:
    """Solves each setup once for all causes, and reads every check off the solution."""

    def __init__(self, netlist: Netlist, causes: Sequence[Cause]) -> None:
        self.netlist = netlist
        self.causes = tuple(causes)
        rows: list[Row] = [Row(None)]
        owner = [0]
        for number, cause in enumerate(self.causes, start=1):
            for level in cause.levels:
                rows.append(Row(cause, level))
                owner.append(number)
        self.rows = tuple(rows)
        self.owner = np.array(owner)
        self._starts = np.flatnonzero(np.r_[True, np.diff(self.owner) > 0])
        self._middle = self._starts + (np.diff(np.r_[self._starts, len(rows)]) // 2)
        self._settled: dict[Setup, Settled] = {}
        self._predictions: dict[str, Prediction] = {}

    def settled(self, setup: Setup) -> Settled:
        """The circuits of all causes in a setup."""
        if setup not in self._settled:
            self._settled[setup] = settle(self.netlist, setup, self.rows)
        return self._settled[setup]

    def predict(self, check: Check) -> Prediction:
        """What the check would show under each cause.

        Raises CircuitError where a circuit can't be solved.
        """
        if check.id not in self._predictions:
            self._predictions[check.id] = self._predict(check)
        return self._predictions[check.id]

    def sign_table(self, setup: Setup, part: str, sign: str) -> FloatArray:
        """(1 + H, O) shares of a sign's outcomes."""
        return self.means(grade_sign(self.settled(setup), part, sign))

    def means(self, rows: FloatArray) -> FloatArray:
        """(1 + H, K) means over each cause's rows."""
        counts = np.diff(np.r_[self._starts, len(self.rows)])
        return np.asarray(np.add.reduceat(rows, self._starts, axis=0) / counts[:, None])

    def _predict(self, check: Check) -> Prediction:
        if check.quantity == "sign":
            table = self.sign_table(check.setup, check.part, check.sign)
            nothing = np.full(len(table), np.nan)
            return Prediction(nothing, nothing, nothing, table)
        low, value, high = read_rows(self.settled(check.setup), check)
        low, high = np.minimum.reduceat(low, self._starts), np.maximum.reduceat(high, self._starts)
        shown = [shown_interval(check.quantity, float(a), float(b)) for a, b in zip(low, high, strict=True)]
        ends = np.array(shown)
        return Prediction(ends[:, 0], ends[:, 1], value[self._middle])


def read_rows(settled: Settled, check: Check) -> tuple[FloatArray, FloatArray, FloatArray]:
    """(H,) lowest, nominal and highest true value at the meter, before the meter's own accuracy."""
    match check.quantity:
        case "voltage_ac":
            return _alternating_volts(settled, check)
        case "voltage_dc":
            return _direct_volts(settled, check)
        case "resistance" | "insulation":
            return _ohms(settled, check)
        case "temperature":
            return _temperature(settled, check)
    raise ValueError(f"{check.quantity} is not read off a circuit")


def _ends(settled: Settled, check: Check) -> tuple[int, int]:
    return settled.netlist.node(check.tail), settled.netlist.node(check.head)


def _alternating_volts(settled: Settled, check: Check) -> tuple[FloatArray, FloatArray, FloatArray]:
    a, b = _ends(settled, check)
    volts = np.abs(settled.alternating.loaded(a, b, INSTRUMENTS["voltage_ac"].siemens))
    spread = _spread(settled, a, b)
    supply = settled.netlist.panel.supply
    return np.maximum(volts * supply.low - spread, 0), volts, volts * supply.high + spread


def _spread(settled: Settled, a: int, b: int) -> FloatArray:
    """(H,) root sum square of what the parts' tolerances do to the voltage between two nodes.

    By the adjoint (Tellegen): dV/dy of a branch is minus its own voltage times its voltage when one ampere is driven between the
    nodes. Parts vary independently, so their shares add as squares.
    """
    network = settled.netlist.network
    adjoint = settled.alternating.transfer(a, b)
    own = settled.alternating.voltages
    across = own[:, network.tail] - own[:, network.head] + settled.netlist.emf_alternating * settled.setup.supply_on
    back = adjoint[:, network.tail] - adjoint[:, network.head]
    parts = np.abs(across * back * settled.y_alternating) * settled.netlist.relative
    return np.asarray(np.sqrt((parts**2).sum(axis=1)))


def _direct_volts(settled: Settled, check: Check) -> tuple[FloatArray, FloatArray, FloatArray]:
    a, b = _ends(settled, check)
    volts = np.asarray(settled.direct.loaded(a, b, INSTRUMENTS["voltage_dc"].siemens)).real
    width = 0.15 * np.abs(volts)  # a controller's drive is 12 V give or take: common practice
    return volts - width, volts, volts + width


def _ohms(settled: Settled, check: Check) -> tuple[FloatArray, FloatArray, FloatArray]:
    a, b = _ends(settled, check)
    network = settled.netlist.network
    seen = np.asarray(settled.direct.transfer(a, b)).real
    ohms = np.maximum(seen[:, a] - seen[:, b], 0)
    back = seen[:, network.tail] - seen[:, network.head]
    parts = back**2 * settled.y_direct * _relative(settled)
    spread = np.sqrt((parts**2).sum(axis=1))
    over = INSTRUMENTS[check.quantity].over
    ohms, spread = np.where(ohms > over, np.inf, ohms), np.where(ohms > over, 0, spread)
    return ohms - spread, ohms, ohms + spread


def _relative(settled: Settled) -> FloatArray:
    """(B,) tolerances; a sensor that is not in water of a known temperature may be some degrees off."""
    relative = settled.netlist.relative.copy()
    known = dict(settled.setup.baths)
    for number, place in enumerate(settled.netlist.places):
        if place.form == "sensor" and place.part not in known:
            relative[number] = UNKNOWN_WARMTH_SHARE
    return relative


def _temperature(settled: Settled, check: Check) -> tuple[FloatArray, FloatArray, FloatArray]:
    shown = np.where(settled.states["powered"][check.part], settled.shown[check.part], np.nan)
    # A display without a number is no reading: it stands as far above every temperature as OL does above ohms.
    shown = np.where(np.isnan(shown), np.inf, shown)
    return shown - PROBE_TOLERANCE_KELVIN, shown, shown + PROBE_TOLERANCE_KELVIN


def instruments_title(quantity: str) -> Mapping[str, str]:
    """The instrument that reads a quantity, and what to set it to."""
    return {"instrument": INSTRUMENTS[quantity].name, "title": INSTRUMENTS[quantity].title}
