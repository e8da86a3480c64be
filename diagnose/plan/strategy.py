"""Whole strategies: which check after which outcome, until the group of the cause is known."""

from __future__ import annotations

from collections.abc import Callable
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
)
from diagnose.plan.places import Places, checked_places

Choose = Callable[[FloatArray, NDArray[np.bool_]], int | None]
ChooseFrom = Callable[[FloatArray, NDArray[np.bool_], int], int | None]
Allowed = Callable[[FloatArray, NDArray[np.bool_], FloatArray], NDArray[np.bool_]]
NEGLIGIBLE = 1e-12
MOST_STATES = 200_000


@dataclass(frozen=True, eq=False, slots=True)
class Step:
    """A place in a strategy: the check to do there, or none at the end.

    `belief` (H,) is what is believed there, `cost` the expected cost from there to the end, `branches` holds
    (outcome, probability, next step) for every outcome that can happen.
    """

    check: int | None
    cost: float
    belief: FloatArray
    branches: tuple[tuple[int, float, Step], ...] = ()


def optimal_strategy(
    prior: ArrayLike,
    tables: ArrayLike,
    costs: ArrayLike | Places,
    group: ArrayLike,
    stop: Stop = "isolated",
    least: float = NOTHING,
    allowed: Allowed | None = None,
    most_states: int = MOST_STATES,
) -> Step:
    """The strategy of least expected cost, by exact AND/OR search: for small problems.

    Parameters
    ----------
    prior, tables, group
        As for `rank`. Tables need not be deterministic; each check is used at most once on a way.
    costs : (C,) array or Places
        As for `rank`, or what each check costs from each place where one may stand.
    stop : 'isolated' or float
        End where one group has all belief, or at least this share of it. A way also ends where no check left
        can tell anything.
    least : float
        Bits: a check that tells no more is not done.
    allowed : callable, optional
        Gets the belief (H,), which checks (C,) are left that tell enough, and the bits (C,) that each tells; returns
        which of them may be done, one at least.
    most_states : int
        How many different situations are weighed at most.

    Raises
    ------
    ValueError
        As `rank`; if `stop` is no share; if more situations than `most_states` would have to be weighed.

    Notes
    -----
    With deterministic tables a situation is the set of causes left, else the set of outcomes seen, and the place
    where one stands. Of equally cheap checks the one with the most information per cost is taken.
    """
    problem = _problem(prior, tables, costs, group, stop)
    root: Situation = (1 << len(problem.prior)) - 1 if problem.deterministic else frozenset[tuple[int, int]]()
    search = _Optimum(problem, least, allowed, most_states)
    found = search.best(root, problem.places.start, problem.prior, search.every)
    assert found is not None, "a way costs less than anything"
    return found


def compile_strategy(
    prior: ArrayLike,
    tables: ArrayLike,
    costs: ArrayLike | Places,
    group: ArrayLike,
    choose: Choose | ChooseFrom,
    stop: Stop = "isolated",
    most_checks: int = 50,
    rarest: float = NEGLIGIBLE,
) -> Step:
    """Follow a way of choosing over all outcomes.

    Parameters
    ----------
    choose : callable
        Gets the belief (H,) and which checks (C,) are left, and where `costs` are `Places` also the place where one
        stands; returns a check, or None to end there.
    most_checks : int
        No way is longer.
    rarest : float
        Outcomes of less probability, seen from the place where they happen, are left out.

    Raises
    ------
    ValueError
        As `rank`; if `stop` is no share; if `choose` names a check that is not left.
    """
    problem = _problem(prior, tables, costs, group, stop)
    where = (lambda place: (place,)) if isinstance(costs, Places) else (lambda place: ())

    def follow(belief: FloatArray, left: NDArray[np.bool_], place: int, most: int) -> Step:
        check = None if most == 0 or problem.ended(belief) else choose(belief, left, *where(place))
        if check is None:
            return Step(None, 0.0, belief)
        if not 0 <= check < len(left) or not left[check]:
            raise ValueError(f"check {check} can't be chosen")
        after = _without(left, check)
        branches = tuple(
            (outcome, share, follow(next_belief, after, int(problem.places.after[check]), most - 1))
            for outcome, share, next_belief in problem.outcomes(belief, check)
            if share > rarest
        )
        return problem.step(check, place, belief, branches)

    return follow(problem.prior, np.ones(len(problem.tables), dtype=bool), problem.places.start, most_checks)


def path_of(step: Step, tables: ArrayLike, cause: int) -> tuple[int, ...]:
    """The checks done in a strategy if `cause` is true and gives its most probable outcomes."""
    checks: list[int] = []
    tables = np.asarray(tables, dtype=np.float64)
    while step.check is not None:
        checks.append(step.check)
        row = tables[step.check, cause]
        step = max(step.branches, key=lambda branch: row[branch[0]])[2]
    return tuple(checks)


@dataclass(frozen=True, eq=False, slots=True)
class _Problem:
    prior: FloatArray
    tables: FloatArray
    places: Places
    group: IndexArray
    sure: float
    deterministic: bool
    telling: Telling

    def ended(self, belief: FloatArray) -> bool:
        return bool(np.bincount(self.group, weights=belief).max() >= self.sure)

    def outcomes(self, belief: FloatArray, check: int) -> list[tuple[int, float, FloatArray]]:
        joint = (belief[:, None] * self.tables[check]).T
        shares = joint.sum(axis=1).tolist()
        return [(outcome, share, joint[outcome] / share) for outcome, share in enumerate(shares) if share > NEGLIGIBLE]

    def step(self, check: int, place: int, belief: FloatArray, branches: tuple[tuple[int, float, Step], ...]) -> Step:
        cost = float(self.places.costs[place, check]) + sum(share * after.cost for _, share, after in branches)
        return Step(check, cost, belief, branches)


Situation = int | frozenset[tuple[int, int]]


class _Optimum:
    """The search: what is known to be best in a situation, and below which cost there is no way in others.

    Sets of checks are bits of an int: there are few checks, and very many sets.
    """

    def __init__(self, problem: _Problem, least: float, allowed: Allowed | None, most_states: int) -> None:
        self.problem, self.least, self.allowed, self.most_states = problem, max(least, NOTHING), allowed, most_states
        self.every = (1 << len(problem.tables)) - 1
        self.costs = problem.places.costs.tolist()
        self.cheap = [sorted((cost, 1 << check) for check, cost in enumerate(costs)) for costs in self.costs]
        self.after = problem.places.after.tolist()
        self.memo: dict[tuple[Situation, int], Step] = {}
        self.dearer: dict[tuple[Situation, int], float] = {}
        self.told: dict[Situation, tuple[FloatArray, int]] = {}  # bits (C,) of each check, and which tell enough

    def best(
        self, state: Situation, place: int, belief: FloatArray, left: int, below: float = np.inf
    ) -> Step | None:  # fmt: skip
        """The best way on; None where none costs less than `below`."""
        here = (state, place)
        if here in self.memo:
            return self.memo[here]
        if self.dearer.get(here, 0.0) >= below:
            return None
        if len(self.memo) + len(self.dearer) >= self.most_states:
            raise ValueError("too many situations for an exact search")
        found, most = Step(None, 0.0, belief), below
        checks = self._in_order(state, place, belief, left)
        for check in checks:
            tried = self._through(check, state, place, belief, left, most)
            if tried is not None:
                found, most = tried, tried.cost - NEGLIGIBLE
        if found.check is None and checks:
            self.dearer[here] = below
            return None
        self.memo[here] = found
        self.dearer.pop(here, None)
        return found

    def _in_order(self, state: Situation, place: int, belief: FloatArray, left: int) -> list[int]:
        """The checks that may be done, by information per cost; none where all is known."""
        bits, telling = self._telling(state, belief)
        usable = left & telling
        checks = [check for check in range(len(bits)) if usable >> check & 1]
        if self.allowed is not None and checks:
            mask = np.zeros(len(bits), dtype=bool)
            mask[checks] = True
            checks = np.flatnonzero(self.allowed(belief, mask, bits)).tolist()
        costs = self.costs[place]
        return sorted(checks, key=lambda check: -float(bits[check] / costs[check]))

    def _through(
        self, check: int, state: Situation, place: int, belief: FloatArray, left: int, most: float
    ) -> Step | None:  # fmt: skip
        """The best way that begins with a check; None as soon as it is seen to cost as much as another."""
        after, there, total = left & ~(1 << check), self.after[check], self.costs[place][check]
        if total >= most:
            return None
        following: list[tuple[int, float, FloatArray, Situation, float]] = []
        for outcome, share, next_belief in self.problem.outcomes(belief, check):
            if isinstance(state, int):
                next_state: Situation = sum(1 << cause for cause in np.flatnonzero(next_belief).tolist())
            else:
                next_state = state | {(check, outcome)}
            least = self._at_least(next_state, there, next_belief, after)
            following.append((outcome, share, next_belief, next_state, least))
            total += share * least
            if total >= most:
                return None
        branches = []
        for outcome, share, next_belief, next_state, least in following:
            total -= share * least
            step = self.best(next_state, there, next_belief, after, (most - total) / share)
            if step is None:
                return None
            total += share * step.cost
            branches.append((outcome, share, step))
            if total >= most:
                return None
        return self.problem.step(check, place, belief, tuple(branches))

    def _at_least(self, state: Situation, place: int, belief: FloatArray, left: int) -> float:
        """What the way on from a situation costs at the least: where a check can tell something, one is done."""
        here = (state, place)
        if here in self.memo:
            return self.memo[here].cost
        usable = left & self._telling(state, belief)[1]
        cheapest = next((cost for cost, check in self.cheap[place] if usable & check), 0.0)
        return max(cheapest, self.dearer.get(here, 0.0))

    def _telling(self, state: Situation, belief: FloatArray) -> tuple[FloatArray, int]:
        known = self.told.get(state)
        if known is None:
            if self.problem.ended(belief):
                known = np.zeros(len(self.problem.tables)), 0
            else:
                bits = self.problem.telling.bits(belief)
                enough = (bits > self.least).tolist()
                known = bits, sum(1 << check for check, tells in enumerate(enough) if tells)
            self.told[state] = known
        return known


def _problem(prior: ArrayLike, tables: ArrayLike, costs: ArrayLike | Places, group: ArrayLike, stop: Stop) -> _Problem:
    prior, group = checked_belief(prior, group)
    tables = checked_tables(tables, len(prior))
    deterministic = bool(np.all((tables == 0) | (tables == 1)))
    return _Problem(
        prior, tables, checked_places(costs, len(tables)), group, checked_stop(stop), deterministic,
        Telling(tables, group),
    )  # fmt: skip


def _without(left: NDArray[np.bool_], check: int) -> NDArray[np.bool_]:
    after = left.copy()
    after[check] = False
    return after
