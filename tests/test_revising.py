"""Going back to any answer, putting off, and what can't be reached."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from diagnose.errors import AnswerError
from diagnose.log import Event
from diagnose.opening import Recorded
from diagnose.play import apply, replayed
from diagnose.revising import LATER, change, passed_over
from diagnose.session import (
    AskCheck,
    ConfirmStep,
    Session,
    Verdict,
    answer,
    ask,
    belief,
    open_checks,
    shares,
    start,
    stop,
)
from tests.screen.helpers import recorded, reply, shared_model, step_on


def _answered(count: int) -> Session:
    going, _ = recorded("live")
    while len(going.session.answers) < count:
        step_on(going)
    return going.session


def _first_reading() -> Session:
    going, _ = recorded()
    while not (isinstance(going.question, AskCheck) and going.question.check.quantity == "resistance"):
        step_on(going)
    return going.session


def test_a_changed_answer_counts_as_if_it_had_been_given_at_first() -> None:
    """The belief is that of a session in which it was always so; the other answers and the state stand."""
    session = _answered(3)
    first = session.answers[0]
    outcomes = session.model.panel.kind_of(session.model.checks_by_id[first.check_id].part).signs
    sign = outcomes[session.model.checks_by_id[first.check_id].sign]
    other = next(each for each in sign.outcomes if each != sign.outcomes[first.outcome or 0])
    changed = change(session, first.check_id, other)
    assert [given.check_id for given in changed.answers] == [given.check_id for given in session.answers]
    assert changed.state == session.state
    assert [share.title for share in shares(changed.model, belief(changed))][:1] != [
        share.title for share in shares(session.model, belief(session))
    ][:1]
    again = change(changed, first.check_id, first.text)
    assert np.allclose(belief(again), belief(session))


def test_an_answer_that_is_taken_out_is_asked_again() -> None:
    session = _answered(2)
    first = session.answers[0].check_id
    opened = change(session, first, "")
    assert [given.check_id for given in opened.answers] == [session.answers[1].check_id]
    assert first in {check.id for check in open_checks(opened)}


def test_what_can_not_be_changed_says_why() -> None:
    session = _answered(1)
    with pytest.raises(AnswerError, match="there is no such answer to change; expected one that answers lists"):
        change(session, "nothing", "1")
    with pytest.raises(AnswerError, match="is none of the answers"):
        change(session, session.answers[0].check_id, "purple")
    with pytest.raises(AnswerError, match="the panel was worked on since"):
        change(replace(session, repaired="yes"), session.answers[0].check_id, "")
    with pytest.raises(AnswerError, match="the session has ended"):
        change(stop(session), session.answers[0].check_id, "")
    going, _ = recorded("live")
    going.do("skip")
    with pytest.raises(AnswerError, match="this was left out"):
        change(going.session, going.session.answers[0].check_id, "1")


def test_a_change_to_what_is_a_danger_ends_the_session() -> None:
    """As if it had been answered so at once."""
    session = _first_reading()
    asked = ask(session)
    assert isinstance(asked, AskCheck)
    earth = next(check for check in session.model.checks if check.id.startswith("parted:resistance:")
                 and all("earth" in end for end in (check.tail, check.head)))  # fmt: skip
    given = replace(answer(session, reply(asked)).answers[-1], check_id=earth.id, text="0.2 ohm", value=0.2)
    session = replace(session, answers=(*session.answers, given))
    assert change(session, earth.id, "OL").stopped
    assert not change(session, earth.id, "0.3 ohm").stopped


def test_put_off_comes_back_last_and_then_is_left_out() -> None:
    session = start(shared_model(), "outside", frozenset())
    first = ask(session)
    assert isinstance(first, AskCheck)
    session = passed_over(session, LATER)
    seen: list[str] = []
    while not isinstance(question := ask(session), Verdict):
        if isinstance(question, AskCheck):
            if question.check.id == first.check.id:
                break
            seen.append(question.check.id)
        session = passed_over(session, "")
    assert isinstance(question, AskCheck) and seen and first.check.id not in seen
    session = passed_over(session, LATER)
    assert session.answers[-1].check_id == first.check.id and session.answers[-1].skipped


@pytest.mark.parametrize(("why", "kept"), [("reach red", "head"), ("reach black", "tail"), ("reach both", "")])
def test_where_a_probe_can_not_go_nothing_more_is_asked(why: str, kept: str) -> None:
    session = _first_reading()
    question = ask(session)
    assert isinstance(question, AskCheck)
    ends = {"tail": question.check.tail, "head": question.check.head}
    gone = set(ends.values()) - ({ends[kept]} if kept else set())
    after = passed_over(session, why)
    assert after.unreachable == gone and after.answers == session.answers
    assert not any(gone & {check.tail, check.head} for check in open_checks(after))
    if kept:
        assert len(open_checks(after)) >= len(open_checks(passed_over(session, "reach both")))


def test_a_look_has_no_probes_and_a_step_is_skipped_whole() -> None:
    session = start(shared_model(), "live", frozenset({"multimeter"}))
    assert isinstance(ask(session), AskCheck)
    after = passed_over(session, "reach red")
    assert after.answers[-1].skipped and not after.unreachable
    going, _ = recorded()
    while not isinstance(going.question, ConfirmStep):
        step_on(going)
    step = going.question.step
    assert passed_over(going.session, LATER).refused == {step}
    with pytest.raises(AnswerError, match="'never' is no way to leave a check out; expected later, reach red"):
        passed_over(going.session, "never")


def test_a_log_with_changes_leads_to_the_same() -> None:
    """Change, put off and out of reach are events like the others."""
    kept: list[Event] = []
    going = Recorded(start(shared_model(), "live", frozenset({"multimeter"})), kept.append)
    going.do("skip", LATER)
    while len(going.session.answers) < 3 and not isinstance(going.question, Verdict):
        if isinstance(going.question, AskCheck) and going.question.check.tail and not going.session.unreachable:
            going.do("skip", "reach red")
            continue
        step_on(going)
    going.do("change", "", going.session.answers[1].check_id)
    assert {event.what for event in kept} >= {"skip", "answer", "change"}
    again = replayed(start(shared_model(), "live", frozenset({"multimeter"})), kept)
    assert again == going.session


def test_a_change_names_the_check_that_it_is_about() -> None:
    session = _answered(1)
    with pytest.raises(AnswerError, match="there is no such answer to change"):
        apply(session, Event("change", "somewhere", "1"))
