"""Options of everything that talks in a terminal, and the commands `describe` and `completion`: nothing heavy."""

from __future__ import annotations

import argparse
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
        epilog="Examples:\n"
        "  diagnose completion bash > ~/.local/share/bash-completion/completions/diagnose\n"
        "  diagnose completion zsh > ~/.zfunc/_diagnose          (with ~/.zfunc in fpath)\n"
        "  diagnose completion fish > ~/.config/fish/completions/diagnose.fish",
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )  # fmt: skip
    completion.add_argument("shell", choices=SHELLS, metavar="SHELL", help=", ".join(SHELLS))
