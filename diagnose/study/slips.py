"""One mistaken answer in a session: whether it still ends right, or the answer was asked for once more."""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import dataclass
from math import isfinite
from typing import Literal

import numpy as np

from diagnose.causes import Cause, causes_of
from diagnose.errors import AnswerError
from diagnose.knowledge.records import Complaint
from diagnose.questions import AskCheck
from diagnose.session import ConfirmStep, Session, Verdict, answer, ask, confirm, start
from diagnose.study.pairs import LONGEST, Bench, parts_named
from diagnose.study.simulated import SimulatedPanel

FACTORS = (1000.0, 0.001)
LEAST_OFF = 0.1  # a wrong number that is nearer to the right one than this share is no slip


@dataclass(frozen=True, slots=True)
class SlipTrial:
    """One hidden fault, one wrong answer, and how it ended."""

    complaint: str
    cause: Cause
    check: str
    right: str
    wrong: str
    asked_again: bool
    ending: Literal["found", "group", "referred", "wrong", "unknown"]  # 'referred': the answer was a danger in itself
    named: tuple[str, ...]


def slip_trials(bench: Bench, count: int, seed: int) -> Iterator[SlipTrial]:
    """So many sessions, each about a fault drawn at random and with one answer at a random place wrong."""
    chance = random.Random(seed)
    causes = [cause for cause in causes_of(bench.netlist.panel) if cause.at_times == 1]
    shown = bench.shown_by(causes)
    heard = [cause for cause in causes if shown[cause.key]]
    done = 0
    while done < count:
        cause = chance.choice(heard)
        complaint, subject = chance.choice(shown[cause.key])
        trial = run_slip(bench, cause, complaint, subject, chance)
        if trial is not None:
            done += 1
            yield trial


def run_slip(
    bench: Bench, cause: Cause, complaint: Complaint, subject: str | None, chance: random.Random
) -> SlipTrial | None:
    """A session with one wrong answer at a random place; None where nothing is asked at all.

    Where the wrong answer is asked for once more, the right one is given.
    """
    model, panel = bench.model(complaint, subject), bench.hidden(cause, complaint)
    length = sum(1 for _ in _asked(start(model, bench.competence, bench.instruments), panel))
    if not length:
        return None
    place = chance.randrange(length)
    session = start(model, bench.competence, bench.instruments)
    slip: tuple[str, str, str] | None = None
    asked = 0
    again = False
    for _ in range(LONGEST):
        question = ask(session)
        if isinstance(question, Verdict):
            if slip is None:
                return None
            named = parts_named(question)
            return SlipTrial(complaint.name, cause, *slip, again, _ending(question, cause, named), named)
        if isinstance(question, ConfirmStep):
            session = confirm(session, panel.confirmed(question.step))
            continue
        typed = panel.answer(question.check)
        if asked == place and slip is None:
            wrong = mistaken(session, question, typed, panel, chance)
            slip = (question.check.id, typed, wrong)
            typed = wrong
        elif slip is not None and question.check.id == slip[0]:
            again = True
        asked += question.doubted is None
        try:
            session = answer(session, typed)
        except AnswerError:  # no such meter shows that: it is refused, and asked for at once
            again = True
            session = answer(session, panel.answer(question.check))
    raise AssertionError(f"the session about {cause.key} does not end")


def _asked(session: Session, panel: SimulatedPanel) -> Iterator[str]:
    while not isinstance(question := ask(session), Verdict):
        if isinstance(question, ConfirmStep):
            session = confirm(session, panel.confirmed(question.step))
        else:
            if question.doubted is None:
                yield question.check.id
            session = answer(session, panel.answer(question.check))


def mistaken(session: Session, question: AskCheck, right: str, panel: SimulatedPanel, chance: random.Random) -> str:
    """A wrong answer to a check: another outcome; a number a thousand times off, none, OL, or what another fault gives.

    Every sort of slip is as likely as any other, whatever the check.
    """
    if question.outcomes:
        return chance.choice([outcome for outcome in question.outcomes if outcome != right])
    check = question.check
    true = panel.reading(check)
    values: list[float] = [0.0]
    if isfinite(true):
        values += [true * factor for factor in FACTORS]
        values.append(float("inf"))
    known = np.unique(question.prediction.value[np.isfinite(question.prediction.value)])
    if len(known):
        values.append(float(chance.choice(known.tolist())))
    wrong = [value for value in values if not _near(value, true)]
    value = chance.choice(wrong or [true * FACTORS[0]])
    return panel.typed(check, value)


def _near(value: float, true: float) -> bool:
    if not (isfinite(value) and isfinite(true)):
        return isfinite(value) == isfinite(true)
    return abs(value - true) <= LEAST_OFF * max(abs(value), abs(true), 1e-9)


def _ending(
    verdict: Verdict, cause: Cause, named: tuple[str, ...]
) -> Literal["found", "group", "referred", "wrong", "unknown"]:
    if verdict.kind == "unknown":
        return "unknown"
    if verdict.kind == "found" and verdict.part == cause.part:
        return "found"
    stated = verdict.kind == "group" or bool(verdict.danger)
    if stated and cause.part in named:
        return "group"
    return "referred" if verdict.danger else "wrong"
