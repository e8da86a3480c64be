"""Changing one line of a panel file by hand-written words, its comments and all other lines left alone. Pure."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from diagnose.errors import AnswerError, Problem

# What may be changed where: keys at the beginning of a line, and parts as `name: kind, ratings`.
TOP = ("title", "built", "altitude", "wire")
_LINE = re.compile(r"^(?P<lead>\s*(?:- )?)(?P<key>[A-Za-z_<>][\w<>]*):\s*(?P<value>[^#]*?)\s*(?P<note>#.*)?$")


@dataclass(frozen=True, slots=True)
class Line:
    """A line that can be changed: where it stands, its name, and what stands behind it."""

    number: int
    key: str
    value: str


def lines_of(text: str) -> list[Line]:
    """The lines of a file that say what a part is, or one of the plain facts of a panel, in their order."""
    found, section = [], ""
    for number, line in enumerate(text.splitlines()):
        match = _LINE.match(line)
        if match is None or line.lstrip().startswith("#"):
            continue
        key, value = match["key"], match["value"].strip()
        if not line.startswith((" ", "-")) or key in ("parts", "wires", "plugs"):
            section = key
        if (key in TOP and not line.startswith(" ")) or (section in ("parts", "labels") and line.startswith(" ")):
            found += [Line(number, key, value)] if value else []
        elif section == "supply" and key in ("feed", "cord"):
            found.append(Line(number, key, value))
    return found


def with_value(text: str, lines: Sequence[Line], chosen: int, value: str) -> str:
    """The text with another value in one of its lines; what is beside it stays.

    Raises AnswerError for a value that could not stand on one line.
    """
    wanted = " ".join(value.split())
    if not wanted or "#" in wanted or wanted != value.strip() or wanted[0] in "[{&*!|>%@`":
        raise AnswerError(Problem(f"'{wanted}' can't stand there", "plain words as in the file, such as relay, 40 A"))
    number = lines[chosen].number
    rows = text.splitlines()
    match = _LINE.match(rows[number])
    assert match is not None
    plain = wanted.strip('"')
    quoted = f'"{plain}"' if ": " in plain or match["value"].strip().startswith('"') else plain
    note = f"  {match['note']}" if match["note"] else ""
    rows[number] = f"{match['lead']}{match['key']}: {quoted}{note}"
    return "\n".join(rows) + "\n"
