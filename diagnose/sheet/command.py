"""The command that compiles a sheet and writes it."""

from __future__ import annotations

import sys
from collections.abc import Sequence

from diagnose.errors import Problem, UsageError, printable
from diagnose.files import given_path, replace_file
from diagnose.learning.using import shifted_rates
from diagnose.opening import competence_named, open_model
from diagnose.session import start
from diagnose.sheet.compile import compile_sheet
from diagnose.sheet.page import html_of
from diagnose.sheet.text import text_of

FORMATS = {"html": html_of, "text": text_of}


def main_sheet(
    panel: str,
    complaint: str,
    part: str | None,
    competence: str,
    instruments: Sequence[str],
    form: str,
    out: str | None,
    rates: str | None,
) -> int:
    """Compile a sheet and print it, or write it to a file; returns the exit code.

    Raises UsageError, before anything is worked out, where there is a file already.
    """
    path = None if out is None else given_path(out)
    if path is not None and path.exists():
        raise UsageError(Problem(f"{out}: there is a file here already", "another name"))
    shifted = shifted_rates(rates)
    if shifted.line:
        print(printable(shifted.line), file=sys.stderr)
    model = open_model(panel, complaint, part, shifted.factors)
    sheet = compile_sheet(start(model, competence_named(competence), frozenset(instruments)))
    text = FORMATS[form](sheet.words)
    if path is None:
        print(text, end="")
        return 0
    replace_file(path, text)
    words = sheet.words
    print(
        f"{printable(str(out))}: {len(words.cards)} steps; of 100 faults {100 * words.found:.0f} end at the part or "
        f"a short list, {100 * words.helped:.0f} in a call for help."
    )
    return 0
