"""Dead before live: which live checks tell what no other check does."""

from __future__ import annotations

import numpy as np

from diagnose.circuit.netlist import BoolArray, FloatArray, IndexArray
from diagnose.plan.information import Telling, information


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
    together = information(belief, _both(table, others), group)
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


class DeadBeforeLive:
    """The same rule for some checks (C, H, O) of which it is asked again and again, of one belief after another."""

    def __init__(self, tables: FloatArray, live: BoolArray, group: IndexArray, least: float) -> None:
        self._live, self._least = live, least
        self._dead = np.flatnonzero(~live)
        others = tables[self._dead]
        self._together = {
            number: Telling(_both(tables[number], others), group) for number in np.flatnonzero(live).tolist()
        }

    def __call__(self, belief: FloatArray, usable: BoolArray, bits: FloatArray) -> BoolArray:
        """(C,) which of those that are usable, and tell so many bits, may be asked."""
        allowed = usable.copy()
        for number in np.flatnonzero(usable & self._live).tolist():
            rivals = usable[self._dead] & (bits[self._dead] >= bits[number] - self._least)
            if rivals.any():
                more = self._together[number].bits(belief) - bits[self._dead]
                allowed[number] = not (more[rivals] < self._least).any()
        return allowed


def _both(table: FloatArray, others: FloatArray) -> FloatArray:
    """(C, H, O * P) what a check and one of some others show together."""
    both = others[:, :, :, None] * table[None, :, None, :]
    return both.reshape(*others.shape[:2], others.shape[2] * table.shape[1])
