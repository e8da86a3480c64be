"""Dead before live, in whole sessions: a live check is asked only where no other tells as much, and it says so."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest

from diagnose.causes import Cause
from diagnose.checks import Check
from diagnose.circuit.netlist import FloatArray
from diagnose.likelihoods import outcomes_under
from diagnose.model import Model
from diagnose.opening import Recorded, bundled_panels, open_model
from diagnose.protocol import message_of
from diagnose.screen.pages import step_page
from diagnose.session import AskCheck, ConfirmStep, Session, Verdict, answer, ask, belief, confirm, open_checks, start
from diagnose.study.simulated import SimulatedPanel
from diagnose.wording.aloud import aloud, message_lines

QUICK = ("balcony_one_pot", "shed_single_kettle")
REST = tuple(entry.name for entry in bundled_panels() if entry.name not in QUICK)
LEAST_BITS = 0.009  # what the chooser takes for nothing is a little more than this
FAULTS = 4  # hidden, of those that nothing but an inner contact tells apart


def entropy(shares: FloatArray) -> float:
    some = shares[shares > 1e-12]
    return float(-(some * np.log2(some)).sum())


def told(model: Model, now: FloatArray, checks: Sequence[Check]) -> float:
    """Bits that checks done together tell of what would be replaced, from the joint table, by its definition."""
    tables = [outcomes_under(model.predict(check), check.quantity, None) for check in checks]
    groups = model.group_numbers
    joint = tables[0]
    for table in tables[1:]:
        joint = (joint[:, :, None] * table[:, None, :]).reshape(len(joint), -1)
    prior = np.bincount(groups, weights=now)
    left = 0.0
    for outcome in joint.T:
        share = float(outcome @ now)
        if share > 1e-12:
            left += share * entropy(np.bincount(groups, weights=now * outcome) / share)
    return entropy(prior / prior.sum()) - left


def live_questions(model: Model, cause: Cause) -> list[Session]:
    """The sessions in which a live check is asked, or the step to it."""
    panel, found = SimulatedPanel(model.predictor.netlist, cause), []
    session = start(model, "live", frozenset({"multimeter"}))
    while not isinstance(question := ask(session), Verdict):
        if isinstance(question, ConfirmStep):
            if question.step == "energise_open":
                found.append(session)
            session = confirm(session, panel.confirmed(question.step))
        else:
            if question.check.exposure == "live" and question.doubted is None:
                found.append(session)
            session = answer(session, panel.answer(question.check))
    return found


def contacts(model: Model) -> list[Cause]:
    """Faults that lie between two points in the box, so that live volts tell of them."""
    roles = ("relay", "contactor", "controller", "breaker", "isolator")
    likely = [c for c in model.causes if c.also is None and c.part in model.panel.parts]
    return [c for c in likely if model.panel.kind_of(c.part).role in roles and "open" in c.fault][:FAULTS]


def held(name: str) -> int:
    model = open_model(name, "element_cold", _first_heater(name))
    asked = 0
    for session in [each for cause in contacts(model) for each in live_questions(model, cause)]:
        asked += 1
        _says_so(session)
        question = ask(session)
        assert isinstance(question, AskCheck | ConfirmStep)
        check = question.check if isinstance(question, AskCheck) else question.for_check
        now, own = belief(session), told(session.model, belief(session), [check])
        dead = [each for each in open_checks(session) if each.exposure != "live"]
        assert dead, "there is nothing else to hold it against"
        for other in [each for each in dead if told(session.model, now, [each]) >= own]:
            more = told(session.model, now, [other, check]) - told(session.model, now, [other])
            assert more > LEAST_BITS, f"{check.id}, where {other.id} tells as much"
    return asked


def _first_heater(name: str) -> str:
    from diagnose.model import subjects_of
    from diagnose.opening import open_complaint, open_panel

    return subjects_of(open_panel(name), open_complaint("element_cold"))[0]


def _says_so(session: Session) -> None:
    """Screen, protocol and the one who reads aloud say it with the step; and a referral is taken there."""
    question = ask(session)
    message = message_of(session, question)
    assert message["only_live"] is True
    going = Recorded(session, lambda event: None)
    going.do("refer")
    assert isinstance(going.question, Verdict) and going.question.kind == "referred"
    if isinstance(question, ConfirmStep):
        assert "type refer" in " ".join(step_page(session, question).lines)
        spoken = " ".join(" ".join(message_lines(aloud(session, question, 1))).split())
        assert "An electrician is as good a choice" in spoken
    else:
        assert any("referral is as good" in caution for caution in message["cautions"])


@pytest.mark.parametrize("name", QUICK)
def test_a_live_check_is_asked_for_only_where_it_has_to_be(name: str) -> None:
    assert held(name) or name != "balcony_one_pot", "no live check was asked: there is nothing held here"


@pytest.mark.long
@pytest.mark.parametrize("name", REST)
def test_a_live_check_is_asked_for_only_where_it_has_to_be_on_every_panel(name: str) -> None:
    held(name)
