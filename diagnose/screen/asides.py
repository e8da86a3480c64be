"""Pages that are asked for: why this conclusion, what is out and by what, what if, and the answers so far. Pure."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from diagnose.circuit.netlist import BoolArray
from diagnose.combined import fits_all
from diagnose.evidence import Evidence, evidence_of
from diagnose.model import Model
from diagnose.questions import Answer
from diagnose.screen.pages import page_of
from diagnose.session import AskCheck, CauseShare, ConfirmStep, Question, Session, Verdict, answer, ask, belief, shares
from diagnose.texts import step_text
from diagnose.wording import (
    Page,
    answered_line,
    cause_title,
    check_title,
    clean,
    leading,
    percent,
    range_text,
    should_be,
)

MOST_READINGS = 6
MOST_ANSWERS = 9
MOST_NAMED = 2
MOST_CHANGES = 5
MOVED = 0.02  # a belief that changed by less is not told of


def grounds_page(session: Session) -> Page:
    """Why this conclusion: each reading, what was found, what the likeliest cause would show, for or against it."""
    model, now = session.model, belief(session)
    told = evidence_of(model, session.answers, now)
    if not told:
        return page_of("Why this conclusion", ["Nothing was answered yet: only how often things fail speaks so far."])
    telling = [each for each in told if not (each.agrees and each.sound)]
    alike = len(told) - len(telling)
    telling.sort(key=lambda each: each.agrees)  # what speaks against it is not to be overlooked
    lines = [leading(model, now)]
    lines += [_reading_line(session, each) for each in telling[:MOST_READINGS]]
    lines += [f"- {len(telling) - MOST_READINGS} more: answers lists them."] if len(telling) > MOST_READINGS else []
    if alike:
        lines.append(f"- {alike} as on a sound panel and with this cause alike: they ruled others out (out tells).")
    return page_of("Why this conclusion", lines)


def _reading_line(session: Session, told: Evidence) -> str:
    check = session.model.checks_by_id[told.check_id]
    with_cause = told.expected_outcome or range_text(check.quantity, told.expected_low, told.expected_high)
    side = "for" if told.agrees else "AGAINST"
    found = f"{check_title(session.model.panel, check)}: {_found(session.model, session.answers, told.check_id)}"
    return f"- {side}: {found} (this cause: {with_cause}; sound: {should_be(check, told)})"


def _found(model: Model, answers: Sequence[Answer], check_id: str) -> str:
    return given_text(model, next(given for given in answers if given.check_id == check_id))


def given_text(model: Model, given: Answer) -> str:
    """An answer in words: its outcome, or the reading as it was typed."""
    if given.skipped:
        return "left out"
    if given.outcome is None:
        return clean(given.text)
    check = model.checks_by_id[given.check_id]
    return model.panel.kind_of(check.part).signs[check.sign].outcomes[given.outcome]


def out_page(session: Session) -> Page:
    """Which causes are out, each by the first answer that does not fit it."""
    model = session.model
    told = [(number, given) for number, given in enumerate(session.answers, start=1) if not given.skipped]
    in_still = np.ones(len(model.causes), dtype=bool)
    rows = []
    for number, given in told:
        fits = fits_all(model, [given])
        names = _titles(model, in_still & ~fits)
        in_still &= fits
        if names:
            check = model.checks_by_id[given.check_id]
            what = f"{check_title(model.panel, check)}: {given_text(model, given)}"
            rows.append(f"{number}. {what}. Out, {len(names)}: {_first(names)}")
    still, before = _titles(model, in_still), len(rows) - MOST_READINGS
    lines = [f"{before} answers before these put something out too."] if before > 0 else []
    lines += rows[-MOST_READINGS:] or ["Nothing is out yet."]
    lines.append(f"Still in, {len(still)}: {_first(still)}" if still else "Nothing known here fits all the answers.")
    lines.append("Out is never gone for good: an answer may be a slip. change and its number mends one.")
    return page_of("What is out, and by what", lines)


def _titles(model: Model, which: BoolArray) -> list[str]:
    """The chosen causes in words, the likeliest from the start first, each once."""
    order = np.argsort(-model.prior[:-1], kind="stable")
    return list(dict.fromkeys(cause_title(model, int(number)) for number in order if which[number]))


def _first(names: Sequence[str]) -> str:
    more = len(names) - MOST_NAMED
    return "; ".join(names[:MOST_NAMED]) + (f"; {more} more" if more > 0 else "")


def if_page(session: Session, question: Question, typed: str) -> Page:
    """What an answer would mean and what would be asked next, without giving it.

    Raises AnswerError where it can't be read as an answer to what is asked.
    """
    if not isinstance(question, AskCheck):
        return page_of("What if", ["No check is asked now: what if is about a check's answer."])
    following = answer(session, typed)
    if following.doubted is not None:
        return page_of(f"If {clean(typed)}", ["Nothing known here explains that, so it would be asked for once more."])
    meaning = answered_line(following)
    return page_of(f"If {clean(typed)}", [meaning, _next_line(following)])


def _next_line(session: Session) -> str:
    panel = session.model.panel
    match ask(session):
        case AskCheck() as question:
            return f"Then asked: {check_title(panel, question.check)}."
        case ConfirmStep() as question:
            step = step_text(panel, question.step, question.state.meter_failed).title
            return f"Then asked: {check_title(panel, question.for_check)}; first, step by step: {step}."
        case Verdict(kind="found") as verdict:
            return f"That would be the end: found, {verdict.causes[0].title}."
        case Verdict(kind="group"):
            return "That would be the end: narrowed down, with nothing left to ask that tells the rest apart."
        case Verdict(kind="unknown"):
            return "That would be the end: not found."
    return "That would end the session with what to do first."


def answers_page(session: Session) -> Page:
    """The answers so far by number, the newest last."""
    lines = [
        f"{number:>2}  {_asked(session, given)}: {given_text(session.model, given)}"
        for number, given in enumerate(session.answers, start=1)
    ]
    hidden = len(lines) - MOST_ANSWERS
    if hidden > 0:
        lines = [f"The {MOST_ANSWERS} newest; numbers 1 to {hidden} can be changed as well.", *lines[-MOST_ANSWERS:]]
    lines += _passed_over(session)
    lines.append(
        "change 2 OL: number 2 was OL. change 2 alone: ask it again." if lines else "Nothing was answered yet."
    )
    return page_of("Answers", lines)


def _asked(session: Session, given: Answer) -> str:
    return check_title(session.model.panel, session.model.checks_by_id[given.check_id])


def _passed_over(session: Session) -> list[str]:
    lines = []
    if session.later:
        lines.append(f"Put off until nothing else is left: {len(session.later)}.")
    if session.unreachable:
        places = "; ".join(session.model.panel.terminal_label(end) for end in sorted(session.unreachable))
        lines.append(f"Can't be reached: {places}.")
    return lines


def effect_lines(before: Session, after: Session, changed: str) -> list[str]:
    """What changing the answer to one check changed: the causes whose belief moved, and answers that fell away."""
    was, now = (_by_title(session) for session in (before, after))
    moved = [title for title in dict.fromkeys([*now, *was]) if abs(now.get(title, 0.0) - was.get(title, 0.0)) >= MOVED]
    moved.sort(key=lambda title: -max(now.get(title, 0.0), was.get(title, 0.0)))
    lines = [f"  {percent(was.get(t, 0.0))} -> {percent(now.get(t, 0.0))}  {t}" for t in moved[:MOST_CHANGES]]
    lines = ["What that changes:", *lines] if lines else ["That changes nothing that matters."]
    fallen = {given.check_id for given in before.answers} - {given.check_id for given in after.answers} - {changed}
    if fallen:
        lines.append(f"Answers to checks that would not be asked now, and don't count any more: {len(fallen)}.")
    return lines


def _by_title(session: Session) -> dict[str, float]:
    told: tuple[CauseShare, ...] = shares(session.model, belief(session))
    sums: dict[str, float] = {}
    for share in told:
        sums[share.title] = sums.get(share.title, 0.0) + share.probability
    return sums
