"""Predictions for all causes of a panel, made setup by setup, and for some of them, taken from those."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np

from diagnose.causes import Cause
from diagnose.checks import Check
from diagnose.circuit.netlist import FloatArray, IndexArray, Netlist
from diagnose.circuit.settle import Settled
from diagnose.circuit.setup import Setup
from diagnose.expect import Prediction, Predictor, some_rows

AT_A_TIME = 160  # causes: their circuits in one setup take some twenty megabytes


class WholePredictor(Predictor):
    """A predictor for many complaints about one panel: each setup is solved once, and all is read off it then.

    `checks` are those that may be asked for, `signs` what complaints say: a setup, a part, a sign of it. What is not
    among them is worked out by itself. The causes are solved some at a time, since their circuits take much room.
    """

    def __init__(
        self, netlist: Netlist, causes: Sequence[Cause], checks: Iterable[Check],
        signs: Iterable[tuple[Setup, str, str]] = (),
    ) -> None:  # fmt: skip
        super().__init__(netlist, causes)
        starts = range(0, max(len(self.causes), 1), AT_A_TIME)
        self._blocks = [Predictor(netlist, self.causes[start : start + AT_A_TIME]) for start in starts]
        self._readings: dict[Setup, list[Check]] = {}
        self._looks: dict[Setup, list[tuple[Setup, str, str, Setup | None]]] = {}
        for check in dict.fromkeys(checks):
            if check.quantity == "sign":
                self._look(check.solved_in, check.part, check.sign, check.setup)
            else:
                self._readings.setdefault(check.solved_in, []).append(check)
        for setup, part, sign in signs:
            self._look(setup, part, sign, None)
        self._read: dict[Check, Prediction] = {}

    def _look(self, setup: Setup, part: str, sign: str, looked: Setup | None) -> None:
        self._looks.setdefault(setup, []).append((setup, part, sign, looked))

    def predict(self, check: Check) -> Prediction:
        """What the check would show under each cause. Raises CircuitError where a circuit can't be solved."""
        if check.quantity == "sign":
            return self._predict(check)
        if check not in self._read:
            self._solve(check.solved_in, readings=[check])
        return self._read[check]

    def sign_rows(self, setup: Setup, part: str, sign: str, looked: Setup | None = None) -> FloatArray:
        """(R, O) shares of a sign's outcomes, row by row."""
        key = (setup, part, sign, looked)
        if key not in self._signs:
            self._solve(setup, looks=[key])
        return self._signs[key]

    def change_rows(self, before: Setup, after: Setup, part: str) -> FloatArray:
        """(R, 3) whether a reading's error falls, stays or rises from one setup to another."""
        key = (before, after, part)
        if key not in self._signs:
            self._signs[key] = _joined([block.change_rows(before, after, part) for block in self._blocks])
        return self._signs[key]

    def _solve(
        self, setup: Setup, readings: Sequence[Check] = (), looks: Sequence[tuple[Setup, str, str, Setup | None]] = ()
    ) -> None:  # fmt: skip
        """Read off a setup what is asked for, and all that may be asked for later."""
        checks = list(dict.fromkeys([*readings, *self._readings.pop(setup, ())]))
        signs = list(dict.fromkeys([*looks, *self._looks.pop(setup, ())]))
        predicted: dict[Check, list[Prediction]] = {check: [] for check in checks}
        shares: dict[tuple[Setup, str, str, Setup | None], list[FloatArray]] = {key: [] for key in signs}
        for block in self._blocks:
            for check in checks:
                predicted[check].append(block._predict(check))
            for key in signs:
                shares[key].append(block.sign_rows(*key))
            block.forget()
        for check, parts in predicted.items():
            low, high, value = (_joined([getattr(part, name) for part in parts]) for name in ("low", "high", "value"))
            self._read[check] = Prediction(low, high, value, None, self.showing(check.setup))
        self._signs |= {key: _joined(rows) for key, rows in shares.items()}


def _joined(blocks: Sequence[FloatArray]) -> FloatArray:
    """Rows of some causes after each other; the sound panel stands first in each."""
    return np.concatenate([blocks[0], *(rows[1:] for rows in blocks[1:])])


class SomePredictor(Predictor):
    """A predictor that solves nothing itself: it takes its causes' rows out of another one's, the whole.

    Where many complaints are made about one part, the circuits of all its panel's causes are solved once for all.
    """

    def __init__(self, whole: Predictor, causes: Sequence[Cause]) -> None:
        super().__init__(whole.netlist, causes)
        self._whole = whole
        known = {cause.key: number for number, cause in enumerate(whole.causes, start=1)}
        # Where nothing is broken, it is the sound panel.
        self._owners: IndexArray = np.array([0, *(0 if cause.as_built else known[cause.key] for cause in causes)])
        places = [np.flatnonzero(whole.owner == owner) for owner in self._owners]
        self._index: IndexArray = np.concatenate(places)

    def settled(self, setup: Setup) -> Settled:
        """The circuits of these causes in a setup."""
        return some_rows(self._whole.settled(setup), self._index)

    def narrowed(self, numbers: Sequence[int]) -> Predictor:
        """The same for some of the causes, by their numbers from 0."""
        return SomePredictor(self._whole, [self.causes[number] for number in numbers])

    def true_interval(self, check: Check) -> tuple[FloatArray, FloatArray]:
        """(1 + H,) the lowest and the highest true values. Raises ValueError for a sign."""
        low, high = self._whole.true_interval(check)
        return low[self._owners], high[self._owners]

    def sign_rows(self, setup: Setup, part: str, sign: str, looked: Setup | None = None) -> FloatArray:
        """(R, O) shares of a sign's outcomes, row by row."""
        return np.asarray(self._whole.sign_rows(setup, part, sign, looked)[self._index])

    def change_rows(self, before: Setup, after: Setup, part: str) -> FloatArray:
        """(R, 3) whether a reading's error falls, stays or rises from one setup to another."""
        return np.asarray(self._whole.change_rows(before, after, part)[self._index])

    def _predict(self, check: Check) -> Prediction:
        if check.quantity == "sign":
            return super()._predict(check)
        all_of_it, own = self._whole.predict(check), self._owners
        return Prediction(
            all_of_it.low[own], all_of_it.high[own], all_of_it.value[own], None, self.showing(check.setup)
        )
