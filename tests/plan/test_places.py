"""Checks that are done in different places, and the way there that several of them share."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from diagnose.plan import Places, compile_strategy, expected_information, look_ahead, optimal_strategy
from diagnose.plan.nearby import joint_bits, shared_rate
from diagnose.plan.places import checked_places


def certain(outcomes):
    """(C, H, 2) tables from (C, H) outcomes of 0 or 1."""
    return np.eye(2)[np.asarray(outcomes)]


def random_problem(seed, causes=6, checks=7, sites=3):
    """Belief, certain tables, group and places: a check costs its own minutes and the way from site to site."""
    chance = np.random.default_rng(seed)
    tables = np.eye(3)[chance.integers(0, 3, (checks, causes))]
    ways = chance.uniform(0.5, 6, (sites, sites))
    np.fill_diagonal(ways, 0)
    site = chance.integers(0, sites, checks)
    costs = ways[:, site] + chance.uniform(0.5, 2, checks)
    return chance.dirichlet(np.ones(causes)), tables, np.arange(causes), Places(costs, site)


def looking_ahead(tables, places, group):
    def choose(belief, left, place):
        here = Places(places.costs, places.after, place)
        order = look_ahead(belief, tables, here, group, 2, 8, left).order
        return int(order[0]) if len(order) else None

    return choose


def test_looking_ahead_is_within_a_twentieth_of_the_optimum():
    """On small problems with places, where the optimum is exact: never cheaper than it, and 5 % dearer at most."""
    ratios = []
    for seed in range(40):
        belief, tables, group, places = random_problem(seed)
        best = optimal_strategy(belief, tables, places, group).cost
        ours = compile_strategy(belief, tables, places, group, looking_ahead(tables, places, group)).cost
        ratios.append(ours / best)
    assert min(ratios) >= 1 - 1e-9
    assert np.mean(ratios) <= 1.05


def test_what_is_done_in_one_place_is_done_together():
    """Two checks here and two there, of which one each is needed: the optimum crosses over once."""
    tables = certain([[0, 0, 1, 1, 0, 0], [0, 1, 0, 1, 0, 1], [0, 0, 0, 0, 1, 0], [0, 0, 0, 0, 0, 1]])
    ways = np.array([[0.0, 9.0], [9.0, 0.0]])
    site = np.array([0, 0, 1, 1])
    places = Places(ways[:, site] + 1, site)
    step = optimal_strategy(np.full(6, 1 / 6), tables, places, np.arange(6))

    def crossings(step, place=0):
        if step.check is None:
            return 0
        there = int(site[step.check])
        return (there != place) + max(crossings(after, there) for _, _, after in step.branches)

    assert crossings(step) == 1


def test_plain_costs_are_one_place_that_is_never_left():
    places = checked_places([1.0, 2.0], 2)
    assert places.costs.tolist() == [[1.0, 2.0]] and places.after.tolist() == [0, 0]
    some = Places(np.ones((2, 3)), np.array([0, 1, 1]), 1).some(np.array([2]))
    assert some.costs.shape == (2, 1) and some.after.tolist() == [1] and some.start == 1


@pytest.mark.parametrize(
    ("places", "message"),
    [
        (
            Places(np.zeros((1, 2)), np.zeros(2, dtype=int)),
            "costs from places must be (P, 2) finite numbers above 0, not (1, 2)",
        ),
        (
            Places(np.ones((1, 3)), np.zeros(2, dtype=int)),
            "costs from places must be (P, 2) finite numbers above 0, not (1, 3)",
        ),
        (
            Places(np.ones(2), np.zeros(2, dtype=int)),
            "costs from places must be (P, 2) finite numbers above 0, not (2,)",
        ),
        (
            Places(np.full((1, 2), np.inf), np.zeros(2, dtype=int)),
            "costs from places must be (P, 2) finite numbers above 0, not (1, 2)",
        ),
        (Places(np.ones((1, 2)), np.array([0, 1])), "places are numbered from 0 to 0"),
        (Places(np.ones((2, 2)), np.array([-1, 1])), "places are numbered from 0 to 1"),
        (
            Places(np.ones((1, 2)), np.zeros(2, dtype=int), 1),
            "2 checks and a start must each have a place from 0 to 0",
        ),
        (
            Places(np.ones((1, 2)), np.zeros(2, dtype=int), -1),
            "2 checks and a start must each have a place from 0 to 0",
        ),
        (Places(np.ones((1, 2)), np.zeros(1, dtype=int)), "2 checks and a start must each have a place from 0 to 0"),
    ],
)
def test_impossible_places_are_refused(places, message):
    with pytest.raises(ValueError) as caught:
        checked_places(places, 2)
    assert str(caught.value) == message


@given(st.integers(0, 2**32 - 1))
def test_all_checks_of_a_place_tell_as_much_as_their_outcomes_together(seed):
    """With certain checks that is the information of one check whose outcome is all of theirs."""
    chance = np.random.default_rng(seed)
    belief, group = chance.dirichlet(np.ones(6)), chance.integers(0, 4, 6)
    outcomes = chance.integers(0, 2, (3, 6))
    together = np.eye(8)[outcomes[0] + 2 * outcomes[1] + 4 * outcomes[2]]
    expected = float(expected_information(belief, together, group))
    assert joint_bits(belief, certain(outcomes), group) == pytest.approx(expected, abs=1e-9)


def test_the_way_is_shared_among_the_checks_that_it_takes():
    one = shared_rate(np.array([1.0]), np.array([1.0]), 4.0, 1.0)
    four = shared_rate(np.array([0.5, 0.5]), np.array([1.0, 1.0]), 4.0, 2.0)
    assert one.tolist() == [0.2] and four.tolist() == [0.25, 0.25]
    assert shared_rate(np.zeros(0), np.zeros(0), 4.0, 0.0).tolist() == []
    assert shared_rate(np.zeros(2), np.ones(2), 4.0, 0.0).tolist() == [
        0.0,
        0.0,
    ]  # nobody goes there, and nothing breaks
    assert joint_bits(np.array([1.0]), np.zeros((0, 1, 2)), np.array([0])) == 0.0
