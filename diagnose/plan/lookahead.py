"""Choosing a check by what is likely to be left to do after it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from diagnose.plan.information import (
    NOTHING,
    FloatArray,
    IndexArray,
    Stop,
    Telling,
    checked_belief,
    checked_stop,
    checked_tables,
    information,
)
from diagnose.plan.places import Places, checked_places

BoolArray = NDArray[np.bool_]
NEGLIGIBLE = 1e-6  # causes and outcomes less probable than this are not followed
ROLLED_OUT = 0.01  # places reached less often than this are estimated instead of followed
MOST_LEVELS = 12
MOST_CHECKS = 40
COST_DIGITS = 9  # after the point


@dataclass(frozen=True, eq=False, slots=True)
class Outlook:
    """The checks that were looked at, best first, and the expected cost to the end if each is taken first."""

    order: IndexArray
    cost: FloatArray


def look_ahead(
    belief: ArrayLike,
    tables: ArrayLike,
    costs: ArrayLike | Places,
    group: ArrayLike,
    depth: int = 2,
    width: int = 8,
    available: ArrayLike | None = None,
    stop: Stop = "isolated",
    rarest: float = NEGLIGIBLE,
    least: float = NOTHING,
) -> Outlook:
    """Order checks by expected total cost until the group is known.

    Parameters
    ----------
    belief, tables, group
        As for `rank`.
    costs : (C,) array or Places
        As for `rank`, or what each check costs from each place where one may stand.
    depth : int
        From 1. At 1 the order is that of `rank`. At 2 each first check is followed by going on by `rank`;
        at 3 the second check is also chosen by comparison, and so on.
    width : int
        How many checks, by information per cost, are compared in each place.
    available : (C,) array of bool, optional
        Checks that may still be done.
    stop : 'isolated' or float
        The group is known when it has all belief, or at least this share of it. Where outcomes are not
        certain, give a share: belief never gets to one.
    rarest : float
        Outcomes of less probability, seen from the place where they happen, are not followed.
    least : float
        Bits: a check that tells less is not done.

    Returns
    -------
    Outlook
        Empty if no check can tell anything.

    Raises
    ------
    ValueError
        As `rank`, for a depth or width below 1, and if `stop` is no share.

    Notes
    -----
    Rollout of a base policy (Bertsekas, Tsitsiklis & Wu 1997, Journal of Heuristics 3, from memory). A
    tail of entropy over the best rate of information is cheaper, but where costs differ it chooses worse than
    no look ahead at all. A check is used once on a way: its second reading would not be independent of the
    first. Meant for when few causes are left, say 20: the work grows with `width**(depth - 1)` times the size
    of the tables. Of more than 40 checks the best 40 by information per cost are used.
    """
    belief, group = checked_belief(belief, group)
    tables = checked_tables(tables, len(belief))
    places = checked_places(costs, len(tables))
    sure = checked_stop(stop)
    if depth < 1 or width < 1:
        raise ValueError(f"depth {depth} and width {width} must be at least 1")
    usable = np.ones(len(tables), dtype=bool) if available is None else np.array(available, dtype=bool)
    if usable.shape != (len(tables),):
        raise ValueError(f"available must be ({len(tables)},), not {usable.shape}")
    live = belief > NEGLIGIBLE
    shares = np.asarray(belief[live] / belief[live].sum())
    kept = _most_telling(shares, tables[:, live], places.costs[places.start], group[live], usable)
    search = _Search(
        tables[np.ix_(kept, live)],
        places.some(kept),
        group[live],
        width,
        sure,
        rarest,
        least,
        _cells(tables[np.ix_(kept, live)]),
        Telling(tables[np.ix_(kept, live)], group[live]),
    )
    checks, expected = search.options(shares, np.ones(len(kept), dtype=bool), places.start, depth, 1.0)
    expected = np.round(expected, COST_DIGITS)  # what costs as much must not go before another by the order of a sum
    checks = kept[checks]
    if depth > 1:
        best = np.argsort(expected, kind="stable")
        checks, expected = checks[best], expected[best]
    return Outlook(checks, expected)


def _most_telling(
    belief: FloatArray, tables: FloatArray, costs: FloatArray, group: IndexArray, usable: BoolArray
) -> IndexArray:
    """The usable checks, or the best of them, in their order."""
    numbers = np.flatnonzero(usable)
    if len(numbers) > MOST_CHECKS:
        rates = information(belief, tables[numbers], group) / costs[numbers]
        numbers = numbers[np.sort(np.argsort(-rates, kind="stable")[:MOST_CHECKS])]
    return numbers


@dataclass(frozen=True, eq=False, slots=True)
class _Ways:
    """Situations that are followed side by side, W of them."""

    belief: FloatArray  # (W, H)
    usable: BoolArray  # (W, C)
    place: IndexArray  # (W,) where one stands
    share: FloatArray  # (W,) how likely it is, seen from the first check
    first: IndexArray  # (W,) which of the first checks it comes of

    def some(self, index: IndexArray) -> _Ways:
        """Some of them."""
        return _Ways(self.belief[index], self.usable[index], self.place[index], self.share[index], self.first[index])


@dataclass(frozen=True, eq=False, slots=True)
class _Search:
    """What stays the same while looking ahead."""

    tables: FloatArray
    places: Places
    group: IndexArray
    width: int
    sure: float
    rarest: float
    least: float
    cells: IndexArray  # (H,) causes of one cell are told apart by no check
    telling: Telling

    def options(
        self, belief: FloatArray, usable: BoolArray, place: int, depth: int, reach: float
    ) -> tuple[IndexArray, FloatArray]:
        """The best checks by rate, and the expected cost to the end through each."""
        if self._shares(belief).max() >= self.sure:
            return np.empty(0, dtype=np.intp), np.empty(0)
        rates = self._rates(belief[None], usable[None], np.array([place]))[0]
        checks = np.argsort(-rates, kind="stable")[: self.width]
        checks = checks[rates[checks] > 0]
        if depth <= 2:
            return checks, self._rolled_out(belief, usable, place, checks, reach)
        return checks, np.array([self._through(belief, usable, place, int(check), depth, reach) for check in checks])

    def _through(
        self, belief: FloatArray, usable: BoolArray, place: int, check: int, depth: int, reach: float
    ) -> float:  # fmt: skip
        """Expected cost through a check, the one after it being chosen by comparison."""
        after, there = usable.copy(), int(self.places.after[check])
        after[check] = False
        joint = belief[:, None] * self.tables[check]
        total = float(self.places.costs[place, check])
        for share, weights in zip(joint.sum(axis=0).tolist(), joint.T, strict=True):
            if share > self.rarest:
                expected = self.options(weights / share, after, there, depth - 1, reach * share)[1]
                total += share * float(expected.min(initial=np.inf)) if len(expected) else 0.0
        return total

    def _rolled_out(
        self, belief: FloatArray, usable: BoolArray, place: int, checks: IndexArray, reach: float
    ) -> FloatArray:
        """(K,) expected cost through each of some checks, going on by rate; all ways are followed side by side."""
        total, first = np.zeros(len(checks)), np.arange(len(checks))
        ways = _Ways(
            np.repeat(belief[None], len(checks), axis=0), np.repeat(usable[None], len(checks), axis=0),
            np.full(len(checks), place), np.ones(len(checks)), first,
        )  # fmt: skip
        chosen = checks
        for level in range(MOST_LEVELS + 1):
            np.add.at(total, ways.first, ways.share * self.places.costs[ways.place, chosen])
            ways = self._after(ways, chosen)
            shares = ways.belief @ self.telling.member
            rates = self._rates(ways.belief, ways.usable, ways.place)
            best = rates.argmax(axis=1) if rates.shape[1] else np.zeros(len(rates), dtype=np.intp)
            rate = rates[np.arange(len(rates)), best] if rates.shape[1] else np.zeros(len(rates))
            open_still = (shares.max(axis=1, initial=0.0) < self.sure) & (rate > 0)
            # What is seldom come to, or far away, is estimated.
            rough = open_still & ((reach * ways.share < ROLLED_OUT) | (level + 1 > MOST_LEVELS))
            for way in np.flatnonzero(rough).tolist():
                total[ways.first[way]] += ways.share[way] * self._tellable(ways.belief[way]) / float(rate[way])
            going = np.flatnonzero(open_still & ~rough)
            if not len(going):
                break
            ways, chosen = ways.some(going), best[going]
        return total

    def _after(self, ways: _Ways, chosen: IndexArray) -> _Ways:
        """All that a check on each way may lead to, outcomes that are too rare left out."""
        joint = ways.belief[:, :, None] * self.tables[chosen]  # (W, H, O)
        shares = joint.sum(axis=1)
        way, outcome = np.nonzero(shares > self.rarest)
        found = shares[way, outcome]
        usable = ways.usable[way]
        usable[np.arange(len(way)), chosen[way]] = False
        return _Ways(
            joint[way, :, outcome] / found[:, None], usable, self.places.after[chosen[way]],
            ways.share[way] * found, ways.first[way],
        )  # fmt: skip

    def _rates(self, belief: FloatArray, usable: BoolArray, place: IndexArray) -> FloatArray:
        """(W, C) bits per cost of each check on each way."""
        bits = self.telling.bits_of_each(belief)
        bits[~usable | (bits <= self.least)] = 0.0
        return np.asarray(bits / self.places.costs[place])

    def _tellable(self, belief: FloatArray) -> float:
        """Bits about the group that all checks together can tell."""
        groups = int(self.group.max()) + 1
        cells = int(self.cells.max()) + 1
        joint: FloatArray = np.bincount(
            self.cells * groups + self.group, weights=belief, minlength=cells * groups
        ).astype(np.float64)
        table = joint.reshape(-1, groups)
        return max(0.0, _entropy(table.sum(axis=0)) + _entropy(table.sum(axis=1)) - _entropy(joint))

    def _shares(self, belief: FloatArray) -> FloatArray:
        return np.bincount(self.group, weights=belief).astype(np.float64)


def _cells(tables: FloatArray) -> IndexArray:
    """(H,) the number of each cause's cell: those whose likeliest outcomes agree in all checks."""
    if not len(tables):
        return np.zeros(tables.shape[1], dtype=np.intp)
    return np.asarray(np.unique(tables.argmax(axis=2), axis=1, return_inverse=True)[1].reshape(-1))


def _entropy(shares: FloatArray) -> float:
    some = shares[shares > 0]
    return -float((some * np.log2(some)).sum())
