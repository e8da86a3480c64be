"""Files that are written whole or not at all."""

from __future__ import annotations

import contextlib
import os
from pathlib import Path

from diagnose.errors import FileError, Problem


def replace_file(path: Path, text: str, *, make_folder: bool = False) -> None:
    """Put a file in place: beside it first, on the disk, then in its place, so that it is never half there.

    Raises FileError where that can't be done; what was there stays.
    """
    beside = path.with_name(f".{path.name}.{os.getpid()}.new")
    try:
        if make_folder:
            path.parent.mkdir(parents=True, exist_ok=True)
        with beside.open("x", encoding="utf-8", newline="\n") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        beside.replace(path)
        folder = os.open(path.parent, os.O_RDONLY)
        try:
            os.fsync(folder)
        finally:
            os.close(folder)
    except OSError as error:
        with contextlib.suppress(OSError):
            beside.unlink(missing_ok=True)
        raise FileError(Problem(f"{path}: can't be written: {error.strerror}", "a place to write to")) from error
