"""Reads knowledge/slips.yaml: how readings usually go wrong."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Literal

from diagnose.knowledge.library import knowledge_folder, shown
from diagnose.yamlfile import Collector, Node, read

QUANTITIES = (
    "voltage_ac", "voltage_dc", "resistance", "insulation", "current_ac", "temperature", "surface_temperature",
    "heat_rate", "boil_off", "temperature_error", "millivolts", "voltage_drop", "sign",
)  # fmt: skip
Occasion = Literal["", "unplugged", "lifted", "running", "warm"]


@dataclass(frozen=True, slots=True)
class Slip:
    """One usual slip: with which quantities, when it can happen, and what it makes of a reading."""

    name: str
    words: str
    quantities: tuple[str, ...]
    factor: float | None  # what was typed, times this, is what the meter showed
    shows: Literal["", "nothing", "open"]
    when: Occasion


@lru_cache(maxsize=2)
def load_slips(folder: Path | None = None) -> tuple[Slip, ...]:
    """Read the slips; raises FileError with every problem."""
    folder = folder or knowledge_folder()
    path = folder / "slips.yaml"
    collect = Collector()
    entries = collect.entries(read(path, shown(path, folder)), "the slips are", "names of slips")
    found = [_slip(collect, collect.word(key), value) for key, value in entries]
    collect.raise_errors()
    return tuple(found)


def _slip(collect: Collector, name: str, node: Node) -> Slip:
    keys = collect.mapping(node, required=("of", "words"), optional=("factor", "shows", "when"))
    quantities = [collect.choice(item, QUANTITIES) for item in collect.sequence(keys["of"])] if "of" in keys else []
    factor = collect.number(keys["factor"], -1e6, 1e6) if "factor" in keys else None
    shows = collect.choice(keys["shows"], ("nothing", "open")) if "shows" in keys else None
    when = collect.choice(keys["when"], ("unplugged", "lifted", "running", "warm")) if "when" in keys else None
    words = collect.text(keys["words"]) if "words" in keys else ""
    return Slip(name, words, tuple(each for each in quantities if each), factor, shows or "", when or "")  # type: ignore[arg-type]
