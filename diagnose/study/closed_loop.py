"""Hides every fault of a panel in turn, lets the real session find it, and counts."""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Literal

from diagnose.causes import Cause, causes_of
from diagnose.choose import best_check
from diagnose.circuit.netlist import Netlist
from diagnose.costs import QUESTION_MINUTES, setup_minutes
from diagnose.errors import AnswerError
from diagnose.expect import Predictor
from diagnose.knowledge.records import Complaint
from diagnose.model import Model, complaint_likelihood, each_subject, make_model
from diagnose.safety import Competence
from diagnose.session import AskCheck, Chooser, ConfirmStep, Session, Verdict, answer, ask, confirm, start, stop
from diagnose.setups import named_setups
from diagnose.study.intermittent import hidden_in
from diagnose.study.simulated import SimulatedPanel, trips_early
from diagnose.study.slips import mistaken
from diagnose.texts import step_minutes

SHOWS = 0.6  # a complaint is made when the fault shows it at least this likely
LONGEST = 400
GIVES_UP = 60  # checks after which nobody goes on down a list: a judgement


@dataclass(frozen=True, slots=True)
class Trial:
    """One hidden fault and how the session ended."""

    panel: str
    complaint: str
    subject: str | None
    cause: Cause
    ending: Literal["found", "group", "wrong", "unknown"]
    named: tuple[str, ...]  # parts that the verdict names, the likeliest first
    checks: int
    minutes: float
    openings: int
    live: int


def complaints_of(
    netlist: Netlist, complaints: Sequence[Complaint]
) -> Iterator[tuple[Complaint, str | None, list[Cause]]]:
    """Each complaint with each subject, and the causes that show it."""
    predictor = Predictor(netlist, causes_of(netlist.panel))
    for complaint in complaints:
        for subject in each_subject(netlist.panel, complaint):
            yield complaint, subject, shown_by(predictor, complaint, subject)


def by_subject(netlist: Netlist, complaints: Sequence[Complaint]) -> Mapping[str | None, list[Complaint]]:
    """Everything that complaints of a panel can be about, and the complaints about each."""
    found: dict[str | None, list[Complaint]] = {}
    for complaint in complaints:
        for subject in each_subject(netlist.panel, complaint):
            found.setdefault(subject, []).append(complaint)
    return found


def shown_by(predictor: Predictor, complaint: Complaint, subject: str | None) -> list[Cause]:
    """The causes of a predictor that make a complaint."""
    setups = named_setups(predictor.netlist, subject)
    shows = complaint_likelihood(predictor, complaint, subject, setups)[1:]
    return [cause for cause, share in zip(predictor.causes, shows, strict=True) if share >= SHOWS]


@dataclass
class Trodden:
    """Sessions from one start that were gone through already: what follows from the same answers is not done again.

    A session with pairs among its causes is not kept, since their circuits take much room.
    """

    first: Session
    _after: dict[tuple[int, str], Session] = field(default_factory=dict)

    def answered(self, session: Session, text: str) -> Session:
        """The session after an answer. Raises AnswerError as `session.answer` does."""
        return self._go(session, text, answer)

    def confirmed(self, session: Session, text: str) -> Session:
        """The session after a step."""
        return self._go(session, text, confirm)

    def _go(self, session: Session, text: str, way: Callable[[Session, str], Session]) -> Session:
        known = self._after.get((id(session), text))
        if known is None:
            known = way(session, text)
            if known.model is self.first.model:
                # What is kept here lives as long as this, so its identity is a name.
                self._after[id(session), text] = known
        return known


@dataclass
class Person:
    """Who answers for a simulated panel, and gets a share of the answers wrong."""

    panel: SimulatedPanel
    trodden: Trodden
    slips: float = 0.0
    chance: random.Random | None = None

    def answer(self, session: Session, question: AskCheck) -> Session:
        """The session after the answer; one that no meter shows is refused, and given right."""
        right = self.panel.answer(question.check)
        if self.chance is not None and self.chance.random() < self.slips:
            try:
                return self.trodden.answered(session, mistaken(session, question, right, self.panel, self.chance))
            except AnswerError:
                pass
        return self.trodden.answered(session, right)


def first_session(
    model: Model, competence: Competence, instruments: frozenset[str], chooser: Chooser = best_check
) -> Session:
    """A new session in which checks are chosen in a certain way."""
    return replace(start(model, competence, instruments), chooser=chooser)


def run_trial(
    model: Model, panel: SimulatedPanel, cause: Cause, competence: Competence, instruments: frozenset[str],
    chooser: Chooser = best_check, slips: float = 0.0, chance: random.Random | None = None,
    trodden: Trodden | None = None, most_checks: int = LONGEST,
) -> Trial:  # fmt: skip
    """Let a session with this competence find the fault hidden in a simulated panel.

    Minutes are those of the steps, the changes of setup and the checks, with half a minute to read each question and
    type what was seen; no price on exposure is in them. `trodden` are sessions of the same start that went before.
    After `most_checks` it is given up, the cause unknown. Raises AssertionError where the session does not end.
    """
    trodden = trodden or Trodden(first_session(model, competence, instruments, chooser))
    session = trodden.first
    person = Person(panel, trodden, slips, chance)
    minutes = 0.0
    checks = openings = live = 0
    for _ in range(LONGEST):
        question = ask(session)
        if checks >= most_checks and not isinstance(question, Verdict):
            session = stop(session)
            question = ask(session)
        if isinstance(question, Verdict):
            ending, named = _ending(question, cause) if not session.stopped or question.danger else ("unknown", ())
            return Trial(model.panel.name, model.complaint.name, model.subject, cause, ending, named, checks, minutes,
                         openings, live)  # fmt: skip
        if isinstance(question, ConfirmStep):
            minutes += step_minutes(question.step)
            openings += question.step == "open_box"
            session = trodden.confirmed(session, panel.confirmed(question.step))
            continue
        check = question.check
        minutes += QUESTION_MINUTES + check.minutes + setup_minutes(session.at, check.setup)
        live += check.exposure == "live"
        checks += 1
        session = person.answer(session, question)
    raise AssertionError(f"the session about {cause.key} does not end")


def _ending(verdict: Verdict, cause: Cause) -> tuple[Literal["found", "group", "wrong", "unknown"], tuple[str, ...]]:
    named = tuple(dict.fromkeys(share.part for share in verdict.causes))
    if verdict.kind == "unknown":
        return "unknown", named
    if verdict.kind == "stopped" and verdict.danger and cause.part in named:
        return "group", named  # an answer was a danger in itself, and ended it before the cause was sure
    if verdict.kind == "found" and verdict.part == cause.part:
        return "found", named
    return ("group" if verdict.kind == "group" and cause.part in named else "wrong"), named


def run_panel(
    netlist: Netlist,
    complaints: Sequence[Complaint],
    competence: Competence = "live",
    instruments: frozenset[str] = frozenset({"multimeter", "insulation_tester"}),
    every: int = 1,
) -> Iterator[Trial]:
    """All faults of a panel, or one in `every`, each under every complaint that it causes."""
    for complaint, subject, causes in complaints_of(netlist, complaints):
        if not causes:
            continue
        model = make_model(netlist, complaint, subject)
        trodden = Trodden(first_session(model, competence, instruments))
        for cause in causes[::every]:
            hidden = hidden_in(netlist, cause, trips_early(complaint))
            yield run_trial(model, hidden, cause, competence, instruments, trodden=trodden)


def silent_causes(netlist: Netlist, complaints: Sequence[Complaint]) -> tuple[Cause, ...]:
    """Causes that no complaint is made of: nothing that a brewer would notice in normal use."""
    heard = {cause.key for _, _, causes in complaints_of(netlist, complaints) for cause in causes}
    return tuple(cause for cause in causes_of(netlist.panel) if cause.key not in heard)
