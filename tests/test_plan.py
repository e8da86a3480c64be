"""Choice of checks, strategies, order of remedies and several faults: what must always hold."""

import itertools

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from diagnose.combine import (
    candidate_probabilities,
    consistent_candidates,
    minimal_hitting_sets,
    probe_table,
)
from diagnose.plan import (
    Telling,
    compile_strategy,
    expected_information,
    group_entropy,
    look_ahead,
    optimal_strategy,
    path_of,
    rank,
    repair_order,
    repair_plan_with_setup,
    sequence_cost,
    worth_trying,
)


@st.composite
def problems(draw, most_causes=7, most_checks=5):
    """Belief (H,), tables (C, H, O), group (H,), costs (C,), noisy or certain."""
    random = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    causes, checks = draw(st.integers(1, most_causes)), draw(st.integers(1, most_checks))
    outcomes, groups = draw(st.integers(1, 4)), draw(st.integers(1, most_causes))
    if draw(st.booleans()):
        tables = random.dirichlet(np.ones(outcomes), (checks, causes))
    else:
        tables = np.eye(outcomes)[random.integers(0, outcomes, (checks, causes))]
    belief = random.dirichlet(np.ones(causes))
    return belief, tables, random.integers(0, groups, causes), random.uniform(1, 5, checks)


def by_rank(tables, costs, group):
    """A chooser for compile_strategy: the best check by information per cost."""

    def choose(belief, left):
        score = np.where(left, rank(belief, tables, group, costs)[1], 0)
        return int(score.argmax()) if score.max() > 0 else None

    return choose


def textbook_information(belief, table, group):
    """Sum over outcomes and groups of p log p/(p p), the slow way."""
    total = 0.0
    for outcome in range(table.shape[1]):
        together = belief @ table[:, outcome]
        for each in set(group.tolist()):
            share = belief[group == each].sum()
            joint = belief[group == each] @ table[group == each, outcome]
            if joint > 0:
                total += joint * np.log2(joint / (share * together))
    return total


@given(problems())
def test_information_is_mutual_information_within_its_bounds(problem):
    belief, tables, group, _ = problem
    bits = expected_information(belief, tables, group)
    entropy = group_entropy(belief, group)
    assert np.all(bits >= 0) and np.all(bits <= entropy + 1e-9)
    expected = [textbook_information(belief, table, group) for table in tables]
    np.testing.assert_allclose(bits, expected, atol=1e-9)
    np.testing.assert_allclose([expected_information(belief, each, group) for each in tables], bits, atol=1e-12)


@given(problems())
def test_what_is_asked_again_and_again_tells_the_same(problem):
    """Checks made ready once, of a belief that is sharp as well as of one that is not."""
    belief, tables, group, _ = problem
    ready = Telling(tables, group)
    for now in (belief, np.eye(len(belief))[0], belief):
        np.testing.assert_allclose(ready.bits(now), expected_information(now, tables, group), atol=1e-9)


@pytest.mark.parametrize("order", list(itertools.permutations(range(4))))
def test_what_tells_as_much_ties(order):
    """However the causes stand in the arrays, two checks that tell as much come to the very same number."""
    belief, group = np.array([0.1, 0.2, 0.3, 0.4])[[*order]], np.array([0, 1, 1, 2])[[*order]]
    for outcomes in itertools.product(range(4), repeat=4):
        table = np.eye(4)[[*outcomes]]
        tables = np.stack([table, table[:, [2, 0, 3, 1]]])
        for bits in (expected_information(belief, tables, group), Telling(tables, group).bits(belief)):
            assert bits[0] == bits[1], outcomes


@given(problems(), st.randoms())
def test_permuting_causes_changes_no_information(problem, random):
    belief, tables, group, _ = problem
    order = list(range(len(belief)))
    random.shuffle(order)
    moved = expected_information(belief[order], tables[:, order], group[order])
    np.testing.assert_allclose(moved, expected_information(belief, tables, group), atol=1e-12)


@given(problems())
def test_a_check_that_shows_the_same_whatever_is_wrong_tells_nothing(problem):
    belief, tables, group, _ = problem
    same = np.repeat(tables[:, :1], len(belief), axis=1)
    assert not expected_information(belief, same, group).any()
    assert not expected_information(belief, tables, np.zeros(len(belief), dtype=int)).any()


def test_telling_causes_of_one_group_apart_counts_only_by_its_weight():
    belief, group, table = [0.5, 0.5], [3, 3], [[1.0, 0.0], [0.0, 1.0]]
    assert float(expected_information(belief, table, group)) == 0
    assert float(expected_information(belief, table, group, cause_weight=0.1)) == pytest.approx(0.1)


def test_rank_is_information_per_cost():
    tables = np.array([[[1.0, 0], [0, 1]], [[1, 0], [1, 0]], [[1, 0], [0, 1]]])
    order, score = rank([0.5, 0.5], tables, [0, 1], [4.0, 1.0, 2.0])
    assert order.tolist() == [2, 0, 1] and score.tolist() == [0.25, 0.0, 0.5]


@given(problems(most_causes=5, most_checks=4))
def test_no_way_of_choosing_beats_the_optimum(problem):
    belief, tables, group, costs = problem
    best = optimal_strategy(belief, tables, costs, group, stop=0.95)
    greedy = compile_strategy(belief, tables, costs, group, by_rank(tables, costs, group), stop=0.95)
    # Noisy checks may run out before the group is known, and stopping short is not comparable.
    if all(leaf_share(leaf, group) >= 0.95 for leaf in leaves(best)):
        assert best.cost <= greedy.cost + 1e-9


def leaves(step):
    """The ends of a strategy."""
    return [step] if step.check is None else [end for _, _, after in step.branches for end in leaves(after)]


def leaf_share(step, group):
    return np.bincount(group, weights=step.belief).max()


@given(problems())
def test_branches_of_a_strategy_are_probabilities_and_average_to_what_was_believed(problem):
    belief, tables, group, costs = problem
    places = [compile_strategy(belief, tables, costs, group, by_rank(tables, costs, group), stop=0.9)]
    while places:
        place = places.pop()
        if place.check is None:
            assert place.cost == 0
            continue
        assert sum(share for _, share, _ in place.branches) == pytest.approx(1, abs=1e-9)
        mean = sum(share * after.belief for _, share, after in place.branches)
        np.testing.assert_allclose(mean, place.belief, atol=1e-9)
        places += [after for _, _, after in place.branches]


@given(problems())
def test_look_ahead_of_depth_one_is_rank(problem):
    belief, tables, group, costs = problem
    order, score = rank(belief, tables, group, costs)
    outlook = look_ahead(belief, tables, costs, group, depth=1, width=99)
    if group_entropy(belief, group) > 1e-6:
        assert outlook.order.tolist() == [each for each in order.tolist() if score[each] > 1e-12]


def test_look_ahead_with_certain_checks_reports_the_cost_it_will_have():
    """Greedy after the first check, exactly: no estimates where every place is followed to the end."""
    tables = np.eye(2)[np.array([[0, 0, 1, 1], [0, 1, 0, 1], [0, 0, 0, 1]])]
    belief, costs, group = np.array([0.4, 0.3, 0.2, 0.1]), np.array([1.0, 2.0, 1.5]), np.arange(4)
    outlook = look_ahead(belief, tables, costs, group)
    for check, cost in zip(outlook.order.tolist(), outlook.cost.tolist(), strict=True):
        then = by_rank(tables, costs, group)

        def choose(belief, left, check=check, then=then):
            return check if left.all() else then(belief, left)

        assert compile_strategy(belief, tables, costs, group, choose).cost == pytest.approx(cost)


def test_look_ahead_keeps_to_what_is_available():
    tables = np.eye(2)[np.array([[0, 1], [0, 1]])]
    outlook = look_ahead([0.5, 0.5], tables, [1.0, 2.0], [0, 1], available=[False, True])
    assert outlook.order.tolist() == [1] and outlook.cost.tolist() == [2.0]
    assert not len(look_ahead([0.5, 0.5], tables, [1.0, 2.0], [0, 0]).order)


def test_a_strategy_ends_where_the_group_is_known_though_the_cause_is_not():
    tables = np.eye(2)[np.array([[0, 0, 1], [0, 1, 0]])]
    best = optimal_strategy([0.3, 0.3, 0.4], tables, [1.0, 1.0], [0, 0, 1])
    assert best.check == 0 and best.cost == 1.0 and len(leaves(best)) == 2
    assert path_of(best, tables, cause=1) == (0,)


def test_a_strategy_ends_where_nothing_can_be_told():
    tables = np.eye(2)[np.array([[0, 0, 1]])]
    assert optimal_strategy([0.3, 0.3, 0.4], tables, [1.0], [0, 1, 2]).cost == 1.0


@given(st.integers(1, 5), st.integers(0, 2**32 - 1))
def test_repair_order_is_the_cheapest_of_all_orders(count, seed):
    random = np.random.default_rng(seed)
    probability, cost = random.dirichlet(np.ones(count)), random.uniform(0.1, 9, count)
    orders = itertools.permutations(range(count))
    least = min(sequence_cost(probability, cost, order) for order in orders)
    assert sequence_cost(probability, cost, repair_order(probability, cost)) == pytest.approx(least)


@given(st.integers(1, 5), st.integers(0, 2**32 - 1))
def test_repair_plan_with_setup_is_the_cheapest_of_all_orders(count, seed):
    random = np.random.default_rng(seed)
    probability, cost = random.dirichlet(np.ones(count + 1))[:count], random.uniform(0.1, 9, count)
    cluster, setup = random.integers(-1, 2, count), random.uniform(1, 20, 2)
    costs = [sequence_cost(probability, cost, o, cluster, setup) for o in itertools.permutations(range(count))]
    plan = repair_plan_with_setup(probability, cost, cluster, setup)
    assert plan.cost == pytest.approx(min(costs))
    assert sequence_cost(probability, cost, plan.order, cluster, setup) == pytest.approx(plan.cost)


def test_as_many_remedies_as_can_be_weighed_and_no_more(monkeypatch):
    """What is exact over subsets doubles with each remedy, so there is a most; it is still taken."""
    monkeypatch.setattr("diagnose.plan.repair.MOST_ACTIONS", 3)
    assert repair_plan_with_setup([0.1, 0.3, 0.2], [1.0] * 3, [-1] * 3, []).order == (1, 2, 0)
    with pytest.raises(ValueError, match="at most 3 actions, not 4"):
        repair_plan_with_setup([0.1] * 4, [1.0] * 4, [-1] * 4, [])


def test_where_trying_and_looking_cost_the_same_it_is_looked_first():
    assert not worth_trying(0.5, 10.0, 10.0)
    assert worth_trying(0.51, 10.0, 10.0)


def test_remedies_that_cost_nothing_come_first_and_useless_ones_last():
    assert repair_order([0.0, 0.2, 0.3], [0.0, 1.0, 0.0]).tolist() == [2, 1, 0]


@given(st.lists(st.sets(st.integers(0, 5), min_size=1), max_size=5))
def test_minimal_hitting_sets_are_those_of_an_exhaustive_search(conflicts):
    hitting = consistent_candidates(range(6), conflicts)
    minimal = {each for each in hitting if not any(other < each for other in hitting)}
    found = minimal_hitting_sets(conflicts)
    assert set(found) == minimal and len(found) == len(minimal)
    assert set(minimal_hitting_sets(conflicts, 1)) == {each for each in minimal if len(each) <= 1}


def test_without_checks_there_is_nothing_to_choose():
    none = np.zeros((0, 2, 2))
    assert expected_information([0.5, 0.5], none, [0, 1]).tolist() == []
    assert not len(look_ahead([0.5, 0.5], none, [], [0, 1]).order)
    assert optimal_strategy([0.5, 0.5], none, [], [0, 1]).check is None


def test_no_set_hits_an_empty_conflict():
    assert minimal_hitting_sets([{1}, set()]) == ()


def test_candidates_are_as_probable_as_their_failures():
    two = candidate_probabilities([frozenset("a"), frozenset("ab")], {"a": 0.1, "b": 0.2})
    assert two.tolist() == pytest.approx([0.8, 0.2])


def test_probe_table_spreads_what_is_not_predicted():
    table = probe_table([4.0, 6.0, np.nan], values=4)
    assert table.tolist() == [[1, 0, 0], [0, 1, 0], [0.25, 0.25, 0.5]]


ONE = np.ones((1, 2, 1))
TELLS = np.eye(2)[None]
SOME = np.full((1, 2, 2), 0.5)  # tells nothing, so it is asked again and again


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: expected_information([0.5, 0.4], ONE, [0, 1]), "belief must be probabilities that sum to one"),
        (lambda: expected_information([1.5, -0.5], ONE, [0, 1]), "belief must be probabilities that sum to one"),
        (lambda: expected_information([0.5, 0.5], ONE, [0, -1]), "groups are numbered from 0"),
        (lambda: expected_information([0.5, 0.5], ONE, [0]), "belief (2,) and group (1,) must be (H,) alike"),
        (
            lambda: expected_information([0.5, 0.5], 0.9 * ONE, [0, 1]),
            "each row of a table must be probabilities that sum to one",
        ),
        (
            lambda: expected_information([0.5, 0.5], ONE, [0, 1], cause_weight=2),
            "cause_weight must be a share from 0 to 1, not 2",
        ),
        (lambda: rank([0.5, 0.5], ONE, [0, 1], [0.0]), "costs must be 1 finite numbers above 0"),
        (lambda: rank([0.5, 0.5], ONE, [0, 1], [1.0, 1.0]), "costs must be 1 finite numbers above 0"),
        (lambda: look_ahead([0.5, 0.5], ONE, [1.0], [0, 1], depth=0), "depth 0 and width 8 must be at least 1"),
        (
            lambda: look_ahead([0.5, 0.5], ONE, [1.0], [0, 1], available=[True, True]),
            "available must be (1,), not (2,)",
        ),
        (
            lambda: optimal_strategy([0.5, 0.5], ONE, [1.0], [0, 1], stop=1.5),
            "stop must be 'isolated' or a share, not 1.5",
        ),
        (lambda: compile_strategy([0.5, 0.5], ONE, [1.0], [0, 1], lambda belief, left: 7), "check 7 can't be chosen"),
        (lambda: repair_order([0.9, 0.9], [1.0, 1.0]), "probabilities must not be negative or sum to more than one"),
        (lambda: repair_order([0.1], [-1.0]), "costs must be finite and not negative"),
        (lambda: sequence_cost([0.1], [1.0], [0, 0]), "an order names each action once"),
        (
            lambda: sequence_cost([0.1], [1.0], [0], [0], []),
            "each action needs a cluster that has a set-up cost, or -1",
        ),
        (lambda: repair_plan_with_setup([0.01] * 17, [1.0] * 17, [-1] * 17, []), "at most 16 actions, not 17"),
        (lambda: expected_information([0.5, 0.5], ONE[0, 0], [0, 1]), "tables must be (C, 2, O), not (1,)"),
        (lambda: expected_information([1.0], ONE, [0]), "tables must be (C, 1, O), not (1, 2, 1)"),
        (
            lambda: expected_information([0.5, 0.5], [[[1.5, -0.5], [0, 1]]], [0, 1]),
            "each row of a table must be probabilities that sum to one",
        ),
        (
            lambda: expected_information([0.5, 0.5], ONE, [0, 1], cause_weight=-0.1),
            "cause_weight must be a share from 0 to 1, not -0.1",
        ),
        (lambda: group_entropy([], []), "belief (0,) and group (0,) must be (H,) alike"),
        (lambda: rank([0.5, 0.5], ONE, [0, 1], [np.inf]), "costs must be 1 finite numbers above 0"),
        (lambda: look_ahead([0.5, 0.5], ONE, [1.0], [0, 1], width=0), "depth 2 and width 0 must be at least 1"),
        (
            lambda: optimal_strategy([0.5, 0.5], ONE, [1.0], [0, 1], stop=0),
            "stop must be 'isolated' or a share, not 0",
        ),
        (lambda: compile_strategy([0.5, 0.5], TELLS, [1.0], [0, 1], lambda _, left: 1), "check 1 can't be chosen"),
        (lambda: compile_strategy([0.5, 0.5], TELLS, [1.0], [0, 1], lambda _, left: -1), "check -1 can't be chosen"),
        (lambda: compile_strategy([0.5, 0.5], SOME, [1.0], [0, 1], lambda _, left: 0), "check 0 can't be chosen"),
        (lambda: repair_order([0.1], [np.inf]), "costs must be finite and not negative"),
        (lambda: repair_order([0.5, -0.1], [1.0, 1.0]), "probabilities must not be negative or sum to more than one"),
        (lambda: repair_order([0.5], [1.0, 1.0]), "probability (1,) and cost (2,) must be (N,) alike"),
        (lambda: repair_order([[0.5]], [[1.0]]), "probability (1, 1) and cost (1, 1) must be (N,) alike"),
        (lambda: sequence_cost([0.1], [1.0], [1]), "an order names each action once"),
        (lambda: sequence_cost([0.1], [1.0], [-1]), "an order names each action once"),
        (lambda: sequence_cost([0.1], [1.0], [0], [0], [-1.0]), "set-up costs must be finite and not negative"),
        (lambda: sequence_cost([0.1], [1.0], [0], [0], [np.inf]), "set-up costs must be finite and not negative"),
        (
            lambda: sequence_cost([0.1], [1.0], [0], [0, 0], [1.0]),
            "each action needs a cluster that has a set-up cost, or -1",
        ),
        (lambda: candidate_probabilities([], {"a": 0.1}), "no candidate is left"),
        (
            lambda: candidate_probabilities([frozenset("a")], {"a": 1.0}),
            "each part must fail with a probability between 0 and 1",
        ),
        (lambda: probe_table([1.0, 2.0], values=1), "2 values are predicted, 1 can occur"),
    ],
)
def test_impossible_arguments_are_refused(call, message):
    with pytest.raises(ValueError) as caught:
        call()
    assert str(caught.value) == message
