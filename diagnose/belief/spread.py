"""The density of readings under a predicted interval, in places of a scale."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from diagnose.belief.scale import BoolArray, FloatArray, Scale

EDGE_SHARE = 0.03  # the edge of an interval is as soft as this share of its width: a judgement
LEAST_SIGMA = 2e-4  # no interval ends more sharply than this share of the scale
OVER_SIGMA = 0.02  # a predicted OL may show as a number near the end of the range
SURE_OVER = 0.98  # share of OL readings where OL is predicted
HALF_OVER = 0.5  # the same where the interval reaches from a number to OL
BLIND_OVER = 0.1  # share of OL readings where nothing is known
_ROOT = math.sqrt(3.0)
_TAIL_TOTAL = _ROOT * math.pi / 4


@dataclass(frozen=True, eq=False, slots=True)
class Spread:
    """How readings lie under each of H causes: flat inside [start, end], falling off outside.

    `sigma_start`, `sigma_end` are the softness of the edges, `total` the area on [0, 1] before scaling,
    `over` the probability of OL, `silent` the causes that say nothing, `unlimited` those that predict OL where no
    range has an end. All (H,).
    """

    start: FloatArray
    end: FloatArray
    sigma_start: FloatArray
    sigma_end: FloatArray
    total: FloatArray
    over: FloatArray
    silent: BoolArray
    unlimited: BoolArray

    def distance(self, place: float) -> FloatArray:
        """(H,) sigmas from the interval to a place; 0 inside."""
        before = np.maximum(self.start - place, 0) / self.sigma_start
        return np.asarray(before + np.maximum(place - self.end, 0) / self.sigma_end)

    def density(self, place: float) -> FloatArray:
        """(H,) density of numbers at a place, on the scale's [0, 1]."""
        return np.asarray(tail(self.distance(place)) / self.total)

    def below(self, places: FloatArray) -> FloatArray:
        """(H, E) probability that a number lies at or below each of E places."""
        start, end = self.start[:, None], self.end[:, None]
        sigma_start, sigma_end = self.sigma_start[:, None], self.sigma_end[:, None]
        left = tail_area(start / sigma_start) - tail_area(np.maximum(start - places, 0) / sigma_start)
        inside = np.clip(places - start, 0, end - start)
        right = tail_area(np.maximum(places - end, 0) / sigma_end)
        return np.asarray((sigma_start * left + inside + sigma_end * right) / self.total[:, None])


def tail(sigmas: FloatArray) -> FloatArray:
    """Student's t with 3 degrees of freedom, 1 at 0: nearly Gaussian at first, with a heavier tail."""
    return np.asarray((1 + sigmas * sigmas / 3) ** -2)


def tail_area(sigmas: FloatArray) -> FloatArray:
    """The integral of `tail` from 0."""
    x = sigmas / _ROOT
    return np.asarray(0.5 * _ROOT * (x / (1 + x * x) + np.arctan(x)))


def spread(low: ArrayLike, high: ArrayLike, scale: Scale) -> Spread:
    """How readings lie under each cause.

    Parameters
    ----------
    low, high : (H,) array
        The interval that each cause predicts, in SI units; inf for OL; both nan where a cause says nothing.

    Raises
    ------
    ValueError
        If an interval is upside down, half nan, or starts at minus infinity.
    """
    low, high, silent = checked_intervals(low, high)
    low_over, high_over = scale.is_over(low), scale.is_over(high)
    has_limit = math.isfinite(scale.over)
    # Where OL is all that is predicted, a number instead is near the end if there is one, or else anywhere.
    start = np.where(silent | (low_over & (not has_limit)), 0.0, scale.coordinate(low))
    end = np.where(silent | high_over, 1.0, scale.coordinate(high))
    soft = EDGE_SHARE * (end - start)
    sigma_start = np.where(low_over, OVER_SIGMA, _sigma(soft, low, scale))
    sigma_end = np.where(high_over, OVER_SIGMA, _sigma(soft, high, scale))
    left = sigma_start * tail_area(start / sigma_start)
    right = sigma_end * tail_area((1 - end) / sigma_end)
    total = left + (end - start) + right
    beyond = sigma_end * _TAIL_TOTAL - right if has_limit else np.zeros(len(low))
    over = np.select([silent, low_over, high_over], [BLIND_OVER, SURE_OVER, HALF_OVER], beyond / (total + beyond))
    unlimited = np.zeros(len(low), dtype=np.bool_) if has_limit else np.isposinf(low)
    return Spread(start, end, sigma_start, sigma_end, total, over, silent, unlimited)


def _sigma(soft: FloatArray, edge: FloatArray, scale: Scale) -> FloatArray:
    step = scale.step(np.nan_to_num(edge, nan=scale.high, posinf=scale.high))
    return np.asarray(np.maximum(np.hypot(soft, step), LEAST_SIGMA))


def checked_intervals(low: ArrayLike, high: ArrayLike) -> tuple[FloatArray, FloatArray, BoolArray]:
    """The intervals as (H,) arrays, and which of them say nothing."""
    low, high = np.asarray(low, dtype=np.float64), np.asarray(high, dtype=np.float64)
    if low.ndim != 1 or low.shape != high.shape:
        raise ValueError(f"low and high must be (H,) alike, not {low.shape} and {high.shape}")
    silent = np.isnan(low)
    if np.any(silent != np.isnan(high)):
        raise ValueError("an interval with one end missing")
    if np.any(low > high):
        raise ValueError("an interval with its low end above its high end")
    if np.any(np.isneginf(low)):
        raise ValueError("an interval that starts at minus infinity")
    return low, high, silent
