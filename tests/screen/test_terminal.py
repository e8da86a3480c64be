"""Whole sessions in a real pseudo-terminal, its screen read back by an emulator."""

from __future__ import annotations

import re
import time
from collections.abc import Iterator
from pathlib import Path

import pexpect
import pyte
import pytest

from diagnose.log import read_log
from diagnose.proving import Closing
from diagnose.session import AskCheck, Verdict
from tests.screen.helpers import COMMAND, ENVIRONMENT, START, proof_reply, recorded, reply

PATIENCE = 90.0


class _Terminal:
    """The command in a terminal of a given size."""

    def __init__(self, columns: int, arguments: list[str], **environment: str) -> None:
        self.screen = pyte.HistoryScreen(columns, 24, history=2000, ratio=1.0)
        self.stream = pyte.ByteStream(self.screen)
        self.child = pexpect.spawn(
            COMMAND[0],
            [*COMMAND[1:], *arguments],
            env={**ENVIRONMENT, **environment},
            dimensions=(24, columns),
        )
        self.raw = b""

    def lines(self) -> list[str]:
        """The screen as it stands."""
        return [line.rstrip() for line in self.screen.display]

    def wait(self, pattern: str) -> list[str]:
        """Read until the line that the cursor is on, or any where nothing is asked any more, matches."""
        end = time.monotonic() + PATIENCE
        while time.monotonic() < end:
            self._read()
            current = self.screen.display[self.screen.cursor.y].rstrip()
            if re.search(pattern, current):
                return self.lines()
            if not self.child.isalive():
                self._read()
                break
        raise AssertionError(f"no {pattern!r} on\n" + "\n".join(self.lines()))

    def _read(self) -> None:
        try:
            data = self.child.read_nonblocking(65536, timeout=0.1)
        except (pexpect.TIMEOUT, pexpect.EOF):
            return
        self.raw += data
        self.stream.feed(data)

    def type(self, text: str) -> None:
        """Type a line, and wait until it is taken."""
        self.child.send(text + "\r")
        end = time.monotonic() + PATIENCE
        while time.monotonic() < end and self.screen.display[self.screen.cursor.y].rstrip().endswith("> "[:1]):
            self._read()

    def all_text(self) -> str:
        """What was on the screen, with what scrolled off its top."""
        above = ["".join(row[x].data for x in range(self.screen.columns)) for row in self.screen.history.top]
        return "\n".join(line.rstrip() for line in [*above, *self.screen.display])

    def end(self) -> int:
        """Wait for the command to end; its exit code."""
        self.child.expect(pexpect.EOF, timeout=PATIENCE)
        self.raw += self.child.before or b""
        self.stream.feed(self.child.before or b"")
        self.child.close()
        return int(self.child.exitstatus if self.child.exitstatus is not None else -1)


@pytest.fixture
def log(tmp_path: Path) -> Iterator[Path]:
    yield tmp_path / "session.yaml"


def _options(log: Path) -> list[str]:
    return [*START, "--competence", "isolated", "--instruments", "multimeter", "--log", str(log)]


@pytest.mark.parametrize("columns", [80, 40])
def test_a_whole_session_in_a_terminal(columns: int, log: Path) -> None:
    """A session beside it knows what is asked: both come to the same end, each check whole on the screen."""
    terminal = _Terminal(columns, _options(log))
    beside, _ = recorded()
    number = 0
    while not isinstance(question := beside.question, Verdict):
        lines = terminal.wait(r"^(\d-\d or its word|reading in .*|done|yes or no|highest reading in V)>$")
        if isinstance(question, AskCheck):
            number += 1
            if columns == 80:
                assert any(line.startswith(f"Check {number} - ") for line in lines), "\n".join(lines)
        terminal.type(reply(question))
        beside.do("answer" if isinstance(question, AskCheck) else "confirm", reply(question))
    while not isinstance(proof := beside.proof, Closing):
        terminal.wait(r"^(yes or no|done|highest reading in V|pass or fail|reading in .*)>$")
        what, typed = proof_reply(proof)
        terminal.type(typed)
        beside.prove(typed) if what == "proof" else beside.do(what, typed)
    assert terminal.end() == 0
    text = terminal.all_text()
    assert "Every proof check passed. It may go back to work." in " ".join(text.split())
    assert "\nFound\n" in text and "burned open inside" in text
    assert "Traceback" not in text
    again = text.count("\nOnce more, please")
    asked = len(beside.session.answers) + text.count("\nStep - ") + again + len(beside.session.proved) + 1
    assert len(read_log(log)[1]) == asked


def test_ctrl_c_says_how_to_go_on(log: Path) -> None:
    terminal = _Terminal(80, _options(log))
    terminal.wait("or its word>$")
    terminal.child.sendcontrol("c")
    assert terminal.end() == 130
    assert "Left here. Nothing is lost." in terminal.all_text()
    assert f"diagnose resume {log}" in terminal.raw.decode().replace("\r\n", "\n")


def test_ctrl_d_is_a_polite_end(log: Path) -> None:
    terminal = _Terminal(80, _options(log))
    terminal.wait("or its word>$")
    terminal.child.sendcontrol("d")
    assert terminal.end() == 0
    assert "To go on:" in terminal.all_text()


def test_headings_are_bold_but_not_where_colour_is_unwanted(log: Path, tmp_path: Path) -> None:
    """NO_COLOR leaves words only."""
    plain = _Terminal(80, _options(log), NO_COLOR="1")
    plain.wait("or its word>$")
    plain.child.sendcontrol("c")
    plain.end()
    bold = _Terminal(80, _options(tmp_path / "other.yaml"))
    bold.wait("or its word>$")
    bold.child.sendcontrol("c")
    bold.end()
    assert re.search(rb"\x1b\[[0-9;]*1m[^\x1b]*Check 1", bold.raw)
    assert not re.search(rb"\x1b\[(?:0;)?(?:1|3\d|4\d|9\d)m", plain.raw)


def test_a_dumb_terminal_gets_plain_lines(log: Path) -> None:
    terminal = _Terminal(80, _options(log), TERM="dumb")
    terminal.wait("or its word>$")
    terminal.child.sendcontrol("d")
    assert terminal.end() == 0
    assert b"\x1b" not in terminal.raw
