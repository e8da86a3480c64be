"""A circuit and its marks as rows, one for each part that the current passes. Pure text, no drawing yet."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Literal

from diagnose.ladder.circuits import Circuit
from diagnose.ladder.state import Marks, Standing
from diagnose.panel.records import Panel, part_of
from diagnose.topology import Step, Terminal
from diagnose.wording import clean, percent, regional

SINGLE = ("bar", "earth")  # parts that are one terminal: a probe there is a mark on the part itself


@dataclass(frozen=True, slots=True)
class Row:
    """One thing that the current passes: a part, a wire worth showing, or a probe between two of them."""

    what: Literal["part", "wire", "probe", "source"]
    name: str  # of the part, or the terminal
    text: str
    mark: str
    standing: Standing
    looked_at: bool = False
    short: str = ""  # of a probe: its colour and the terminal alone, the part stands beside it


def side_rows(panel: Panel, marks: Marks, first: Terminal, steps: Sequence[Step], load: str) -> list[Row]:
    """The rows from `first` along the steps; the load itself, where they end or begin, is left out."""
    terminals = [first, *(step.head for step in steps)]
    rows: list[Row] = []
    for number, terminal in enumerate(terminals):
        part = part_of(terminal)
        new = not number or part_of(terminals[number - 1]) != part
        single = panel.parts[part].kind.role in SINGLE
        if number and steps[number - 1].part in panel.wires_by_name:
            rows += _wire_row(marks, steps[number - 1].part)
        leaves = number + 1 == len(terminals) or part_of(terminals[number + 1]) != part
        probe = [] if single else _probe_row(panel, marks, terminal)
        row = _part_row(panel, marks, part, terminal if single else "")
        entered = [] if part == load or not new else [row]
        rows += [*entered, *probe] if leaves and part != load else [*probe, *entered]
    return rows


def source_row(panel: Panel, terminal: Terminal) -> Row:
    """Where a side begins."""
    return Row("source", terminal, _place(panel, terminal), "", "none")


def _place(panel: Panel, terminal: Terminal) -> str:
    return clean(regional(panel, panel.terminal_label(terminal)))


def load_row(panel: Panel, marks: Marks, load: str) -> Row:
    """The load at the end of both sides."""
    return _part_row(panel, marks, load, "")


def _wire_row(marks: Marks, wire: str) -> list[Row]:
    looked_at = wire in marks.looked_at
    if marks.of(wire) != "suspect" and not looked_at:
        return []
    return [Row("wire", wire, "wire", _mark(marks, wire), marks.of(wire), looked_at)]


def _part_row(panel: Panel, marks: Marks, part: str, terminal: Terminal) -> Row:
    mark = _mark(marks, part)
    probe = marks.probes.get(terminal, "")
    text = clean(regional(panel, panel.label(part)))
    return Row("part", part, text, "  ".join(word for word in (mark, probe) if word), marks.of(part),
               part in marks.looked_at)  # fmt: skip


def _probe_row(panel: Panel, marks: Marks, terminal: Terminal) -> list[Row]:
    colour = marks.probes.get(terminal)
    if colour is None:
        return []
    title = panel.kind_of(part_of(terminal)).terminals[terminal.partition(".")[2]].title
    whole, short = (clean(regional(panel, text)) for text in (panel.terminal_label(terminal), title))
    return [Row("probe", terminal, f"{colour}  {whole}", "", "none", short=f"{colour}  {short}")]


def _mark(marks: Marks, part: str) -> str:
    match marks.of(part):
        case "suspect":
            return f"? {percent(marks.shares[part])}"
        case "good":
            return "ok"
    return ""


@dataclass(frozen=True, slots=True)
class Ladder:
    """Both sides of a circuit, each from its source's terminal to the load, and the load."""

    left: tuple[Row, ...]
    right: tuple[Row, ...]
    load: Row
    off_path: tuple[Row, ...]  # probes that sit elsewhere


def ladder_of(panel: Panel, marks: Marks, circuit: Circuit) -> Ladder:
    """The rows of a circuit."""
    out = side_rows(panel, marks, circuit.source[0], circuit.out, circuit.load)
    end = circuit.back[0].tail if circuit.back else circuit.source[1]
    back = side_rows(panel, marks, end, circuit.back, circuit.load)[::-1]
    left, right = _headed(panel, out, circuit.source[0]), _headed(panel, back, circuit.source[1])
    rows = (*left, *right)
    shown = {row.name for row in rows if row.what == "probe"}
    bars = {row.name for row in rows if row.what == "part" and panel.parts[row.name].kind.role in SINGLE}
    shown |= {terminal for terminal in marks.probes if part_of(terminal) in bars}
    off = [row for terminal in marks.probes if terminal not in shown for row in _probe_row(panel, marks, terminal)]
    load = load_row(panel, marks, circuit.load)
    return Ladder(tuple(_stretched(left)), tuple(_stretched(right)), load, tuple(off))


def _headed(panel: Panel, rows: list[Row], source: Terminal) -> list[Row]:
    """The first row says from which terminal of the source it goes."""
    if rows and rows[0].what == "part" and rows[0].name == part_of(source):
        return [replace(rows[0], what="source", text=_place(panel, source)), *rows[1:]]
    return [source_row(panel, source), *rows]


def _stretched(rows: Sequence[Row]) -> list[Row]:
    """What says nothing of itself counts as good between two that are, so that a good stretch is one piece."""
    found = list(rows)
    good = [number for number, row in enumerate(rows) if row.standing == "good"]
    for one, two in pairwise(good):
        if all(rows[number].standing == "none" for number in range(one + 1, two)):
            for number in range(one + 1, two):
                found[number] = replace(found[number], standing="good")
    return found
