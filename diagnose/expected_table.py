"""A table for the lid: what a meter should read at each test point of a panel, sound or with one fault."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import groupby
from math import isclose, isfinite

from diagnose.causes import Cause, causes_of, fault_of
from diagnose.circuit.netlist import Netlist, build
from diagnose.circuit.setup import Setup, at_rest, isolated
from diagnose.errors import DiagnoseError, Problem, UsageError
from diagnose.escaping import json_text, markdown_text
from diagnose.expected_points import (
    NAMES,
    USUAL_NAMES,
    ExpectedRow,
    Shown,
    TableSetup,
    channel_parts,
    expected_rows,
    table_setups,
)
from diagnose.opening import did_you_mean, open_panel
from diagnose.panel.records import Panel, part_of
from diagnose.units import quoted, to_si
from diagnose.wording import capital, change_lines, clean, range_text, regional, regional_lines, table_cautions

__all__ = ["expected_markdown", "expected_rows", "expected_text", "main_expect", "read_fault", "read_setup"]

SUBJECT_ROLES = ("heater", "pump", "fan", "controller")
FORMATS = ("text", "json", "markdown")
WIDTH = 100
COLUMNS = (34, 28, 5, 9, 13, 6)  # with a space between them, WIDTH at most
HEADS = ("from", "to", "meter", "reads", "between", "how")
METER = {"voltage_ac": "V AC", "voltage_dc": "V DC", "resistance": "ohms", "insulation": "500 V", "millivolts": "mV DC"}
HOW = {"outside": "closed", "isolated": "dead", "live": "LIVE"}
TITLES = {
    "idle": "Idle", "running": "Running", "unswitched": "Switches off, controller calling",
    "resting": "Switched on, controller content", "isolated": "Isolated", "parted": "Isolated, unplugged",
    "lifted": "Isolated, unplugged, its wires off", "chosen": "As chosen",
}  # fmt: skip
NOTES = (
    "LIVE readings are only for those trained for live work where the law allows it; everyone else reads "
    "with the supply off. Dead readings come after isolating and proving dead: meter on a known source, the "
    "circuit, the known source again.",
    "'between' takes in the supply's range, the parts' tolerances, warm copper, and a plain meter with its "
    "leads. OL is over range; 500 V is an insulation tester. How: closed is with the box shut, dead is "
    "isolated and proved dead, LIVE is with the supply on.",
)


# Words ----------------------------------------------------------------------------------------------------


def expected_text(panel: Panel, rows: Sequence[ExpectedRow], fault: Cause | None = None) -> str:
    """The table in plain text, 100 columns wide, grouped by setup and what it is about."""
    lines = [*textwrap.wrap(_heading(panel, fault), WIDTH), ""]
    for note in _notes(panel, rows):
        lines += textwrap.wrap(clean(note), WIDTH)
    for title, steps, group in _groups(panel, rows, fault):
        lines += ["", clean(title), *(_wrapped(step) for step in steps), "", *_cells(HEADS), "-" * WIDTH]
        for row in group:
            lines += _cells(_words(panel, row, row.sound))
            if row.faulty is not None and row.differs:
                lines += _cells(("", "with the fault", "", *_reading(row, row.faulty), ""))
    if fault is not None and not any(row.differs for row in rows):
        lines += ["", "No reading here tells this fault from a sound panel."]
    return "\n".join(line.rstrip() for line in lines)


def expected_markdown(panel: Panel, rows: Sequence[ExpectedRow], fault: Cause | None = None) -> str:
    """The same as Markdown tables."""
    lines = [f"# {markdown_text(_heading(panel, fault))}"]
    for note in _notes(panel, rows):
        lines += ["", markdown_text(clean(note))]
    more = ("with the fault", "then between") if fault is not None else ()
    for title, steps, group in _groups(panel, rows, fault):
        steps = [f"- {markdown_text(step)}" for step in steps]
        lines += ["", f"## {markdown_text(title)}", "", *steps, *([""] if steps else [])]
        lines += [_bar((*HEADS, *more)), _bar(("---",) * (len(HEADS) + len(more)))]
        for row in group:
            faulty = _reading(row, row.faulty) if row.faulty is not None else ()
            lines.append(_bar((*_words(panel, row, row.sound), *faulty)))
    return "\n".join(lines)


def _heading(panel: Panel, fault: Cause | None) -> str:
    with_fault = f" with {fault_words(panel, fault)}" if fault is not None else ""
    return regional(panel, clean(f"What a meter should read{with_fault}: {panel.title}"))


def fault_words(panel: Panel, fault: Cause) -> str:
    """A cause in words: the part's label and what is wrong with it."""
    return f"{panel.label(fault.part)} {fault_of(panel, fault).title}"


def _notes(panel: Panel, rows: Sequence[ExpectedRow]) -> tuple[str, ...]:
    """What stands above the table: the cautions that apply to its readings, and how to read it."""
    parts = [part_of(end) for row in rows for end in (row.tail, row.head)]
    on = any(row.place.setup.supply_on for row in rows)
    cautions = table_cautions(panel, [row.exposure for row in rows], parts, supply_on=on)
    return (*cautions, *regional_lines(panel, NOTES))


def _groups(
    panel: Panel, rows: Sequence[ExpectedRow], fault: Cause | None
) -> Iterator[tuple[str, list[str], list[ExpectedRow]]]:
    """Rows by setup, in their order; those that tell a fault make groups of their own, which come first."""
    for (place, differs), group in groupby(rows, key=lambda row: (row.place, row.differs)):
        about = f": {panel.label(place.subject)}" if place.subject else ""
        told = "" if fault is None else " - tells the fault" if differs else " - as on a sound panel"
        idle = at_rest(panel)
        before = None if place.name == "idle" else idle
        steps = change_lines(panel, before, place.setup)
        if not place.setup.supply_on:
            steps.insert(0, "Isolate the panel, open it, prove it dead.")
        title = regional(panel, f"{TITLES[place.name]}{about}{told}")
        yield title, regional_lines(panel, steps), list(group)


def _words(panel: Panel, row: ExpectedRow, shown: Shown) -> tuple[str, ...]:
    ends = [clean(panel.terminal_label(end)) for end in (row.tail, row.head)]
    part, _, terminal = row.head.partition(".")
    if part == part_of(row.tail):
        ends[1] = f"its {clean(panel.kind_of(part).terminals[terminal].title)}"
    ends = regional_lines(panel, ends)
    return (capital(ends[0]), ends[1], METER[row.quantity], *_reading(row, shown), HOW[row.exposure])


def _reading(row: ExpectedRow, shown: Shown) -> tuple[str, str]:
    low, high = (range_text(row.quantity, end, end) for end in (shown.low, shown.high))
    value = range_text(row.quantity, shown.value, shown.value)
    between = low if low == high else range_text(row.quantity, shown.low, shown.high)
    return value, between


def _cells(texts: Sequence[str]) -> list[str]:
    """One line, or several where a cell is too narrow for its text."""
    wrapped = [textwrap.wrap(text, width) or [""] for text, width in zip(texts, COLUMNS, strict=True)]
    deep = max(len(cell) for cell in wrapped)
    padded = [[*cell, *[""] * (deep - len(cell))] for cell in wrapped]
    return [
        " ".join(text.ljust(width) for text, width in zip(line, COLUMNS, strict=True)).rstrip()
        for line in zip(*padded, strict=True)
    ]


def _wrapped(step: str) -> str:
    return textwrap.fill(clean(step), WIDTH, initial_indent="  ", subsequent_indent="    ")


def _bar(cells: Sequence[str]) -> str:
    return f"| {' | '.join(markdown_text(cell) for cell in cells)} |"


# What is typed --------------------------------------------------------------------------------------------


def read_setup(panel: Panel, text: str) -> Setup:
    """A setup from `part=position,...`: handles, `controller=call`, `plug=unplugged`, `supply=off`.

    What isn't named is at rest, with the breakers on. Raises UsageError for a part or position there isn't.
    """
    items = [item.partition("=") for item in text.split(",")]
    pairs = [(name.strip(), at.strip()) for name, _, at in items]
    setup = isolated(panel) if ("supply", "off") in pairs else at_rest(panel)
    for name, at in pairs:
        if name == "supply":
            _one_of("supply", at, ("on", "off"))
            continue
        part = _part_named(panel, name)
        kind = panel.parts[part].kind if part in panel.parts else None
        choices: list[str] = list(kind.positions) if kind is not None else []
        choices += ["call", "rest"] if kind is not None and kind.role == "controller" else []
        choices += ["unplugged"] if part in panel.plugs else []
        if not choices:
            problem = Problem(f"'{name}' has no handle, plug or command", "a switch, plug or controller")
            raise UsageError(problem)
        _one_of(name, at, choices)
        if at == "unplugged":
            setup = setup.unplugging(part)
        elif at in ("call", "rest") and kind is not None and kind.role == "controller":
            setup = setup.commanding(at, part)
        else:
            setup = setup.moved(**{part: at})
    return setup


def chosen_setups(netlist: Netlist, setup: str | None, subject: str | None) -> tuple[TableSetup, ...]:
    """The setups that were asked for by a name or by positions; without either the usual ones."""
    panel = netlist.panel
    if setup is not None and "=" in setup:
        parts = tuple(panel.parts) if subject is None else channel_parts(panel, subject)
        return (TableSetup("chosen", subject or "", read_setup(panel, setup), parts),)
    if setup is not None:
        _one_of("--setup", setup, NAMES, " or positions such as main_switch=on")
    return table_setups(netlist, USUAL_NAMES if setup is None else (setup,), subject)


def read_fault(panel: Panel, text: str) -> Cause:
    """A fault from `part:mode` or `part:mode@level`, such as `boil_element:leak_at_end@7 kohm`.

    Raises UsageError for a part, mode or level that there isn't.
    """
    name, colon, rest = text.partition(":")
    mode, at, level = rest.partition("@")
    if not colon:
        raise UsageError(Problem(f"--fault: {quoted(text)} names no fault", "part:mode or part:mode@level"))
    part = _part_named(panel, name.strip())
    _one_of(f"{part}'s fault", mode.strip(), list(panel.kind_of(part).faults))
    causes = [cause for cause in causes_of(panel) if (cause.part, cause.fault) == (part, mode.strip())]
    levels = [cause.level for cause in causes if cause.level is not None]
    listed = ", ".join(f"@{each:g}" for each in levels)
    if not at:
        if len(levels) > 1:
            raise UsageError(Problem(f"--fault: {part}'s {mode} has several levels", f"one of {listed}"))
        return causes[0]
    if not levels:
        raise UsageError(Problem(f"--fault: {part}'s {mode} has no level", f"{part}:{mode} alone"))
    value = _level(panel, causes[0], level.strip(), listed)
    known = [cause for cause in causes if cause.level is not None and isclose(cause.level, value)]
    return known[0] if known else replace(causes[0], level=value, low=value, high=value)


def _level(panel: Panel, cause: Cause, text: str, listed: str) -> float:
    ohms = any(effect.change == "ohms" for effect in fault_of(panel, cause).effects)
    try:
        value = to_si(text, "resistance", assume=True) if ohms else float(text.removeprefix("x").strip())
    except (DiagnoseError, ValueError):
        value = float("nan")
    positive = any(effect.change in ("ohms", "scale") for effect in fault_of(panel, cause).effects)
    if not isfinite(value) or (positive and not 0 < value < 1e12):
        expected = f"such as {listed}" if listed else "none"
        raise UsageError(Problem(f"--fault: {quoted(text)} is no level of {cause.part}'s {cause.fault}", expected))
    return value


def read_subject(panel: Panel, text: str) -> str:
    """An element, pump, fan or controller by its name or label; raises UsageError for anything else."""
    known = panel.of_role(*SUBJECT_ROLES)
    name = {panel.label(each): each for each in known}.get(text, text)
    _one_of("--part", name, known)
    return name


def _part_named(panel: Panel, text: str) -> str:
    known = (*panel.parts, *panel.wires_by_name)
    name = {panel.label(each): each for each in panel.parts}.get(text, text)
    if name not in known:
        hint = did_you_mean(text, known)
        raise UsageError(Problem(f"there is no part {quoted(text)}{hint}", "a part or wire of this panel"))
    return name


def _one_of(what: str, text: str, known: Sequence[str], more: str = "") -> None:
    if text not in known:
        hint = did_you_mean(text, known)
        raise UsageError(Problem(f"{what}: {quoted(text)} is not known{hint}", f"one of {', '.join(known)}{more}"))


# The command ----------------------------------------------------------------------------------------------


def main_expect(panel: str, setup: str | None, fault: str | None, format: str = "text", part: str | None = None) -> int:
    """Print the table for a panel, given by name or file; 0. Raises DiagnoseError for what there isn't."""
    _one_of("--format", format, FORMATS)
    read = open_panel(panel)
    subject = read_subject(read, part) if part is not None else None
    cause = read_fault(read, fault) if fault is not None else None
    netlist = build(read)
    rows = expected_rows(netlist, chosen_setups(netlist, setup, subject), cause)
    if format == "json":
        print(json_text(as_data(panel, read, rows, cause)))
    else:
        write = expected_text if format == "text" else expected_markdown
        print(write(read, rows, cause))
    return 0


def as_data(name: str, panel: Panel, rows: Sequence[ExpectedRow], fault: Cause | None) -> dict[str, object]:
    """The whole table for JSON; a reading's null is OL."""
    return {
        "panel": name,
        "fault": fault.key if fault is not None else None,
        "cautions": list(_notes(panel, rows)),
        "rows": [row.as_data() for row in rows],
    }
