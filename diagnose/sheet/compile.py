"""From a session that has not begun to a sheet that fits its pages, and back: walking a sheet as a person would."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from diagnose.checks import Check
from diagnose.session import Session
from diagnose.sheet.page import pages_of
from diagnose.sheet.tree import Branch, Ending, Step, call_for_help, cut, grow
from diagnose.sheet.words import Words, in_region, words_of

PAGES = 2


@dataclass(frozen=True, eq=False)
class Sheet:
    """A compiled tree, and its words."""

    top: Step | Ending
    words: Words
    pages: float


def compile_sheet(session: Session, pages: int = PAGES) -> Sheet:
    """The largest tree that fits on so many pages.

    Raises ValueError where not even an empty one does.
    """
    grown = grow(replace(session, asks_again=False))  # paper asks each thing once
    for steps in range(grown.steps, -1, -1):
        top = cut(grown, steps)
        words = words_of(session.model, top, session.competence, sorted(session.instruments))
        length = pages_of(words)
        if length <= pages:
            return Sheet(top, in_region(session.model, words), length)
    raise ValueError(f"no sheet fits on {pages} pages")


def walk(sheet: Sheet, read: Callable[[Check], float | str]) -> Ending:
    """Where a sheet leads: `read` gives an outcome's word, or a reading in SI, inf for OL.

    A reading that fits no line on the sheet ends in the call for help.
    """
    place = sheet.top
    while isinstance(place, Step):
        shown = read(place.check)
        found = next((branch for branch in place.branches if _fits(branch, shown)), None)
        if found is None:
            return call_for_help(0.0)
        place = found.goes
    return place


def _fits(branch: Branch, shown: float | str) -> bool:
    if isinstance(shown, str):
        return shown in branch.outcomes
    return any(each.holds(shown) for each in branch.ranges)
