"""A session's log: readable YAML, one event a line, on disk before the next question is asked."""

from __future__ import annotations

import json
import os
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from types import MappingProxyType

from diagnose import __version__
from diagnose.errors import FileError, Place, Problem
from diagnose.files import add_line, new_file
from diagnose.safety import COMPETENCES, derived
from diagnose.yamlfile import LARGEST_BYTES, Collector, Node, parse, read_bytes
from diagnose.yamlfile import Mapping as MappingNode

FORMAT = 2  # 2: an answer may be changed, and a check put off; what is written in 1 is read as well
OLDEST = 1
EVENTS = (
    "confirm",
    "answer",
    "skip",
    "back",
    "change",
    "lower",
    "refer",
    "resume",
    "stop",
    "repaired",
    "passed",
    "failed",
    "declined",
    "works",
)


@dataclass(frozen=True, slots=True)
class Header:
    """What a session was started with."""

    panel: str  # a bundled panel's name, or a file's path
    complaint: str
    subject: str
    competence: str
    instruments: tuple[str, ...]
    begun: str = ""  # when; tells apart two sessions that went alike
    rates: str = ""  # a hash of the file that shifted the failure rates, where one did
    factors: Mapping[str, float] = field(default_factory=dict)  # what that file made of them
    interview: tuple[str, ...] = ()  # what the person said of themselves, from which the competence follows


@dataclass(frozen=True, slots=True)
class Event:
    """One thing the person did: answered a check, confirmed a step, skipped, went back, stopped."""

    what: str
    of: str  # check id or step
    text: str
    place: Place | None = None


class LogFile:
    """Appends events to a log, each flushed to the disk."""

    def __init__(self, path: Path, folders: Callable[[], Iterable[Path]] = tuple) -> None:
        """`folders` are where a copy goes where the log itself is gone in the middle of a session."""
        self.path = path
        self._folders = folders
        self._held: int | None = None  # a number, not a file: it is held until the process ends

    def hold(self) -> LogFile:
        """Keep other processes from this log until this one ends, however it ends: the kernel lets go of it then.

        Where the system has no such locks none is held. Raises FileError where another process has it.
        """
        try:
            import fcntl  # not everywhere
        except ImportError:
            return self
        try:
            held = os.open(self.path, os.O_RDONLY)
        except OSError:
            return self  # reading it as a log says what is wrong
        try:
            fcntl.flock(held, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError as error:
            os.close(held)
            raise FileError(
                Problem(
                    f"{self.path}: this session is open in another window or program",
                    "to go on there, or to leave it there first",
                )
            ) from error
        except OSError:
            os.close(held)
            return self  # a file system without locks
        self._held = held
        return self

    def begin(self, header: Header) -> None:
        """Start a new log, whole or not at all.

        Raises FileError where one is there already or the folder can't be written to.
        """
        lines = [
            "# A diagnosis session. Each event is a line; 'diagnose resume' goes on from the last.",
            f"format: {FORMAT}",
            f"version: {json.dumps(__version__)}",
            f"panel: {json.dumps(header.panel, ensure_ascii=False)}",
            f"complaint: {header.complaint}",
            f"subject: {json.dumps(header.subject)}",
            f"competence: {header.competence}",
            f"instruments: {json.dumps(list(header.instruments))}",
            *([f"begun: {json.dumps(header.begun)}"] if header.begun else []),
        ]
        if header.interview:
            lines.append(f"interview: {json.dumps(list(header.interview))}")
        if header.rates:
            lines.append(f"rates: {json.dumps({'file': header.rates, 'factors': dict(header.factors)})}")
        lines.append("events:")
        try:
            new_file(self.path, "\n".join(lines) + "\n")
        except FileExistsError as error:
            wanted = "another name, or 'diagnose resume' to go on with it"
            raise FileError(Problem(f"{self.path}: there is a log here already", wanted)) from error
        except OSError as error:
            raise FileError(
                Problem(f"{self.path}: can't be written: {error.strerror}", "a place to write to")
            ) from error

    def add(self, event: Event) -> None:
        """Append one event, on disk when this returns; else nothing of it stays.

        Raises FileError where it can't be written, which says what is kept and where. Where the log itself is gone, all
        of it is kept in a copy elsewhere, with this event.
        """
        data = {"did": event.what, "of": event.of, "text": event.text}
        line = f"  - {json.dumps(data, ensure_ascii=False)}\n"
        try:
            add_line(self.path, line, self._held)
        except (FileNotFoundError, NotADirectoryError) as error:
            raise FileError(self._gone(line)) from error
        except OSError as error:
            raise FileError(
                Problem(
                    f"{self.path}: can't be written: {error.strerror}. This one answer is not kept, all before it are",
                    f"room to write, then 'diagnose resume {self.path}'",
                )
            ) from error

    def missed(self) -> tuple[Problem, ...]:
        """Nothing where the log is still there; else what was done about it, as where an event is added to it."""
        try:
            if self._held is None or os.path.samestat(self.path.stat(), os.fstat(self._held)):
                return ()
        except OSError:
            pass
        return (self._gone(""),)

    def _gone(self, line: str) -> Problem:
        """What is said where the log was taken away; a copy of what it held is put somewhere else first."""
        if self._held is None:
            return Problem(f"{self.path}: the log is gone, and its answers with it", "the log left where it is")
        whole = os.pread(self._held, LARGEST_BYTES, 0).decode("utf-8", "replace") + line
        for folder in self._folders():
            path = folder / f"{self.path.stem}-kept.yaml"
            try:
                folder.mkdir(parents=True, exist_ok=True)
                new_file(path, whole)
            except OSError:
                continue
            return Problem(f"{self.path}: the log is gone. All answers are kept in {path}", f"'diagnose resume {path}'")
        return Problem(f"{self.path}: the log is gone, and no other place can be written to", "a place to write to")


def read_log(path: Path) -> tuple[Header, tuple[Event, ...]]:
    """Read a log back.

    A last line that was cut off while it was written is left out, since it was never acted on.

    Raises
    ------
    FileError
        With every problem, each with its line and column.
    """
    data = read_bytes(path)
    return log_in(data[: len(data) - len(cut_off(data))], str(path))


def cut_off(data: bytes) -> bytes:
    """What stands behind the last event that is whole, where the last line has no end and is no event; else nothing."""
    start = data.rfind(b"\n") + 1
    if start == len(data) or b"\nevents:" not in data[:start] or is_event(data[start:]):
        return b""
    return data[start:]


def is_event(line: bytes) -> bool:
    """Whether one line of a log is a whole event."""
    collect = Collector()
    try:
        events = list(_events(collect, parse(line, "")))
    except FileError:
        return False
    return len(events) == 1 and not collect.problems


def log_in(data: bytes, name: str) -> tuple[Header, tuple[Event, ...]]:
    """A log from its bytes; `name` is what messages call it. Raises FileError with every problem."""
    collect = Collector()
    keys = collect.mapping(
        parse(data, name),
        required=("format", "panel", "complaint", "subject", "competence", "instruments", "events"),
        optional=("version", "begun", "rates", "interview"),
    )
    collect.raise_errors()
    if collect.whole(keys["format"], OLDEST, FORMAT) is None:
        collect.raise_errors()
    header = Header(
        collect.text(keys["panel"]),
        collect.text(keys["complaint"]),
        collect.text(keys["subject"]),
        collect.text(keys["competence"]),
        tuple(collect.text(item) for item in collect.sequence(keys["instruments"])),
        collect.text(keys["begun"]) if "begun" in keys else "",
        *_rates(collect, keys.get("rates")),
        _interview(collect, keys),
    )
    events = tuple(_events(collect, keys["events"]))
    collect.raise_errors()
    return header, events


def _interview(collect: Collector, keys: Mapping[str, Node]) -> tuple[str, ...]:
    """What was said of themselves; a competence beyond what follows from it is an error, since it is never raised."""
    said = tuple(collect.text(item) for item in collect.sequence(keys["interview"])) if "interview" in keys else ()
    follows, named = derived(said), collect.text(keys["competence"])
    if named in COMPETENCES and COMPETENCES.index(named) > COMPETENCES.index(follows):
        collect.error(
            keys["competence"],
            f"the competence is '{named}', but '{follows}' is all that follows from the log's own interview",
            f"{follows}, or a new session that asks again",
        )
    return said


def _rates(collect: Collector, node: Node | None) -> tuple[str, Mapping[str, float]]:
    if node is None:
        return "", MappingProxyType({})
    keys = collect.mapping(node, required=("file", "factors"))
    if not {"file", "factors"} <= keys.keys():
        return "", MappingProxyType({})
    factors = {}
    if isinstance(keys["factors"], MappingNode):
        factors = {key.text: collect.number(value, 1e-3, 1e3) or 1.0 for key, value in keys["factors"].entries}
    else:
        collect.error(keys["factors"], "the factors are not a mapping", "kinds and faults with numbers")
    return collect.text(keys["file"]), MappingProxyType(factors)


def _events(collect: Collector, node: Node) -> Iterable[Event]:
    if not isinstance(node, MappingNode) and getattr(node, "text", None) in ("", "null", "~"):
        return  # nothing was answered yet
    for item in collect.sequence(node):
        keys: Mapping[str, Node] = collect.mapping(item, required=("did", "of", "text"))
        if not {"did", "of", "text"} <= keys.keys():
            continue
        what = collect.choice(keys["did"], EVENTS)
        if what is not None:
            yield Event(what, collect.text(keys["of"]), collect.text(keys["text"]), item.place)
