"""The three standard streams as they are found, and what is said where the system refuses something."""

from __future__ import annotations

import errno
import os
import sys

from diagnose.errors import printable

_NO_ROOM = (errno.ENOSPC, errno.EDQUOT, errno.EFBIG, errno.EIO)


def ready_streams() -> None:
    """What can't be shown or read is replaced, and a stream that was closed beforehand is one that holds nothing."""
    for name, mode in (("stdin", "r"), ("stdout", "w"), ("stderr", "w")):
        stream = getattr(sys, name)
        if stream is None:
            setattr(sys, name, open(os.devnull, mode, encoding="utf-8"))  # noqa: PTH123, SIM115
        elif hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")


def nothing_more_out() -> None:
    """Nothing is flushed any more where whoever read the output went away, or where there is no room for it."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def said_of(error: OSError) -> str:
    """What a person can mend of an error of the system: a path that can't be used, no room; empty for anything else."""
    if error.filename is not None:
        name = os.fsdecode(error.filename) if isinstance(error.filename, bytes | str) else str(error.filename)
        shortened = name if len(name) <= 200 else f"{name[:200]}..."
        return printable(f"{shortened}: {error.strerror}; expected a path that can be used")
    if error.errno in _NO_ROOM:
        nothing_more_out()
        return f"the output can't be written: {error.strerror}; expected room for it"
    return ""
