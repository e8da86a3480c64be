"""How likely a reading or a sign is under each cause, and what it does to belief."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike

from diagnose.belief.scale import BoolArray, FloatArray, Scale
from diagnose.belief.spread import BLIND_OVER, Spread, spread

SLIP = 0.02  # share of answers that are misread, mistyped or taken at the wrong place: a judgement
EXPLAINED_SIGMAS = 2.0
EXPLAINED_OVER = 0.05
SUM_TOLERANCE = 1e-6


def numeric_likelihood(reading: float, low: ArrayLike, high: ArrayLike, scale: Scale, slip: float = SLIP) -> FloatArray:
    """How likely a reading is under each cause.

    Parameters
    ----------
    reading : float
        In the SI unit of `scale`; inf for OL.
    low, high : (H,) array
        What each cause predicts; inf for OL; both nan where a cause says nothing.
    slip : float
        Share of readings that could be anything, 0 <= slip <= 1. It keeps the truth alive after a misread.

    Returns
    -------
    (H,) array
        Density on the scale's [0, 1] for a number, probability for OL. Above zero if `slip` is.

    Raises
    ------
    ValueError
        If the reading is no number, the intervals make no sense or `slip` is no share.
    """
    return likelihood_within(reading, spread(low, high, scale), scale, slip)


def likelihood_within(reading: float, spreads: Spread, scale: Scale, slip: float = SLIP) -> FloatArray:
    """The same, where it is known how readings lie under each cause."""
    _check_reading(reading)
    _check_share(slip)
    if scale.is_over(reading):
        return np.asarray((1 - slip) * spreads.over + slip * BLIND_OVER)
    density = (1 - spreads.over) * spreads.density(float(scale.coordinate(reading)))
    return np.asarray((1 - slip) * density + slip * (1 - BLIND_OVER))


def explains(reading: float, low: ArrayLike, high: ArrayLike, scale: Scale) -> BoolArray:
    """(H,) which causes the reading fits, the soft edges of their intervals included.

    A cause that says nothing explains nothing. Raises ValueError as `numeric_likelihood` does.
    """
    return explained_within(reading, spread(low, high, scale), scale)


def explained_within(reading: float, spreads: Spread, scale: Scale) -> BoolArray:
    """The same, where it is known how readings lie under each cause."""
    _check_reading(reading)
    if scale.is_over(reading):
        return np.asarray((spreads.over >= EXPLAINED_OVER) & ~spreads.silent)
    near = spreads.distance(float(scale.coordinate(reading))) <= EXPLAINED_SIGMAS
    return np.asarray(near & ~spreads.silent & ~spreads.unlimited)


def sign_likelihood(outcome_index: int, table: ArrayLike, slip: float = SLIP) -> FloatArray:
    """(H,) probability of a seen outcome under each cause.

    Parameters
    ----------
    outcome_index : int
        Column of the table, from 0.
    table : (H, O) array
        Probability of each outcome under each cause; rows sum to one, or are nan where a cause says nothing.
    slip : float
        Share of answers that could be anything.

    Raises
    ------
    ValueError
        If there is no such outcome, or the table holds no probabilities.
    """
    table = np.asarray(table, dtype=np.float64)
    _check_share(slip)
    if table.ndim != 2 or not 0 <= outcome_index < table.shape[1]:
        raise ValueError(f"no outcome {outcome_index} in a table of shape {table.shape}")
    even = 1 / table.shape[1]
    shares = table[:, outcome_index]
    if not _all_told(table):
        silent = np.isnan(table).all(axis=1)
        if not _all_told(table[~silent]):
            raise ValueError("each row of a table must be probabilities that sum to one")
        shares = np.where(silent, even, shares)
    return np.asarray((1 - slip) * shares + slip * even)


def _all_told(table: FloatArray) -> bool:
    """Whether all rows are probabilities that sum to one; never where anything is nan."""
    off = np.abs(table.sum(axis=1) - 1).max(initial=0.0)
    return bool(off <= SUM_TOLERANCE and table.min(initial=0.0) >= 0)


def update(belief: ArrayLike, likelihood: ArrayLike) -> FloatArray:
    """Belief after one answer: Bayes' rule.

    Parameters
    ----------
    belief, likelihood : (H,) array
        Neither needs to sum to one; neither may be negative.

    Returns
    -------
    (H,) array that sums to one within 1e-12.

    Raises
    ------
    ValueError
        If shapes differ, a number is negative or missing, or nothing believed could have given the answer.
    """
    return posterior(belief, np.asarray(likelihood, dtype=np.float64)[None])


def posterior(prior: ArrayLike, likelihoods: ArrayLike) -> FloatArray:
    """Belief after several independent answers, `likelihoods` (C, H).

    Adds logarithms, so that many small likelihoods lose nothing. Raises ValueError as `update` does.
    """
    prior = np.asarray(prior, dtype=np.float64)
    likelihoods = np.asarray(likelihoods, dtype=np.float64)
    if prior.ndim != 1 or likelihoods.ndim != 2 or likelihoods.shape[1] != len(prior):
        raise ValueError(f"belief {prior.shape} and likelihood {likelihoods.shape} do not fit together")
    for numbers in (prior, likelihoods):
        # Anything that is nan makes both comparisons false.
        if not (numbers.min(initial=0.0) >= 0 and numbers.max(initial=0.0) < np.inf):
            raise ValueError("belief and likelihood must be finite and not negative")
    with np.errstate(divide="ignore"):
        logs = np.log(prior) + np.log(likelihoods).sum(axis=0)
    highest = logs.max(initial=-np.inf)
    if np.isneginf(highest):
        raise ValueError("no cause that is believed in could have given this answer")
    weights = np.exp(logs - highest)
    return np.asarray(weights / weights.sum())


def posteriors_without_each(prior: ArrayLike, likelihoods: ArrayLike) -> FloatArray:
    """(C, H) belief after all answers but one, for each of C; `likelihoods` (C, H).

    Raises ValueError as `update` does.

    >>> posteriors_without_each([0.5, 0.5], [[0.2, 0.8], [0.9, 0.1]]).round(3).tolist()
    [[0.9, 0.1], [0.2, 0.8]]
    """
    likelihoods = np.asarray(likelihoods, dtype=np.float64)
    posterior(prior, likelihoods[:0])
    # What can't be has no logarithm that could be taken away again.
    if not (likelihoods.min(initial=1.0) > 0 and likelihoods.max(initial=0.0) < np.inf):
        every = range(len(likelihoods))
        return np.array([posterior(prior, np.delete(likelihoods, number, axis=0)) for number in every])
    with np.errstate(divide="ignore"):
        logs, start = np.log(likelihoods), np.log(np.asarray(prior, dtype=np.float64))
    without = start + (logs.sum(axis=0) - logs)
    weights = np.exp(without - without.max(axis=1, keepdims=True))
    return np.asarray(weights / weights.sum(axis=1, keepdims=True))


def _check_reading(reading: float) -> None:
    if math.isnan(reading) or reading == -math.inf:
        raise ValueError(f"{reading} is no reading")


def _check_share(slip: float) -> None:
    if not 0 <= slip <= 1:
        raise ValueError(f"slip must be a share from 0 to 1, not {slip}")
