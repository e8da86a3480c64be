"""Examples and exit codes for the help of every command. Each example is one that the parser takes; a test says so."""

from __future__ import annotations

import argparse
import textwrap
from collections.abc import Mapping
from typing import Any

EXAMPLES: Mapping[str, tuple[str, ...]] = {
    "start": (
        "diagnose start",
        "diagnose start --panel cellar_two_kettle --complaint element_cold --part boil_element",
        "diagnose start --panel garage.yaml --competence outside --instruments none --ladder",
        "diagnose start --friend --messages to_them",
    ),
    "resume": ("diagnose resume", "diagnose resume session.yaml", "diagnose resume session.yaml --plain"),
    "replay": ("diagnose replay cases",),
    "expect": (
        "diagnose expect cellar_two_kettle",
        "diagnose expect garage.yaml --setup running --part boil_element",
        "diagnose expect cellar_two_kettle --fault boil_relay:open --format markdown",
    ),
    "review": ("diagnose review garage.yaml",),
    "kinds": ("diagnose kinds --format markdown",),
    "draw": (
        "diagnose draw garage.yaml --out garage.svg",
        "diagnose draw cellar_two_kettle --view one-line --fault boil_element:open --out one_line.svg",
    ),
    "study": ("diagnose study shed_single_kettle",),
    "describe": ("diagnose describe", "diagnose describe --out garage.yaml", "diagnose describe garage.yaml"),
    "completion": (
        "diagnose completion bash > ~/.local/share/bash-completion/completions/diagnose",
        "diagnose completion zsh > ~/.zfunc/_diagnose",
        "diagnose completion fish > ~/.config/fish/completions/diagnose.fish",
    ),
    "learn": ("diagnose learn session.yaml --cured", "diagnose learn --show", "diagnose learn --forget session.yaml"),
    "sheet": ("diagnose sheet cellar_two_kettle --complaint element_cold --part boil_element --out sheet.html",),
    "finish": ("diagnose finish cellar_two_kettle --fault boil_relay:half_wave --litres 30 --to 66C",),
    "report": ("diagnose report session.yaml --out report.html", "diagnose report session.yaml --text"),
    "history": ("diagnose history cellar_two_kettle",),
    "swing": ("diagnose swing mash.csv --set 66C",),
    "validate": ("diagnose validate garage.yaml", "diagnose validate"),
    "coverage": ("diagnose coverage garage.yaml --format html --out coverage.html",),
}
WIDTH = 78
CODES = (
    "Exit codes: 0 done; 1 honestly not found, or a check failed;\n2 something that you can mend; 3 a bug; 130 Ctrl-C."
)


def add_examples(commands: Any, last: str) -> None:
    """Give the help of each command its examples, the exit codes, and the last line."""
    for name, command in commands.choices.items():
        shown = [f"  {example}" for example in EXAMPLES.get(name, ())]
        lines = [*(["Examples:", *shown, ""] if shown else []), CODES, "", last]
        command.description = textwrap.fill(command.description or "", WIDTH)
        command.formatter_class = argparse.RawDescriptionHelpFormatter
        command.epilog = "\n".join(lines)
