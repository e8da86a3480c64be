"""A session's log: readable YAML, one event a line, on disk before the next question is asked."""

from __future__ import annotations

import json
import os
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from types import MappingProxyType
from typing import BinaryIO

from diagnose import __version__
from diagnose.errors import FileError, Place, Problem
from diagnose.safety import COMPETENCES, derived
from diagnose.yamlfile import Collector, Node, read
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

    def __init__(self, path: Path) -> None:
        self.path = path
        self._held: BinaryIO | None = None

    def hold(self) -> LogFile:
        """Keep other processes from this log until this one ends, however it ends: the kernel lets go of it then.

        Where the system has no such locks none is held. Raises FileError where another process has it.
        """
        try:
            import fcntl  # not everywhere
        except ImportError:
            return self
        try:
            held = self.path.open("rb")
            fcntl.flock(held, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError as error:
            held.close()
            raise FileError(
                Problem(
                    f"{self.path}: this session is open in another window or program",
                    "to go on there, or to leave it there first",
                )
            ) from error
        except OSError:
            return self  # reading it as a log says what is wrong
        self._held = held
        return self

    def begin(self, header: Header) -> None:
        """Start a new log. Raises FileError where one is there already or the folder can't be written to."""
        if self.path.exists():
            raise FileError(
                Problem(
                    f"{self.path}: there is a log here already", "another name, or 'diagnose resume' to go on with it"
                )
            )
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
        self._write("\n".join(lines) + "\n", "x")

    def add(self, event: Event) -> None:
        """Append one event, on disk when this returns. Raises FileError where it can't be written."""
        data = {"did": event.what, "of": event.of, "text": event.text}
        self._write(f"  - {json.dumps(data, ensure_ascii=False)}\n", "a")

    def _write(self, text: str, mode: str) -> None:
        try:
            with self.path.open(mode, encoding="utf-8", newline="\n") as file:
                file.write(text)
                file.flush()
                os.fsync(file.fileno())
        except OSError as error:
            raise FileError(
                Problem(f"{self.path}: can't be written: {error.strerror}", "a place to write to")
            ) from error


def read_log(path: Path) -> tuple[Header, tuple[Event, ...]]:
    """Read a log back.

    A last line that was cut off while it was written is left out, since it was never acted on.

    Raises
    ------
    FileError
        With every problem, each with its line and column.
    """
    collect = Collector()
    node = read(path)
    keys = collect.mapping(
        node,
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
