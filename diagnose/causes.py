"""Every cause that can be named on one panel: one part in one fault mode, at one level where it has levels."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from itertools import product
from math import sqrt
from types import MappingProxyType

from diagnose.knowledge.records import Fault
from diagnose.panel.records import Panel

AS_BUILT = "as_built_"
AS_BUNDLED: Mapping[str, float] = MappingProxyType({})  # no rate is shifted
EXAMPLE_SPREAD = 1.6  # a factor or an offset stands for those up to so many times smaller and larger
LONE_LEVEL_SPREAD = 2.0  # a fault with a single level covers half to twice that


@dataclass(frozen=True, slots=True)
class Cause:
    """One part in one fault mode. `low` and `high` are the ends of what its level stands for.

    `at_times` is the share of looks in which an intermittent fault shows. With `also`, two causes are there at once:
    the one to mend first, and the other.
    """

    part: str
    fault: str
    level: float | None
    low: float
    high: float
    rate: float
    at_times: float = 1.0
    also: Cause | None = None

    @property
    def key(self) -> str:
        """A name that reads as words and tells causes apart, such as `boil_element:leak_at_end@7000`."""
        level = "" if self.level is None else f"@{self.level:g}"
        also = "" if self.also is None else f"+{self.also.key}"
        return f"{self.part}:{self.fault}{level}{also}"

    @property
    def members(self) -> tuple[Cause, ...]:
        """The single causes in it: itself, or the two of a pair."""
        return (self,) if self.also is None else (replace(self, also=None), self.also)

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

    @property
    def solved_at(self) -> tuple[tuple[float | None, ...], ...]:
        """The levels of all members at which the circuit is solved, the middle of each in the middle."""
        each = [member.levels for member in self.members]
        middle = tuple(levels[len(levels) // 2] for levels in each)
        corners = list(product(*(dict.fromkeys((levels[0], levels[-1])) for levels in each)))
        if len(corners) == 1:
            return (middle,)
        half = len(corners) // 2
        return (*corners[:half], middle, *corners[half:])


def pair_of(first: Cause, second: Cause, rate: float = 0.0) -> Cause:
    """Two causes at once, the one to mend first named first.

    Raises ValueError where one of them is a pair already.
    """
    if first.also is not None or second.also is not None:
        raise ValueError("a pair is made of two single causes")
    return replace(first, rate=rate, also=second)


def go_together(panel: Panel, first: Cause, second: Cause) -> bool:
    """Whether two causes can be there at once: on one part they must not change the same thing, each in its way."""
    if first.as_built or second.as_built:
        return False
    if first.part != second.part:
        return True
    one, two = ({effect.target for effect in fault_of(panel, each).effects} for each in (first, second))
    return not one & two


def causes_of(panel: Panel, factors: Mapping[str, float] = AS_BUNDLED) -> tuple[Cause, ...]:
    """All causes on a panel; their rates are relative, and shared out among a fault's levels.

    A rate is the panel's own where its file tells one, else the kind's. `factors` multiply it, by kind and fault
    as `element.open`.
    """
    return tuple(_causes(panel, factors))


def fault_of(panel: Panel, cause: Cause) -> Fault:
    """The knowledge behind a cause."""
    return panel.kind_of(cause.part).faults[cause.fault]


def _causes(panel: Panel, factors: Mapping[str, float]) -> Iterator[Cause]:
    for name in (*panel.parts, *panel.wires_by_name):
        kind = panel.kind_of(name)
        for fault in kind.faults.values():
            if fault.new_only and panel.built != "new":
                continue  # a panel that has worked was wired right
            rate = panel.rates.get(f"{name}.{fault.name}", fault.rate) * factors.get(f"{kind.name}.{fault.name}", 1.0)
            if not fault.levels:
                yield Cause(name, fault.name, None, 0.0, 0.0, rate, fault.at_times)
                continue
            for low, level, high in _bands(fault):
                yield Cause(name, fault.name, level, low, high, rate / len(fault.levels), fault.at_times)


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
