"""A fault has one level: what its signs say together is what one level shows, not a product of shares."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import pytest

from diagnose.belief import update
from diagnose.combined import belief_after, likelihood
from diagnose.levels import level_factors
from diagnose.model import Model
from diagnose.opening import open_model
from diagnose.questions import Answer

JOINT = "wire_feed_breaker_load_1_to_wall_point_l1:joint@2.5"
NOT_TOLD_APART = ("running:sign:heat_lamp:light", "running:sign:controller:display", "running:sign:contactor:pulled_in")


@lru_cache(maxsize=1)
def model() -> Model:
    return open_model("loft_dairy_208", "display_resets", "element")


def seen(check_id: str, outcome: str) -> Answer:
    check = model().checks_by_id[check_id]
    outcomes = model().panel.kind_of(check.part).signs[check.sign].outcomes
    return Answer(check_id, outcome, None, outcomes.index(outcome))


ANSWERS = tuple(
    seen(check_id, outcome) for check_id, outcome in zip(NOT_TOLD_APART, ("lit", "lit", "yes"), strict=True)
)


def number_of(key: str) -> int:
    return next(number for number, cause in enumerate(model().causes) if cause.key == key)


def test_the_factor_turns_a_product_of_means_into_a_mean_of_products() -> None:
    """With three levels of which one chatters: two thirds for one sign, and two thirds for three as well."""
    now = model().prior
    for answer in ANSWERS:
        now = update(now, likelihood(model(), answer))
    np.testing.assert_allclose(belief_after(model(), ANSWERS), update(now, level_factors(model(), ANSWERS)))
    joint = 1 + number_of(JOINT)
    tables = [model().predictor.level_table(model().checks_by_id[name]) for name in NOT_TOLD_APART]
    mine = model().predictor.owner == joint
    shares = np.array([table[mine, answer.outcome] for table, answer in zip(tables, ANSWERS, strict=True)])
    assert not np.allclose(shares, shares.mean(axis=1, keepdims=True))  # the levels show different things
    assert shares.mean(axis=1).prod() < 0.5 * shares.prod(axis=0).mean()


def test_looking_at_what_follows_from_the_same_level_does_not_acquit_a_joint() -> None:
    now = [belief_after(model(), ANSWERS[:count]) for count in (1, 2, 3)]
    joint = number_of(JOINT)
    assert min(now[1][joint], now[2][joint]) >= 0.95 * now[0][joint]
    each_a_witness = model().prior
    for answer in ANSWERS:
        each_a_witness = update(each_a_witness, likelihood(model(), answer))
    assert each_a_witness[joint] < 0.8 * now[2][joint]


def test_belief_sums_to_one_and_one_level_is_left_alone() -> None:
    assert belief_after(model(), ANSWERS).sum() == pytest.approx(1)
    factors = level_factors(model(), ANSWERS)
    counts = np.bincount(model().predictor.owner)[1:]
    assert (factors[:-1][counts == 1] == 1).all() and factors[-1] == 1
    assert (factors > 0).all()


def test_without_a_sign_there_is_nothing_to_put_right() -> None:
    assert (level_factors(model(), ()) == 1).all()
