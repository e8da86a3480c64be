"""Options of everything that talks in a terminal, and the commands `describe` and `completion`: nothing heavy."""

from __future__ import annotations

import argparse
import sys
from typing import Any

SHELLS = ("bash", "zsh", "fish")


def add_console(command: argparse.ArgumentParser) -> None:
    """The options of how a terminal is used."""
    command.add_argument(
        "--plain",
        action="store_true",
        help="plain lines that are never redrawn, for a screen reader",
    )
    command.add_argument("--ascii", action="store_true", help="nothing but ASCII, as with LANG=C")


def add_session_console(command: argparse.ArgumentParser) -> None:
    """The same for a session."""
    add_console(command)
    command.add_argument("--ladder", action="store_true", help="draw the path of the current with each check")


def add_completion(commands: Any) -> None:
    """The arguments of `completion`."""
    completion = commands.add_parser(
        "completion", help="completion of commands and options for a shell",
        description="Prints what makes a shell complete commands, options, panels and complaints.",
    )  # fmt: skip
    completion.add_argument("shell", choices=SHELLS, metavar="SHELL", help=", ".join(SHELLS))


def add_describe(commands: Any) -> None:
    """The arguments of `describe`."""
    describe = commands.add_parser(
        "describe", help="describe your panel: a dozen questions make its file",
        description="Asks a dozen questions, starts from the nearest panel that comes along, writes a panel file with "
        "comments, reads it back and draws it. With FILE it changes that one.",
    )  # fmt: skip
    describe.add_argument("file", nargs="?", metavar="FILE", help="a panel file to change; else a new one is made")
    describe.add_argument("--out", metavar="FILE", help="where the new file goes; else it is asked")
    add_console(describe)


def run_describe(options: argparse.Namespace) -> int:
    """Run `describe`; returns the exit code."""
    from diagnose.errors import Problem, UsageError  # late, as all that is heavy
    from diagnose.screen.console import console_for
    from diagnose.screen.describing import describe

    if options.file is not None and options.out is not None:
        raise UsageError(Problem("--out is for a new file, and FILE is changed in place", "one of the two"))
    return describe(console_for(sys.stdin, sys.stdout, options.plain, options.ascii), options.file, options.out)
