"""Belief: likelihoods never reach zero, sum to one, and do what a person would do with a reading."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from diagnose.belief import (
    Scale,
    cut_table,
    explains,
    numeric_likelihood,
    outcome_table,
    pad_tables,
    posterior,
    posteriors_without_each,
    sign_likelihood,
    update,
)

VOLTS = Scale("linear", span=300.0, resolution=0.5)
OHMS = Scale("logarithmic", 0.1, 40e6, resolution=0.1, over=40e6)
NOTHING = math.nan
OPEN = math.inf

shares = st.floats(1e-6, 1.0)
readings = st.one_of(st.floats(0, 4e8), st.just(OPEN))


@st.composite
def intervals(draw, least=2, most=8):
    """(H,) low and high: numbers, OL, reaching from a number to OL, or nothing."""
    rows = []
    for _ in range(draw(st.integers(least, most))):
        first, second = sorted((draw(st.floats(0, 1e8)), draw(st.floats(0, 1e8))))
        choices = [(first, second), (first, OPEN), (OPEN, OPEN), (NOTHING, NOTHING)]
        rows.append(draw(st.sampled_from(choices)))
    low, high = np.array(rows).T
    return low, high


@given(st.sampled_from([VOLTS, OHMS]), st.floats(0, 1e9), st.floats(0, 1e9))
def test_places_never_fall_with_the_value(scale, first, second):
    first, second = sorted((first, second))
    places = scale.coordinate([first, second])
    assert 0 <= places[0] <= places[1] <= 1


@given(st.floats(0.6, 300), st.floats(0.1, 40e6))
def test_value_is_the_inverse_of_coordinate(volts, ohms):
    assert float(VOLTS.value(VOLTS.coordinate(volts))) == pytest.approx(volts)
    assert float(OHMS.value(OHMS.coordinate(ohms))) == pytest.approx(ohms)


def test_values_below_the_resolution_share_one_place():
    assert VOLTS.coordinate([0.0, 0.3, -0.4]).tolist() == [0.0, 0.0, 0.0]
    assert OHMS.coordinate([0.0, 0.05, 0.1]).tolist() == [0.0, 0.0, 0.0]
    assert Scale("linear", -50.0, 50.0, 0.5).coordinate([-0.4, 0.4]).tolist() == [0.5, 0.5]


def test_readings_above_the_limit_are_over():
    assert OHMS.is_over([1.0, 40e6, 41e6, OPEN]).tolist() == [False, False, True, True]
    assert VOLTS.is_over([400.0, OPEN]).tolist() == [False, True]


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (("linear", 1.0, 1.0, 0.1), "a scale needs low < high, both finite, not 1.0 and 1.0"),
        (("linear", 0.0, 1.0, 0.0), "resolution 0.0 must be more than 0 and less than half the scale"),
        (("logarithmic", -1.0, 1.0, 0.1), "a logarithmic scale can't start at -1.0"),
        (("linear", -math.inf, 1.0, 0.1), "a scale needs low < high, both finite, not -inf and 1.0"),
        (("linear", 0.0, OPEN, 0.1), "a scale needs low < high, both finite, not 0.0 and inf"),
        (("linear", 0.0, 1.0, 0.5), "resolution 0.5 must be more than 0 and less than half the scale"),
        (("round", 0.0, 1.0, 0.1), "a scale is linear or logarithmic, not 'round'"),
        (("linear", 0.0, 1.0, 0.1, 0.0), "OL above 0.0 would leave no reading on the scale"),
    ],
)
def test_impossible_scales_are_refused(arguments, message):
    with pytest.raises(ValueError) as caught:
        Scale(*arguments)
    assert str(caught.value) == message


def test_scales_at_the_edge_of_what_is_refused():
    assert Scale("linear", 0.0, 1.0, 0.49).step([0.0])[0] == pytest.approx(0.49 / 0.51)
    assert Scale("logarithmic", 0.0, 1e3, 0.1).coordinate([0.0, 0.1, 10.0]).tolist() == pytest.approx([0, 0, 0.5])


def test_a_scale_by_its_span():
    spanned, ended = Scale("linear", 10.0, span=90.0, resolution=0.5), Scale("linear", 10.0, 100.0, 0.5)
    assert spanned == ended and spanned.high == 100.0
    with pytest.raises(ValueError, match=r"not 10\.0 and 5\.0"):
        Scale("linear", 10.0, span=-5.0, resolution=0.5)


@pytest.mark.parametrize("slip", [0.0, 1.0])
def test_all_or_none_may_be_slips(slip):
    """With nothing but slips a reading tells nothing; with none, what is predicted is all that can be seen."""
    seen = numeric_likelihood(119.0, [114.0, 0.0], [126.0, 1.0], VOLTS, slip)
    assert (seen[0] == seen[1]) == (slip == 1)
    assert sign_likelihood(0, [[1.0, 0.0], [0.0, 1.0]], slip).tolist() == [1 - slip / 2, slip / 2]
    assert outcome_table([0.0, 200.0], [1.0, 201.0], VOLTS, slip=slip).table.sum() == pytest.approx(2)


@given(intervals(), readings, st.sampled_from([VOLTS, OHMS]))
def test_no_reading_makes_any_cause_impossible(ends, reading, scale):
    likelihood = numeric_likelihood(reading, *ends, scale)
    assert np.all(np.isfinite(likelihood)) and np.all(likelihood > 0)


@given(intervals(), st.lists(readings, min_size=1, max_size=12), st.data())
def test_belief_sums_to_one_and_order_does_not_matter(ends, seen, data):
    prior = data.draw(arrays(float, len(ends[0]), elements=shares))
    prior = prior / prior.sum()
    likelihoods = [numeric_likelihood(reading, *ends, OHMS) for reading in seen]
    forward, backward = prior, prior
    for likelihood in likelihoods:
        forward = update(forward, likelihood)
        assert abs(forward.sum() - 1) < 1e-12
    for likelihood in reversed(likelihoods):
        backward = update(backward, likelihood)
    np.testing.assert_allclose(forward, backward, rtol=1e-9, atol=1e-300)
    np.testing.assert_allclose(forward, posterior(prior, likelihoods), rtol=1e-9, atol=1e-300)


@given(st.integers(0, 2**32 - 1), st.booleans())
def test_belief_without_each_answer_is_that_of_the_others(seed, some_can_not_be):
    """As if that one had not been given, where all answers are possible and where some are not."""
    chance = np.random.default_rng(seed)
    prior, likelihoods = chance.dirichlet(np.ones(5)), chance.uniform(1e-9, 1, (4, 5))
    prior[0] = 0.0
    if some_can_not_be:
        likelihoods[chance.integers(0, 4), chance.integers(1, 4)] = 0.0
    found = posteriors_without_each(prior, likelihoods)
    for number, without in enumerate(found):
        np.testing.assert_allclose(without, posterior(prior, np.delete(likelihoods, number, axis=0)), atol=1e-12)


@given(intervals(), readings, st.randoms())
def test_permuting_causes_permutes_likelihoods_and_outcomes(ends, reading, random):
    order = list(range(len(ends[0])))
    random.shuffle(order)
    moved = (ends[0][order], ends[1][order])
    expected = numeric_likelihood(reading, *ends, OHMS)[order]
    np.testing.assert_array_equal(numeric_likelihood(reading, *moved, OHMS), expected)
    np.testing.assert_array_equal(outcome_table(*moved, OHMS).table, outcome_table(*ends, OHMS).table[order])


# (H,) ends of every sort of interval: points, narrow, wide, up to OL, OL, nothing.
LOW = np.array([0.0, 0.0, 114.0, 30.0, OPEN, NOTHING])
HIGH = np.array([0.0, 250.0, 126.0, OPEN, OPEN, NOTHING])


@pytest.mark.parametrize("scale", [VOLTS, OHMS])
@pytest.mark.parametrize("most", [2, 4, 8])
def test_shares_of_outcomes_are_integrals_of_the_likelihood(scale, most):
    """Numbers of the scale and OL sum to one, and outcome by outcome to what the planner uses."""
    outcomes = outcome_table(LOW, HIGH, scale, max_outcomes=most)
    places = (np.arange(4_000) + 0.5) / 4_000
    sums = np.zeros_like(outcomes.table)
    for reading in scale.value(places).tolist():
        sums[:, outcomes.index(reading)] += numeric_likelihood(reading, LOW, HIGH, scale) / len(places)
    sums[:, outcomes.index(OPEN)] += numeric_likelihood(OPEN, LOW, HIGH, scale)
    np.testing.assert_allclose(sums.sum(axis=1), 1, atol=2e-3)
    np.testing.assert_allclose(sums, outcomes.table, atol=4e-3)


@pytest.mark.parametrize("has_over", [False, True])
def test_shares_between_given_readings_are_integrals_of_the_likelihood(has_over):
    """Readings between two cuts, for wide intervals that overlap; OL apart, or with the highest readings."""
    cuts = [10.0, 1e3, 1e6]
    table = cut_table(LOW, HIGH, OHMS, cuts, 0.1, has_over)
    places = (np.arange(8_000) + 0.5) / 8_000
    sums = np.zeros((len(LOW), 5))
    for reading in OHMS.value(places).tolist():
        sums[:, np.searchsorted(cuts, reading, side="right")] += (
            numeric_likelihood(reading, LOW, HIGH, OHMS, 0.1) / 8_000
        )
    sums[:, 4] = numeric_likelihood(OPEN, LOW, HIGH, OHMS, 0.1)
    if not has_over:
        sums = np.column_stack([sums[:, :3], sums[:, 3] + sums[:, 4]])
    np.testing.assert_allclose(table, sums, atol=4e-3)
    np.testing.assert_allclose(table.sum(axis=1), 1, rtol=1e-12)


def test_given_readings_divide_without_slips_where_none_are_said():
    assert cut_table([0.0, 2e3], [1.0, 3e3], OHMS, [100.0], slip=0.0)[0].tolist() == pytest.approx([1, 0], abs=1e-2)
    usual = cut_table([1e3], [2e3], OHMS, [100.0])
    np.testing.assert_array_equal(usual, cut_table([1e3], [2e3], OHMS, [100.0], 0.02, False))


def test_the_cause_whose_interval_holds_the_reading_is_favoured():
    low, high = np.array([114.0, 0.0, 228.0, NOTHING]), np.array([126.0, 1.0, 252.0, NOTHING])
    belief = update([0.25] * 4, numeric_likelihood(119.0, low, high, VOLTS))
    assert belief[0] > 0.9 and belief[3] > belief[1] and belief[3] > belief[2]


def test_likelihood_falls_off_on_both_sides():
    volts = [120.0, 126.0, 128.0, 132.0, 160.0]
    likely = [numeric_likelihood(each, np.array([114.0]), np.array([126.0]), VOLTS, 0.0)[0] for each in volts]
    assert likely[0] == likely[1] and sorted(likely[1:], reverse=True) == likely[1:]
    below = numeric_likelihood(112.0, np.array([114.0]), np.array([126.0]), VOLTS, 0.0)[0]
    assert below == pytest.approx(likely[2])


def test_one_misread_does_not_kill_the_truth():
    low, high = np.array([114.0, 0.0]), np.array([126.0, 1.0])
    belief = np.array([0.5, 0.5])
    for reading in (0.0, 120.0, 120.0, 119.0):
        belief = update(belief, numeric_likelihood(reading, low, high, VOLTS))
    assert belief[0] > 0.99


def test_open_circuits_are_apart_from_numbers():
    low, high = np.array([OPEN, 12.0, 39e6]), np.array([OPEN, 14.0, 40e6])
    over = numeric_likelihood(OPEN, low, high, OHMS, 0.0)
    assert over[0] > 0.9 and over[1] < 1e-6 and 0.1 < over[2] < 0.6
    number = numeric_likelihood(13.0, low, high, OHMS)
    assert number[1] == number.max() and number[0] < 0.05


def test_a_cause_that_says_nothing_is_flat():
    low = high = np.array([NOTHING])
    seen = {float(numeric_likelihood(each, low, high, VOLTS)[0]) for each in (0.0, 57.0, 300.0)}
    assert len(seen) == 1


def test_explains():
    low, high = np.array([114.0, 0.0, NOTHING]), np.array([126.0, 1.0, NOTHING])
    assert explains(127.0, low, high, VOLTS).tolist() == [True, False, False]
    assert not explains(60.0, low, high, VOLTS).any()
    low, high = np.array([OPEN, 12.0, 1e6, NOTHING]), np.array([OPEN, 14.0, OPEN, NOTHING])
    assert explains(OPEN, low, high, OHMS).tolist() == [True, False, True, False]
    assert explains(12.1, low, high, OHMS).tolist() == [False, True, False, False]


def test_a_blank_display_is_not_near_the_highest_temperature():
    celsius = Scale("linear", -20.0, 120.0, 0.1)
    assert not explains(119.9, [OPEN], [OPEN], celsius)[0]
    assert explains(OPEN, [OPEN], [OPEN], celsius)[0]
    assert numeric_likelihood(OPEN, [119.0], [120.0], celsius, 0.0)[0] == 0


def test_sign_likelihood_mixes_in_slips_and_takes_silence_as_even():
    table = [[1.0, 0.0], [0.25, 0.75], [NOTHING, NOTHING]]
    assert sign_likelihood(1, table, 0.1).tolist() == pytest.approx([0.05, 0.725, 0.5])


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: numeric_likelihood(NOTHING, [0.0], [1.0], VOLTS), "nan is no reading"),
        (lambda: numeric_likelihood(-math.inf, [0.0], [1.0], VOLTS), "-inf is no reading"),
        (lambda: numeric_likelihood(1.0, [2.0], [1.0], VOLTS), "an interval with its low end above its high end"),
        (lambda: numeric_likelihood(1.0, [NOTHING], [1.0], VOLTS), "an interval with one end missing"),
        (
            lambda: numeric_likelihood(1.0, [0.0, 1.0], [1.0], VOLTS),
            "low and high must be (H,) alike, not (2,) and (1,)",
        ),
        (lambda: numeric_likelihood(1.0, [0.0], [1.0], VOLTS, slip=1.5), "slip must be a share from 0 to 1, not 1.5"),
        (lambda: sign_likelihood(2, [[1.0, 0.0]]), "no outcome 2 in a table of shape (1, 2)"),
        (lambda: sign_likelihood(-1, [[1.0, 0.0]]), "no outcome -1 in a table of shape (1, 2)"),
        (lambda: sign_likelihood(0, [[0.7, 0.0]]), "each row of a table must be probabilities that sum to one"),
        (lambda: update([0.5, 0.5], [1.0]), "belief (2,) and likelihood (1, 1) do not fit together"),
        (lambda: update([0.5, 0.5], [-1.0, 1.0]), "belief and likelihood must be finite and not negative"),
        (lambda: update([0.5, 0.5], [NOTHING, 1.0]), "belief and likelihood must be finite and not negative"),
        (lambda: update([1.0, 0.0], [0.0, 1.0]), "no cause that is believed in could have given this answer"),
        (lambda: outcome_table([], [], VOLTS), "no causes to tell apart"),
        (
            lambda: outcome_table([0.0], [1.0], VOLTS, max_outcomes=1),
            "max_outcomes 1 must be at least 2, slip 0.02 a share",
        ),
        (lambda: pad_tables([]), "no tables to stack"),
        (lambda: numeric_likelihood(1.0, [-math.inf], [1.0], VOLTS), "an interval that starts at minus infinity"),
        (lambda: numeric_likelihood(1.0, [0.0], [NOTHING], VOLTS), "an interval with one end missing"),
        (lambda: numeric_likelihood(1.0, [0.0], [1.0], VOLTS, slip=-0.1), "slip must be a share from 0 to 1, not -0.1"),
        (lambda: sign_likelihood(0, [[1.0, 0.0]], slip=1.1), "slip must be a share from 0 to 1, not 1.1"),
        (lambda: sign_likelihood(0, [1.0, 0.0]), "no outcome 0 in a table of shape (2,)"),
        (
            lambda: sign_likelihood(0, [[1.0, 0.0], [NOTHING, 1.0]]),
            "each row of a table must be probabilities that sum to one",
        ),
        (lambda: sign_likelihood(0, [[1.5, -0.5]]), "each row of a table must be probabilities that sum to one"),
        (lambda: update([[0.5, 0.5]], [1.0, 1.0]), "belief (1, 2) and likelihood (1, 2) do not fit together"),
        (lambda: posterior([0.5, 0.5], [1.0, 1.0]), "belief (2,) and likelihood (2,) do not fit together"),
        (lambda: update([0.5, OPEN], [1.0, 1.0]), "belief and likelihood must be finite and not negative"),
        (
            lambda: outcome_table([0.0], [1.0], VOLTS, slip=1.5),
            "max_outcomes 8 must be at least 2, slip 1.5 a share",
        ),
        (
            lambda: outcome_table([0.0], [1.0], VOLTS, slip=-0.5),
            "max_outcomes 8 must be at least 2, slip -0.5 a share",
        ),
    ],
)
def test_impossible_arguments_are_refused(call, message):
    with pytest.raises(ValueError) as caught:
        call()
    assert str(caught.value) == message


def test_outcomes_of_a_voltage_are_its_disjoint_intervals():
    low, high = np.array([114.0, 115.0, 0.0, 228.0, NOTHING]), np.array([126.0, 127.0, 1.0, 252.0, NOTHING])
    outcomes = outcome_table(low, high, VOLTS, slip=0.0)
    assert outcomes.low.tolist() == [0.0, 114.0, 228.0] and outcomes.high.tolist() == [1.0, 127.0, 252.0]
    assert outcomes.table.argmax(axis=1)[:4].tolist() == [1, 1, 0, 2]
    assert outcomes.table.max(axis=1)[:4].min() > 0.99
    assert [outcomes.index(each) for each in outcomes.representatives] == [0, 1, 2]
    assert not outcomes.has_over


def test_an_interval_over_an_edge_is_split_in_proportion():
    outcomes = outcome_table([0.0, 200.0, 0.0], [100.0, 300.0, 300.0], VOLTS, slip=0.0)
    assert outcomes.edges.tolist() == [150.0]
    assert outcomes.table[2].tolist() == pytest.approx([0.5, 0.5], abs=2e-3)  # the resolution at 0 V is cut out


def test_over_is_the_last_outcome():
    outcomes = outcome_table([12.0, OPEN], [14.0, OPEN], OHMS)
    assert outcomes.has_over
    assert [outcomes.index(each) for each in (13.0, 50e6, OPEN)] == [0, 1, 1]
    assert outcomes.table[0, 0] > 0.97 and outcomes.table[1, 1] > 0.95


def test_too_many_outcomes_join_the_closest():
    low = np.array([0.0, 50.0, 55.0, 200.0])
    outcomes = outcome_table(low, low + 1, VOLTS, max_outcomes=3)
    assert outcomes.low.tolist() == [0.0, 50.0, 200.0] and outcomes.high.tolist() == [1.0, 56.0, 201.0]


@given(intervals(1, 12), st.sampled_from([VOLTS, OHMS]), st.integers(2, 8))
def test_outcome_tables_are_distributions_of_the_promised_size(ends, scale, most):
    outcomes = outcome_table(*ends, scale, max_outcomes=most)
    count = outcomes.table.shape[1]
    assert count <= most and len(outcomes.edges) + 1 + outcomes.has_over == count
    np.testing.assert_allclose(outcomes.table.sum(axis=1), 1, rtol=1e-12)
    assert outcomes.table.min() >= 0 and np.all(np.diff(outcomes.edges) >= 0)
    assert [outcomes.index(each) for each in outcomes.representatives] == list(range(count))


def test_pad_tables_fills_up_with_outcomes_that_never_happen():
    padded = pad_tables([np.ones((2, 1)), np.full((2, 3), 1 / 3)])
    assert padded.shape == (2, 2, 3) and padded[0].tolist() == [[1, 0, 0], [1, 0, 0]]


def test_a_table_alone_is_padded_with_nothing():
    assert pad_tables([np.array([[0.25, 0.75]])]).tolist() == [[[0.25, 0.75]]]


def test_many_small_likelihoods_lose_nothing():
    """Their product is far below the smallest float; what they say of one another stays."""
    answers = np.array([[1e-200, 2e-200, 0.0]] * 3)
    assert posterior([0.5, 0.4, 0.1], answers).tolist() == pytest.approx([5 / 37, 32 / 37, 0])


def test_where_no_cause_says_anything_the_scale_is_one_outcome():
    outcomes = outcome_table([NOTHING], [NOTHING], VOLTS)
    assert outcomes.representatives.tolist() == [float(VOLTS.value(0.5))]
    assert (outcomes.low.tolist(), outcomes.high.tolist(), outcomes.table.tolist()) == ([0.0], [300.0], [[1.0]])


def test_the_typical_reading_of_joined_outcomes_is_the_middle_one():
    low = np.array([0.0, 100.0, 110.0, 120.0, 130.0, 250.0])
    outcomes = outcome_table(low, low + 1, VOLTS, max_outcomes=3)
    assert outcomes.low.tolist() == [0.0, 100.0, 250.0] and outcomes.high.tolist() == [1.0, 131.0, 251.0]
    assert outcomes.representatives[1] == pytest.approx(120.5)  # of four, the upper of the two in the middle
