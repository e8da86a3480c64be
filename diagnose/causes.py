"""Every cause that can be named on one panel: one part in one fault mode, at one level where it has levels."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import sqrt

from diagnose.knowledge.records import Fault
from diagnose.panel.records import Panel

AS_BUILT = "as_built_"
EXAMPLE_SPREAD = 1.6  # a factor or an offset stands for those up to so many times smaller and larger
LONE_LEVEL_SPREAD = 2.0  # a fault with a single level covers half to twice that


@dataclass(frozen=True, slots=True)
class Cause:
    """One part in one fault mode. `low` and `high` are the ends of what its level stands for."""

    part: str
    fault: str
    level: float | None
    low: float
    high: float
    rate: float

    @property
    def key(self) -> str:
        """A name that reads as words and tells causes apart, such as `boil_element:leak_at_end@7000`."""
        level = "" if self.level is None else f"@{self.level:g}"
        return f"{self.part}:{self.fault}{level}"

    @property
    def as_built(self) -> bool:
        """Whether nothing is broken: the design itself, as a review of the panel finds it, makes the complaint."""
        return self.fault.startswith(AS_BUILT)

    @property
    def levels(self) -> tuple[float | None, ...]:
        """The levels at which the circuit is solved for this cause: both ends and the middle."""
        if self.level is None:
            return (None,)
        if self.low == self.high:
            return (self.level,)
        return (self.low, self.level, self.high)


def causes_of(panel: Panel) -> tuple[Cause, ...]:
    """All causes on a panel; their rates are relative, and shared out among a fault's levels."""
    return tuple(_causes(panel))


def fault_of(panel: Panel, cause: Cause) -> Fault:
    """The knowledge behind a cause."""
    return panel.kind_of(cause.part).faults[cause.fault]


def _causes(panel: Panel) -> Iterator[Cause]:
    for name in (*panel.parts, *panel.wires_by_name):
        for fault in panel.kind_of(name).faults.values():
            if fault.new_only and panel.built != "new":
                continue  # a panel that has worked was wired right
            if not fault.levels:
                yield Cause(name, fault.name, None, 0.0, 0.0, fault.rate)
                continue
            for low, level, high in _bands(fault):
                yield Cause(name, fault.name, level, low, high, fault.rate / len(fault.levels))


def _bands(fault: Fault) -> Iterator[tuple[float, float, float]]:
    """Neighbouring levels meet half-way between them on a logarithmic scale."""
    if any(effect.change == "state" or effect.change == "scale" for effect in fault.effects):
        # Factors and offsets are examples of what they stand for, not ends of a range.
        for level in fault.levels:
            yield level / EXAMPLE_SPREAD, level, level * EXAMPLE_SPREAD
        return
    levels = sorted(fault.levels)
    for index, level in enumerate(levels):
        below = level / LONE_LEVEL_SPREAD if index == 0 else sqrt(levels[index - 1] * level)
        above = level * LONE_LEVEL_SPREAD if index == len(levels) - 1 else sqrt(levels[index + 1] * level)
        yield below, level, above
