"""A log that was damaged: what is whole of it, and how it is gone on with from there. Nothing is thrown away."""

from __future__ import annotations

from pathlib import Path

from diagnose.errors import DiagnoseError, FileError, Problem
from diagnose.files import add_line, cut_file, new_file
from diagnose.log import Event, Header, cut_off, is_event, log_in
from diagnose.yamlfile import LARGEST_BYTES, read_bytes

_EVENTS = b"\nevents:"
_MOST_COPIES = 99


def whole_part(data: bytes) -> int:
    """How many bytes at the beginning of a log are whole: its header and every event before the first that is not one.

    All of them for a log that can be read; 0 for what has no header of a log.
    """
    size = len(data) - len(cut_off(data))
    if _reads(data[:size]):
        return size
    begun = data.find(_EVENTS)
    end = data.find(b"\n", begun + 1) + 1
    if begun < 0 or not end or not _reads(data[:end]):
        return 0
    while end < len(data):
        following = data.find(b"\n", end) + 1 or len(data)
        line = data[end:following]
        if line.strip() and not line.lstrip().startswith(b"#") and not is_event(line):
            break
        end = following
    return end if _reads(data[:end]) else 0


def _reads(data: bytes) -> bool:
    try:
        log_in(data, "")
    except DiagnoseError:
        return False
    return True


def read_whole_part(path: Path) -> tuple[Header, tuple[Event, ...], bool]:
    """What can be read of a log, and whether that is all of it. Raises FileError for what is no log."""
    data = read_bytes(path)
    size = whole_part(data)
    return (*log_in(data[:size] if size else data, str(path)), size == len(data))


def damaged_line(path: Path) -> str:
    """What is said where a damaged log is only read."""
    return f"{path}: the log is damaged; only what is before the damage counts here. 'diagnose resume' recovers it"


def recover(path: Path) -> list[str]:
    """Make a damaged log one that can be gone on with; lines that say what was lost, none where nothing was.

    What was cut off while it was written is taken off. Damage in the middle ends the log before it, and the file as it
    was is kept beside it.

    Raises FileError where the log can't be written, or the copy can't be kept.
    """
    data = read_bytes(path)
    if len(data) > LARGEST_BYTES:
        return []  # reading it says what is wrong
    size = whole_part(data)
    if size in (0, len(data)):
        return _with_an_end(path, data)  # whole; or no log at all
    lost = data[size:]
    try:
        if cut_off(data) == lost:
            cut_file(path, size)
            return ["The last line of the log was cut off while it was written. What was typed then is asked again."]
        copy = _copy(path, data)
        cut_file(path, size)
    except OSError as error:
        raise FileError(Problem(f"{path}: can't be written: {error.strerror}", "a place to write to")) from error
    line, events = data[:size].count(b"\n") + 1, len(log_in(data[:size], str(path))[1])
    after = sum(is_event(each) for each in lost.splitlines())
    return [
        f"The log is damaged from line {line} on. It goes on from the {events} entries before that.",
        f"{after} entries after the damage can be read, but do not count now." if after else
        "Nothing after the damage can be read.",
        f"The file as it was is kept: {copy}",
    ]  # fmt: skip


def _with_an_end(path: Path, data: bytes) -> list[str]:
    """An editor may leave the last line without its end, and the next event would run into it."""
    if data and not data.endswith(b"\n") and _reads(data):
        try:
            add_line(path, "\n")
        except OSError as error:
            raise FileError(Problem(f"{path}: can't be written: {error.strerror}", "a place to write to")) from error
    return []


def _copy(path: Path, data: bytes) -> Path:
    for number in range(1, _MOST_COPIES + 1):
        copy = path.with_name(f"{path.name}.damaged-{number}")
        try:
            new_file(copy, data)
        except FileExistsError:
            continue
        return copy
    raise FileError(Problem(f"{path}: there are {_MOST_COPIES} damaged copies beside it already", "some of them gone"))
