"""Where a session's log is kept: where it was asked for, else in the state folder, else here."""

from __future__ import annotations

import os
from datetime import datetime
from pathlib import Path

from diagnose.errors import FileError, Problem, UsageError
from diagnose.files import given_path
from diagnose.log import Header, LogFile
from diagnose.log_recovery import recover


def given_log(name: str | None) -> Path | None:
    """The log that was asked for; refused before any question if it is there already."""
    if name is None:
        return None
    path = given_path(name)
    if path.exists():
        wanted = "another name, or 'diagnose resume' to go on with it"
        raise UsageError(Problem(f"{name}: there is a file here already", wanted))
    return path


def begin_log(header: Header, given: Path | None) -> LogFile:
    """Begin the log where it was asked for, else in the state folder, else here."""
    if given is not None:
        kept = LogFile(given, log_folders)
        kept.begin(header)
        return kept.hold()
    stem = f"{Path(header.panel).stem}-{header.complaint}-{datetime.now():%Y%m%d-%H%M%S}"
    for folder in log_folders():
        try:
            folder.mkdir(parents=True, exist_ok=True)
            kept = LogFile(_unused(folder, stem), log_folders)
            kept.begin(header)
        except (OSError, FileError):
            continue
        return kept.hold()
    raise FileError(
        Problem("no place for the log: neither the state folder nor this one can be written to", "--log FILE")
    )


def log_folders() -> list[Path]:
    """Where a log may go, the best place first."""
    state = os.environ.get("XDG_STATE_HOME", "")
    home = os.environ.get("HOME", "")
    found = []
    if state and Path(state).is_absolute():  # the XDG specification says to pass over a relative one
        found.append(Path(state) / "diagnose")
    if home and Path(home).is_dir():
        found.append(Path(home) / ".local" / "state" / "diagnose")
    return [*found, Path.cwd()]


def _unused(folder: Path, stem: str) -> Path:
    path, count = folder / f"{stem}.yaml", 2
    while path.exists():
        path, count = folder / f"{stem}-{count}.yaml", count + 1
    return path


def going_on(path: Path) -> tuple[LogFile, list[str]]:
    """A log that is gone on with: held by this process, and made whole where it was damaged; lines that say so.

    Raises FileError where another process has it, or where it can't be made whole.
    """
    kept = LogFile(path, log_folders).hold()
    return kept, recover(path)
