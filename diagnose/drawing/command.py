"""`diagnose draw`: a panel's drawing to a file or to the output."""

from __future__ import annotations

import sys
from pathlib import Path

from diagnose.drawing.marks import AT_FAULT, Marks
from diagnose.drawing.svg import one_line_svg, wiring_svg
from diagnose.errors import printable
from diagnose.files import replace_file
from diagnose.panel.records import Panel

VIEWS = ("wiring", "one-line")


def drawing(panel: Panel, view: str = "wiring", marks: Marks | None = None) -> str:
    """A drawing of a panel as an SVG document."""
    return one_line_svg(panel, marks) if view == "one-line" else wiring_svg(panel, marks)


def main_draw(panel: str, view: str = "wiring", fault: str | None = None, out: str | None = None) -> int:
    """Draw a panel; with a fault, the part that has it is marked.

    Raises
    ------
    UsageError
        Where there is no such panel, part or fault.
    FileError
        Where the file can't be written.
    """
    from diagnose.expected_table import fault_words, read_fault
    from diagnose.opening import open_panel

    opened = open_panel(panel)
    marks = Marks()
    if fault is not None:
        cause = read_fault(opened, fault)
        marks = Marks(culprits={cause.part: AT_FAULT}, notes=(f"At fault: {fault_words(opened, cause)}.",))
    document = drawing(opened, view, marks)
    if out is None:
        sys.stdout.write(document)
        return 0
    replace_file(Path(out), document)
    print(printable(f"Drawn: {out}"), file=sys.stderr)
    return 0
