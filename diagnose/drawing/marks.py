"""What is marked in a drawing: suspects with their shares, probe points, readings by number."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

NOTHING: Mapping[str, str] = MappingProxyType({})


@dataclass(frozen=True, slots=True)
class ReadingMark:
    """A reading by its number in the list, at the terminals that it was taken at."""

    number: int
    terminals: tuple[str, ...]
    text: str
    as_expected: bool


@dataclass(frozen=True, slots=True)
class Marks:
    """All marks of a drawing. `suspects` are parts or wires, each with what is written beside it."""

    suspects: Mapping[str, str] = field(default_factory=lambda: NOTHING)
    probes: Mapping[str, str] = field(default_factory=lambda: NOTHING)  # part.terminal -> RED or BLACK
    readings: tuple[ReadingMark, ...] = ()
