"""Two people, one panel: one at the screen, one at the panel. The options for it.

The lower of their competences counts: who reads the words aloud has to know what they ask for, and who carries them
out has to be able to do it.
"""

from __future__ import annotations

from argparse import ArgumentParser, Namespace
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from diagnose.files import given_path

if TYPE_CHECKING:
    from diagnose.safety import Competence


@dataclass(frozen=True, slots=True)
class Friend:
    """Somebody else is at the panel: what they may do if it is known yet, and where messages to them go."""

    competence: Competence | None = None
    messages: Path | None = None


def add_friend(parser: ArgumentParser, competence: Callable[[str], str] | None) -> None:
    """The options of a session with somebody else at the panel; without `competence` theirs is not asked again."""
    parser.add_argument(
        "--friend", action="store_true",
        help="somebody else is at the panel: every step is worded to be read aloud or sent to them",
    )  # fmt: skip
    if competence is not None:
        parser.add_argument(
            "--friend-competence", type=competence, metavar="LEVEL",
            help="what they do themselves; the lower of yours and theirs counts",
        )  # fmt: skip
    parser.add_argument("--messages", metavar="FOLDER", help="write each message to them into a numbered file here")


def friend_of(options: Namespace) -> Friend | None:
    """Whether the options ask for somebody else at the panel, and what they say of them."""
    competence = getattr(options, "friend_competence", None)
    if not (options.friend or competence or options.messages):
        return None
    folder = given_path(options.messages) if options.messages else None
    return Friend(competence, folder)
