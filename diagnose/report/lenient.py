"""A log of another version of the program, taken at its word: its answers are read, whatever would be asked now.

Steps, order and the safety guards are not gone through again: this only makes a record, and nothing is asked from it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import get_args

from diagnose.combined import widened
from diagnose.costs import need_of
from diagnose.errors import AnswerError, FileError, Problem
from diagnose.log import Event
from diagnose.proving import FAILS, PASSES, AskProof
from diagnose.questions import Answer, ConfirmStep, Proved, read_answer
from diagnose.report.moments import Moment
from diagnose.safety import COMPETENCES, PLAIN_STOP, REFERRED, StepName
from diagnose.session import Session, as_asked, stepped, take
from diagnose.texts import load_texts

STEPS: tuple[str, ...] = get_args(StepName)


def moments_of(session: Session, events: Sequence[Event]) -> list[Moment]:
    """Every event with the session before and after it.

    Raises
    ------
    FileError
        With the place of an event about something that is not known any more, or that can't be read.
    """
    moments: list[Moment] = []
    for number, event in enumerate(events):
        before = moments[-1].after if moments else session
        try:
            moments.append(_moment(before, event, events[number + 1 :]))
        except (AnswerError, KeyError) as error:
            told = (
                error.problems[0].message if isinstance(error, AnswerError) else f"'{event.of}' is not known any more"
            )
            raise FileError(Problem(told, "a log of this panel as it is now", event.place)) from error
    return moments


def _moment(session: Session, event: Event, rest: Sequence[Event]) -> Moment:
    match event.what:
        case "answer":
            return _answered(session, event, rest)
        case "confirm" | "skip" if event.of in STEPS:
            return _of_step(session, event, rest)
        case "skip" if event.of in load_texts().proofs:
            proof = load_texts().proofs[event.of]
            after = replace(session, proved=(*session.proved, Proved(event.of, "", "declined")))
            return Moment(event, AskProof(proof, None, by_other=False), session, after)
        case "skip":
            question = as_asked(session, session.model.checks_by_id[event.of])
            left = Answer(event.of, "", None, None, skipped=True)
            return Moment(event, question, session, replace(session, answers=(*session.answers, left), doubted=None))
    return Moment(event, None, session, _otherwise(session, event))


def _answered(session: Session, event: Event, rest: Sequence[Event]) -> Moment:
    """An answer; one that was asked for again at once did not count yet, and a later one takes its place."""
    question = as_asked(session, session.model.checks_by_id[event.of])
    given = read_answer(session.model, question, event.text)
    if session.doubted is None and rest and (rest[0].what, rest[0].of) == ("answer", event.of):
        return Moment(event, question, session, replace(session, doubted=replace(given, doubted=True)))
    earlier = tuple(each for each in session.answers if each.check_id != event.of)
    after = take(replace(session, answers=earlier), question, replace(given, doubted=session.doubted is not None))
    return Moment(event, question, session, replace(after, model=widened(after.model, after.answers)))


def _of_step(session: Session, event: Event, rest: Sequence[Event]) -> Moment:
    towards = next((each.of for each in rest if each.of in session.model.checks_by_id), "")
    check = session.model.checks_by_id[towards] if towards else session.model.checks[0]
    step: StepName = next(name for name in get_args(StepName) if name == event.of)
    after = session
    if event.what == "confirm":
        try:
            after = stepped(session, step, need_of(check), event.text)
        except (AnswerError, ValueError):
            after = session  # where the panel stood then can't be told from this log
    return Moment(event, ConfirmStep(step, check, session.state), session, after)


def _otherwise(session: Session, event: Event) -> Session:
    """The session after what is neither an answer nor a step."""
    match event.what:
        case "back" if session.repaired:
            return replace(session, proved=session.proved[:-1]) if session.proved else replace(session, repaired="")
        case "back":
            return replace(session, answers=session.answers[:-1], doubted=None)
        case "lower" if event.text in COMPETENCES:
            return replace(session, competence=next(name for name in COMPETENCES if name == event.text))
        case "refer":
            return replace(session, stopped=REFERRED)
        case "stop" if event.text not in ("", PLAIN_STOP):
            return replace(session, stopped=event.text, by_answer=False)
        case "repaired":
            return replace(session, repaired="yes" if event.text.strip().lower() in (*PASSES, "done") else "no")
        case "works" if event.text.strip().lower() in FAILS:
            return replace(session, repaired="", proved=())  # the search went on
        case "works":
            return replace(session, works="yes" if event.text.strip().lower() in PASSES else "leave")
        case "change":
            return _changed(session, event)
        case "passed" | "failed" | "declined":
            outcome = event.what
            proved = Proved(event.of, event.text, outcome)
            return replace(session, proved=(*session.proved, proved))
    return session


def _changed(session: Session, event: Event) -> Session:
    """One answer given otherwise, or taken out where there is no text."""
    answers = tuple(each for each in session.answers if each.check_id != event.of)
    if event.text:
        question = as_asked(session, session.model.checks_by_id[event.of])
        answers = (*answers, read_answer(session.model, question, event.text))
    return replace(session, answers=answers)
