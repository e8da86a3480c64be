"""Faults that come and go: complaints of their own, checks of their own, and a negative result that does not acquit."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import pytest

from diagnose.belief import update
from diagnose.causes import Cause, causes_of
from diagnose.checks import Check
from diagnose.combined import likelihood
from diagnose.costs import setup_minutes
from diagnose.model import Model, make_model
from diagnose.opening import all_complaints
from diagnose.questions import Answer
from diagnose.session import ConfirmStep, Verdict, answer, ask, confirm, start
from diagnose.study.closed_loop import run_trial
from diagnose.study.intermittent import ComesAndGoes, hidden_in
from diagnose.wording.changes import change_lines
from tests.test_combined import INSTRUMENTS, netlist


@lru_cache(maxsize=4)
def model(complaint: str, subject: str = "element") -> Model:
    return make_model(netlist(), all_complaints()[complaint], subject)


def cause(key: str) -> Cause:
    return next(each for each in causes_of(netlist().panel) if each.key == key)


def row(known: Model, key: str) -> int:
    return [each.key for each in known.causes].index(key)


def check(known: Model, start_of_id: str) -> Check:
    return next(each for each in known.checks if each.id.startswith(start_of_id))


def test_what_is_there_always_does_not_come_and_go() -> None:
    keys = {each.key for each in model("heat_at_times").causes}
    assert {"cord:core_at_times", "relay:cracked", "controller:output_at_times", "probe:at_times"} <= keys
    assert not keys & {"element:open", "relay:open", "control_fuse:blown", "cord:core_broken"}


def test_what_comes_and_goes_does_not_make_a_complaint_that_is_there_always() -> None:
    assert all(each.at_times == 1 for each in model("element_cold").causes)


@pytest.mark.parametrize(
    ("key", "setup"),
    [("cord:core_at_times", "parted"), ("cord:core_at_times", "moved"), ("relay:cracked", "running")],
)
def test_a_look_that_finds_nothing_does_not_acquit(key: str, setup: str) -> None:
    """Belief in it falls by no more than the share of looks in which it shows; a constant fault would be ruled out."""
    known = model("heat_at_times")
    one = row(known, key)
    asked = check(known, f"{setup}:resistance:cord.plug_a:cord.plug_b" if "cord" in key else "running:sign:element:")
    shown = known.predict(asked)
    value, outcome = (
        (None, int(np.argmax(shown.table[0]))) if shown.table is not None else (float(shown.value[0]), None)
    )
    likely = likelihood(known, Answer(asked.id, "", value, outcome))
    best = likely.max()
    share = 0.2 if setup == "moved" else 1 - known.causes[one].at_times
    assert likely[one] >= share * best * 0.98 > 0
    assert update(known.prior, likely)[one] > 0.1 * known.prior[one]


def test_bending_it_shows_what_a_still_look_mostly_misses() -> None:
    known = model("heat_at_times")
    one = row(known, "cord:core_at_times")
    tail = "resistance:cord.plug_a:cord.plug_b"
    still, moved = (
        likelihood(known, Answer(f"{name}:{tail}", "OL", np.inf, None))[one] for name in ("parted", "moved")
    )
    assert moved == pytest.approx(still * 0.8 / 0.3, rel=0.05)


def test_at_the_moment_it_is_there_it_shows_as_one_that_stays() -> None:
    known = model("heat_at_times")
    assert known.predictor.showing(known.setups["caught"]) is None
    share = known.predict(check(known, "caught:sign:heat_lamp:light")).table
    assert share is not None and share[row(known, "relay:cracked") + 1].max() > 0.9


def test_each_of_them_has_checks_of_its_own() -> None:
    """Bent and pulled while it is dead; watched until it comes; measured while it is still warm."""
    setups = {each.setup_name for each in model("heat_at_times").checks}
    assert {"caught", "moved", "shaken", "warm_parted"} <= setups
    for each in model("heat_at_times").checks:
        if each.setup.moved_by_hand:
            assert each.quantity == "resistance" and not each.setup.supply_on
        if each.setup_name == "shaken":
            assert each.work in ("outside", "isolated")


def test_nothing_is_bent_with_the_supply_on() -> None:
    known = model("heat_at_times")
    one = check(known, "moved:resistance")
    live = known.setups["running"].__class__(True, known.setups["running"].positions, moved_by_hand=True)
    with pytest.raises(ValueError, match="nothing is bent or pulled with the supply on"):
        Check("x", "voltage_ac", one.part, "", one.tail, one.head, "x", live, "live", 1.0, "multimeter")


def test_waiting_for_it_is_paid_once_and_said_once() -> None:
    setups = model("heat_at_times").setups
    assert setup_minutes(setups["running"], setups["caught"]) >= 15
    assert setup_minutes(setups["caught"], setups["caught"]) == 0
    panel = netlist().panel
    first = change_lines(panel, setups["running"], setups["caught"])
    assert [line for line in first if "until it happens" in line and "skip" in line]
    assert not change_lines(panel, setups["caught"], setups["caught"])
    assert any("bend each cord" in line for line in change_lines(panel, setups["parted"], setups["moved"]))


@pytest.mark.parametrize(
    ("complaint", "subject", "key"),
    [
        ("heat_at_times", "element", "cord:core_at_times"),
        ("heat_at_times", "element", "relay:cracked"),
        ("heat_at_times", "element", "probe:at_times"),
        ("heat_at_times", "element", "wire_line_bar_bar_to_control_fuse_line:at_times"),
        ("display_at_times", "controller", "control_fuse:holder_at_times"),
        ("gfci_trips_at_times", "element", "cord:chafed@2000"),
    ],
)
@pytest.mark.parametrize("seed", [1, 2])
def test_what_comes_and_goes_is_found_though_most_looks_find_nothing(complaint: str, subject: str, key: str, seed: int):
    hidden = hidden_in(netlist(), cause(key), early=complaint.startswith("gfci"), seed=seed)
    assert isinstance(hidden, ComesAndGoes)
    trial = run_trial(model(complaint, subject), hidden, cause(key), "live", INSTRUMENTS)
    assert trial.ending in ("found", "group"), trial


def test_who_leaves_the_box_shut_finds_the_cord_by_bending_it() -> None:
    session = start(model("heat_at_times"), "outside", frozenset({"multimeter"}))
    panel = ComesAndGoes(netlist(), cause("cord:core_at_times"), seed=3)
    setups = set()
    while not isinstance(question := ask(session), Verdict):
        if isinstance(question, ConfirmStep):
            session = confirm(session, panel.confirmed(question.step))
        else:
            assert question.check.work == "outside"
            setups.add(question.check.setup_name)
            session = answer(session, panel.answer(question.check))
    assert "cord" in {share.part for share in question.causes}
    assert "moved" in setups
