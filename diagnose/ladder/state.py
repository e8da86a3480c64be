"""What a session says of each part on a path: suspect with its share, cleared by the answers, or neither."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from diagnose.checks import Check
from diagnose.combined import fits_all
from diagnose.session import AskCheck, Question, Session, belief

SUSPECT = 0.02  # a part with less belief than this is not marked
CLEARED = 0.005  # nor is one with more belief than this called good, whatever the answers say

Standing = Literal["suspect", "good", "open", "none"]  # none: nothing of it makes this complaint


@dataclass(frozen=True, slots=True)
class Marks:
    """What is written beside the parts and terminals of a path."""

    shares: Mapping[str, float]  # part -> belief in all its causes
    standing: Mapping[str, Standing]
    probes: Mapping[str, str]  # terminal -> RED or BLACK
    looked_at: tuple[str, ...]  # parts or wires that are looked at, or in a clamp

    def of(self, part: str) -> Standing:
        """How a part or wire stands."""
        return self.standing.get(part, "none")


def marks_of(session: Session, question: Question | None) -> Marks:
    """The marks for a session and what is asked in it."""
    model, now = session.model, belief(session)
    fits = fits_all(model, session.answers)
    told = any(not given.skipped for given in session.answers)
    shares: dict[str, float] = {}
    may_be: dict[str, bool] = {}
    for cause, share, fit in zip(model.causes, now[:-1], fits, strict=True):
        for member in cause.members:
            shares[member.part] = shares.get(member.part, 0.0) + float(share)
            may_be[member.part] = may_be.get(member.part, False) or bool(fit)
    standing: dict[str, Standing] = {}
    for part, share in shares.items():
        cleared = told and not may_be[part] and share < CLEARED
        standing[part] = "suspect" if share >= SUSPECT else "good" if cleared else "open"
    check = question.check if isinstance(question, AskCheck) else None
    return Marks(shares, standing, _probes(check), _looked_at(check))


def _probes(check: Check | None) -> dict[str, str]:
    return {check.tail: "RED", check.head: "BLACK"} if check is not None and check.tail else {}


def _looked_at(check: Check | None) -> tuple[str, ...]:
    if check is None or check.tail:
        return ()
    return tuple(wire for wire, _ in check.around) or (check.part,)
