"""How far apart two readings are on an instrument's scale."""

from __future__ import annotations

import math
from dataclasses import InitVar, dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Scale:
    """Maps readings in SI units to places in [0, 1].

    Parameters
    ----------
    kind : 'linear' or 'logarithmic'
        Linear for volts and temperatures, logarithmic for resistances and insulation.
    low, high : float
        The ends; readings beyond them share the place of the end. A logarithmic scale needs 0 <= low < high.
    resolution : float
        The smallest difference that means anything, more than 0. Readings smaller than it share one place.
    over : float
        Readings above it, and inf, are OL: an outcome apart from all numbers. inf if there is no such
        limit.
    span : float, optional
        `high - low`, given instead of `high`.

    Raises
    ------
    ValueError
        If the ends or the resolution make no scale.

    Examples
    --------
    >>> volts = Scale("linear", span=300.0, resolution=0.5)
    >>> [round(float(place), 3) for place in volts.coordinate([0.2, 150.0, 300.0])]
    [0.0, 0.499, 1.0]
    >>> ohms = Scale("logarithmic", 0.1, 1e7, resolution=0.1, over=1e7)
    >>> [round(float(place), 3) for place in ohms.coordinate([0.0, 1e3, 1e7])]
    [0.0, 0.5, 1.0]
    """

    kind: Literal["linear", "logarithmic"]
    low: float = 0.0
    high: float = 0.0
    resolution: float = 1.0
    over: float = math.inf
    span: InitVar[float | None] = None

    def __post_init__(self, span: float | None) -> None:
        if span is not None:
            object.__setattr__(self, "high", self.low + span)
        if self.kind not in ("linear", "logarithmic"):
            raise ValueError(f"a scale is linear or logarithmic, not {self.kind!r}")
        if not -math.inf < self.low < self.high < math.inf:
            raise ValueError(f"a scale needs low < high, both finite, not {self.low} and {self.high}")
        if not 0 < 2 * self.resolution < self.high - self.low:
            raise ValueError(f"resolution {self.resolution} must be more than 0 and less than half the scale")
        if self.kind == "logarithmic" and self.low < 0:
            raise ValueError(f"a logarithmic scale can't start at {self.low}")
        if not self.over > self.low:
            raise ValueError(f"OL above {self.over} would leave no reading on the scale")

    @property
    def floor(self) -> float:
        """On a logarithmic scale, the value at place 0."""
        return max(self.low, self.resolution)

    def is_over(self, values: ArrayLike) -> BoolArray:
        """Which values show as OL."""
        values = np.asarray(values, dtype=np.float64)
        return np.asarray((values > self.over) | np.isposinf(values))

    def coordinate(self, values: ArrayLike) -> FloatArray:
        """Places in [0, 1], never falling with the value; OL is at 1."""
        values = np.asarray(values, dtype=np.float64)
        if self.kind == "logarithmic":
            return np.asarray(np.log(np.clip(values, self.floor, self.high) / self.floor) / self._decades)
        start, length = self._ends
        return np.asarray((self._settled(np.clip(values, self.low, self.high)) - start) / length)

    def value(self, places: ArrayLike) -> FloatArray:
        """Readings at places in [0, 1]: the inverse of `coordinate`."""
        places = np.asarray(places, dtype=np.float64)
        if self.kind == "logarithmic":
            return np.asarray(self.floor * np.exp(places * self._decades))
        start, length = self._ends
        settled = start + places * length
        return np.asarray(settled + np.sign(settled) * self.resolution)

    def step(self, values: ArrayLike) -> FloatArray:
        """How much of the scale one resolution takes up at each value."""
        values = np.asarray(values, dtype=np.float64)
        if self.kind == "logarithmic":
            at = np.clip(values, self.floor, self.high)
            return np.asarray(np.log1p(self.resolution / at) / self._decades)
        return np.full(values.shape, self.resolution / self._ends[1])

    def _settled(self, values: ArrayLike) -> FloatArray:
        # Cut out what lies below the resolution, without a jump: a jump would be a stretch of scale that no
        # reading reaches, and likelihoods would no longer sum to one.
        values = np.asarray(values, dtype=np.float64)
        return np.asarray(values - np.clip(values, -self.resolution, self.resolution))

    @property
    def _ends(self) -> tuple[float, float]:
        start, end = self._settled([self.low, self.high]).tolist()
        return start, end - start

    @property
    def _decades(self) -> float:
        return math.log(self.high / self.floor)
