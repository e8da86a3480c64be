"""Checks that are done in one place, taken together: what the way there is worth."""

from __future__ import annotations

import numpy as np

from diagnose.plan.information import FloatArray, IndexArray


def joint_bits(belief: FloatArray, tables: FloatArray, group: IndexArray) -> float:
    """Bits about the group that all checks (C, H, O) of a place would tell together, each by its likeliest outcome."""
    if not len(tables):
        return 0.0
    marks = tables.argmax(axis=2)  # (C, H)
    _, cell = np.unique(marks, axis=1, return_inverse=True)
    cell = cell.reshape(-1)
    joint = np.zeros((cell.max() + 1, group.max() + 1))
    np.add.at(joint, (cell, group), belief)
    return max(0.0, _entropy(joint.sum(axis=0)) + _entropy(joint.sum(axis=1)) - _entropy(joint.reshape(-1)))


def shared_rate(bits: FloatArray, own: FloatArray, way: float, joint: float) -> FloatArray:
    """(C,) bits per minute of each check of a place, the way there shared with those that follow it there.

    Parameters
    ----------
    bits, own : (C,) arrays
        What each check tells, and its minutes without the way.
    way : float
        Minutes to the place.
    joint : float
        Bits that all of them tell together.

    Notes
    -----
    The way is shared among as many checks as it takes, at the rate of the best, to get all that the place tells. That
    is the rate of a cluster in repairs with a shared cost (arXiv 1203.3502), with information in place of repair.
    """
    if not len(bits):
        return np.zeros(0)
    best = float(bits.max())
    visits = max(1.0, joint / best) if best > 0 else 1.0
    return np.asarray(bits / (own + way / visits))


def _entropy(shares: FloatArray) -> float:
    some = shares[shares > 0]
    return -float((some * np.log2(some)).sum())
