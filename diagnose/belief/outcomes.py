"""The few different outcomes that a numeric check can have, for planning."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike, NDArray

from diagnose.belief.likelihood import EXPLAINED_OVER, SLIP
from diagnose.belief.scale import FloatArray, Scale
from diagnose.belief.spread import BLIND_OVER, SURE_OVER, Spread, checked_intervals, spread

IndexArray = NDArray[np.intp]


@dataclass(frozen=True, eq=False, slots=True)
class OutcomeTable:
    """The outcomes of one numeric check, rising; OL, if it can happen, comes last.

    `edges` are the readings (SI) between neighbouring outcomes; `representatives` (O,) a typical reading of
    each; `low`, `high` (O,) what its causes predict, for print; `table` (H, O) its probability under
    each cause.
    """

    edges: FloatArray
    representatives: FloatArray
    low: FloatArray
    high: FloatArray
    table: FloatArray
    over: float = math.inf

    @property
    def has_over(self) -> bool:
        """Whether the last outcome is OL."""
        return bool(np.isposinf(self.representatives[-1]))

    def index(self, reading: float) -> int:
        """The outcome that a reading belongs to."""
        if reading > self.over or reading == math.inf:
            return len(self.representatives) - 1
        return int(np.searchsorted(self.edges, reading, side="right"))


def outcome_table(
    low: ArrayLike, high: ArrayLike, scale: Scale, max_outcomes: int = 8, slip: float = SLIP
) -> OutcomeTable:
    """Divide a scale into outcomes that tell causes apart.

    The intervals that are disjoint from one another, as many as there can be, make the outcomes; the edges
    lie midway in the gaps. An interval that reaches over an edge is split in proportion.

    Parameters
    ----------
    low, high : (H,) array
        What each cause predicts; inf for OL; both nan where a cause says nothing.
    max_outcomes : int
        At least 2. Where there would be more, the closest neighbours become one.

    Raises
    ------
    ValueError
        As `numeric_likelihood`, and for `max_outcomes` below 2.
    """
    if max_outcomes < 2 or not 0 <= slip <= 1:
        raise ValueError(f"max_outcomes {max_outcomes} must be at least 2, slip {slip} a share")
    low, high, _ = checked_intervals(low, high)
    if not len(low):
        raise ValueError("no causes to tell apart")
    # Most causes leave a reading as it is in a sound panel: work on the few different intervals.
    low, high, inverse = _distinct(low, high)
    spreads = spread(low, high, scale)
    has_over = bool(np.any((spreads.over >= EXPLAINED_OVER) & ~spreads.silent))
    groups = _anchors(spreads, max_outcomes - has_over)
    cuts = _cuts(spreads, groups)
    bounds = _bounds(spreads, groups, cuts, scale, low, high)
    if has_over:
        bounds = np.column_stack([bounds, np.full(3, np.inf)])
    table = _shares(spreads, cuts, has_over, slip)[inverse]
    return OutcomeTable(scale.value(cuts), bounds[0], bounds[1], bounds[2], table, scale.over)


def cut_table(
    low: ArrayLike, high: ArrayLike, scale: Scale, cuts: ArrayLike, slip: float = SLIP, has_over: bool = False
) -> FloatArray:
    """(H, O) probability of each outcome of a numeric check, where the readings that divide them are known.

    For wide intervals that all overlap, and are still told apart by how much of each lies where.

    Parameters
    ----------
    low, high : (H,) array
        What each cause predicts; inf for OL, both nan where a cause says nothing.
    cuts : (O - 1,) array
        Readings in SI, rising.
    has_over : bool
        OL is one more outcome, the last; else it counts with the highest readings.

    Raises
    ------
    ValueError
        As `numeric_likelihood`.
    """
    low, high, _ = checked_intervals(low, high)
    return _shares(spread(low, high, scale), np.asarray(scale.coordinate(cuts)), has_over, slip)


def pad_tables(tables: Sequence[FloatArray]) -> FloatArray:
    """Stack tables (H, O) of different O as (C, H, largest O), filled up with outcomes that never happen."""
    if not tables:
        raise ValueError("no tables to stack")
    widest = max(table.shape[1] for table in tables)
    padded = np.zeros((len(tables), tables[0].shape[0], widest))
    for row, table in zip(padded, tables, strict=True):
        row[:, : table.shape[1]] = table
    return padded


def _distinct(low: FloatArray, high: FloatArray) -> tuple[FloatArray, FloatArray, IndexArray]:
    """The different intervals, and for each cause the number of its own."""
    first, second = np.where(np.isnan(low), -np.inf, low), np.where(np.isnan(high), -np.inf, high)
    order = np.lexsort((second, first))
    first, second = first[order], second[order]
    is_new = np.r_[True, (first[1:] != first[:-1]) | (second[1:] != second[:-1])]
    inverse = np.empty(len(low), dtype=np.intp)
    inverse[order] = np.cumsum(is_new) - 1
    return low[order[is_new]], high[order[is_new]], inverse


def _anchors(spreads: Spread, most: int) -> list[list[int]]:
    """Disjoint intervals from low to high, as many as there can be; the closest go together if too many."""
    starts = (spreads.start - spreads.sigma_start).tolist()
    ends = (spreads.end + spreads.sigma_end).tolist()
    numbers = np.flatnonzero(~spreads.silent & (spreads.over < SURE_OVER)).tolist()
    chosen: list[int] = []
    reach = -math.inf
    for number in sorted(numbers, key=ends.__getitem__):  # earliest end first: the classic greedy choice
        if starts[number] > reach:
            chosen.append(number)
            reach = ends[number]
    gaps = [starts[after] - ends[before] for before, after in pairwise(chosen)]
    kept = set(sorted(range(len(gaps)), key=lambda gap: -gaps[gap])[: most - 1])
    groups: list[list[int]] = []
    for position, number in enumerate(chosen):
        if position == 0 or position - 1 in kept:
            groups.append([])
        groups[-1].append(number)
    return groups


def _cuts(spreads: Spread, groups: list[list[int]]) -> FloatArray:
    """The places midway between neighbouring outcomes."""
    return np.array([(spreads.end[left[-1]] + spreads.start[right[0]]) / 2 for left, right in pairwise(groups)])


def _shares(spreads: Spread, cuts: FloatArray, has_over: bool, slip: float) -> FloatArray:
    """(K, O) probability of each outcome under each interval."""
    edges = np.r_[0.0, cuts, 1.0]
    over = (1 - slip) * spreads.over + slip * BLIND_OVER
    numbers = (1 - slip) * (1 - spreads.over)[:, None] * np.diff(spreads.below(edges), axis=1)
    numbers = numbers + slip * (1 - BLIND_OVER) * np.diff(edges)
    if has_over:
        shares = np.column_stack([numbers, over])
    else:
        numbers[:, -1] += over
        shares = numbers
    return np.asarray(shares / shares.sum(axis=1, keepdims=True))


def _bounds(
    spreads: Spread,
    groups: list[list[int]],
    cuts: FloatArray,
    scale: Scale,
    low: FloatArray,
    high: FloatArray,
) -> FloatArray:
    """(3, O) typical, lowest and highest reading of each outcome, from the intervals that lie in it whole."""
    if not groups:
        return np.array([[float(scale.value(0.5))], [scale.low], [scale.high]])
    edges = np.r_[0.0, cuts, 1.0]
    usable = ~spreads.silent & (spreads.over < SURE_OVER)
    columns = []
    for group, left, right in zip(groups, edges[:-1], edges[1:], strict=True):
        middle = group[len(group) // 2]
        whole = usable & (spreads.start >= left) & (spreads.end <= right)
        place = (spreads.start[middle] + spreads.end[middle]) / 2
        columns.append((float(scale.value(place)), low[whole].min(), high[whole].max()))
    return np.array(columns).T
