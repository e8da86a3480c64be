"""Sudden death: a scripted command whose file layer fails at its k-th operation, and what is left of its work.

The command runs in a copy of this process (a fork, so that nothing is loaded anew), with its own `os` in place of
the one that `diagnose.files` writes with. `python -m tests.hostile.deaths` goes through every operation and prints a
table.
"""

from __future__ import annotations

import errno
import os
import shutil
import signal
import sys
import tempfile
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

import diagnose.cli
import diagnose.files
import diagnose.log
import diagnose.opening
from diagnose.describe.drafts import NAME, Draft
from diagnose.errors import DiagnoseError
from diagnose.learning.ratesfile import read_learned
from diagnose.log import Event, read_log
from diagnose.log_recovery import recover
from diagnose.model import Model
from diagnose.proving import Closing
from diagnose.session import Verdict
from tests.screen.helpers import PANEL, START, proof_reply, recorded, reply, shared_model, step_on

# What is done at the k-th operation. The first three end the process there; the others are met by it.
FAULTS = (
    "killed before it",
    "killed after it",
    "torn write",
    "disk full",
    "read-only",
    "no permission",
    "sync fails",
    "folder gone",
)
ENDINGS = FAULTS[:3]
_REFUSALS = {
    "disk full": errno.ENOSPC,
    "read-only": errno.EROFS,
    "no permission": errno.EACCES,
    "sync fails": errno.EIO,
}
_WRITING = os.O_WRONLY | os.O_RDWR


class FaultyOs:
    """The operating system as `diagnose.files` sees it, with one fault in it from the k-th operation on."""

    def __init__(self, fault: str, at: int, folder: Path) -> None:
        self._fault, self._at, self._folder, self.done = fault, at, folder, 0

    def __getattr__(self, name: str) -> Any:
        return getattr(os, name)

    def _now(self) -> bool:
        """Whether the fault comes with this operation; one that is met lasts."""
        self.done += 1
        return self.done == self._at or (self.done > self._at > 0 and self._fault in _REFUSALS)

    def _do(self, kind: str, operation: Callable[[], Any]) -> Any:
        if not self._now():
            return operation()
        match self._fault:
            case "killed before it":
                os.kill(os.getpid(), signal.SIGKILL)
            case "killed after it" | "torn write":
                operation()
                os.kill(os.getpid(), signal.SIGKILL)
            case "disk full" if kind == "write":
                raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
            case "read-only" | "no permission" if kind in ("open", "replace", "link"):
                raise OSError(_REFUSALS[self._fault], os.strerror(_REFUSALS[self._fault]))
            case "sync fails" if kind == "fsync":
                raise OSError(errno.EIO, os.strerror(errno.EIO))
            case "folder gone":
                shutil.rmtree(self._folder, ignore_errors=True)
        return operation()

    def open(self, path: object, flags: int, mode: int = 0o777) -> int:
        """Open a file; what is opened only to be read is no operation that can fail here."""
        if not flags & _WRITING:
            return os.open(str(path), flags, mode)
        return int(self._do("open", lambda: os.open(str(path), flags, mode)))

    def write(self, number: int, data: bytes) -> int:
        """Write; torn, only half of it is on the disk; a full disk takes half and then nothing more."""
        half = data[: len(data) // 2]
        if self.done + 1 == self._at and self._fault == "torn write":
            return int(self._do("write", lambda: os.write(number, half)))
        if self.done + 1 == self._at and self._fault == "disk full" and half:
            self._at += 1
            self.done += 1
            return os.write(number, half)
        return int(self._do("write", lambda: os.write(number, data)))

    def fsync(self, number: int) -> None:
        """Put it on the disk."""
        self._do("fsync", lambda: os.fsync(number))

    def ftruncate(self, number: int, size: int) -> None:
        """Cut it off."""
        self._do("ftruncate", lambda: os.ftruncate(number, size))

    def replace(self, one: object, other: object) -> None:
        """Put it in place."""
        self._do("replace", lambda: os.replace(str(one), str(other)))  # noqa: PTH105

    def link(self, one: object, other: object) -> None:
        """Put it in place where nothing is."""
        self._do("link", lambda: os.link(str(one), str(other)))


@dataclass(frozen=True, slots=True)
class Ended:
    """How a command ended: its exit code (-9: killed), what it said, how much it said is kept, its operations."""

    code: int
    said: str
    acknowledged: int
    operations: int


def _model(*_: object) -> Model:
    return shared_model()


def run(arguments: Sequence[str], typed: str, folder: Path, fault: str = "", at: int = 0) -> Ended:
    """Run a command in a copy of this process, with a fault at an operation of its file layer."""
    shared_model()
    told, out, script = folder.parent / "told", folder.parent / "out", folder.parent / "typed"
    script.write_text(typed, encoding="utf-8")
    number = os.fork()
    if number == 0:
        _child(arguments, folder, fault, at, (script, out, told))
    _, status = os.waitpid(number, 0)
    marks = told.read_bytes()
    return Ended(
        os.waitstatus_to_exitcode(status),
        out.read_text(encoding="utf-8", errors="replace"),
        marks.count(b"."),
        int(marks.partition(b"=")[2] or b"0"),
    )


def _child(arguments: Sequence[str], folder: Path, fault: str, at: int, paths: tuple[Path, Path, Path]) -> None:
    script, out, told = paths
    marks = os.open(told, os.O_WRONLY | os.O_CREAT | os.O_TRUNC)
    source, target = os.open(script, os.O_RDONLY), os.open(out, os.O_WRONLY | os.O_CREAT | os.O_TRUNC)
    for number, place in ((source, 0), (target, 1), (target, 2)):
        os.dup2(number, place)
    sys.stdin, sys.stdout, sys.stderr = (
        open(place, "r" if place == 0 else "w", encoding="utf-8", closefd=False)  # noqa: SIM115
        for place in (0, 1, 2)
    )
    faulty = FaultyOs(fault, at, folder)
    diagnose.files.os = faulty  # type: ignore[assignment]
    diagnose.opening.open_model = _model
    _mark(diagnose.log.LogFile, "add", marks)
    _mark(Draft, "keep", marks)
    try:
        code = diagnose.cli.main(list(arguments))
        sys.stdout.flush()
        sys.stderr.flush()
        os.write(marks, b"=%d" % faulty.done)
    finally:
        os._exit(code)


def _mark(of: type, name: str, marks: int) -> None:
    """Leave a mark each time that a promise was made: this is kept."""
    real = getattr(of, name)

    def marked(self: Any, given: Any) -> Any:
        made = real(self, given)
        if of is not Draft or made is not None:
            os.write(marks, b".")
        return made

    setattr(of, name, marked)


MESSAGES = 4  # answers in the session that writes messages as well
# What is done, and what may be left of it -----------------------------------------------------------------------------


@lru_cache(maxsize=1)
def script() -> tuple[str, ...]:
    """What is typed from the first question to the last proof check."""
    going, _ = recorded()
    typed: list[str] = []
    while not isinstance(question := going.question, Verdict):
        typed.append(reply(question))
        step_on(going)
    while (proof := going.proof) is not None and not isinstance(proof, Closing):
        what, text = proof_reply(proof)
        typed.append(text)
        going.prove(text) if what == "proof" else going.do(what, text)
    return tuple(typed)


class LostError(AssertionError):
    """Something that was said to be kept is not there, or half of something is."""


@dataclass(frozen=True, slots=True)
class Scenario:
    """A command, what is typed, and a check of what is left, which says in a word what was lost."""

    name: str
    prepare: Callable[[Path], None]
    arguments: Callable[[Path], list[str]]
    typed: Callable[[], str]
    left: Callable[[Path, Ended], str]


def _nothing(folder: Path) -> None:
    """Nothing is there beforehand."""


def _session(folder: Path) -> list[str]:
    return [*START, "--competence", "isolated", "--instruments", "multimeter", "--log", str(folder / "log.yaml")]


def _phone(folder: Path) -> list[str]:
    return [*_session(folder), "--friend", "--friend-competence", "isolated", "--messages", str(folder / "messages")]


def _typed() -> str:
    return "".join(f"{line}\n" for line in script())


def _first_typed() -> str:
    return "".join(f"{line}\n" for line in script()[:MESSAGES])


def _as_typed(events: Sequence[Event]) -> list[tuple[str, str, str]]:
    return [(event.what, event.of, event.text) for event in events if event.what not in ("resume", "stop")]


_gone_on_with: set[bytes] = set()  # logs that were resumed already, byte for byte


def _log_left(folder: Path, ended: Ended) -> str:
    """The log is a beginning of what was typed, as long as was said; and it is gone on with."""
    wanted = _wanted()
    logs = sorted(folder.glob("*.yaml")) or sorted(folder.parent.glob("state/diagnose/*.yaml"))
    if not logs:
        if ended.acknowledged:
            raise LostError(f"{ended.acknowledged} answers were said to be kept, and there is no log")
        return "nothing was begun"
    log = logs[0]
    if log.read_bytes() in _gone_on_with:
        recover(log)
    else:
        _gone_on_with.add(log.read_bytes())
        again = run(["resume", str(log)], "", folder)
        if again.code != 0 or "Traceback" in again.said:
            raise LostError(f"it can't be gone on with: {again.said[-400:]}")
    kept = _as_typed(read_log(log)[1])
    if kept != wanted[: len(kept)]:
        raise LostError("what is kept is not what was typed")
    if len(kept) < ended.acknowledged:
        raise LostError(f"{ended.acknowledged} were said to be kept, {len(kept)} are")
    if len(kept) > ended.acknowledged + 1:
        raise LostError("more is kept than was typed")
    if ended.code not in (-signal.SIGKILL, 0, 2) or (ended.code == 2 and "expected" not in ended.said):
        raise LostError(f"exit code {ended.code}: {ended.said[-300:]}")
    whole = len(kept) == len(wanted) or ended.code == 0
    return "nothing" if len(kept) > ended.acknowledged or whole else "the answer being typed"


def _messages_left(folder: Path, ended: Ended) -> str:
    lost = _log_left(folder, ended)
    for path in folder.glob("messages/*.txt"):
        text = path.read_text(encoding="utf-8")
        if not text.endswith("\n") or len(text) < 40:
            raise LostError(f"half a message: {path.name}")
    return lost


@lru_cache(maxsize=1)
def _wanted() -> list[tuple[str, str, str]]:
    """The events of the session that nothing happened to."""
    with tempfile.TemporaryDirectory() as name:
        path = Path(name) / "log.yaml"
        path.write_bytes(_finished())
        events = _as_typed(read_log(path)[1])
    assert len(events) == len(script())
    return events


@lru_cache(maxsize=1)
def _finished() -> bytes:
    """The log of a whole session, proved."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name) / "work"
        folder.mkdir()
        run(_session(folder), _typed(), folder)
        return (folder / "log.yaml").read_bytes()


def _with_log(folder: Path) -> None:
    (folder / "done.yaml").write_bytes(_finished())


def _learn_twice(folder: Path) -> None:
    """One session counted already, another to be counted."""
    _with_log(folder)
    other = _finished().replace(b"\nbegun: ", b"\nbegun: ", 1)
    lines = [b'begun: "2020-01-01T00:00:00"' if line.startswith(b"begun:") else line for line in other.split(b"\n")]
    (folder / "other.yaml").write_bytes(b"\n".join(lines))
    run(["learn", str(folder / "other.yaml"), "--rates", str(folder / "rates.yaml")], "", folder)


def _learned_left(folder: Path, ended: Ended) -> str:
    path = folder / "rates.yaml"
    if not path.exists():
        if folder.exists():
            raise LostError("the counts are gone")
        return "the folder itself"
    count = len(read_learned(path).sources)
    if count not in (1, 2) or (ended.code == 0 and count != 2):
        raise LostError(f"{count} sessions are counted, and the command ended with {ended.code}")
    return "nothing" if count == 2 else "the count being written"


def _report_left(folder: Path, ended: Ended) -> str:
    path = folder / "report.html"
    if ended.code == 0 and folder.exists() and not path.exists():
        raise LostError("no report")
    if path.exists() and not path.read_text(encoding="utf-8").rstrip().endswith("</html>"):
        raise LostError("half a report")
    if not folder.exists():
        return "the folder itself"
    return "nothing" if path.exists() else "the report being written"


def _drawing(folder: Path) -> None:
    (folder / "drawing.svg").write_text("<svg>the old one</svg>", encoding="utf-8")


def _drawing_left(folder: Path, ended: Ended) -> str:
    path = folder / "drawing.svg"
    if not path.exists():
        return "the folder itself"
    text = path.read_text(encoding="utf-8")
    if not text.rstrip().endswith("</svg>"):
        raise LostError("half a drawing")
    return "the drawing being written" if "the old one" in text else "nothing"


DESCRIBED = ("1", "1", "boil", "3 kW", "16", "yes", "plug", "12")


def _draft_left(folder: Path, ended: Ended) -> str:
    state = folder / "state"
    kept = 0
    for path in (
        state / "diagnose" / NAME,
        folder.parent / "home" / ".local" / "state" / "diagnose" / NAME,
        folder.parent / NAME,
    ):
        if path.exists():
            draft = Draft()
            draft.paths = [path]
            answers = draft.read()
            if draft.set_aside is not None:
                raise LostError("a draft that can't be read")
            kept = max(kept, len(answers))
    if not state.exists() and not kept:
        return "the folder itself"
    if ended.code == 0 and not kept and "can be written to: what is answered is not kept" not in ended.said:
        raise LostError("nothing is kept, and nothing was said")
    if kept < ended.acknowledged and state.exists():
        raise LostError(f"{ended.acknowledged} answers were said to be kept, {kept} are")
    if ended.code == 0 and not kept:
        return "all, and said so"
    return "nothing" if kept > ended.acknowledged or kept == len(DESCRIBED) else "the answer being typed"


SCENARIOS = (
    Scenario("a session to its end", _nothing, _session, _typed, _log_left),
    Scenario("a session with messages", _nothing, _phone, _first_typed, _messages_left),
    Scenario(
        "learn",
        _learn_twice,
        lambda folder: ["learn", str(folder / "done.yaml"), "--rates", str(folder / "rates.yaml")],
        str,
        _learned_left,
    ),
    Scenario(
        "report --out",
        _with_log,
        lambda folder: ["report", str(folder / "done.yaml"), "--out", str(folder / "report.html")],
        str,
        _report_left,
    ),
    Scenario(
        "draw --out", _drawing, lambda folder: ["draw", PANEL, "--out", str(folder / "drawing.svg")], str, _drawing_left
    ),
    Scenario(
        "describe",
        _nothing,
        lambda folder: ["describe"],
        lambda: "".join(f"{line}\n" for line in DESCRIBED),
        _draft_left,
    ),
)


def attempt(scenario: Scenario, fault: str, at: int) -> tuple[str, Ended]:
    """One fault at one operation; what was lost, in words. Raises LostError for what may never be."""
    with tempfile.TemporaryDirectory(dir="/dev/shm" if os.access("/dev/shm", os.W_OK) else None) as name:
        folder = Path(name) / "work"
        folder.mkdir()
        before = {each: os.environ.get(each) for each in ("HOME", "XDG_STATE_HOME", "XDG_DATA_HOME")}
        here = Path.cwd()
        os.environ.update(
            HOME=f"{name}/home",
            XDG_DATA_HOME=f"{name}/data",
            XDG_STATE_HOME=str(folder / "state") if scenario.name == "describe" else f"{name}/state",
        )
        os.chdir(name)
        try:
            scenario.prepare(folder)
            ended = run(scenario.arguments(folder), scenario.typed(), folder, fault, at)
            if "Traceback" in ended.said or "a bug" in ended.said or ended.code == 3:
                raise LostError(ended.said[-600:])
            return scenario.left(folder, ended), ended
        except DiagnoseError as error:
            raise LostError(f"what is left can't be read: {error}") from error
        finally:
            os.chdir(here)
            for each, value in before.items():
                if value is None:
                    os.environ.pop(each, None)
                else:
                    os.environ[each] = value


def main() -> int:
    """Every fault at every operation of every scenario; 1 where anything was lost that may not be."""
    print(f"{'command':<26}{'fault':<20}{'injected':>9}  lost", flush=True)
    failed = 0
    only = sys.argv[1:]  # names of scenarios; none for all
    for scenario in [each for each in SCENARIOS if not only or each.name in only]:
        operations = attempt(scenario, "", 0)[1].operations
        for fault in FAULTS:
            counts: dict[str, int] = {}
            for at in range(1, operations + 1):
                try:
                    lost = attempt(scenario, fault, at)[0]
                except LostError as error:
                    lost = "WRONG"
                    failed += 1
                    print(
                        f"    {scenario.name}, {fault}, operation {at}: {str(error)[:600]}", file=sys.stderr, flush=True
                    )
                counts[lost] = counts.get(lost, 0) + 1
            told = ", ".join(f"{lost} {count}" for lost, count in sorted(counts.items()))
            print(f"{scenario.name:<26}{fault:<20}{operations:>9}  {told}", flush=True)
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
