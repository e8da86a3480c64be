"""One event of a log with what came of it: what is made of a log that is played again."""

from __future__ import annotations

from dataclasses import dataclass

from diagnose.log import Event
from diagnose.proving import ProofQuestion
from diagnose.session import Question, Session


@dataclass(frozen=True, slots=True)
class Moment:
    """One event: what was asked, what was done, and the session before and after it."""

    event: Event
    asked: Question | ProofQuestion | None  # None where a log of another version does not say
    before: Session
    after: Session
