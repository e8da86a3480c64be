"""The reports in knowledge/coverage are those that the command makes today."""

from __future__ import annotations

from pathlib import Path

import pytest

from diagnose.coverage.gather import cover
from diagnose.coverage.pages import as_markdown
from diagnose.coverage.reach import REACHES
from diagnose.coverage.words import BUILDING
from diagnose.opening import all_complaints, fitting, open_panel

FOLDER = Path(__file__).resolve().parents[2] / "knowledge" / "coverage"
REPORTS = sorted(FOLDER.glob("*.md"))
NAMES = [path.stem for path in REPORTS]


def plain(text: str) -> str:
    """Markdown as it is read."""
    return text.replace("\\", "").replace("&amp;", "&")


def test_there_are_reports_of_three_panels() -> None:
    assert len(REPORTS) >= 3


@pytest.mark.parametrize("path", REPORTS, ids=NAMES)
def test_a_report_names_each_fault_of_its_panel_and_no_other(path: Path) -> None:
    """Quick: a part, a fault or a title that was changed since is told."""
    panel = open_panel(path.stem)
    text = plain(path.read_text(encoding="utf-8"))
    assert text.startswith(f"# What can be found: {panel.title}\n")
    assert text.endswith(f"Made by `diagnose coverage {path.stem}`.\n")
    rows = [line.strip("| ").split(" | ") for line in text.splitlines() if line.startswith("| ")]
    by_part = {(row[0], fault) for row in rows if len(row) == 3 + len(REACHES) for fault in row[1].split("; ")}
    silent = {(part, row[0]) for row in rows if len(row) == 2 for part in row[1].split("; ")}
    of = {
        (panel.label(name), fault.title)
        for name in (*panel.parts, *panel.wires_by_name)
        if not panel.at_the_service(name)
        for fault in panel.kind_of(name).faults.values()
        if not fault.new_only or panel.built == "new"
    }
    comes_and_goes = {
        (panel.label(name), fault.title)
        for name in (*panel.parts, *panel.wires_by_name)
        for fault in panel.kind_of(name).faults.values()
        if fault.at_times < 1
    }
    assert of - comes_and_goes <= by_part | silent
    assert by_part - {("part", "faults")} <= of
    assert all(BUILDING not in part for part, _ in by_part)


@pytest.mark.long
@pytest.mark.parametrize("path", REPORTS, ids=NAMES)
def test_a_report_is_what_the_command_makes(path: Path) -> None:
    """Made anew: `diagnose coverage PANEL --out knowledge/coverage/PANEL.md`."""
    panel = open_panel(path.stem)
    complaints = {each.name: each for each in fitting(panel, all_complaints().values())}
    assert as_markdown(cover(panel, complaints)) + "\n" == path.read_text(encoding="utf-8")
