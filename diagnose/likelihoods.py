"""How likely an answer is under each cause, and what a check could show: from predictions to belief's arrays."""

from __future__ import annotations

import numpy as np

from diagnose.belief import (
    Spread,
    cut_table,
    explained_within,
    likelihood_within,
    outcome_table,
    sign_likelihood,
    spread,
)
from diagnose.circuit.netlist import BoolArray, FloatArray
from diagnose.expect import Prediction
from diagnose.scales import SLIP, scale_of

POSSIBLE = 0.05  # an outcome less likely than this is not what a cause shows


def spread_of(prediction: Prediction, quantity: str) -> Spread | None:
    """How readings lie on the sound panel, under each cause, and under the one nobody knows; None for a sign.

    For whoever asks for `likelihood_of` and `fitting` of one check again and again.
    """
    if prediction.table is not None:
        return None
    return spread(np.r_[prediction.low, np.nan], np.r_[prediction.high, np.nan], scale_of(quantity))


def likelihood_of(
    prediction: Prediction, quantity: str, value: float | None, outcome: int | None, known: Spread | None = None
) -> FloatArray:
    """(1 + H + 1,) how likely an answer is on the sound panel, under each cause, and under the one nobody knows.

    A cause that comes and goes shows itself in a share of looks only: in the others the panel reads as a sound one, so
    a look that finds nothing does not acquit it, and a second look is another witness.

    Raises ValueError for an answer that is neither a reading nor an outcome.
    """
    if outcome is not None and prediction.table is not None:
        columns = prediction.table.shape[1]
        table = np.vstack([prediction.table, np.full(columns, 1 / columns)])
        return sign_likelihood(outcome, table, SLIP)
    if value is None:
        raise ValueError("an answer is a reading or an outcome")
    spreads = known or spread_of(prediction, quantity)
    if spreads is None:
        raise ValueError("a sign is answered by an outcome")
    likely = likelihood_within(value, spreads, scale_of(quantity), SLIP)
    return _mixed(likely, prediction.showing)


def fitting(
    prediction: Prediction, quantity: str, value: float | None, outcome: int | None, known: Spread | None = None
) -> BoolArray:
    """(1 + H,) which of the sound panel and the causes would show an answer."""
    if outcome is not None and prediction.table is not None:
        return np.asarray(prediction.table[:, outcome] >= POSSIBLE)
    if value is None:
        return np.ones(len(prediction.low), dtype=bool)
    spreads = known or spread_of(prediction, quantity)
    if spreads is None:
        raise ValueError("a sign is answered by an outcome")
    fits = explained_within(value, spreads, scale_of(quantity))[:-1]
    if prediction.showing is not None and fits[0]:
        fits = fits | (prediction.showing < 1)
    return np.asarray(fits)


def outcomes_under(prediction: Prediction, quantity: str, cuts: FloatArray | None = None) -> FloatArray:
    """(H + 1, O) probability of each distinguishable outcome of a check under each cause, the unknown one last.

    `cuts` (O - 1,) are readings that divide the outcomes, where intervals are too wide to do it themselves.
    """
    if prediction.table is not None:
        outcomes = prediction.table.shape[1]
        table = (1 - SLIP) * prediction.table[1:] + SLIP / outcomes
        return np.vstack([table, np.full(outcomes, 1 / outcomes)])
    sound = float(prediction.high[0])
    if prediction.showing is None:
        low, high = np.r_[prediction.low[1:], np.nan], np.r_[prediction.high[1:], np.nan]
        return _table(low, high, quantity, cuts, sound)
    low, high = np.r_[prediction.low, np.nan], np.r_[prediction.high, np.nan]
    return _mixed(_table(low, high, quantity, cuts, sound), prediction.showing)[1:]


def _table(low: FloatArray, high: FloatArray, quantity: str, cuts: FloatArray | None, sound: float) -> FloatArray:
    if cuts is not None:
        return cut_table(low, high, scale_of(quantity), cuts, SLIP)
    found = outcome_table(low, high, scale_of(quantity), slip=SLIP).table
    if found.shape[1] > 1 or not np.isfinite(sound):
        return found
    # All intervals overlap: what lies above all that the sound panel shows still tells which of them reach there.
    return cut_table(low, high, scale_of(quantity), [sound], SLIP)


def between(prediction: Prediction, quantity: str, edges: FloatArray, has_over: bool) -> FloatArray:
    """(H + 1, O) probability of a reading between given edges (rising, SI) under each cause, the unknown one last.

    With `has_over` OL is one more outcome, the last.
    """
    low, high = np.r_[prediction.low, np.nan], np.r_[prediction.high, np.nan]
    return _mixed(cut_table(low, high, scale_of(quantity), edges, SLIP, has_over), prediction.showing)[1:]


def _mixed(rows: FloatArray, showing: FloatArray | None) -> FloatArray:
    """(1 + H + 1, ...) rows mixed with the sound panel's for the looks in which a cause doesn't show itself."""
    if showing is None:
        return rows
    share = np.r_[showing, 1.0].reshape(-1, *[1] * (rows.ndim - 1))
    return np.asarray(share * rows + (1 - share) * rows[0])
