"""The report as a document: what is in it, before it is HTML, Markdown or text."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

EntryKind = Literal["reading", "asked again", "taken back", "before", "left out", "step", "note"]


@dataclass(frozen=True, slots=True)
class Entry:
    """One thing that was done, in order."""

    kind: EntryKind
    number: int  # of a reading that counts, as the drawing has it; else 0
    title: str
    exposure: str = ""  # OUTSIDE, DEAD or LIVE
    before: tuple[str, ...] = ()  # what was changed on the panel for it
    found: str = ""  # as typed
    expected: str = ""  # what the sound panel would have shown
    as_expected: bool = False
    says: tuple[str, ...] = ()  # for or against the leading cause, and what led after it


@dataclass(frozen=True, slots=True)
class CauseLine:
    """A cause with its share of the belief, and the letter that it has in the plot."""

    letter: str
    title: str
    percent: str


@dataclass(frozen=True, slots=True)
class Series:
    """One cause's share of the belief (0 to 1) before any answer and after each."""

    letter: str
    title: str
    shares: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Course:
    """Belief over time: `numbers` are those of the readings, 0 for before the first."""

    numbers: tuple[int, ...]
    series: tuple[Series, ...]


@dataclass(frozen=True, slots=True)
class Figure:
    """A drawing: an SVG document, what it shows, and whether it is wide, so that a small screen scrolls it."""

    svg: str
    caption: str
    wide: bool


@dataclass(frozen=True, slots=True)
class PathStep:
    """A part on the way of the power, with its mark and the readings taken at it: a drawing in words."""

    part: str
    mark: str
    numbers: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Work:
    """What to do about one part."""

    part: str
    text: str
    why: str = ""  # where it is seen to beside the cause
    measure: tuple[str, ...] = ()  # of that: what is measured before the panel is used again


@dataclass(frozen=True, slots=True)
class Purchase:
    """A part to buy, with what it must be rated for on this panel."""

    part: str
    what: str
    ratings: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class ProofLine:
    """A proof check: what is measured, how it came out, and what was typed."""

    title: str
    text: str
    outcome: Literal["passed", "failed", "declined", "not yet"]
    found: str


@dataclass(frozen=True, slots=True)
class Report:
    """One session's report. Texts are plain: each writer escapes them in its own way."""

    title: str
    facts: tuple[tuple[str, str], ...]
    alarms: tuple[str, ...]  # before all else: the box left open, a danger
    result: str  # the end in a few words
    result_lines: tuple[str, ...]
    entries: tuple[Entry, ...]
    conclusion: tuple[str, ...]
    causes: tuple[CauseLine, ...]
    course: Course
    figures: tuple[Figure, ...]
    path: tuple[PathStep, ...]
    figure_notes: tuple[str, ...]
    work: tuple[Work, ...]
    work_notes: tuple[str, ...]
    purchases: tuple[Purchase, ...]
    purchase_note: str
    proofs: tuple[ProofLine, ...]
    proof_note: str
    cautions: tuple[str, ...]
    sign_off: tuple[str, ...]
    foot: str
