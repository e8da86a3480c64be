"""Dead before live: which live checks tell apart what no other check does."""

from __future__ import annotations

import numpy as np

from diagnose.circuit.netlist import BoolArray, FloatArray, IndexArray
from diagnose.plan.information import information

# Two causes whose outcomes overlap more than this are alike to a check: Bhattacharyya's coefficient, the sum over
# outcomes of the root of both probabilities. At 0.9 a check tells two equally likely causes apart by 0.15 bits.
ALIKE_OVERLAP = 0.9


def told_apart(tables: FloatArray) -> BoolArray:
    """(H, H) which causes at least one check tells apart, from tables (C, H, O)."""
    causes = tables.shape[1]
    apart = np.zeros((causes, causes), dtype=bool)
    for root in np.sqrt(tables):
        apart |= root @ root.T < ALIKE_OVERLAP
    return apart


def bits_beyond(belief: FloatArray, group: IndexArray, tables: FloatArray, apart: BoolArray) -> FloatArray:
    """(C,) bits that checks are expected to tell about the group among causes that are not told apart otherwise.

    Parameters
    ----------
    belief, group : (H,) arrays
        Sums to one; what would be done about each cause.
    tables : (C, H, O) array
        Of the checks that are asked about.
    apart : (H, H) array of bool
        Causes that other checks tell apart.

    Notes
    -----
    For each cause, the information within the causes that it could still be taken for, weighed by its belief. Where
    being alike is transitive this is the mutual information given the class that the other checks lead to.
    """
    found = np.zeros(len(tables))
    if not len(tables):
        return found
    alike, index = np.unique(~apart | np.eye(len(belief), dtype=bool), axis=0, return_inverse=True)
    weights = np.bincount(index.reshape(-1), weights=belief, minlength=len(alike))
    for mask, weight in zip(alike, weights, strict=True):
        inside = np.flatnonzero(mask & (belief > 0))
        if weight <= 0 or len(np.unique(group[inside])) < 2:
            continue
        share = belief[inside] / belief[inside].sum()
        found += weight * information(share, tables[:, inside], group[inside])
    return found
