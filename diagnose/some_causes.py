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


class WholePredictor(Predictor):
    """A predictor for many complaints about one panel: each setup is solved once, and all its checks are read off then.

    `checks` are those that may be asked for. One that is not among them is predicted by itself.
    """

    most_settled = 2  # as all is read off a setup at once; with the one of the load off

    def __init__(self, netlist: Netlist, causes: Sequence[Cause], checks: Iterable[Check]) -> None:
        super().__init__(netlist, causes)
        self._of_setup: dict[Setup, list[Check]] = {}
        for check in dict.fromkeys(checks):
            self._of_setup.setdefault(check.solved_in, []).append(check)
        self._read: dict[Check, Prediction] = {}

    def predict(self, check: Check) -> Prediction:
        """What the check would show under each cause. Raises CircuitError where a circuit can't be solved."""
        if check not in self._read:
            for each in (check, *self._of_setup.pop(check.solved_in, ())):
                self._read[each] = self._predict(each)
        return self._read[check]

    def sign_rows(self, setup: Setup, part: str, sign: str, looked: Setup | None = None) -> FloatArray:
        """(R, O) shares of a sign's outcomes, row by row."""
        for each in self._of_setup.pop(setup, ()):
            self._read[each] = self._predict(each)
        return super().sign_rows(setup, part, sign, looked)


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
