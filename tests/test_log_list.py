"""One process, one log; and the sessions that can be gone on with."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from diagnose.errors import FileError, UsageError
from diagnose.log import FORMAT, Event, Header, LogFile, read_log
from diagnose.log_list import open_sessions
from diagnose.screen.console import PlainConsole
from diagnose.screen.resuming import ask_session

HEADER = Header("shed_single_kettle", "element_cold", "element", "outside", ())
HOLDER = """
import sys, time
from pathlib import Path
from diagnose.log import LogFile
held = LogFile(Path(sys.argv[1])).hold()
print("held", flush=True)
time.sleep(120)
"""


def _log(folder: Path, name: str, *events: tuple[str, str]) -> Path:
    path = folder / f"{name}.yaml"
    log = LogFile(path)
    log.begin(HEADER)
    for what, text in events:
        log.add(Event(what, "somewhere", text))
    return path


def test_a_log_is_one_process_s(tmp_path: Path) -> None:
    """Another one is told, and nothing is left behind by one that was killed."""
    path = _log(tmp_path, "one")
    with subprocess.Popen([sys.executable, "-c", HOLDER, str(path)], stdout=subprocess.PIPE, text=True) as holder:
        assert holder.stdout is not None and holder.stdout.readline() == "held\n"
        with pytest.raises(
            FileError, match="this session is open in another window or program; expected to go on there"
        ):
            LogFile(path).hold()
        os.kill(holder.pid, signal.SIGKILL)
    assert holder.returncode == -signal.SIGKILL
    LogFile(path).hold().add(Event("skip", "somewhere", ""))
    assert len(read_log(path)[1]) == 1


def test_a_held_log_can_be_read_and_written_by_its_own_process(tmp_path: Path) -> None:
    path = _log(tmp_path, "one")
    held = LogFile(path).hold()
    held.add(Event("answer", "somewhere", "12"))
    assert [event.text for event in read_log(path)[1]] == ["12"]


def test_a_log_of_the_first_format_is_read(tmp_path: Path) -> None:
    """What was written before answers could be changed; one of a later format is refused with what is expected."""
    path = _log(tmp_path, "one", ("answer", "lit"))
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace(f"format: {FORMAT}", "format: 1"), encoding="utf-8")
    assert len(read_log(path)[1]) == 1
    path.write_text(text.replace(f"format: {FORMAT}", f"format: {FORMAT + 1}"), encoding="utf-8")
    with pytest.raises(FileError, match=f"{FORMAT + 1}.*expected"):
        read_log(path)


def test_open_sessions_are_those_that_can_be_gone_on_with(tmp_path: Path) -> None:
    """Stopped for now, mended and not proved: yes. Ended by a danger, referred, proved: no. The last touched first."""
    wanted = [
        _log(tmp_path, "begun"),
        _log(tmp_path, "left", ("answer", "lit"), ("stop", "stopped")),
        _log(tmp_path, "mended", ("answer", "lit"), ("repaired", "yes")),
    ]
    _log(tmp_path, "danger", ("stop", "smoke"))
    _log(tmp_path, "referred", ("refer", ""))
    _log(tmp_path, "proved", ("repaired", "yes"), ("passed", "1"))
    (tmp_path / "no_log.yaml").write_text("panel: [", encoding="utf-8")
    for number, path in enumerate(wanted):
        os.utime(path, (1000 + number, 1000 + number))
    found = open_sessions([tmp_path, tmp_path / "nowhere"])
    assert [kept.path for kept in found] == wanted[::-1]
    assert [(kept.answers, kept.mended) for kept in found] == [(1, True), (1, False), (0, False)]


class _Typed(PlainConsole):
    def __init__(self, *lines: str) -> None:
        import io

        super().__init__(io.StringIO("".join(f"{line}\n" for line in lines)), io.StringIO())

    @property
    def shown(self) -> str:
        import io

        assert isinstance(self.out, io.StringIO)
        return self.out.getvalue()


def test_a_session_is_chosen_by_its_number(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path))
    monkeypatch.setenv("HOME", str(tmp_path / "home"))
    monkeypatch.chdir(tmp_path)
    with pytest.raises(UsageError, match="no session is open where sessions are kept; expected the log of one"):
        ask_session(_Typed(""))
    (tmp_path / "diagnose").mkdir()
    first = _log(tmp_path / "diagnose", "first", ("answer", "lit"))
    second = _log(tmp_path / "diagnose", "second")
    os.utime(first, (1000, 1000))
    console = _Typed("7", "2")
    assert ask_session(console) == first
    assert "'7' is none of these; expected 1 to 2" in console.shown
    assert "shed_single_kettle: an element stays cold, element (1 answer)" in " ".join(console.shown.split())
    assert ask_session(_Typed("")) == second
