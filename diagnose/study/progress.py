"""A progress bar on the error stream: none where nobody watches a terminal."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from time import monotonic
from typing import TextIO

WIDTH = 40


def line(done: int, of: int, seconds: float) -> str:
    """The bar, how much is done, and about how long the rest takes."""
    share = done / of if of else 1.0
    full = int(share * WIDTH)
    left = f", about {seconds / share - seconds:.0f} s left" if 0 < share < 1 else ""
    return f"[{'#' * full}{'.' * (WIDTH - full)}] {done} of {of} parts{left}"


@contextmanager
def bar(stream: TextIO | None = None) -> Iterator[Callable[[int, int], None]]:
    """What to call with how many parts of the work are done, and of how many."""
    shown = stream or sys.stderr
    begun = monotonic()
    watched = shown.isatty()

    def report(done: int, of: int) -> None:
        if watched:
            shown.write(f"\r{line(done, of, monotonic() - begun):<79}")
            shown.flush()

    try:
        yield report
    finally:
        if watched:
            shown.write("\r" + " " * 79 + "\r")
            shown.flush()
