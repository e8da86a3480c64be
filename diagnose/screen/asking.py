"""The questions before the first check: which panel, what is wrong, which part, whose hands, what meters."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TypeVar

from diagnose.errors import DiagnoseError
from diagnose.friend import Friend
from diagnose.knowledge.records import Complaint
from diagnose.log_places import log_folders
from diagnose.meter import INSTRUMENT_CHOICES
from diagnose.model import subjects_of
from diagnose.opening import (
    all_complaints,
    bundled_panels,
    choose_part,
    fitting,
    open_panel,
    panel_path,
)
from diagnose.panel.records import Panel
from diagnose.safety import Competence, capped, danger_said, derived, facts_taken
from diagnose.said import matching
from diagnose.screen.console import Console, show
from diagnose.screen.describing import generic
from diagnose.screen.interview import interview
from diagnose.screen.pages import danger_page
from diagnose.texts import assumption_lines
from diagnose.wording import INSTRUMENT_WORDS, clean, regional, speaker

Item = TypeVar("Item")


DANGER_FIRST = "Smoke, heat, a burning smell, water in the box, a shock felt? Type danger, or press !."


class DangerError(Exception):
    """Something dangerous was said before a session began: it does not begin."""


@dataclass(frozen=True, slots=True)
class Choices:
    """What a session is to be about, as given by options or asked for."""

    panel: Panel
    panel_name: str  # as a log calls it
    complaint: Complaint
    part: str | None
    competence: Competence
    instruments: tuple[str, ...]
    interview: tuple[str, ...] = ()  # what the person said of themselves


@dataclass(frozen=True, slots=True)
class Given:
    """What the command line gave; None where it is to be asked for."""

    panel: str | None = None
    complaint: str | None = None
    part: str | None = None
    competence: Competence | None = None
    instruments: tuple[str, ...] | None = None
    friend: Friend | None = None  # somebody else at the panel


def ask_all(console: Console, given: Given) -> Choices:
    """Everything that a session needs.

    Raises
    ------
    DiagnoseError
        For an option that can't be used.
    DangerError
        Where something dangerous was said; what to do about it has been shown.
    EOFError, KeyboardInterrupt
        Where the person left.
    """
    from diagnose.opening import open_complaint

    name = given.panel
    panel = open_panel(name) if name is not None else None
    complaint = open_complaint(given.complaint) if given.complaint is not None else None
    if panel is None or name is None or complaint is None:
        console.say([DANGER_FIRST])
    if panel is None or name is None:
        name, panel = _ask_panel(console)
    if complaint is None:
        complaint = _ask_complaint(console, panel)
    part = _ask_part(console, panel, complaint, given.part)
    said = _ask_both(console, given, panel)
    competence = derived(said)
    instruments = given.instruments if given.instruments is not None else _ask_instruments(console, competence)
    if capped(competence, instruments) != competence:
        console.say(["Without a multimeter nothing can be proved dead, so the box stays shut."])
        competence = "outside"
    return Choices(panel, panel_path(name)[1], complaint, part, competence, instruments, said)


def _line(console: Console, prompt: str, words: Sequence[str] = ()) -> str:
    typed = clean(console.read(prompt, words))
    if danger_said(typed):
        show(console, danger_page())
        raise DangerError
    return typed


def _numbered(texts: Sequence[str]) -> list[str]:
    return [f"{number:>2}  {text}" for number, text in enumerate(texts, start=1)]


def _by_number(typed: str, items: Sequence[Item]) -> Item | None:
    return items[int(typed) - 1] if re.fullmatch(r"\d{1,3}", typed) and 1 <= int(typed) <= len(items) else None


def _asked(console: Console, prompt: str, words: Sequence[str], take: Callable[[str], Item | None], hint: str) -> Item:
    """Ask until something usable is typed; what was wrong is said in a line each time."""
    while True:
        typed = _line(console, prompt, words)
        try:
            found = take(typed)
        except DiagnoseError as error:
            console.say(str(error).splitlines())
            continue
        if found is not None:
            return found
        console.say(
            [f"'{typed}' is none of these; expected {hint}" if typed else f"Nothing was typed; expected {hint}"]
        )


def _ask_panel(console: Console) -> tuple[str, Panel]:
    entries = bundled_panels()
    lines = [" 0  none of these: mine is not described yet", *_numbered([entry.title for entry in entries])]
    console.say(lines, "Which panel? Yours if you have a file of it, else the nearest")

    def take(typed: str) -> tuple[str, Panel] | None:
        if typed == "0":
            typed = str(generic(console, log_folders()[0]))
        entry = _by_number(typed, entries)
        name = entry.name if entry is not None else typed
        return (name, open_panel(name)) if name else None

    hint = f"0 to {len(entries)}, a name or a panel file"
    return _asked(console, "number, name or file", [entry.name for entry in entries], take, hint)


SCREENFUL = 16  # lines of a list at once, so that its heading and its prompt stay on 24


def _ask_complaint(console: Console, panel: Panel) -> Complaint:
    shown = fitting(panel, list(all_complaints().values()))
    everything = shown
    say = speaker(panel)
    at = _screenful(console, [say(complaint.title) for complaint in shown], 0, "What is wrong?")
    while True:
        typed = _line(console, "number or words", [say(complaint.title) for complaint in everything])
        if typed.lower() in ("", "more") and len(shown) > SCREENFUL:
            at = _screenful(console, [say(complaint.title) for complaint in shown], at)
            continue
        chosen = _by_number(typed, shown) or next(
            (c for c in everything if typed in (c.name, c.title, say(c.title))), None
        )
        found = [chosen] if chosen else matching(typed, everything)
        if len(found) == 1:
            console.say([f"Complaint: {say(found[0].title)}."])
            return found[0]
        if found:
            shown = found
            at = _screenful(console, [say(complaint.title) for complaint in shown], 0, "Which of these?")
        else:
            shown = everything
            hint = f"1 to {len(shown)}, or words such as 'stays cold'"
            console.say([f"'{typed}' is in none of the complaints; expected {hint}"])


def _screenful(console: Console, texts: Sequence[str], at: int, title: str = "") -> int:
    """Show a screenful of a numbered list; returns where the next one begins, which is 0 after the last."""
    lines = _numbered(texts)
    end = min(at + SCREENFUL, len(lines))
    left = len(lines) - end
    rest = [f"    Enter for {left} more, or say it in words: stays cold, trips"] if left else []
    again = ["    Enter for the first again, or say it in words"] if at and not left else []
    console.say([*lines[at:end], *rest, *again], title)
    return end if left else 0


def _ask_part(console: Console, panel: Panel, complaint: Complaint, given: str | None) -> str | None:
    subjects = subjects_of(panel, complaint)
    if given is not None or len(subjects) < 2:
        return choose_part(panel, complaint, given)
    labels = [regional(panel, panel.label(name)) for name in subjects]
    console.say(_numbered(labels), "Which one?")

    def take(typed: str) -> str | None:
        name = _by_number(typed, subjects)
        near = [s for s, label in zip(subjects, labels, strict=True) if typed and typed.lower() in (s, label.lower())]
        return name or (near[0] if near else None)

    return _asked(console, "number or name", labels, take, f"1 to {len(subjects)}")


def _ask_both(console: Console, given: Given, panel: Panel) -> tuple[str, ...]:
    """What the one person has done and has got; where there are two, only what both have, so that the lower counts."""
    if given.friend is None:
        return _ask_person(console, given.competence, panel)
    console.say([] if given.competence else ["First you, at the screen: you have to know what you ask of others."])
    own = _ask_person(console, given.competence, panel)
    theirs_given = given.friend.competence
    console.say([] if theirs_given else ["Now them, at the panel: ask each, and take their word, not your guess."])
    theirs = _ask_person(console, theirs_given, panel, "They, at the panel")
    both = tuple(fact for fact in own if fact in theirs)
    console.say([f"For the two of you, the lower counts: {derived(both)}."])
    return both


def _ask_person(console: Console, given: Competence | None, panel: Panel, title: str = "You") -> tuple[str, ...]:
    if given is None:
        return interview(console, lambda prompt: _line(console, prompt), speaker(panel), title)
    console.say(assumption_lines(given))
    return facts_taken(given)


def _ask_instruments(console: Console, competence: Competence) -> tuple[str, ...]:
    usual: tuple[str, ...] = () if competence == "outside" else ("multimeter",)
    lines = _numbered([INSTRUMENT_WORDS[name] for name in INSTRUMENT_CHOICES])
    console.say([*lines, " 0  none"], "Which instruments are at hand? More than one: 1 3")
    default = "0" if not usual else "1"

    def take(typed: str) -> tuple[str, ...] | None:
        if not typed:
            return usual
        if typed.lower() in ("0", "none"):
            return ()
        words = [word for word in re.split(r"[\s,]+", typed.lower()) if word]
        chosen = [_by_number(w, INSTRUMENT_CHOICES) or (w if w in INSTRUMENT_CHOICES else None) for w in words]
        return None if None in chosen else tuple(dict.fromkeys(name for name in chosen if name))

    return _asked(
        console,
        f"numbers, Enter for {default}",
        INSTRUMENT_CHOICES,
        take,
        f"numbers from 0 to {len(INSTRUMENT_CHOICES)}, such as 1 3",
    )
