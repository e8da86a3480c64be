"""Rows as lines of text: two columns where there is room, else one. No meaning by colour, and none by shape alone."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from difflib import SequenceMatcher

from diagnose.ladder.circuits import Circuit, circuit_for
from diagnose.ladder.rows import Ladder, Row, ladder_of
from diagnose.ladder.state import Marks, marks_of
from diagnose.panel.records import Panel, part_of
from diagnose.session import AskCheck, Question, Session
from diagnose.wording import regional

TWO_COLUMNS = 64  # with less room than this a part and its mark don't fit beside each other
NARROWEST = 24
FOLD = 4  # so many parts in a row that say nothing more than ok become one line, where there is one column


@dataclass(frozen=True, slots=True)
class Style:
    """The characters of a drawing."""

    good: str
    plain: str
    suspect: str
    probe: str
    look: str
    corner_left: str
    corner_right: str
    across: str
    more: str


LINES = Style("║", "│", "┆", "◄", "◄", "└", "┘", "─", "…")
ASCII = Style("#", "|", ":", "<", "<", "+", "+", "-", "..")
LEGEND = "ok: cleared by an answer, which is not proved dead. ?: suspect, with its share."


def ladder_lines(session: Session, question: Question | None, width: int, style: Style = LINES) -> list[str]:
    """The path of the current for what is asked, no line wider than `width`; what is off it is said below.

    An empty list on a panel where no source feeds any load.
    """
    panel = session.model.panel
    check = question.check if isinstance(question, AskCheck) else None
    circuit = circuit_for(panel, session.model.subject, check)
    if circuit is None:
        return []
    marks = marks_of(session, question)
    ladder = ladder_of(panel, marks, circuit)
    width = max(width, NARROWEST)
    lines = _two(ladder, width, style) if width >= TWO_COLUMNS else _one(ladder, width, style)
    lines += [line for row in ladder.off_path for line in _beside(row, width, style)]
    return [line.rstrip() for line in lines]


def panel_ladder(panel: Panel, circuit: Circuit, width: int, style: Style = LINES) -> list[str]:
    """A circuit of a panel about which nothing is asked."""
    ladder = ladder_of(panel, Marks({}, {}, {}, ()), circuit)
    width = max(width, NARROWEST)
    return [line.rstrip() for line in (_two if width >= TWO_COLUMNS else _one)(ladder, width, style)]


def ladder_title(panel: Panel, circuit: Circuit) -> str:
    """What the drawing is of."""
    return regional(panel, f"Path of the current: {panel.label(circuit.load)}")


def _beside(row: Row, width: int, style: Style) -> list[str]:
    """A probe that sits elsewhere: below the drawing, and said to be."""
    return [
        f"{'  ' if number else style.probe + ' '}{line}"
        for number, line in enumerate(textwrap.wrap(f"{row.text} (not on this path)", width - 2))
    ]


# Two columns ----------------------------------------------------------------------------------------------


def _two(ladder: Ladder, width: int, style: Style) -> list[str]:
    column = (width - 1) // 2
    lines = []
    for left, right in _aligned(ladder.left, ladder.right):
        cells = [_cell(row, rail, column - 1, style) for row, rail in
                 ((left, _rail(ladder.left, left, style)), (right, _rail(ladder.right, right, style)))]  # fmt: skip
        lines.append(f"{cells[0]:<{column}} {cells[1]}")
    return [*lines, _bottom(ladder.load, column, style)]


def _bottom(load: Row, column: int, style: Style) -> str:
    """The load, joining the two sides."""
    text = _text(load, style)
    inside = column - 1
    if len(text) + 4 <= inside:
        shown = f" {text} "
        return f"{style.corner_left}{shown:{style.across}^{column}}{style.corner_right}"
    return f"{style.corner_left}{style.across} {_cut(text, inside - 4, style)} {style.across}{style.corner_right}"


def _aligned(left: Sequence[Row], right: Sequence[Row]) -> Iterator[tuple[Row | None, Row | None]]:
    """Rows of the same part side by side; a gap where only one side has something."""
    matcher = SequenceMatcher(None, [_key(row) for row in left], [_key(row) for row in right], autojunk=False)
    for tag, a, b, c, d in matcher.get_opcodes():
        count = b - a if tag == "equal" else max(b - a, d - c)
        for step in range(count):
            yield (left[a + step] if a + step < b else None), (right[c + step] if c + step < d else None)


def _key(row: Row) -> str:
    return part_of(row.name) if row.what == "source" else row.name


def _rail(rows: Sequence[Row], row: Row | None, style: Style) -> str:
    return style.plain if row is None else _rail_of(row, style)


def _rail_of(row: Row, style: Style) -> str:
    if row.what == "probe":
        return style.probe
    return {"good": style.good, "suspect": style.suspect}.get(row.standing, style.plain)


def _cell(row: Row | None, rail: str, width: int, style: Style) -> str:
    return rail if row is None else f"{rail} {_cut_row(row, width - 2, style)}"


# One column -----------------------------------------------------------------------------------------------


def _one(ladder: Ladder, width: int, style: Style) -> list[str]:
    """All the way in the order of the current: to the load, and from it back."""
    lines = []
    for row in (*_folded(ladder.left, style), ladder.load, *_folded(ladder.right[::-1], style)):
        lines.append(f"{_rail_of(row, style)} {_cut_row(row, width - 2, style)}")
    return lines


def _folded(rows: Sequence[Row], style: Style) -> Iterator[Row]:
    """Rows with a long stretch of good ones made one."""
    run: list[Row] = []
    for row in [*rows, None]:
        if row is not None and row.what == "part" and row.mark in ("", "ok") and row.standing == "good" \
                and not row.looked_at:  # fmt: skip
            run.append(row)
            continue
        if len(run) >= FOLD:
            text = f"{run[0].text} {style.more} {run[-1].text}"
            yield Row("part", run[0].name, text, f"{len(run)} ok", "good")
        else:
            yield from run
        run = []
        if row is not None:
            yield row


# Text -----------------------------------------------------------------------------------------------------


def _text(row: Row, style: Style) -> str:
    name = f"[{row.text}]" if row.what == "part" else row.text
    return "  ".join(word for word in (name, _mark(row, style)) if word)


def _mark(row: Row, style: Style) -> str:
    return "  ".join(word for word in (row.mark, f"{style.look} look" if row.looked_at else "") if word)


def _cut_row(row: Row, width: int, style: Style) -> str:
    """A row's text no wider than this; the name is cut, never its mark."""
    whole = _text(row, style)
    mark = _mark(row, style)
    if len(whole) > width and row.short:
        return _cut(row.short, width, style)
    if len(whole) <= width or not mark:
        return _cut(whole, width, style)
    room = width - len(mark) - 4
    name = _cut(row.text, room, style)
    name = f"[{name}]" if row.what == "part" else name
    return f"{name}  {mark}" if room > 3 else _cut(mark, width, style)


def _cut(text: str, width: int, style: Style) -> str:
    return text if len(text) <= width else text[: max(width - len(style.more), 1)] + style.more
