"""A simulated panel with a hidden fault that answers checks as a person with instruments would."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from itertools import combinations
from types import MappingProxyType

import numpy as np

from diagnose.causes import Cause
from diagnose.checks import Check
from diagnose.circuit.netlist import FloatArray, Netlist
from diagnose.circuit.rows import Row
from diagnose.circuit.sensing import tip_celsius
from diagnose.circuit.settle import Settled, settle
from diagnose.circuit.setup import Setup, isolated
from diagnose.expect import true_range
from diagnose.grading import grade_sign
from diagnose.knowledge.records import Complaint
from diagnose.meter import reader_of
from diagnose.panel.records import Panel
from diagnose.safety import WANTS, StepName
from diagnose.some_causes import SomePredictor, WholePredictor

# By which power a reading follows the supply's voltage; what is not named does not.
FOLLOWS_SUPPLY: Mapping[str, int] = MappingProxyType(
    {"voltage_ac": 1, "voltage_drop": 1, "current_ac": 1, "heat_rate": 2, "boil_off": 2}
)
UNITS: Mapping[str, str] = MappingProxyType(
    {
        "voltage_ac": "V", "voltage_dc": "V", "voltage_drop": "V",
        "resistance": "ohm", "insulation": "ohm", "millivolts": "V",
        "current_ac": "A",
        "heat_rate": "W", "boil_off": "W",
        "surface_temperature": "C",
    }
)  # fmt: skip


@dataclass
class SimulatedPanel:
    """One panel with one hidden fault, or a pair of them; the circuit is solved for it alone, setup by setup.

    Where its faults are among those of `predicted`, which was made about the same subject, they are not solved again.
    `level` may lie anywhere in what the cause stands for. `supply` is the share of the nominal voltage, and
    `jitter` the share of the meter's accuracy that its readings are off by, both fixed for one panel.
    """

    netlist: Netlist
    cause: Cause | None
    level: float | None = None
    supply: float = 1.0
    jitter: float = 0.0
    trips_early: bool = False
    predicted: WholePredictor | None = None
    _settled: dict[Setup, Settled] = field(default_factory=dict)
    _answers: dict[str, str] = field(default_factory=dict)

    @cached_property
    def _known(self) -> SomePredictor | None:
        """What is predicted for this panel alone, where it was solved already."""
        if self.predicted is None or self.level is not None:
            return None
        if self.cause is None:
            return SomePredictor(self.predicted, [])
        same = [cause for cause in self.predicted.causes if cause.key == self.cause.key]
        return SomePredictor(self.predicted, same) if same else None

    def settled(self, setup: Setup) -> Settled:
        """The circuit in a setup."""
        if setup not in self._settled:
            level = self.level if self.level is not None or self.cause is None else self.cause.level
            also = self.cause.also.level if self.cause is not None and self.cause.also is not None else None
            self._settled[setup] = settle(self.netlist, setup, [Row(self.cause, level, also)])
        return self._settled[setup]

    def sign(self, setup: Setup, part: str, sign: str, looked: Setup | None = None) -> tuple[str, float]:
        """The likeliest outcome of a sign, and its share."""
        shares = self._shares(setup, part, sign, looked)
        outcomes = self.netlist.panel.kind_of(part).signs[sign].outcomes
        best = int(np.argmax(shares))
        if self.trips_early and self.netlist.panel.kind_of(part).signs[sign].measure == "trip":
            # One device has one threshold: where it may trip or hold, a device known to trip on less trips.
            best = len(shares) - 1 - int(np.argmax(shares[::-1])) if shares[0] < 0.75 else 0
        return outcomes[best], float(shares[best])

    def reading(self, check: Check) -> float:
        """What the instrument shows, in SI; inf for OL."""
        true = self._true(check)
        reader = reader_of(check.quantity, check.instrument)
        true *= self.supply ** FOLLOWS_SUPPLY.get(check.quantity, 0)
        if check.quantity in ("temperature", "temperature_error") or not np.isfinite(true):
            return true
        shown = true + sum(reader.lead_ohms) / 2 + self.jitter * reader.error(true)
        if not reader.signed:
            shown = max(shown, 0.0)
        return float("inf") if shown > reader.top else shown

    def _shares(self, setup: Setup, part: str, sign: str, looked: Setup | None) -> FloatArray:
        """(O,) how likely each outcome of a sign is."""
        if self._known is not None:
            known = self._known
            return np.asarray(known.sign_rows(setup, part, sign, looked)[known.middle[-1]])
        return np.asarray(grade_sign(self.settled(setup), part, sign, looked)[0])

    def _true(self, check: Check) -> float:
        """What is there to be read, in SI."""
        if self._known is not None:
            return float(self._known.predict(check).value[-1])
        unloaded = self.settled(check.unloaded) if check.unloaded is not None else None
        return float(true_range(self.settled(check.solved_in), check, unloaded).value[0])

    def confirmed(self, step: StepName) -> str:
        """What a person would type to a step: for proving dead, the highest reading on the isolated panel."""
        return f"{self.left_volts():.3g} V" if WANTS[step] == "volts" else "done"

    def left_volts(self) -> float:
        """Volts between any two of the panel's references, or from any to earth, with the supply cut off."""
        return max(abs(self.reading(pair)) for pair in proving_dead(self.netlist.panel))

    def answer(self, check: Check) -> str:
        """The answer as it would be typed, the same each time."""
        if check.id not in self._answers:
            self._answers[check.id] = self._answer(check)
        return self._answers[check.id]

    def _answer(self, check: Check) -> str:
        if check.quantity == "sign":
            return self.sign(check.solved_in, check.part, check.sign, check.setup)[0]
        return self.typed(check, self.reading(check))

    def typed(self, check: Check, value: float) -> str:
        """A reading in SI, inf for OL, as it would be typed."""
        if check.quantity == "temperature":
            return "no number" if not np.isfinite(value) else f"{value:.1f} C"
        if check.quantity == "temperature_error":
            true = tip_celsius(check.setup, check.setup.placed[0][0])
            return "no number" if not np.isfinite(value) else f"{true + value:.1f} C, {true:.1f} C"
        if not np.isfinite(value):
            return "OL"
        return f"{value:.4g} {UNITS[check.quantity]}"


def proving_dead(panel: Panel) -> list[Check]:
    """The readings between any two of a panel's references, and to earth, once the supply is cut off."""
    setup, ends = isolated(panel), sorted(set(panel.references.values()))
    return [
        Check(f"isolated:voltage_ac:{tail}:{head}", "voltage_ac", "", "", tail, head, "isolated", setup,
              "outside", 0.0, "multimeter")
        for tail, head in combinations(ends, 2)
    ]  # fmt: skip


def trips_early(complaint: Complaint) -> bool:
    """Whether a complaint is of a device that trips: then this one trips on less than it might."""
    return any("holds" not in each.outcomes and each.sign == "trip" for each in complaint.observed)
