"""How much a check is expected to tell about what has to be done, and for what cost."""

from __future__ import annotations

from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]
IndexArray = NDArray[np.intp]
SUM_TOLERANCE = 1e-6
DIGITS = 12  # of bits, after the point: what is beyond is rounding
NOTHING = 10.0**-DIGITS
SURE = 1 - 1e-9
TINY = float(np.finfo(np.float64).tiny)

Stop = float | Literal["isolated"]


def group_entropy(belief: ArrayLike, group: ArrayLike) -> float:
    """Bits of uncertainty about which group the cause is in.

    >>> group_entropy([0.5, 0.25, 0.25], [0, 1, 1])
    1.0
    """
    belief, group = checked_belief(belief, group)
    shares: FloatArray = np.bincount(group, weights=belief).astype(np.float64)
    return max(0.0, -float(_sum_xlogx(shares)))


def expected_information(
    belief: ArrayLike, table: ArrayLike, group: ArrayLike, cause_weight: float = 0.0
) -> FloatArray:
    """Mutual information between a check's outcome and the group that the cause is in, in bits.

    Parameters
    ----------
    belief : (H,) array
        Sums to one.
    table : (H, O) or (C, H, O) array
        Probability of each outcome under each cause, of one check or of C. Rows sum to one.
    group : (H,) array of int, not negative
        What would be replaced or done for each cause.
    cause_weight : float
        Share, 0 to 1, of the score given to telling causes of one group apart. At 0, causes that are mended
        alike need not be told apart.

    Returns
    -------
    () or (C,) array, from 0 to the entropy of the groups.

    Raises
    ------
    ValueError
        If shapes do not fit or the numbers are no probabilities.

    Notes
    -----
    I(O; G) = sum p(o, g) log2(p(o, g) / (p(o) p(g))): Shannon 1948; as a rule for choosing tests, de Kleer &
    Williams 1987, Artificial Intelligence 32.
    """
    belief, group = checked_belief(belief, group)
    tables = checked_tables(table, len(belief))
    bits = information(belief, tables, group)
    if cause_weight:
        if not 0 <= cause_weight <= 1:
            raise ValueError(f"cause_weight must be a share from 0 to 1, not {cause_weight}")
        fine = information(belief, tables, np.arange(len(belief)))
        bits = (1 - cause_weight) * bits + cause_weight * fine
    return bits if np.ndim(table) == 3 else bits[0]


def rank(
    belief: ArrayLike, tables: ArrayLike, group: ArrayLike, costs: ArrayLike, cause_weight: float = 0.0
) -> tuple[IndexArray, FloatArray]:
    """Checks by information per cost, best first; equal ones keep their order.

    Parameters
    ----------
    belief, tables, group
        As for `expected_information`, with `tables` (C, H, O).
    costs : (C,) array
        Minutes of the check and of changing the setup, and the price of its risk. More than 0.

    Returns
    -------
    order : (C,) int
    score : (C,) bits per unit of cost, in the order of `tables`.

    Raises
    ------
    ValueError
        As `expected_information`, and for costs that are not above 0.
    """
    bits = expected_information(belief, tables, group, cause_weight)
    score = bits / checked_costs(costs, len(bits))
    return np.argsort(-score, kind="stable"), score


def information(belief: FloatArray, tables: FloatArray, group: IndexArray) -> FloatArray:
    """(C,) bits, without looking at whether the arguments make sense."""
    if not len(tables):
        return np.zeros(0)
    live = np.flatnonzero(belief > 0)
    live = live[np.argsort(group[live], kind="stable")]
    sorted_group, weights = group[live], belief[live]
    starts = np.flatnonzero(np.concatenate(([True], sorted_group[1:] != sorted_group[:-1])))
    joint = tables[:, live]
    joint *= weights[:, None]
    if len(starts) < len(live):
        joint = np.add.reduceat(joint, starts, axis=1)
    by_outcome = joint.sum(axis=1)
    # Rows sum to one, so what a group comes to is the same for all checks.
    known = _sum_xlogx(np.add.reduceat(weights, starts)) if len(live) else 0.0
    bits = _sum_xlogx(joint.reshape(len(joint), -1)) - _sum_xlogx(by_outcome) - known
    return _rounded(bits)


class Telling:
    """Checks (C, H, O) of which it is asked again and again what they tell, of one belief after another."""

    def __init__(self, tables: FloatArray, group: IndexArray) -> None:
        flat = np.ascontiguousarray(tables.transpose(0, 2, 1))
        happens: NDArray[np.bool_] = np.asarray(flat.any(axis=2))
        happens[:, 0] = True
        self._flat = flat[happens]  # (R, H) the outcomes that can happen, check by check
        counts = happens.sum(axis=1)
        self._starts = np.cumsum(counts) - counts
        self.member = np.eye(int(group.max(initial=0)) + 1)[group]  # (H, G)
        # A last column for all groups together: what an outcome comes to is taken off with the same product.
        self._with_all = np.hstack([self.member, np.ones((len(group), 1))])
        self._signs = np.r_[np.ones(self.member.shape[1]), -1.0]

    def bits(self, belief: FloatArray) -> FloatArray:
        """(C,) bits about the group; as `information`, and as little looked at."""
        if not len(self._starts):
            return np.zeros(0)
        joint = (self._flat * belief) @ self._with_all
        logs = np.log2(joint + TINY)
        logs *= joint
        shares = belief @ self.member
        bits = np.add.reduceat(logs @ self._signs, self._starts) - shares @ np.log2(shares + TINY)
        return _rounded(bits)

    def bits_of_each(self, beliefs: FloatArray) -> FloatArray:
        """(W, C) the same of each of some beliefs (W, H)."""
        if not len(self._starts):
            return np.zeros((len(beliefs), 0))
        rows, causes = self._flat.shape
        joint = (self._flat * beliefs[:, None, :]).reshape(-1, causes) @ self._with_all
        logs = np.log2(joint + TINY)
        logs *= joint
        shares = beliefs @ self.member
        known = np.einsum("wg,wg->w", shares, np.log2(shares + TINY))
        each = (logs @ self._signs).reshape(len(beliefs), rows)
        return _rounded(np.add.reduceat(each, self._starts, axis=1) - known[:, None])


def checked_stop(stop: Stop) -> float:
    """The share of belief at which a group counts as known. Raises ValueError if `stop` is no share."""
    sure = SURE if stop == "isolated" else float(stop)
    if not 0 < sure <= 1:
        raise ValueError(f"stop must be 'isolated' or a share, not {stop}")
    return min(sure, SURE)


def checked_tables(tables: ArrayLike, causes: int) -> FloatArray:
    """Tables as (C, H, O). Raises ValueError unless rows are probabilities."""
    tables = np.asarray(tables, dtype=np.float64)
    if tables.ndim == 2:
        tables = tables[None]
    if tables.ndim != 3 or tables.shape[1] != causes or not tables.shape[2]:
        raise ValueError(f"tables must be (C, {causes}, O), not {tables.shape}")
    if tables.size and not (tables.min() >= 0 and abs(tables @ np.ones(tables.shape[2]) - 1).max() <= SUM_TOLERANCE):
        raise ValueError("each row of a table must be probabilities that sum to one")
    return tables


def checked_costs(costs: ArrayLike, checks: int) -> FloatArray:
    """Costs as (C,). Raises ValueError unless they are finite and above 0."""
    costs = np.asarray(costs, dtype=np.float64)
    if costs.shape != (checks,) or not np.all((costs > 0) & np.isfinite(costs)):
        raise ValueError(f"costs must be {checks} finite numbers above 0")
    return costs


def checked_belief(belief: ArrayLike, group: ArrayLike) -> tuple[FloatArray, IndexArray]:
    """Belief and group as (H,) arrays. Raises ValueError unless belief is a distribution."""
    belief, group = np.asarray(belief, dtype=np.float64), np.asarray(group, dtype=np.intp)
    if belief.ndim != 1 or not len(belief) or belief.shape != group.shape:
        raise ValueError(f"belief {belief.shape} and group {group.shape} must be (H,) alike")
    if not belief.min() >= 0 or not abs(belief.sum() - 1) <= SUM_TOLERANCE:
        raise ValueError("belief must be probabilities that sum to one")
    if group.min() < 0:
        raise ValueError("groups are numbered from 0")
    return belief, group


def _rounded(bits: FloatArray) -> FloatArray:
    """Without what rounding adds: what tells just as much must not go before another by the order of a sum."""
    return np.asarray(np.maximum(np.round(bits, DIGITS), 0.0))


def _sum_xlogx(shares: FloatArray) -> FloatArray:
    # Adding the smallest number turns log(0) into a finite one without a mask; the product is 0 all the same.
    logs = shares + TINY
    np.log2(logs, out=logs)
    return np.asarray(np.einsum("...i,...i->...", shares, logs))
