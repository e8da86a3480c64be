"""Where lines are shown and typed: a terminal with editing, or plain lines."""

from __future__ import annotations

import os
import re
import shutil
import textwrap
from collections.abc import Callable, Iterable, Sequence
from typing import TYPE_CHECKING, Any, Protocol, TextIO

from diagnose.ladder.draw import ASCII, LINES, Style
from diagnose.safety import STOP_KEY
from diagnose.screen.typing_help import Help
from diagnose.wording import Page, clean, clean_all, unseen_out

if TYPE_CHECKING:
    from prompt_toolkit import PromptSession

WIDEST = 100
NARROWEST = 20
MENU_LINES = 4  # below the prompt, for completions: more would push the check off a small screen
# The list of completions in the terminal's own colours: what is chosen is reversed, never told by colour alone.
_PLAIN, _CHOSEN = "bg:default fg:default", "bg:default fg:default reverse"
STYLE = {
    "completion-menu": _PLAIN, "completion-menu.completion": _PLAIN, "completion-menu.completion.current": _CHOSEN,
    "completion-menu.meta.completion": _PLAIN, "completion-menu.meta.completion.current": _CHOSEN,
    "scrollbar.background": _PLAIN, "scrollbar.button": _CHOSEN,
}  # fmt: skip
REFRESH_SECONDS = 10.0  # of the bottom line, for the minutes
Status = Callable[[int], str]
COMMAND_INDENT = "   "  # a line that begins with it and a command is never cut, so that it can be copied
# A number stays on a line with its unit.
_UNITS = re.compile(r"(?<=\d) (?=(?:%|°C|[kM]?Ω|k?V|m?A|k?W|K|min|deg)(?:\W|$))")
# What a terminal that knows ASCII alone shows instead.
_ASCII = str.maketrans(
    {
        "Ω": "ohm", "–": "-", "°": " deg ", "µ": "u", "²": "2", "…": "...", "×": "x", "−": "-", "±": "+/-", "’": "'",
    }
)  # fmt: skip


class Console(Protocol):
    """Somewhere to talk to a person."""

    status: Status | None  # the bottom line for a width, where the console has one

    @property
    def width(self) -> int:
        """Columns to fill."""

    @property
    def style(self) -> Style | None:
        """The characters to draw with; None where nothing is to be drawn, but told in sentences."""

    def say(self, lines: Iterable[str], title: str = "") -> None:
        """Show lines, under a heading if there is one."""

    def draw(self, lines: Iterable[str], title: str = "") -> None:
        """Show lines as they are, none wrapped: they fit `width` already."""

    def read(self, prompt: str, words: Sequence[str] = (), told: Help | None = None) -> str:
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


def wants_ascii() -> bool:
    """Whether the locale asks for plain ASCII: the first of LC_ALL, LC_CTYPE and LANG that is set is C or POSIX.

    Python itself answers such a locale with UTF-8 and LC_CTYPE=C.UTF-8 (PEP 538), so that one says nothing.
    """
    if os.environ.get("PYTHONIOENCODING") or os.environ.get("PYTHONUTF8") == "1":
        return False
    for name in ("LC_ALL", "LC_CTYPE", "LANG"):
        value = os.environ.get(name, "")
        if value and not (name == "LC_CTYPE" and value == "C.UTF-8"):
            return value in ("C", "POSIX")
    return False


class PlainConsole:
    """Plain lines: input that is not a terminal, a dumb one, or a screen reader. Input from elsewhere is echoed."""

    def __init__(
        self, source: TextIO, out: TextIO, width: int = 80, ascii_only: bool = False, drawn: bool = True
    ) -> None:
        self.source, self.out = source, out
        self.width = width
        self.echo = not source.isatty()
        self.encoding = "ascii" if ascii_only else out.encoding
        self.drawn = drawn
        self.status: Status | None = None

    @property
    def style(self) -> Style | None:
        """The characters to draw with; None for a screen reader."""
        return style_for(self.encoding) if self.drawn else None

    def say(self, lines: Iterable[str], title: str = "") -> None:
        """Show lines, a blank line before a heading."""
        self._show(wrapped([title, *lines] if title else lines, self.width), title)

    def draw(self, lines: Iterable[str], title: str = "") -> None:
        """Show lines as they are."""
        self._show([*([title] if title else []), *(unseen_out(line) for line in lines)], title)

    def _show(self, lines: list[str], title: str) -> None:
        for line in ["", *lines] if title else lines:
            self._line(line)
        self.out.flush()

    def _line(self, line: str) -> None:
        self.out.write(fitted(line, self.encoding) + "\n")

    def read(self, prompt: str, words: Sequence[str] = (), told: Help | None = None) -> str:
        """The next line. Raises EOFError where there is none."""
        self.out.write(fitted(f"{prompt}> ", self.encoding))
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
    """A terminal: lines can be edited, words completed, one key answers, and a bottom line tells how things stand."""

    def __init__(self, ascii_only: bool = False, **where: Any) -> None:
        from prompt_toolkit import PromptSession  # late, so that --help is quick
        from prompt_toolkit.history import InMemoryHistory
        from prompt_toolkit.styles import Style

        self._prompt: PromptSession[str] = PromptSession(
            history=InMemoryHistory(),
            enable_suspend=True,
            reserve_space_for_menu=MENU_LINES,
            style=Style.from_dict(STYLE),
            **where,
        )
        self._ascii = ascii_only
        self._one_key = False  # the last answer was given by one key, so that an Enter after it belongs to it
        self.status: Status | None = None

    @property
    def width(self) -> int:
        """Columns to fill: those of the terminal, but no wider than can be read."""
        return min(shutil.get_terminal_size((80, 24)).columns, WIDEST)

    @property
    def encoding(self) -> str:
        """What the terminal can show."""
        return "ascii" if self._ascii else self._prompt.output.encoding()

    @property
    def style(self) -> Style | None:
        """The characters to draw with."""
        return style_for(self.encoding)

    def say(self, lines: Iterable[str], title: str = "") -> None:
        """Show lines, the heading in bold where that is wanted."""
        self._show(wrapped(lines, self.width), wrapped([title], self.width) if title else [])

    def draw(self, lines: Iterable[str], title: str = "") -> None:
        """Show lines as they are, under a heading in bold."""
        self._show([unseen_out(line) for line in lines], wrapped([title], self.width) if title else [])

    def _show(self, lines: list[str], heading: list[str]) -> None:
        from prompt_toolkit.formatted_text import FormattedText
        from prompt_toolkit.shortcuts import print_formatted_text

        style = "" if colourless() else "bold"
        fragments = [("", "\n")] if heading else []
        fragments += [(style, f"{line}\n") for line in heading]
        fragments += [("", f"{line}\n") for line in lines]
        text = FormattedText([(look, fitted(piece, self.encoding)) for look, piece in fragments])
        print_formatted_text(text, end="", output=self._prompt.output)

    def read(self, prompt: str, words: Sequence[str] = (), told: Help | None = None) -> str:
        """A line that was typed. Raises EOFError on Ctrl-D, KeyboardInterrupt on Ctrl-C."""
        from diagnose.screen.keys import completer_for, one_key_bindings

        told = told if told is not None else Help(dict.fromkeys(words, ""))
        keys = one_key_bindings((*told.keys, STOP_KEY), after_one_key=self._one_key)
        self._prompt.key_bindings = keys.bindings
        self._prompt.completer = completer_for(told)
        self._prompt.complete_while_typing = False
        self._prompt.bottom_toolbar = self._toolbar(told) if self.status is not None else None
        self._prompt.refresh_interval = REFRESH_SECONDS if self.status is not None else 0
        typed = self._prompt.prompt(fitted(f"{prompt}> ", self.encoding))
        self._one_key = keys.used
        return typed

    def _toolbar(self, told: Help) -> Callable[[], str]:
        """The bottom line: what is being typed would count as, else how things stand."""

        def text() -> str:
            columns = shutil.get_terminal_size((80, 24)).columns - 1
            line = told.taken(self._prompt.default_buffer.text) or (self.status(columns) if self.status else "")
            return fitted(line, self.encoding)[:columns]

        return text


def style_for(encoding: str | None) -> Style:
    """The characters that an output of this encoding can show."""
    sample = "".join((LINES.good, LINES.plain, LINES.suspect, LINES.probe, LINES.corner_left, LINES.across, LINES.more))
    return LINES if fitted(sample, encoding) == sample else ASCII


def console_for(source: TextIO, out: TextIO, plain: bool = False, ascii_only: bool = False) -> Console:
    """A terminal where both ends are one that can be written on and nothing plain is asked for, else plain lines."""
    ascii_only = ascii_only or wants_ascii()
    if source.isatty() and out.isatty() and os.environ.get("TERM", "dumb") != "dumb" and not plain:
        return TerminalConsole(ascii_only)
    width = shutil.get_terminal_size((80, 24)).columns if out.isatty() else 80
    return PlainConsole(source, out, min(width, WIDEST), ascii_only, drawn=not plain)
