"""Which causes a set of checks tells apart."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np

from diagnose.checks import Check
from diagnose.choose import table_of
from diagnose.circuit.netlist import BoolArray, FloatArray
from diagnose.model import Model

OVERLAP = 0.1
"""Two causes are apart where one check's outcomes under them overlap by no more than this: nine looks in ten tell."""


def overlaps(table: FloatArray) -> FloatArray:
    """(H, H) what the outcomes under two causes have in common: 1 where they are alike, 0 where one look tells.

    `table` is (H, O), the probability of each outcome under each cause. It is one less the total variation distance.
    """
    return np.asarray(np.minimum(table[:, None, :], table[None, :, :]).sum(axis=2))


def told_apart(model: Model, checks: Iterable[Check], already: BoolArray | None = None) -> BoolArray:
    """(H, H) whether some check by itself tells two causes apart; what is done about both alike counts as apart.

    `already` (H, H) is what other checks tell, so that they need not be looked at anew.
    """
    count = len(model.causes)
    groups = model.group_numbers[:count]
    apart = np.asarray(groups[:, None] == groups[None, :]) if already is None else already
    for check in checks:
        apart = apart | (overlaps(table_of(model, check)[:count]) <= OVERLAP)
    return apart


def splitting(model: Model, checks: Sequence[Check], one: int, other: int) -> tuple[Check, ...]:
    """The checks that by themselves tell two causes apart, by their numbers."""
    return tuple(
        check
        for check in checks
        if float(np.minimum(table_of(model, check)[one], table_of(model, check)[other]).sum()) <= OVERLAP
    )
