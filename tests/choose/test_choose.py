"""The next check on a panel: places, dead before live, half-splitting."""

from __future__ import annotations

from functools import lru_cache
from math import ceil, log2

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from diagnose.belief import update
from diagnose.choose import LEAST_BITS, best_check, deck_of, information_of, table_of
from diagnose.choose.live import DeadBeforeLive, bits_after, may_be_asked
from diagnose.circuit.netlist import build
from diagnose.costs import EXPOSURE_PRICE, change_minutes
from diagnose.model import Model, make_model, subjects_of
from diagnose.opening import all_complaints, bundled_panels, open_panel
from diagnose.plan import expected_information
from diagnose.safety import PanelState
from diagnose.session import open_checks, start
from tests.test_combined import INSTRUMENTS, model

QUICK = ("shed_single_kettle",)
PANELS = [pytest.param(entry.name, marks=() if entry.name in QUICK else pytest.mark.long) for entry in bundled_panels()]


@lru_cache(maxsize=2)
def cold(panel: str) -> Model | None:
    """The model of a cold element, if the panel has an element that can be cold."""
    complaint = all_complaints()["element_cold"]
    subjects = list(subjects_of(open_panel(panel), complaint))
    return make_model(build(open_panel(panel)), complaint, subjects[0]) if subjects else None


def offered(known: Model) -> list:
    return list(open_checks(start(known, "live", INSTRUMENTS)))


def test_a_deck_holds_the_tables_of_all_checks_and_the_minutes_between_their_places() -> None:
    known = model("element_cold")
    deck = deck_of(known)
    assert deck is deck_of(known)
    numbers = np.array([5, 80, 17])
    tables = deck.tables(numbers)
    for number, table in zip(numbers, tables, strict=True):
        own = table_of(known, known.checks[number])
        np.testing.assert_array_equal(table[:, : own.shape[1]], own)
        assert not table[:, own.shape[1] :].any()
    checks = [known.checks[number] for number in numbers]
    expected = [float(expected_information(known.prior, table, known.group_numbers)) for table in tables]
    np.testing.assert_allclose(information_of(known, known.prior, checks), expected, atol=1e-4)
    for one in range(0, len(deck.spots), 3):
        for two in range(0, len(deck.spots), 4):
            spot = deck.spots[one]
            expected_minutes = change_minutes(deck.spots[two].example, spot.state, spot.setup)
            assert deck.moves[one, two] == pytest.approx(expected_minutes)
    assert not deck.moves.diagonal().any(), "who stands there has no way to go"


def test_the_price_on_exposure_falls_with_competence() -> None:
    for exposure in ("outside", "isolated", "live"):
        prices = [EXPOSURE_PRICE[competence][exposure] for competence in ("outside", "isolated", "live")]
        assert prices == sorted(prices, reverse=True)
        assert (prices[0] > prices[-1]) == (exposure != "outside")


def test_a_reading_that_was_taken_is_not_taken_again() -> None:
    known = model("element_cold")
    deck = deck_of(known)
    number = next(n for n, check in enumerate(known.checks) if check.quantity == "resistance")
    everything = np.arange(len(known.checks))
    again = deck.repeats(everything, [number])
    assert again[number] and not again.all()
    assert all(known.checks[each].quantity == "resistance" for each in np.flatnonzero(again))
    assert not deck.repeats(everything, []).any()


def test_what_a_check_tells_after_another_is_information_given_its_outcome() -> None:
    chance = np.random.default_rng(3)
    belief, group = chance.dirichlet(np.ones(6)), np.array([0, 0, 1, 1, 2, 3])
    table, others = chance.dirichlet(np.ones(3), 6), chance.dirichlet(np.ones(2), (4, 6))
    expected = []
    for other in others:
        total = 0.0
        for outcome in range(2):
            joint = belief * other[:, outcome]
            total += joint.sum() * float(expected_information(joint / joint.sum(), table, group))
        expected.append(total)
    np.testing.assert_allclose(bits_after(belief, table, others, group), expected, atol=1e-12)
    assert bits_after(belief, np.eye(6), np.eye(6)[None], group)[0] == pytest.approx(0, abs=1e-12)
    assert not len(bits_after(belief, table, others[:0], group))


@given(st.integers(0, 2**32 - 1))
def test_the_rule_asked_again_and_again_is_the_rule(seed: int) -> None:
    """Dead before live, made ready once for many beliefs, allows what it allows of each by itself."""
    chance = np.random.default_rng(seed)
    tables = chance.dirichlet(np.full(3, 0.2), (6, 5))
    live, group = chance.random(6) < 0.5, chance.integers(0, 3, 5)
    rule = DeadBeforeLive(tables, live, group, LEAST_BITS)
    for _ in range(3):
        belief, usable = chance.dirichlet(np.full(5, 0.5)), chance.random(6) < 0.8
        bits = expected_information(belief, tables, group)
        expected = usable.copy()
        expected[usable] = may_be_asked(belief, tables[usable], bits[usable], live[usable], group, LEAST_BITS)
        assert rule(belief, usable, bits).tolist() == expected.tolist()
        assert rule(belief, usable, bits).any() == usable.any()


@pytest.mark.parametrize("panel", PANELS)
def test_dead_before_live(panel: str) -> None:
    """Two causes left: what a dead check tells apart is never asked live, and what only a live one tells says so.

    `only_live` is true of a live check that is chosen, and no other check leaves it less to tell.
    """
    known = cold(panel)
    if known is None:
        pytest.skip("no element on this panel")
    checks = offered(known)
    deck = deck_of(known)
    live = np.array([check.exposure == "live" for check in checks])
    tables = deck.tables(np.array([deck.number[check.id] for check in checks]))
    chance = np.random.default_rng(11)
    groups = known.group_numbers[:-1]
    said = {"dead": 0, "live": 0}
    for _ in range(40):
        one, two = chance.choice(len(groups), 2, replace=False)
        if groups[one] == groups[two]:
            continue
        now = np.zeros(len(known.prior))
        now[[one, two]] = 0.5
        bits = information_of(known, now, checks)
        choice = best_check(known, now, checks, PanelState(), None, "live")
        if bits.max() < 0.01:
            assert choice is None
            continue
        assert choice is not None and choice.only_live == (choice.check.exposure == "live")
        if not choice.only_live:
            said["dead"] += 1
            continue
        said["live"] += 1
        index = [check.id for check in checks].index(choice.check.id)
        left = bits_after(now[[one, two]], tables[index][[one, two]], tables[~live][:, [one, two]], np.array([0, 1]))
        assert left.min() >= 0.01, f"{choice.check.id} though a check that is not live tells as much"
    assert said["dead"], "some causes are told apart dead"


def test_half_splitting_falls_out() -> None:
    """A chain of wires in series, one of them open: with like checks along it, the one in the middle comes first."""
    known = model("element_cold")
    wires = [n for n, cause in enumerate(known.causes) if cause.part.startswith("wire_") and cause.fault == "open"]
    checks = [
        check
        for check in offered(known)
        if check.quantity == "voltage_ac"
        and check.setup_name == "running"
        and "neutral_bar.bar" in (check.tail, check.head)
    ]
    tables = np.array([table_of(known, check)[wires].argmax(axis=1) for check in checks])
    # Those wires that these checks can tell apart: a chain from the supply to the element.
    _, first = np.unique(tables, axis=1, return_index=True)
    chain = [wires[number] for number in first]
    assert len(chain) >= 4
    now = np.zeros(len(known.prior))
    now[chain] = 1 / len(chain)
    most = 0
    for true in chain:
        belief, left, asked = now, list(checks), 0
        while belief.max() < 0.9:
            choice = best_check(known, belief, left, PanelState(), None, "live")
            assert choice is not None
            table = table_of(known, choice.check)
            outcome = int(table[true].argmax())
            if not asked:
                share = float(now @ table[:, outcome])
                assert 0.25 <= share <= 0.75, "the first check halves the chain"
            belief = update(belief, table[:, outcome])
            left.remove(choice.check)
            asked += 1
        assert int(belief.argmax()) == true
        most = max(most, asked)
    assert most <= ceil(log2(len(chain))) + 1
