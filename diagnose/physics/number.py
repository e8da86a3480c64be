"""Intervals, and the checks of arguments that all formulas share."""

from __future__ import annotations

import math
from typing import NamedTuple, TypeVar

import numpy as np
from numpy.typing import NDArray

Number = TypeVar("Number", float, NDArray[np.float64])
"""A float or an array of floats; a function gives back what it was given."""


class Interval(NamedTuple):
    """A lowest and a highest value, in the unit that the name of the quantity says.

    Examples
    --------
    >>> Interval(1.0, 1.6).scaled(10.0)
    Interval(low=10.0, high=16.0)
    >>> 1.2 in Interval(1.0, 1.6)
    True
    """

    low: float
    high: float

    @classmethod
    def around(cls, middle: float, margin: float) -> Interval:
        """Return the interval from `middle - margin` to `middle + margin`."""
        return cls(middle - margin, middle + margin)

    def __contains__(self, value: object) -> bool:
        return isinstance(value, int | float) and self.low <= value <= self.high

    def scaled(self, factor: float) -> Interval:
        """Return the interval times a factor, low end first whatever the factor's sign."""
        ends = (self.low * factor, self.high * factor)
        return Interval(min(ends), max(ends))


def require_range(name: str, value: float | NDArray[np.float64], low: float, high: float) -> None:
    """Raise unless all of `value` lies from `low` to `high`, both included.

    Raises
    ------
    ValueError
        If a value lies outside or is not a number.
    """
    if not np.all((np.asarray(value) >= low) & (np.asarray(value) <= high)):
        raise ValueError(f"{name} is {value}, expected from {low:g} to {high:g}")


def require_positive(**values: float) -> None:
    """Raise unless each named value is above zero and finite.

    Raises
    ------
    ValueError
        If a value is zero, negative, infinite or not a number.
    """
    for name, value in values.items():
        if not (value > 0 and math.isfinite(value)):
            raise ValueError(f"{name} is {value}, expected a number above 0")


def require_not_negative(**values: float) -> None:
    """Raise unless each named value is zero or more; infinity is allowed.

    Raises
    ------
    ValueError
        If a value is negative or not a number.
    """
    for name, value in values.items():
        if not value >= 0:
            raise ValueError(f"{name} is {value}, expected 0 or more")
