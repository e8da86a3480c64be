"""Turns what a person did into the session that follows: one place for the screen, the protocol, logs and cases."""

from __future__ import annotations

from collections.abc import Iterable

from diagnose.errors import AnswerError, FileError, Problem
from diagnose.log import Event
from diagnose.proving import (
    AskProof,
    AskRepair,
    AskWorks,
    ProofQuestion,
    ProofStep,
    ask_proof,
    confirm_proof_step,
    decline,
    proof_asked_for,
    proof_back,
    prove,
    repair,
)
from diagnose.remedied import goes_on
from diagnose.revising import change, passed_over
from diagnose.safety import COMPETENCES, Situation, refusals
from diagnose.session import (
    AskCheck,
    ConfirmStep,
    Question,
    Session,
    answer,
    ask,
    back,
    confirm,
    lower,
    refer,
    resume,
    stop,
)

AFTER_THE_VERDICT = ("repaired", "confirm", "skip", "back", "passed", "failed", "declined", "works")
OTHER = "answers_what_is_asked"


def asked_for(question: Question | ProofQuestion | None) -> str:
    """What a question is known by in a log: a check's id, a step, a proof check's name."""
    match question:
        case AskCheck():
            return question.check.id
        case ConfirmStep():
            return question.step
        case AskRepair() | ProofStep() | AskProof() | AskWorks():
            return proof_asked_for(question)
    return ""


def apply(session: Session, event: Event) -> Session:
    """The session after one event. Raises AnswerError where the event doesn't fit what was asked."""
    proof = ask_proof(session)
    asked = asked_for(proof or ask(session))
    fits = Situation("event", session.state, session.competence, event=event.what, answers=event.of, asked=asked,
                     stopped=bool(session.stopped))  # fmt: skip
    for guard in refusals(fits):
        told = f"this answers '{event.of}', which is not what is asked here" if guard.name == OTHER else guard.says
        raise AnswerError(Problem(told, f"'{asked}'" if guard.name == OTHER else "a new session"))
    if proof is not None and event.what in AFTER_THE_VERDICT:
        return _after_the_verdict(session, event)
    match event.what:
        case "confirm":
            return confirm(session, event.text)
        case "answer":
            return answer(session, event.text)
        case "skip":
            return passed_over(session, event.text)
        case "back":
            return back(session)
        case "resume":
            return resume(session)
        case "change":
            return change(session, event.of, event.text)
        case "lower":
            return _lowered(session, event.text)
        case "refer":
            return refer(session)
        case "stop":
            return stop(session, event.text or "stopped")
    raise AnswerError(
        Problem(
            f"'{event.what}' is nothing that can be done",
            "confirm, answer, skip, back, change, lower, refer or stop",
        )
    )


def _after_the_verdict(session: Session, event: Event) -> Session:
    match event.what:
        case "repaired":
            return repair(session, event.text)
        case "confirm":
            return confirm_proof_step(session, event.text)
        case "skip":
            return decline(session)
        case "back":
            return proof_back(session)
        case "works":
            return goes_on(session, event.text)
    return prove(session, event.what, event.text)


def _lowered(session: Session, text: str) -> Session:
    for name in COMPETENCES:
        if name == text:
            return lower(session, name)
    raise AnswerError(Problem(f"'{text}' is no level of competence", f"one of {', '.join(COMPETENCES)}"))


def replayed(session: Session, events: Iterable[Event]) -> Session:
    """The session after all events of a log.

    Raises
    ------
    FileError
        With the place of the first event that doesn't fit, since what was asked has changed or the log was edited.
    """
    for event in events:
        try:
            session = apply(session, event)
        except AnswerError as error:
            problem = error.problems[0]
            raise FileError(Problem(problem.message, problem.expected, event.place)) from error
    return session
