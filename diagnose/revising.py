"""Going back to any answer, and the ways not to answer: not now, can't reach."""

from __future__ import annotations

from dataclasses import replace

from diagnose.errors import AnswerError, Problem
from diagnose.safety import danger_said
from diagnose.session import AskCheck, Session, as_asked, ask, leave_out, read_answer, revised, skip, stop

LATER = "later"
REACH = ("reach red", "reach black", "reach both")  # which probe's place can't be got at
SKIPS = ("", LATER, *REACH)  # what the log says of why a check was left out; nothing is "don't know"


def passed_over(session: Session, why: str) -> Session:
    """The session after no answer: `why` is one of `SKIPS`.

    A check that is put off comes back once nothing else is left; put off again, it is left out. From a terminal that
    can't be reached nothing more is measured.

    Raises AnswerError where there is nothing to pass over, or for another word.
    """
    if why not in SKIPS:
        raise AnswerError(Problem(f"'{why}' is no way to leave a check out", ", ".join(SKIPS[1:])))
    question = ask(session)
    if not why or not isinstance(question, AskCheck):
        return skip(session)
    check = question.check
    if question.doubted is not None:
        return leave_out(session)  # it was answered once, and that stands
    if why == LATER:
        if check.id in session.later:
            return leave_out(session)
        return replace(revised(session, "skip", session.answers), later=session.later | {check.id})
    ends = {"reach red": {check.tail}, "reach black": {check.head}}.get(why, {check.tail, check.head}) - {""}
    if not ends:
        return leave_out(session)
    return replace(revised(session, "skip", session.answers), unreachable=session.unreachable | ends)


def change(session: Session, check_id: str, text: str) -> Session:
    """The session as if an answer had been another one; with no text, as if it had not been given, so that it is open.

    All other answers stand, and the panel's state stays as it is. One that was left out can only be opened again.

    Raises AnswerError where there is no such answer, where it can't be read, or once the panel was mended.
    """
    places = [number for number, given in enumerate(session.answers) if given.check_id == check_id]
    if not places:
        raise AnswerError(Problem("there is no such answer to change", "one that answers lists"))
    if session.repaired:
        raise AnswerError(Problem("the panel was worked on since: what it showed before stands", "a new session"))
    answers = list(session.answers)
    place = places[-1]
    check = session.model.checks_by_id[check_id]
    if text and answers[place].skipped:
        raise AnswerError(Problem("this was left out, so there is no answer to change", "change with its number alone"))
    if text:
        question = as_asked(replace(session, doubted=None), check)
        if " ".join(text.lower().split()) not in question.outcomes and (said := danger_said(text)):
            return stop(session, said)
        answers[place] = replace(read_answer(session.model, question, text), doubted=answers[place].doubted)
        return revised(session, "change", answers)
    del answers[place]
    opened = revised(session, "change", answers)
    ends = {check.tail, check.head}
    return replace(opened, later=opened.later - {check_id}, unreachable=opened.unreachable - ends)
