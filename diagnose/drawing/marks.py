"""What is marked in a drawing: what is at fault or under suspicion, probe points, readings by number."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

NOTHING: Mapping[str, str] = MappingProxyType({})
FOUND, AT_FAULT = "FOUND", "AT FAULT"


@dataclass(frozen=True, slots=True)
class ReadingMark:
    """A reading by its number in the list, and where it was taken: terminals, or a part or wires as a whole."""

    number: int
    terminals: tuple[str, ...]
    text: str
    as_expected: bool


@dataclass(frozen=True, slots=True)
class Marks:
    """All marks of a drawing.

    `suspects` are parts or wires, each with the few characters beside its question mark; `culprits` are those that were
    found, each with what is written beside it. `notes` are lines of the legend that say more of either.
    """

    suspects: Mapping[str, str] = field(default_factory=lambda: NOTHING)
    probes: Mapping[str, str] = field(default_factory=lambda: NOTHING)  # part.terminal -> RED or BLACK
    readings: tuple[ReadingMark, ...] = ()
    culprits: Mapping[str, str] = field(default_factory=lambda: NOTHING)
    notes: tuple[str, ...] = ()

    def beside(self, name: str) -> str:
        """What is written beside a part or wire; nothing where it isn't marked."""
        if name in self.culprits:
            return self.culprits[name]
        return f"? {self.suspects[name]}".strip() if name in self.suspects else ""

    def readings_at(self, place: str) -> list[ReadingMark]:
        """The readings taken at a terminal, or of a part or wire as a whole."""
        return [mark for mark in self.readings if place in mark.terminals]

    def places(self) -> tuple[str, ...]:
        """Every part, wire and terminal that bears a mark, each once."""
        at = [place for mark in self.readings for place in mark.terminals]
        return tuple(dict.fromkeys((*self.culprits, *self.suspects, *self.probes, *at)))
