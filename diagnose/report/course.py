"""Belief over time: the shares of the leading causes before any answer and after each one that counts."""

from __future__ import annotations

from collections.abc import Sequence
from string import ascii_uppercase

from diagnose.causes import Cause
from diagnose.circuit.netlist import FloatArray
from diagnose.combined import belief_after
from diagnose.ending import fault_key
from diagnose.model import Model
from diagnose.questions import Answer
from diagnose.report.entries import numbers_of
from diagnose.report.records import CauseLine, Course, Series
from diagnose.report.trace import Trace
from diagnose.session import Session, belief
from diagnose.wording import percent

MOST_LINES = 5  # more can't be told apart in a small plot
SHOWN = 0.02  # of the belief at the end, for a line of its own in the list
MOST_CAUSES = 6

Key = tuple[tuple[str, str], ...]
UNKNOWN = "something not known here"


def course_of(of: Trace) -> Course:
    """The course of belief over the answers that stand at the end, each with the causes that were thought of then."""
    session, answers = of.end, of.end.answers
    models = {moment.after.answers: moment.after.model for moment in of.moments}
    numbers = numbers_of(answers)
    model = session.model.narrow or session.model
    points, at = [(0, _shares(model, ()))], [0]
    for count, answer in enumerate(answers, start=1):
        if not answer.skipped:
            # Where one before it was given anew since, these never stood alone: the causes are the last ones.
            model = models.get(answers[:count], session.model)
            points.append((numbers[answer.check_id], _shares(model, answers[:count])))
            at.append(numbers[answer.check_id])
    most: dict[Key, float] = {}
    for _, shares in points:
        for key, share in shares.items():
            most[key] = max(most.get(key, 0.0), share)
    last = points[-1][1]
    order = sorted(most, key=lambda key: (-last.get(key, 0.0), -most[key]))
    # What leads at the end first, then what led on the way.
    lines = order[: MOST_LINES - 2]
    lines += sorted((key for key in order if key not in lines), key=lambda key: -most[key])[: MOST_LINES - len(lines)]
    series = tuple(
        Series(letter, _title(session.model, key), tuple(shares.get(key, 0.0) for _, shares in points))
        for letter, key in zip(ascii_uppercase, lines, strict=False)
    )
    return Course(tuple(at), series)


def cause_lines(session: Session, course: Course) -> tuple[CauseLine, ...]:
    """The causes with their shares at the end, the likeliest first, each with its letter in the plot if it has one."""
    shares = sorted(_shares_of(session.model, belief(session)).items(), key=lambda item: -item[1])
    letters = {series.title: series.letter for series in course.series}
    shown = [item for item in shares if item[1] >= SHOWN][:MOST_CAUSES] or shares[:1]
    titles = [(_title(session.model, key), share) for key, share in shown]
    return tuple(CauseLine(letters.get(title, ""), title, percent(share)) for title, share in titles)


def _shares(model: Model, answers: Sequence[Answer]) -> dict[Key, float]:
    return _shares_of(model, belief_after(model, answers))


def _shares_of(model: Model, now: FloatArray) -> dict[Key, float]:
    """Belief by fault, all levels together; the key of what nothing here knows is empty."""
    found: dict[Key, float] = {(): float(now[-1])}
    for cause, share in zip(model.causes, now, strict=False):
        key = fault_key(cause)
        found[key] = found.get(key, 0.0) + float(share)
    return found


def _title(model: Model, key: Key) -> str:
    if not key:
        return UNKNOWN
    members = [Cause(part, fault, None, 0.0, 0.0, 0.0) for part, fault in key]
    return ", and ".join(model.title(member) for member in members)
