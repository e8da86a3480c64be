"""Which session to go on with, where no log is named."""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path

from diagnose.errors import Problem, UsageError
from diagnose.log_list import Kept, open_sessions
from diagnose.log_places import log_folders
from diagnose.opening import all_complaints
from diagnose.screen.console import Console
from diagnose.wording import clean


def ask_session(console: Console) -> Path:
    """List the open sessions, the last one first, and ask for one; Enter is the first.

    Raises
    ------
    UsageError
        Where there is none.
    EOFError, KeyboardInterrupt
        Where the person left.
    """
    kept = open_sessions(log_folders())
    if not kept:
        raise UsageError(Problem("no session is open where sessions are kept", "the log of one, or 'diagnose start'"))
    console.say(_lines(kept), "Open sessions, the last one first")
    while True:
        typed = console.read("number, Enter for 1").strip()
        if not typed:
            return kept[0].path
        if re.fullmatch(r"\d{1,2}", typed) and 1 <= int(typed) <= len(kept):
            return kept[int(typed) - 1].path
        console.say([f"'{clean(typed)}' is none of these; expected 1 to {len(kept)}"])


def _lines(kept: Sequence[Kept]) -> list[str]:
    lines = []
    for number, each in enumerate(kept, start=1):
        complaint = all_complaints().get(each.header.complaint)
        what = complaint.title if complaint is not None else each.header.complaint
        about = f", {each.header.subject.replace('_', ' ')}" if each.header.subject else ""
        count = "no answer yet" if not each.answers else f"{each.answers} answer{'s' if each.answers > 1 else ''}"
        begun = each.header.begun[:16].replace("T", " ") or "undated"
        mended = (", mended, to be proved" if each.mended else "") + (", damaged after that" if each.damaged else "")
        lines.append(f"{number:>2}  {begun}  {Path(each.header.panel).stem}: {what}{about} ({count}{mended})")
    return lines
