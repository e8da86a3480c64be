"""Sessions that can be gone on with, from the logs where they are kept. Read without working anything out."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

from diagnose.errors import DiagnoseError
from diagnose.log import Event, Header
from diagnose.log_recovery import read_whole_part
from diagnose.safety import PLAIN_STOP

MOST = 20
PROVED = ("passed", "failed", "declined")


@dataclass(frozen=True, slots=True)
class Kept:
    """A session that was begun and not brought to its end."""

    path: Path
    header: Header
    answers: int
    mended: bool  # its verdict was acted on, and proof checks are left
    damaged: bool = False  # only a part of it can be read


def open_sessions(folders: Iterable[Path]) -> list[Kept]:
    """The sessions in these folders that can be gone on with, the last touched first; what is no log is passed over."""
    paths = {path for folder in folders if folder.is_dir() for path in folder.glob("*.yaml") if path.is_file()}
    found = []
    for path in sorted(paths, key=lambda each: each.stat().st_mtime, reverse=True):
        try:
            header, events, whole = read_whole_part(path)
        except (DiagnoseError, OSError):
            continue
        if not _is_over(events):
            answers = sum(event.what == "answer" for event in events) - sum(event.what == "back" for event in events)
            mended = any(event.what == "repaired" for event in events)
            found.append(Kept(path, header, max(answers, 0), mended, not whole))
        if len(found) == MOST:
            break
    return found


def _is_over(events: Sequence[Event]) -> bool:
    """Whether a danger or a referral ended it, or its proof checks are begun: those were done in one go."""
    if not events:
        return False
    last = events[-1]
    return last.what in PROVED or any(map(_ends, events))


def _ends(event: Event) -> bool:
    return event.what == "refer" or (event.what == "stop" and event.text not in ("", PLAIN_STOP))
