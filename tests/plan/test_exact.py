"""Strategies and outlooks held against the same things worked out the slow way, with nothing remembered."""

from __future__ import annotations

import numpy as np
import pytest

from diagnose.plan import (
    Places,
    compile_strategy,
    expected_information,
    look_ahead,
    optimal_strategy,
    rank,
    repair_order,
)

SURE = 0.9


class Slow:
    """A small problem, followed without memory: all ways, each to its end."""

    def __init__(self, seed: int, certain: bool = False) -> None:
        chance = np.random.default_rng(seed)
        self.causes, self.checks = (6, 6) if certain else (4, 4)
        if certain:
            self.tables = np.eye(2)[chance.integers(0, 2, (self.checks, self.causes))]
            self.belief = 0.1 + 0.4 * chance.dirichlet(np.ones(self.causes))  # nothing is so rare as to be estimated
        else:
            self.tables = chance.dirichlet(np.full(2, 0.4), (self.checks, self.causes))
            self.belief = chance.dirichlet(np.full(self.causes, 2.0))
        self.group = np.arange(self.causes) if seed % 2 else np.minimum(np.arange(self.causes), 2)
        site = chance.integers(0, 2, self.checks)
        ways = np.array([[0.0, 3.0], [1.0, 0.0]])
        self.places = Places(ways[:, site] + chance.uniform(1, 6, self.checks), site)
        self.sure = 1 - 1e-9 if certain else SURE

    def rates(self, belief: np.ndarray, left: frozenset[int], place: int) -> dict[int, float]:
        bits = expected_information(belief, self.tables, self.group)
        return {check: bits[check] / self.places.costs[place, check] for check in left if bits[check] > 1e-9}

    def through(self, belief: np.ndarray, left: frozenset[int], place: int, check: int, then) -> float:
        total, there = float(self.places.costs[place, check]), int(self.places.after[check])
        joint = belief[:, None] * self.tables[check]
        for outcome, share in enumerate(joint.sum(axis=0)):
            if share > 1e-12:
                total += share * then(joint[:, outcome] / share, left - {check}, there)
        return total

    def ended(self, belief: np.ndarray) -> bool:
        return np.bincount(self.group, weights=belief).max() >= self.sure

    def least(self, belief: np.ndarray, left: frozenset[int], place: int) -> float:
        if self.ended(belief):
            return 0.0
        rates = self.rates(belief, left, place)
        return min((self.through(belief, left, place, check, self.least) for check in rates), default=0.0)

    def greedy(self, belief: np.ndarray, left: frozenset[int], place: int) -> float:
        rates = {} if self.ended(belief) else self.rates(belief, left, place)
        if not rates:
            return 0.0
        return self.through(belief, left, place, max(rates, key=rates.__getitem__), self.greedy)

    def compared(self, belief: np.ndarray, left: frozenset[int], place: int) -> float:
        """The second check by comparison of what is greedy after it."""
        rates = {} if self.ended(belief) else self.rates(belief, left, place)
        return min((self.through(belief, left, place, check, self.greedy) for check in rates), default=0.0)

    @property
    def start(self) -> tuple[np.ndarray, frozenset[int], int]:
        belief = self.belief / self.belief.sum()
        return belief, frozenset(range(self.checks)), 0


@pytest.mark.parametrize("seed", range(12))
def test_the_optimum_with_noisy_checks_is_that_of_all_ways(seed: int) -> None:
    """Which outcomes were seen, and not how many of which checks, is what a situation is."""
    slow = Slow(seed)
    belief, left, place = slow.start
    best = optimal_strategy(belief, slow.tables, slow.places, slow.group, stop=SURE)
    assert best.cost == pytest.approx(slow.least(belief, left, place))
    steps = [best]
    while steps:
        step = steps.pop()
        if step.branches:
            assert sum(share for _, share, _ in step.branches) == pytest.approx(1)
            mean = sum(share * after.belief for _, share, after in step.branches)
            np.testing.assert_allclose(mean, step.belief, atol=1e-9)
            steps += [after for _, _, after in step.branches]


@pytest.mark.parametrize("depth", [2, 3])
@pytest.mark.parametrize("seed", range(12))
def test_an_outlook_is_what_it_says_to_look_at(seed: int, depth: int) -> None:
    """At depth 2 what comes after each first check is greedy; at 3 the second one is compared as well."""
    slow = Slow(seed, certain=True)
    belief, left, place = slow.start
    then = slow.greedy if depth == 2 else slow.compared
    outlook = look_ahead(belief, slow.tables, slow.places, slow.group, depth=depth)
    expected = {check: slow.through(belief, left, place, check, then) for check in slow.rates(belief, left, place)}
    assert dict(zip(outlook.order.tolist(), outlook.cost.tolist(), strict=True)) == pytest.approx(expected)
    assert outlook.cost.tolist() == sorted(outlook.cost.tolist())


def test_looking_further_is_not_always_the_same() -> None:
    """Else the test above would hold whatever the depth."""
    different = 0
    for seed in range(12):
        slow = Slow(seed, certain=True)
        near, far = (look_ahead(*_problem(slow), depth=depth) for depth in (2, 3))
        near_cost, far_cost = (dict(zip(each.order.tolist(), each.cost.tolist(), strict=True)) for each in (near, far))
        assert all(far_cost[check] <= near_cost[check] + 1e-9 for check in near_cost)
        different += any(far_cost[check] < near_cost[check] - 1e-9 for check in near_cost)
    assert different >= 2


def _problem(slow: Slow) -> tuple[np.ndarray, np.ndarray, Places, np.ndarray]:
    return slow.start[0], slow.tables, slow.places, slow.group


def test_what_is_rarely_come_to_is_estimated_and_not_followed() -> None:
    """Four causes that happen in one of two hundred: two bits at the best rate, not the two checks that it takes."""
    belief = np.array([0.995, *[0.00125] * 4])
    tables = np.eye(2)[np.array([[0, 1, 1, 1, 1], [0, 0, 0, 1, 1], [0, 0, 1, 0, 1]])]
    outlook = look_ahead(belief, tables, [1.0, 2.0, 6.0], np.arange(5))
    cost = dict(zip(outlook.order.tolist(), outlook.cost.tolist(), strict=True))
    assert cost[0] == pytest.approx(1 + 0.005 * (2 / (1 / 2)))
    # Two causes of a group need not be told apart, so there is less to be told.
    outlook = look_ahead(belief, tables, [1.0, 2.0, 6.0], [0, 1, 1, 2, 2])
    cost = dict(zip(outlook.order.tolist(), outlook.cost.tolist(), strict=True))
    assert cost[0] == pytest.approx(1 + 0.005 * (1 / (1 / 2)))


def test_of_very_many_checks_the_best_forty_are_looked_at() -> None:
    chance = np.random.default_rng(3)
    tables, costs = np.eye(3)[[chance.permutation(3) for _ in range(60)]], chance.uniform(1, 5, 60)
    belief, group = np.array([0.5, 0.3, 0.2]), np.arange(3)
    outlook = look_ahead(belief, tables, costs, group, depth=1, width=99)
    assert outlook.order.tolist() == rank(belief, tables, group, costs)[0][:40].tolist()
    usable = np.arange(60) % 2 == 0
    assert set(look_ahead(belief, tables, costs, group, depth=1, width=99, available=usable).order) == set(
        np.flatnonzero(usable)
    )


def test_the_narrowest_outlook_is_one_check() -> None:
    tables = np.eye(2)[np.array([[0, 0, 1], [0, 1, 1], [0, 1, 0]])]
    outlook = look_ahead([0.5, 0.3, 0.2], tables, [1.0, 1.0, 9.0], np.arange(3), width=1)
    assert outlook.order.tolist() == [rank([0.5, 0.3, 0.2], tables, np.arange(3), [1.0, 1.0, 9.0])[0][0]]


def test_equal_ones_keep_their_order_however_many_they_are() -> None:
    """A sort that is not stable keeps the order of a few, and shuffles many."""
    tells, says_nothing = np.eye(2), np.full((2, 2), 0.5)
    tables = np.array([tells if number % 2 else says_nothing for number in range(60)])
    expected = [*range(1, 60, 2), *range(0, 60, 2)]
    assert rank([0.5, 0.5], tables, [0, 1], np.ones(60))[0].tolist() == expected
    outlook = look_ahead([0.5, 0.5], tables[:40], np.ones(40), [0, 1], depth=2, width=99)
    assert outlook.order.tolist() == list(range(1, 40, 2))
    probability = np.array([0.02 if number % 2 else 0.01 for number in range(60)])
    assert repair_order(probability, np.ones(60)).tolist() == expected


def test_a_way_is_no_longer_than_was_asked() -> None:
    """Checks that never tell for certain would go on for ever."""
    noisy = np.array([[[0.6, 0.4], [0.4, 0.6]]] * 8)

    def longest(step) -> int:
        return 0 if step.check is None else 1 + max(longest(after) for _, _, after in step.branches)

    def first_left(belief, left):
        return int(np.flatnonzero(left)[0]) if left.any() else None

    for most in (1, 3):
        step = compile_strategy([0.5, 0.5], noisy, np.ones(8), [0, 1], first_left, most_checks=most)
        assert longest(step) == most


def test_it_ends_where_belief_is_just_as_much_as_was_asked() -> None:
    tells = np.eye(2)[None]
    assert optimal_strategy([0.75, 0.25], tells, [1.0], [0, 1], stop=0.75).check is None
    assert optimal_strategy([0.75, 0.25], tells, [1.0], [0, 1], stop=0.76).check == 0


def test_of_equally_cheap_checks_the_first_is_taken() -> None:
    tables = np.eye(2)[np.array([[0, 1, 1], [1, 0, 1], [1, 1, 0]])]
    assert optimal_strategy(np.full(3, 1 / 3), tables, np.ones(3), np.arange(3)).check == 0
