"""`diagnose coverage`: the report of one panel, to a file or to the output."""

from __future__ import annotations

import sys
from pathlib import Path

from diagnose.coverage.gather import cover
from diagnose.coverage.pages import as_html, as_json, as_markdown
from diagnose.files import replace_file
from diagnose.opening import all_complaints, fitting, open_panel

FORMATS = {"markdown": as_markdown, "html": as_html, "json": as_json}
DONE = 0


def main_coverage(panel_name: str, form: str, out: str | None) -> int:
    """Write a panel's report; progress goes to the error stream.

    Raises
    ------
    UsageError
        Where there is no such panel.
    FileError
        With every problem of the panel's file, or where the report can't be written.
    """
    panel = open_panel(panel_name)
    complaints = {complaint.name: complaint for complaint in fitting(panel, all_complaints().values())}
    text = FORMATS[form](cover(panel, complaints, lambda line: print(line, file=sys.stderr)))
    if out is None:
        print(text)
    else:
        replace_file(Path(out), text + "\n")
    return DONE
