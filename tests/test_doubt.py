"""Answers that are asked for once more, and the slip that they may be."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from diagnose.checks import Check
from diagnose.choose import Choice, information_of
from diagnose.costs import cost_minutes
from diagnose.doubt import SETTLED, UPSET, deciding, doubt_of, doubted
from diagnose.knowledge.slips import load_slips
from diagnose.model import Model
from diagnose.questions import Answer
from diagnose.session import AskCheck, ConfirmStep, Session, Verdict, answer, ask, belief, confirm, group_shares, start
from diagnose.study.simulated import SimulatedPanel
from diagnose.wording import doubt_lines
from tests.test_combined import INSTRUMENTS, cause, model, netlist

TOUCHING = "the probes touching each other, or 0 typed for OL"


def given(check: Check, value: float) -> Answer:
    return Answer(check.id, f"{value:g}", value, None)


def a_check(known: Model, quantity: str, setup: str, low: float, high: float) -> Check:
    """A check on which the sound panel and nearly all causes agree, with a value in between."""
    for check in known.checks:
        if check.quantity != quantity or check.setup_name != setup:
            continue
        shown = known.predict(check)
        alike = ((shown.low <= shown.value[0]) & (shown.high >= shown.value[0]))[1:]
        if low <= shown.value[0] <= high and known.prior[:-1][alike].sum() > 0.6:
            return check
    raise AssertionError(f"no {quantity} in {setup} between {low} and {high}")


@pytest.mark.parametrize(
    ("quantity", "setup", "low", "high", "typed", "slip"),
    [
        ("voltage_ac", "running", 200, 260, lambda true: true / 1000, "V read as mV"),
        ("voltage_ac", "running", 200, 260, lambda true: 0.0, "the meter on DC instead of AC"),
        ("resistance", "parted", 1, 100, lambda true: true / 1000, "the k overlooked, or M read as k"),
        ("resistance", "parted", 1, 100, lambda true: true * 1000, "a k typed that was not shown, or k read as M"),
        ("resistance", "parted", 1, 100, lambda true: true * 1e6, "an M typed that was not shown"),
        ("resistance", "parted", 1, 100, lambda true: float("inf"), "a probe that did not touch bare metal"),
        ("resistance", "parted", 9e9, float("inf"), lambda true: 0.2, TOUCHING),
    ],
)  # fmt: skip
def test_the_slip_that_would_make_it_fit_comes_first(quantity, setup, low, high, typed, slip) -> None:
    known = model("element_cold")
    check = a_check(known, quantity, setup, low, high)
    doubt = doubt_of(known, (), check, given(check, typed(float(known.predict(check).value[0]))))
    assert doubt.likely and slip in doubt.slips[:2]


def test_slips_that_can_not_have_happened_are_not_named() -> None:
    """OL does not come of probes that touch each other, and nothing is plugged in where no plug was to be pulled."""
    known = model("element_cold")
    check = a_check(known, "resistance", "parted", 1, 100)
    slips = doubt_of(known, (), check, given(check, float("inf"))).slips
    assert not [slip for slip in slips if "touching" in slip or "overlooked" in slip]
    running = a_check(known, "voltage_ac", "running", 200, 260)
    assert not [slip for slip in doubt_of(known, (), running, given(running, 47.0)).slips if "plug" in slip]


def test_every_quantity_that_is_typed_has_usual_slips() -> None:
    covered = {quantity for slip in load_slips() for quantity in slip.quantities}
    assert {check.quantity for check in model("element_cold").checks} <= covered | {"surface_temperature"}
    assert len({slip.words for slip in load_slips()}) == len(load_slips())


def run_to(session: Session, panel: SimulatedPanel, stop_at: str) -> Session:
    """A session up to the first question that is asked once more for this reason."""
    for _ in range(100):
        question = ask(session)
        if isinstance(question, Verdict):
            raise AssertionError(f"it ended without {stop_at}")
        if isinstance(question, ConfirmStep):
            session = confirm(session, panel.confirmed(question.step))
        elif question.doubt is not None and question.doubt.why == stop_at:
            return session
        else:
            session = answer(session, panel.answer(question.check))
    raise AssertionError("it does not end")


def test_what_hangs_on_one_answer_is_looked_at_twice() -> None:
    """One slip does not name a part: the answer that decides is asked once more, and the second one counts."""
    panel = SimulatedPanel(netlist(), cause("element:open"))
    session = run_to(start(model("element_cold"), "live", INSTRUMENTS), panel, "decides")
    question = ask(session)
    assert isinstance(question, AskCheck) and question.doubted in session.answers
    count = len(session.answers)
    same = answer(session, panel.answer(question.check))
    assert len(same.answers) == count and same.answers[-1].doubted
    assert belief(same).argmax() == belief(session).argmax()
    sound = answer(session, SimulatedPanel(netlist(), None).answer(question.check))
    assert len(sound.answers) == count
    assert belief(sound).argmax() != belief(session).argmax(), "the first answer is no longer counted"
    assert not isinstance(ask(sound), Verdict)


def test_an_answer_is_asked_for_twice_at_most() -> None:
    panel = SimulatedPanel(netlist(), cause("element:open"))
    session, seen = start(model("element_cold"), "live", INSTRUMENTS), []
    while not isinstance(question := ask(session), Verdict):
        if isinstance(question, ConfirmStep):
            session = confirm(session, panel.confirmed(question.step))
            continue
        seen.append(question.check.id)
        session = answer(session, panel.answer(question.check))
    assert max(seen.count(each) for each in seen) <= 2
    left = deciding(session.model, session.answers)
    assert left is None


def plainly(known, now, checks, state, at, competence, answered) -> Choice | None:
    """The most information per minute, one step ahead: it settles by small steps, so that a contrary answer matters."""
    bits = information_of(known, now, checks)
    minutes = np.array([cost_minutes(check, state, at, competence) for check in checks])
    best = int(np.argmax(bits / minutes))
    return Choice(checks[best], float(bits[best]), float(minutes[best])) if bits[best] > 0.01 else None


def test_an_answer_that_turns_a_settled_belief_over_is_doubted() -> None:
    """Told by the belief before and after: from over 0.8 in what leads to under a half."""
    session = replace(start(model("element_cold"), "live", INSTRUMENTS), chooser=plainly)
    panel, other = (
        SimulatedPanel(netlist(), cause("controller:output_dead")),
        SimulatedPanel(netlist(), cause("element:open")),
    )
    while max((groups := group_shares(session.model, belief(session))).values()) <= SETTLED:
        question = ask(session)
        assert not isinstance(question, Verdict)
        if isinstance(question, ConfirmStep):
            session = confirm(session, panel.confirmed(question.step))
        else:
            session = answer(session, panel.answer(question.check))
    lead = max(groups, key=lambda number: groups[number])
    upsetting = []
    for check in session.model.checks:
        if check.quantity not in ("voltage_ac", "voltage_dc", "resistance"):
            continue
        reading = Answer(check.id, other.answer(check), other.reading(check), None)
        why = doubted(session.model, session.answers, reading)
        fell = group_shares(session.model, belief(replace(session, answers=(*session.answers, reading))))[lead] < UPSET
        assert (why == "overturns") == fell or why == "unexplained"
        upsetting.append(why == "overturns")
    assert any(upsetting) and not all(upsetting)


def test_what_turns_it_over_counts_once_it_is_given_again() -> None:
    """It is asked for at once, the reason is said, and the second answer is taken whatever it is."""
    session = replace(start(model("element_cold"), "live", INSTRUMENTS), chooser=plainly)
    panel, other = (
        SimulatedPanel(netlist(), cause("controller:output_dead")),
        SimulatedPanel(netlist(), cause("element:open")),
    )
    for _ in range(60):
        question = ask(session)
        assert not isinstance(question, Verdict), "nothing turned it over"
        if isinstance(question, ConfirmStep):
            session = confirm(session, panel.confirmed(question.step))
        elif question.doubt is not None and question.doubt.why == "overturns":
            break
        else:
            settled = max(group_shares(session.model, belief(session)).values()) > SETTLED
            session = answer(session, (other if settled else panel).answer(question.check))
    assert isinstance(question, AskCheck) and question.doubted is not None and question.doubt is not None
    assert any("turns over" in line for line in doubt_lines(question))
    count = len(session.answers)
    after = answer(session, other.answer(question.check))
    assert len(after.answers) == count + 1 and after.answers[-1].doubted
    assert group_shares(after.model, belief(after)) != group_shares(session.model, belief(session))
