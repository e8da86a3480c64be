"""The arguments of commands beside the session. Nothing heavy is imported: asking for help has to be quick."""

from __future__ import annotations

import argparse
from typing import Any


def add_learn(commands: Any) -> None:
    """The arguments of `learn`."""
    learn = commands.add_parser(
        "learn", help="count confirmed faults from saved sessions, to shift the failure rates",
        description="Counts confirmed faults from saved sessions into a file of your own. It shifts which causes are "
        "thought of first; the readings still decide.",
    )  # fmt: skip
    learn.add_argument("logs", nargs="*", metavar="LOG", help="the log of a session whose fault is confirmed")
    learn.add_argument(
        "--confirmed", metavar="PART:FAULT", help="what it was in the end, such as boil_element:open, for one LOG"
    )
    learn.add_argument("--cured", action="store_true", help="the remedy of each session's verdict cured it")
    learn.add_argument("--show", action="store_true", help="print bundled rates, counts and shifted rates")
    learn.add_argument("--forget", action="append", default=[], metavar="LOG", help="take back what a session told")
    learn.add_argument("--forget-all", action="store_true", help="take everything back: the bundled rates alone")
    add_rates(learn)


def add_rates(command: argparse.ArgumentParser) -> None:
    """The option that names the file of confirmed faults."""
    command.add_argument(
        "--rates", metavar="FILE", help="the file of confirmed faults; else rates.yaml in your data folder, if any"
    )
