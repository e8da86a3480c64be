"""Which circuits are solved: one row each for the sound panel, a cause at a level, or two causes at once."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from diagnose.causes import Cause, fault_of
from diagnose.knowledge.records import Fault
from diagnose.panel.records import Panel


@dataclass(frozen=True, slots=True)
class Row:
    """One circuit to solve: a cause at one of its levels, a pair each at one of its own, or the sound panel."""

    cause: Cause | None
    level: float | None = None
    also_level: float | None = None  # of the second cause of a pair

    @property
    def members(self) -> tuple[tuple[Cause, float | None], ...]:
        """The single causes that act in this circuit, each with its level."""
        if self.cause is None:
            return ()
        return tuple(zip(self.cause.members, (self.level, self.also_level), strict=False))


def rows_of(cause: Cause) -> tuple[Row, ...]:
    """The circuits to solve for a cause: its levels' ends and their middle, the middle in the middle."""
    if cause.as_built:
        return (Row(None),)
    return tuple(Row(cause, *levels) for levels in cause.solved_at)


@dataclass(frozen=True, slots=True)
class Acting:
    """One fault that acts in one row."""

    row: int
    part: str
    level: float | None
    fault: Fault


def acting_in(panel: Panel, rows: Sequence[Row]) -> tuple[Acting, ...]:
    """Every fault that acts in each row, row by row."""
    known: dict[tuple[str, str], Fault] = {}
    found = []
    for number, row in enumerate(rows):
        for cause, level in row.members:
            key = (cause.part, cause.fault)
            if key not in known:
                known[key] = fault_of(panel, cause)
            found.append(Acting(number, cause.part, level, known[key]))
    return tuple(found)


def changed_states(acting: Sequence[Acting]) -> Mapping[tuple[str, str], list[tuple[int, str, float | None]]]:
    """For each state of each part, the rows in which a fault changes it: to what, and at what level."""
    found: dict[tuple[str, str], list[tuple[int, str, float | None]]] = {}
    for acts in acting:
        for effect in acts.fault.effects:
            if effect.change == "state":
                found.setdefault((effect.target, acts.part), []).append((acts.row, effect.state, acts.level))
    return found
