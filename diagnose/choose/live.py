"""Dead before live: which live checks tell what no other check does."""

from __future__ import annotations

import numpy as np

from diagnose.circuit.netlist import BoolArray, FloatArray, IndexArray
from diagnose.plan.information import information


def bits_after(belief: FloatArray, table: FloatArray, others: FloatArray, group: IndexArray) -> FloatArray:
    """(C,) bits about the group that a check is expected to tell once one of the others has been done.

    Parameters
    ----------
    belief, group : (H,) arrays
        Sums to one; what would be done about each cause.
    table : (H, O) array
        Of the check that is asked about.
    others : (C, H, P) array
        Of the checks that could be done instead.

    Notes
    -----
    I(O; G | P) = I(O, P; G) - I(P; G): the chain rule of mutual information, outcomes being independent given the
    cause.
    """
    if not len(others):
        return np.zeros(0)
    both = others[:, :, :, None] * table[None, :, None, :]
    together = information(belief, both.reshape(len(others), len(belief), -1), group)
    return np.maximum(together - information(belief, others, group), 0.0)


def may_be_asked(
    belief: FloatArray, tables: FloatArray, bits: FloatArray, live: BoolArray, group: IndexArray, least: float
) -> BoolArray:
    """(C,) which checks may be asked: all that are not live, and a live one that no single other one makes needless.

    Parameters
    ----------
    belief, group : (H,) arrays
        As for `bits_after`.
    tables, bits, live : (C, H, O), (C,) and (C,) arrays
        Of all checks: what each shows and tells, and whether it is done on live parts.
    least : float
        Bits that count for nothing.
    """
    allowed = ~live
    for number in np.flatnonzero(live).tolist():
        rivals = np.flatnonzero(~live & (bits >= bits[number] - least))
        allowed[number] = not (bits_after(belief, tables[number], tables[rivals], group) < least).any()
    return allowed
