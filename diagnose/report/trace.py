"""A log played again moment by moment, with what was asked and what came of it.

What was asked is what the log says: the choice of checks may have changed since, and a record must not change with it.
Where even so it does not fit, its answers are taken at their word (`lenient`).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import product

from diagnose.checks import Check
from diagnose.choose import Choice, best_check
from diagnose.circuit.netlist import FloatArray
from diagnose.circuit.setup import Setup
from diagnose.errors import AnswerError, FileError, Problem
from diagnose.log import Event, Header
from diagnose.model import Model
from diagnose.opening import competence_named, open_model
from diagnose.play import apply
from diagnose.proving import ask_proof
from diagnose.report.lenient import moments_of
from diagnose.report.moments import Moment
from diagnose.safety import PLAIN_STOP, Competence, PanelState
from diagnose.session import Chooser, ConfirmStep, Session, ask, start


@dataclass(frozen=True, slots=True)
class Trace:
    """A whole log: what it was begun with, every moment of it, and how it stands now."""

    header: Header
    begun: Session
    moments: tuple[Moment, ...]
    end: Session
    at_its_word: bool = (
        False  # another version asked otherwise: the answers stand, the steps were not gone through again
    )


def trace(header: Header, events: Sequence[Event], model: Model | None = None) -> Trace:
    """Play a log again. `model` is that of its panel and complaint, where it was made before.

    Raises
    ------
    UsageError
        Where there is no such panel or complaint any more.
    FileError
        With the place of an event about something that is not known any more: the panel or the log was changed.
    """
    if model is None:
        model = open_model(header.panel, header.complaint, header.subject or None, header.factors)
    begun = start(model, competence_named(header.competence), frozenset(header.instruments))
    try:
        moments, told = _played(begun, events), False
    except FileError:
        moments, told = moments_of(begun, events), True
    end = moments[-1].after if moments else begun
    return Trace(header, begun, tuple(moments), replace(end, chooser=best_check), told)


def _played(session: Session, events: Sequence[Event]) -> list[Moment]:
    moments = []
    for number, event in enumerate(events):
        moments.append(_moment(session, event, events[number:]))
        session = moments[-1].after
    return moments


def _moment(session: Session, event: Event, rest: Sequence[Event]) -> Moment:
    problem = Problem("this does not fit what was asked", "the log as it was written")
    for chooser, asks_again in product(_choosers(session.model, rest), (True, False)):
        before = replace(session, chooser=chooser, asks_again=asks_again)
        if left := event.what == "stop" and event.text in ("", PLAIN_STOP):
            after = before  # the person went away; nothing dangerous was said
        else:
            try:
                after = apply(before, event)
            except AnswerError as error:
                problem = error.problems[0]
                continue
        asked = ask(before)
        proof = ask_proof(before) if not left else None
        return Moment(event, proof or asked, before, after)
    raise FileError(Problem(problem.message, problem.expected, event.place))


def _choosers(model: Model, rest: Sequence[Event]) -> Iterator[Chooser]:
    """What may have chosen the check that an event is about: what the log goes on with first, the program last."""
    answers = [event.of for event in rest if event.what in ("answer", "skip")]
    following = [name for name in answers if name in model.checks_by_id]
    if not following:
        yield _none
    for check_id in dict.fromkeys(following[:1]):
        yield _recorded(model.checks_by_id[check_id])
    yield best_check
    if rest[0].what == "skip":
        yield _leading_to(rest[0].of)


def _none(*_: object) -> Choice | None:
    """Nothing more was asked: the log says what came after the verdict."""
    return None


def _recorded(check: Check) -> Chooser:
    def choose(
        model: Model, now: FloatArray, checks: Sequence[Check], state: PanelState, at: Setup | None,
        competence: Competence, answered: Sequence[Check],
    ) -> Choice | None:  # fmt: skip
        return Choice(check, 0.0, 0.0) if any(check.id == each.id for each in checks) else None

    return choose


def _leading_to(step: str) -> Chooser:
    """Any check on the way to which this step comes next: it was skipped, so the log doesn't say which it was."""

    def choose(
        model: Model, now: FloatArray, checks: Sequence[Check], state: PanelState, at: Setup | None,
        competence: Competence, answered: Sequence[Check],
    ) -> Choice | None:  # fmt: skip
        probe = start(model, competence)
        for check in checks:
            asked = ask(replace(probe, state=state, at=at, competence=competence, chooser=_recorded(check)))
            if isinstance(asked, ConfirmStep) and asked.step == step:
                return Choice(check, 0.0, 0.0)
        return None

    return choose
