"""Turns what a person did into the session that follows: one place for the screen, the protocol, logs and cases."""

from __future__ import annotations

from collections.abc import Iterable

from diagnose.errors import AnswerError, FileError, Problem
from diagnose.log import Event
from diagnose.session import AskCheck, ConfirmStep, Session, answer, ask, back, confirm, resume, skip, stop


def apply(session: Session, event: Event) -> Session:
    """The session after one event. Raises AnswerError where the event doesn't fit what was asked."""
    match event.what:
        case "confirm":
            return confirm(session)
        case "answer":
            return answer(session, event.text)
        case "skip":
            return skip(session)
        case "back":
            return back(session)
        case "resume":
            return resume(session)
        case "stop":
            return stop(session, event.text or "stopped")
    raise AnswerError(Problem(f"'{event.what}' is nothing that can be done", "confirm, answer, skip, back or stop"))


def replayed(session: Session, events: Iterable[Event]) -> Session:
    """The session after all events of a log.

    Raises
    ------
    FileError
        With the place of the first event that doesn't fit, since what was asked has changed or the log was edited.
    """
    for event in events:
        question = ask(session)
        asked = question.check.id if isinstance(question, AskCheck) else ""
        step = question.step if isinstance(question, ConfirmStep) else ""
        if (event.what == "answer" and event.of != asked) or (event.what == "confirm" and event.of != step):
            raise FileError(
                Problem(
                    f"this answers '{event.of}', which is not what is asked here", f"'{asked or step}'", event.place
                )
            )
        try:
            session = apply(session, event)
        except AnswerError as error:
            problem = error.problems[0]
            raise FileError(Problem(problem.message, problem.expected, event.place)) from error
    return session
