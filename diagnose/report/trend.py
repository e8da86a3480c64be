"""Whether insulation falls from session to session: a line through the logarithms, and how sure its slope is.

Insulation that ages or takes up damp falls by a share in each span of time, so its logarithm falls along a line; that
it is to be judged by its trend more than by one value is IEEE 43-2013's advice (from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import inf, isfinite, log, log10, sqrt

from diagnose.meter import Instrument

# Insulation halves with every 10 K that it is warmer: IEEE 43-2013, temperature correction (from memory).
KELVIN_THAT_HALVES = 10.0
# A cold panel is measured between 10 and 30 degrees, so each reading is within so many kelvin: a judgement.
KELVIN_APART = 10.0
# Standard errors that a slope must be away from none: so many that two readings at the two ends of those temperatures,
# a quarter of each other, are not yet a fall.
SURE = 2.5


@dataclass(frozen=True, slots=True)
class Point:
    """One reading: days since any date, ohms (inf for OL)."""

    days: float
    ohms: float


@dataclass(frozen=True, slots=True)
class Trend:
    """A line through log10 of the ohms: its slope a day with its standard error, and its value at the last day."""

    slope: float
    error: float
    last_day: float
    last_log: float

    @property
    def falling(self) -> bool:
        """Whether it falls by more than meter and temperature account for."""
        return self.slope + SURE * self.error < 0

    def times_in(self, days: float) -> float:
        """To which share it falls in so many days."""
        return float(10 ** (self.slope * days))

    def days_to(self, ohms: float, slope: float | None = None) -> float:
        """Days after the last reading at which the line comes down to so many ohms; inf where it doesn't."""
        falls = self.slope if slope is None else slope
        gap = self.last_log - log10(ohms)
        if gap <= 0:
            return 0.0
        return gap / -falls if falls < 0 else inf


def spread_of(reader: Instrument, ohms: float) -> float:
    """The standard deviation of log10 of a reading: the tester's accuracy and the temperature it was taken at.

    Both are taken as limits of an even spread, so each is divided by the root of three.

    >>> from diagnose.meter import reader_of
    >>> round(spread_of(reader_of("insulation"), 100e6), 3)
    0.174
    """
    shown = min(ohms, reader.top)
    meter = reader.error(shown) / shown / log(10)
    warmth = log10(2) * KELVIN_APART / KELVIN_THAT_HALVES
    return sqrt((meter**2 + warmth**2) / 3)


def trend_of(points: Sequence[Point], reader: Instrument) -> Trend | None:
    """The line through readings of one insulation; None where they are fewer than two days.

    OL counts as the tester's top: it was at least that, so a fall from there is no smaller than the line has it.

    >>> from diagnose.meter import reader_of
    >>> tester = reader_of("insulation")
    >>> trend_of([Point(0, 100e6), Point(30, 60e6)], tester).falling
    False
    >>> trend_of([Point(0, 100e6), Point(30, 20e6)], tester).falling
    True
    >>> round(trend_of([Point(0, 100e6), Point(30, 10e6)], tester).days_to(1e6))
    30
    """
    usable = [point for point in points if point.ohms > 0]
    if len({point.days for point in usable}) < 2:
        return None
    shown = [min(point.ohms, reader.top) if isfinite(reader.top) else point.ohms for point in usable]
    logs = [log10(ohms) for ohms in shown]
    weights = [spread_of(reader, ohms) ** -2 for ohms in shown]
    total = sum(weights)
    middle = sum(weight * point.days for weight, point in zip(weights, usable, strict=True)) / total
    mean = sum(weight * value for weight, value in zip(weights, logs, strict=True)) / total
    across = sum(weight * (point.days - middle) ** 2 for weight, point in zip(weights, usable, strict=True))
    slope = sum(
        weight * (point.days - middle) * (value - mean)
        for weight, point, value in zip(weights, usable, logs, strict=True)
    ) / across  # fmt: skip
    last = max(point.days for point in usable)
    return Trend(slope, sqrt(1 / across), last, mean + slope * (last - middle))
