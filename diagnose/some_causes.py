"""Predictions for many complaints about one panel, made setup by setup; and for some causes, taken from those."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from diagnose.causes import Cause
from diagnose.checks import Check
from diagnose.circuit.asleep import Asleep, spans
from diagnose.circuit.netlist import BoolArray, FloatArray, IndexArray, Netlist
from diagnose.circuit.settle import Settled
from diagnose.circuit.setup import Setup
from diagnose.expect import Prediction, Predictor, some_rows

AT_A_TIME = 160  # causes: their circuits in one setup take some twenty megabytes

Sign = tuple[Setup, str, str, Setup | None]  # the setup that is solved, a part, a sign of it, the setup looked at
Asked = Check | Sign


@dataclass(frozen=True, eq=False, slots=True)
class _Read:
    """What was read off a setup for some causes: `owners` (K,) their numbers, rising, the sound panel's 0 first.

    `rows` (R, 3) lowest, highest and nominal readings, a row for each, or (R, O) shares of a sign, one for each level.
    """

    owners: IndexArray
    rows: FloatArray


_NOTHING = _Read(np.zeros(0, dtype=np.int64), np.zeros((0, 3)))


class WholePredictor(Predictor):
    """A predictor for many complaints about one panel: whoever may ask says so first, and each setup is solved once.

    `signs` are what complaints say, of all causes: a setup, a part, a sign of it. What nobody spoke of is worked out
    when it is asked for. The causes are solved some at a time, since their circuits take much room.
    """

    def __init__(self, netlist: Netlist, causes: Sequence[Cause], signs: Iterable[tuple[Setup, str, str]] = ()) -> None:
        super().__init__(netlist, causes)
        self._every: IndexArray = np.arange(1 + len(self.causes))
        self._levels = np.diff(np.r_[self._starts, len(self.rows)])  # (1 + H,) rows of each
        self._wanted: dict[Setup, dict[Asked, BoolArray]] = {}
        self._known: dict[Asked, _Read] = {}
        self._asleep: dict[Setup, list[tuple[IndexArray, Asleep]]] = {}  # where most causes were solved
        for setup, part, sign in signs:
            self._want((setup, part, sign, None), self._every)

    def expect(self, checks: Iterable[Check], owners: IndexArray | None = None) -> None:
        """These checks may be asked for under the causes of these numbers, counted from 1; all of them if None."""
        for check in checks:
            self._want(_asked(check), self._every if owners is None else owners)

    def predict(self, check: Check) -> Prediction:
        """What the check would show under each cause. Raises CircuitError where a circuit can't be solved."""
        return self._predict(check) if check.quantity == "sign" else self.readings(check, self._every)

    def readings(self, check: Check, owners: IndexArray) -> Prediction:
        """What a check shows under the causes of these numbers, counted from 1, 0 being the sound panel."""
        low, high, value = self._rows_for(check, owners).T
        showing = self.showing(check.setup)
        return Prediction(low, high, value, None, None if showing is None else showing[owners])

    def sign_rows(self, setup: Setup, part: str, sign: str, looked: Setup | None = None) -> FloatArray:
        """(R, O) shares of a sign's outcomes, row by row."""
        return self._rows_for((setup, part, sign, looked), self._every)

    def shares(self, setup: Setup, part: str, sign: str, looked: Setup | None, owners: IndexArray) -> FloatArray:
        """(R, O) the same, for the rows of the causes of these numbers."""
        return self._rows_for((setup, part, sign, looked), owners)

    def change_rows(self, before: Setup, after: Setup, part: str) -> FloatArray:
        """(R, 3) whether a reading's error falls, stays or rises from one setup to another."""
        key = (before, after, part)
        if key not in self._signs:
            blocks = [self._block(numbers).change_rows(before, after, part) for numbers in _lots(self._every[1:])]
            self._signs[key] = np.concatenate([blocks[0], *(rows[1:] for rows in blocks[1:])])
        return self._signs[key]

    def _want(self, asked: Asked, owners: IndexArray) -> None:
        setup = _solved_in(asked)
        wanted = self._wanted.setdefault(setup, {})
        if asked not in wanted:
            wanted[asked] = np.zeros(len(self._every), dtype=np.bool_)
        wanted[asked][owners] = True

    def _rows_for(self, asked: Asked, owners: IndexArray) -> FloatArray:
        """The rows of these owners, in their order; what was not read yet is read now."""
        read = self._known.get(asked, _NOTHING)
        places = np.searchsorted(read.owners, owners)
        if read is _NOTHING or (read.owners[np.minimum(places, len(read.owners) - 1)] != owners).any():
            setup = _solved_in(asked)
            self._want(asked, owners)
            self._solve(setup)
            read = self._known[asked]
            places = np.searchsorted(read.owners, owners)
        if isinstance(asked, Check):
            return np.asarray(read.rows[places])
        return np.asarray(read.rows[_spans(self._levels[read.owners], places)])

    def _solve(self, setup: Setup) -> None:
        """Read off a setup all that is wanted of it and not known."""
        alike: dict[bytes, list[Asked]] = {}
        for asked, mask in self._wanted.pop(setup).items():
            mask[0] = True
            if asked in self._known:
                mask[self._known[asked].owners[1:]] = False
            if mask[1:].any() or asked not in self._known:
                alike.setdefault(mask.tobytes(), []).append(asked)
        masks = {key: np.frombuffer(key, dtype=np.bool_) for key in alike}
        union = np.flatnonzero(np.logical_or.reduce(list(masks.values())))[1:]
        found: dict[Asked, list[FloatArray]] = {asked: [] for some in alike.values() for asked in some}
        unloaded = {each.unloaded for each in found if isinstance(each, Check) and each.unloaded}
        for number, (numbers, block) in enumerate(self._blocks(setup, union)):
            for also in unloaded:
                block.settled(also)
            for key, some in alike.items():
                places = np.flatnonzero(masks[key][numbers])
                if len(places) or not number:
                    few = block if len(places) == len(numbers) else block.narrowed(places.tolist())
                    for asked in some:
                        found[asked].append(_read_off(few, asked)[min(number, 1) :])
        for key, some in alike.items():
            owners: IndexArray = np.flatnonzero(masks[key])
            for asked in some:
                self._known[asked] = self._joined(asked, _Read(owners, np.concatenate(found[asked])))

    def _blocks(self, setup: Setup, numbers: IndexArray) -> Iterator[tuple[IndexArray, Predictor]]:
        """Predictors for some causes at a time, with their circuits in a setup: at rest already, or settled now."""
        left = numbers
        for known, asleep in self._asleep.get(setup, ()):
            again = left[np.isin(left, known)]
            if len(again):
                rows = _spans(self._levels[[0, *known]], np.r_[0, 1 + np.searchsorted(known, again)])
                yield again, self._block(again).with_settled(setup, asleep.woken(rows))
                left = left[~np.isin(left, again)]
        many = 2 * len(left) > len(self.causes)
        for some in _lots(left) if len(left) or not len(numbers) else ():
            block = self._block(some)
            settled = block.settled(setup)
            if many:
                self._asleep.setdefault(setup, []).append((some, Asleep.of(settled)))
            yield some, block

    def _block(self, numbers: IndexArray) -> Predictor:
        return Predictor(self.netlist, [self.causes[number - 1] for number in numbers])

    def _joined(self, asked: Asked, more: _Read) -> _Read:
        """What is known already with what was read now, of other causes."""
        known = self._known.get(asked)
        if known is None:
            return more
        owners, rows = np.r_[known.owners, more.owners[1:]], np.concatenate([known.rows, more.rows[1:]])
        order = np.argsort(owners)
        levels = np.ones(len(owners), dtype=np.intp) if isinstance(asked, Check) else self._levels[owners]
        return _Read(owners[order], rows[_spans(levels, order)])


def _asked(check: Check) -> Asked:
    return (check.solved_in, check.part, check.sign, check.setup) if check.quantity == "sign" else check


def _solved_in(asked: Asked) -> Setup:
    return asked.solved_in if isinstance(asked, Check) else asked[0]


def _read_off(block: Predictor, asked: Asked) -> FloatArray:
    if not isinstance(asked, Check):
        return block.sign_rows(*asked)
    seen = block._predict(asked)
    return np.stack([seen.low, seen.high, seen.value], axis=1)


def _lots(numbers: IndexArray) -> list[IndexArray]:
    return [numbers[start : start + AT_A_TIME] for start in range(0, max(len(numbers), 1), AT_A_TIME)]


def _spans(levels: IndexArray, places: IndexArray) -> IndexArray:
    """The rows of some of those who stand one after the other with so many rows each."""
    return spans((np.cumsum(levels) - levels)[places], levels[places])


class SomePredictor(Predictor):
    """A predictor that solves nothing itself: it takes its causes' rows out of another one's, the whole.

    Where many complaints are made about one part, the circuits of all its panel's causes are solved once for all.
    """

    def __init__(self, whole: WholePredictor, causes: Sequence[Cause]) -> None:
        super().__init__(whole.netlist, causes)
        self._whole = whole
        known = {cause.key: number for number, cause in enumerate(whole.causes, start=1)}
        # Where nothing is broken, it is the sound panel.
        self._owners: IndexArray = np.array([0, *(0 if cause.as_built else known[cause.key] for cause in causes)])
        places = [np.flatnonzero(whole.owner == owner) for owner in self._owners]
        self._index: IndexArray = np.concatenate(places)

    def expect(self, checks: Iterable[Check]) -> None:
        """These checks may be asked for."""
        self._whole.expect(checks, self._owners)

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
        return self._whole.shares(setup, part, sign, looked, self._owners)

    def change_rows(self, before: Setup, after: Setup, part: str) -> FloatArray:
        """(R, 3) whether a reading's error falls, stays or rises from one setup to another."""
        return np.asarray(self._whole.change_rows(before, after, part)[self._index])

    def _predict(self, check: Check) -> Prediction:
        return super()._predict(check) if check.quantity == "sign" else self._whole.readings(check, self._owners)
