"""Probability of each cause given the answers so far. Works on arrays only; knows nothing of panels."""

from diagnose.belief.likelihood import (
    explains,
    numeric_likelihood,
    posterior,
    sign_likelihood,
    update,
)
from diagnose.belief.outcomes import OutcomeTable, cut_table, outcome_table, pad_tables
from diagnose.belief.scale import Scale

__all__ = [
    "OutcomeTable",
    "Scale",
    "cut_table",
    "explains",
    "numeric_likelihood",
    "outcome_table",
    "pad_tables",
    "posterior",
    "sign_likelihood",
    "update",
]
