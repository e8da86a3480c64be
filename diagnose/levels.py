"""A fault has one level at a time: signs that follow from the same level are not so many witnesses."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from diagnose.circuit.netlist import BoolArray, FloatArray
from diagnose.expect import Predictor
from diagnose.model import Model, complaint_rows
from diagnose.questions import Answer
from diagnose.scales import SLIP


def level_factors(model: Model, answers: Sequence[Answer]) -> FloatArray:
    """(H + 1,) what belief that took each sign as a witness of its own has to be multiplied by; the unknown one last.

    A cause at an unknown level shows the complaint, and each sign after it, at some of its levels. The product of those
    shares is too small where the same levels show all of them, and too large where none does: what counts is the mean
    over the levels of the products.
    """
    predictor = model.predictor
    seen = [answer for answer in answers if not answer.skipped and answer.outcome is not None]
    factors = np.ones(len(model.causes) + 1)
    counts, several = model.remembered("several levels", lambda: _several(predictor))
    if not seen or not several.any():
        return factors
    together = model.remembered("levels that complain", lambda: _complained(model))
    apart = np.bincount(predictor.owner, together) / counts
    for answer in seen:
        likely = _likely(model, answer)
        together = together * likely
        apart *= np.bincount(predictor.owner, likely) / counts
    ratio = np.bincount(predictor.owner, together) / counts / np.maximum(apart, np.finfo(float).tiny)
    factors[:-1] = np.where(several, ratio, 1.0)[1:]
    return factors


def _several(predictor: Predictor) -> tuple[FloatArray, BoolArray]:
    """(1 + H,) at how many levels each cause was solved, and whether at several, of a cause that always shows."""
    counts = np.bincount(predictor.owner).astype(np.float64)
    return counts, (counts > 1) & (np.array([1.0, *(cause.at_times for cause in predictor.causes)]) == 1)


def _likely(model: Model, answer: Answer) -> FloatArray:
    """(R,) how likely an answer to a sign is at each level."""
    column = answer.outcome
    if column is None:
        raise ValueError("only signs are seen at a level")

    def worked_out() -> FloatArray:
        tables = [each.level_table(model.checks_by_id[answer.check_id]) for each in model.predictor.joined]
        table = np.vstack([tables[0], *(each[1:] for each in tables[1:])])
        return np.asarray((1 - SLIP) * table[:, column] + SLIP / table.shape[1])

    return model.remembered(("levels", answer.check_id, column), worked_out)


def _complained(model: Model) -> FloatArray:
    """(R,) how likely each level is to make the complaint, never nought: a person may mean another."""
    rows = [complaint_rows(each, model.complaint, model.subject, model.setups)[0] for each in model.predictor.joined]
    return np.asarray(np.maximum(np.concatenate([rows[0], *(each[1:] for each in rows[1:])]), SLIP))
