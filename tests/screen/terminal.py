"""A real pseudo-terminal for the tests, its screen read back by an emulator."""

from __future__ import annotations

import re
import time

import pexpect
import pyte

from tests.screen.helpers import COMMAND, ENVIRONMENT

PATIENCE = 90.0
CURSOR_ASKED = b"\x1b[6n"  # a terminal that is asked where its cursor is says so, else there is no bottom line


class Terminal:
    """The command in a terminal of a given size."""

    def __init__(self, columns: int, arguments: list[str], rows: int = 24, **environment: str) -> None:
        self.screen = pyte.HistoryScreen(columns, rows, history=2000, ratio=1.0)
        self.stream = pyte.ByteStream(self.screen)
        self.child = pexpect.spawn(
            COMMAND[0],
            [*COMMAND[1:], *arguments],
            env={**ENVIRONMENT, **environment},
            dimensions=(rows, columns),
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
        if CURSOR_ASKED in data:
            self.child.send(f"\x1b[{self.screen.cursor.y + 1};{self.screen.cursor.x + 1}R")

    def resize(self, columns: int) -> None:
        """Make the window wider or narrower, as a phone that is turned."""
        self.screen.resize(self.screen.lines, columns)
        self.child.setwinsize(self.screen.lines, columns)

    def press(self, key: str) -> None:
        """One key, without Enter."""
        self.child.send(key)

    def wait_for(self, pattern: str) -> list[str]:
        """Read until any line of the screen matches."""
        end = time.monotonic() + PATIENCE
        while time.monotonic() < end:
            self._read()
            if any(re.search(pattern, line.rstrip()) for line in self.screen.display):
                return self.lines()
        raise AssertionError(f"no {pattern!r} on\n" + "\n".join(self.lines()))

    def type(self, text: str) -> None:
        """Type a line, and wait until it is taken."""
        self.child.send(text + "\r")
        end = time.monotonic() + PATIENCE
        while time.monotonic() < end and self.screen.display[self.screen.cursor.y].rstrip().endswith("> "[:1]):
            self._read()

    def colours(self) -> set[bytes]:
        """The control sequences that set a colour; none where nothing can be told by colour alone."""
        found = set()
        for sequence in re.findall(rb"\x1b\[([\d;]*)m", self.raw):
            codes = [int(code) for code in sequence.split(b";") if code]
            if any(code in range(30, 39) or code in range(40, 49) or code in range(90, 108) for code in codes):
                found.add(sequence)
        return found

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
