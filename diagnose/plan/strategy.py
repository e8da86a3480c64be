"""Whole strategies: which check after which outcome, until the group of the cause is known."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike, NDArray

from diagnose.plan.information import (
    NOTHING,
    FloatArray,
    IndexArray,
    Stop,
    checked_belief,
    checked_stop,
    checked_tables,
    information,
)
from diagnose.plan.places import Places, checked_places

Choose = Callable[[FloatArray, NDArray[np.bool_]], int | None]
ChooseFrom = Callable[[FloatArray, NDArray[np.bool_], int], int | None]
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
    prior: ArrayLike, tables: ArrayLike, costs: ArrayLike | Places, group: ArrayLike, stop: Stop = "isolated"
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

    Raises
    ------
    ValueError
        As `rank`; if `stop` is no share; if more than 200 000 different situations would have to be weighed.

    Notes
    -----
    With deterministic tables a situation is the set of causes left, else the set of outcomes seen, and the place
    where one stands. Of equally cheap checks the one with the most information per cost is taken.
    """
    problem = _problem(prior, tables, costs, group, stop)
    root = (1 << len(problem.prior)) - 1 if problem.deterministic else frozenset[tuple[int, int]]()
    everything = np.ones(len(problem.tables), dtype=bool)
    return _Optimum(problem).best(root, problem.places.start, problem.prior, everything)


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

    def ended(self, belief: FloatArray) -> bool:
        return bool(np.bincount(self.group, weights=belief).max() >= self.sure)

    def outcomes(self, belief: FloatArray, check: int) -> list[tuple[int, float, FloatArray]]:
        joint = belief[:, None] * self.tables[check]
        shares = joint.sum(axis=0)
        return [
            (outcome, float(shares[outcome]), joint[:, outcome] / shares[outcome])
            for outcome in range(len(shares))
            if shares[outcome] > NEGLIGIBLE
        ]

    def rates(self, belief: FloatArray, place: int) -> FloatArray:
        return np.asarray(information(belief, self.tables, self.group) / self.places.costs[place])

    def step(self, check: int, place: int, belief: FloatArray, branches: tuple[tuple[int, float, Step], ...]) -> Step:
        cost = float(self.places.costs[place, check]) + sum(share * after.cost for _, share, after in branches)
        return Step(check, cost, belief, branches)


Situation = int | frozenset[tuple[int, int]]


@dataclass(eq=False, slots=True)
class _Optimum:
    problem: _Problem
    memo: dict[tuple[Situation, int], Step] = field(default_factory=dict)

    def best(self, state: Situation, place: int, belief: FloatArray, left: NDArray[np.bool_]) -> Step:
        if (state, place) in self.memo:
            return self.memo[state, place]
        if len(self.memo) >= MOST_STATES:
            raise ValueError("too many situations for an exact search")
        problem, found = self.problem, Step(None, 0.0, belief)
        if not problem.ended(belief):
            rates = np.where(left, problem.rates(belief, place), 0.0)
            for check in np.argsort(-rates, kind="stable"):
                if rates[check] <= NOTHING:
                    break
                tried = self._through(int(check), state, place, belief, left)
                if found.check is None or tried.cost < found.cost - NEGLIGIBLE:
                    found = tried
        self.memo[state, place] = found
        return found

    def _through(self, check: int, state: Situation, place: int, belief: FloatArray, left: NDArray[np.bool_]) -> Step:
        after, there = _without(left, check), int(self.problem.places.after[check])
        branches = []
        for outcome, share, next_belief in self.problem.outcomes(belief, check):
            if isinstance(state, int):
                alive = np.flatnonzero(next_belief).tolist()
                next_state: Situation = sum(1 << cause for cause in alive)
            else:
                next_state = state | {(check, outcome)}
            branches.append((outcome, share, self.best(next_state, there, next_belief, after)))
        return self.problem.step(check, place, belief, tuple(branches))


def _problem(prior: ArrayLike, tables: ArrayLike, costs: ArrayLike | Places, group: ArrayLike, stop: Stop) -> _Problem:
    prior, group = checked_belief(prior, group)
    tables = checked_tables(tables, len(prior))
    deterministic = bool(np.all((tables == 0) | (tables == 1)))
    return _Problem(prior, tables, checked_places(costs, len(tables)), group, checked_stop(stop), deterministic)


def _without(left: NDArray[np.bool_], check: int) -> NDArray[np.bool_]:
    after = left.copy()
    after[check] = False
    return after
