"""The command that makes a report of a session's log."""

from __future__ import annotations

import sys
from datetime import datetime
from pathlib import Path

from diagnose.errors import Problem, UsageError, printable
from diagnose.files import given_path, replace_file
from diagnose.log_recovery import damaged_line, read_whole_part
from diagnose.report.gather import report_of
from diagnose.report.html import html_of
from diagnose.report.markdown import markdown_of
from diagnose.report.text import text_of
from diagnose.report.trace import trace

FORMATS = {"html": html_of, "markdown": markdown_of, "text": text_of}


def main_report(log: str, form: str, out: str | None) -> int:
    """Make a report and print it, or write it to a file; returns the exit code.

    Raises
    ------
    UsageError
        Where there is a file already, before anything is worked out.
    FileError
        Where the log can't be read, or doesn't fit the panel any more.
    """
    path = None if out is None else given_path(out)
    if path is not None and path.exists():
        raise UsageError(Problem(f"{out}: there is a file here already", "another name"))
    header, events, whole = read_whole_part(given_path(log))
    if not whole:
        print(printable(damaged_line(given_path(log))), file=sys.stderr)
    report = report_of(trace(header, events), Path(log).name, f"{datetime.now():%Y-%m-%d %H:%M}")
    text = FORMATS[form](report)
    if path is None:
        print(text, end="")
        return 0
    replace_file(path, text)
    print(printable(f"Report: {out}"), file=sys.stderr)
    return 0
