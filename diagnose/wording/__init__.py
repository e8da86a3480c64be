"""A panel's setups, checks and answers in plain words. Pure: no terminal, no wrapping, no colour."""

from diagnose.wording.changes import change_lines, moved_lines
from diagnose.wording.checks import (
    BADGES,
    COMPETENCE_WORDS,
    INSTRUMENT_WORDS,
    answered_line,
    caution_texts,
    check_page,
    check_title,
    doubt_lines,
    leading,
    prompt_for,
    should_be,
)
from diagnose.wording.outcomes import WORTH_NAMING, Outcome, cause_title, named, outcomes_of
from diagnose.wording.values import UNITS, Page, capital, clean, clean_all, percent, range_text, unseen_out

__all__ = [
    "BADGES",
    "COMPETENCE_WORDS",
    "INSTRUMENT_WORDS",
    "UNITS",
    "WORTH_NAMING",
    "Outcome",
    "Page",
    "answered_line",
    "capital",
    "cause_title",
    "caution_texts",
    "change_lines",
    "check_page",
    "check_title",
    "clean",
    "clean_all",
    "doubt_lines",
    "leading",
    "moved_lines",
    "named",
    "outcomes_of",
    "percent",
    "prompt_for",
    "range_text",
    "should_be",
    "unseen_out",
]
