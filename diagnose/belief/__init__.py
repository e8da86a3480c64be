"""Probability of each cause given the answers so far. Works on arrays only; knows nothing of panels."""

from diagnose.belief.likelihood import (
    explained_within,
    explains,
    likelihood_within,
    numeric_likelihood,
    posterior,
    posteriors_without_each,
    sign_likelihood,
    update,
)
from diagnose.belief.outcomes import OutcomeTable, cut_table, outcome_table, pad_tables
from diagnose.belief.scale import Scale
from diagnose.belief.spread import Spread, spread

__all__ = [
    "OutcomeTable",
    "Scale",
    "Spread",
    "cut_table",
    "explained_within",
    "explains",
    "likelihood_within",
    "numeric_likelihood",
    "outcome_table",
    "pad_tables",
    "posterior",
    "posteriors_without_each",
    "sign_likelihood",
    "spread",
    "update",
]
