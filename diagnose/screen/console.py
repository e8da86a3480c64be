"""Where lines are shown and typed: a terminal with editing, or plain lines."""

from __future__ import annotations

import os
import re
import shutil
import textwrap
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any, Protocol, TextIO

from diagnose.wording import Page, clean, clean_all, unseen_out

if TYPE_CHECKING:
    from prompt_toolkit import PromptSession

WIDEST = 100
NARROWEST = 20
COMMAND_INDENT = "   "  # a line that begins with it and a command is never cut, so that it can be copied
# A number stays on a line with its unit.
_UNITS = re.compile(r"(?<=\d) (?=(?:%|°C|[kM]?Ω|k?V|m?A|k?W|K|min|deg)(?:\W|$))")
# What a terminal that knows ASCII alone shows instead.
_ASCII = str.maketrans({"Ω": "ohm", "–": "-", "°": " deg ", "µ": "u", "²": "2", "…": "...", "×": "x"})


class Console(Protocol):
    """Somewhere to talk to a person."""

    def say(self, lines: Iterable[str], title: str = "") -> None:
        """Show lines, under a heading if there is one."""

    def read(self, prompt: str, words: Sequence[str] = ()) -> str:
        """Ask for a line. Raises EOFError at the end of the input, KeyboardInterrupt on Ctrl-C."""


def show(console: Console, page: Page) -> None:
    """Show a page, its prompt not."""
    console.say(page.lines, page.title)


def wrapped(lines: Iterable[str], width: int) -> list[str]:
    """Lines no wider than the screen, cleaned; what goes on is indented under its beginning."""
    out: list[str] = []
    for line in lines:
        if line.startswith(f"{COMMAND_INDENT}diagnose "):
            out.append(unseen_out(line))
            continue
        line = clean_all([line])[0]
        lead = len(line) - len(line.lstrip(" "))
        lead += 2 if line[lead : lead + 2] == "- " or lead == 0 else 4
        indent = " " * min(lead, 6)
        whole = _UNITS.sub("\u00a0", line)
        out += textwrap.wrap(whole, max(width, NARROWEST), subsequent_indent=indent, break_on_hyphens=False) or [""]
    return [line.replace("\u00a0", " ") for line in out]


def fitted(text: str, encoding: str | None) -> str:
    """Text that an output of this encoding can show."""
    try:
        text.encode(encoding or "ascii")
    except (UnicodeEncodeError, LookupError):
        return text.translate(_ASCII).encode("ascii", "replace").decode("ascii")
    return text


def colourless() -> bool:
    """Whether nothing but plain text is wanted: NO_COLOR is set, or the terminal is a dumb one."""
    return bool(os.environ.get("NO_COLOR")) or os.environ.get("TERM", "dumb") == "dumb"


class PlainConsole:
    """Plain lines: input that is not a terminal, or a dumb one. Input from elsewhere is echoed."""

    def __init__(self, source: TextIO, out: TextIO, width: int = 80) -> None:
        self.source, self.out = source, out
        self.width = width
        self.echo = not source.isatty()

    def say(self, lines: Iterable[str], title: str = "") -> None:
        """Show lines, a blank line before a heading."""
        if title:
            self._line("")
        for line in wrapped([title, *lines] if title else lines, self.width):
            self._line(line)
        self.out.flush()

    def _line(self, line: str) -> None:
        self.out.write(fitted(line, self.out.encoding) + "\n")

    def read(self, prompt: str, words: Sequence[str] = ()) -> str:
        """The next line. Raises EOFError where there is none."""
        self.out.write(fitted(f"{prompt}> ", self.out.encoding))
        self.out.flush()
        line = self.source.readline()
        if not line:
            self._line("")
            raise EOFError
        if self.echo:
            self._line(clean(line))
            self.out.flush()
        return line.rstrip("\r\n")


class TerminalConsole:
    """A terminal: lines can be edited, words completed, and headings stand out."""

    def __init__(self, **where: Any) -> None:
        from prompt_toolkit import PromptSession  # late, so that --help is quick
        from prompt_toolkit.history import InMemoryHistory

        self._prompt: PromptSession[str] = PromptSession(history=InMemoryHistory(), enable_suspend=True, **where)

    @property
    def width(self) -> int:
        """Columns to fill: those of the terminal, but no wider than can be read."""
        return min(shutil.get_terminal_size((80, 24)).columns, WIDEST)

    def say(self, lines: Iterable[str], title: str = "") -> None:
        """Show lines, the heading in bold where that is wanted."""
        from prompt_toolkit.formatted_text import FormattedText
        from prompt_toolkit.shortcuts import print_formatted_text

        style = "" if colourless() else "bold"
        fragments = []
        if title:
            fragments = [("", "\n"), *((style, f"{line}\n") for line in wrapped([title], self.width))]
        fragments += [("", f"{line}\n") for line in wrapped(lines, self.width)]
        text = FormattedText([(look, fitted(piece, self._prompt.output.encoding())) for look, piece in fragments])
        print_formatted_text(text, end="", output=self._prompt.output)

    def read(self, prompt: str, words: Sequence[str] = ()) -> str:
        """A line that was typed. Raises EOFError on Ctrl-D, KeyboardInterrupt on Ctrl-C."""
        from prompt_toolkit.completion import WordCompleter

        completer = WordCompleter(list(words), sentence=True)
        return self._prompt.prompt(f"{prompt}> ", completer=completer, complete_while_typing=False)


def console_for(source: TextIO, out: TextIO) -> Console:
    """A terminal where both ends are one that can be written on, else plain lines."""
    if source.isatty() and out.isatty() and os.environ.get("TERM", "dumb") != "dumb":
        return TerminalConsole()
    width = shutil.get_terminal_size((80, 24)).columns if out.isatty() else 80
    return PlainConsole(source, out, min(width, WIDEST))
