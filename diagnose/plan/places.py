"""Checks that are done in different places: what each costs depends on where one stands."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from diagnose.plan.information import FloatArray, IndexArray, checked_costs


@dataclass(frozen=True, eq=False, slots=True)
class Places:
    """What checks cost from P places.

    `costs` (P, C) is that of each check with the way to it from each place, `after` (C,) the place where one stands
    once a check is done, `start` the place where one stands now.
    """

    costs: FloatArray
    after: IndexArray
    start: int = 0

    def some(self, checks: IndexArray) -> Places:
        """The same for some of the checks."""
        return Places(self.costs[:, checks], self.after[checks], self.start)


def checked_places(costs: ArrayLike | Places, checks: int) -> Places:
    """Costs (C,) as one place that is never left; places as they are.

    Raises
    ------
    ValueError
        Unless costs are finite and above 0, and every check leads to a place that there is.
    """
    if not isinstance(costs, Places):
        return Places(checked_costs(costs, checks)[None], np.zeros(checks, dtype=np.intp))
    table, after = np.asarray(costs.costs, dtype=np.float64), np.asarray(costs.after, dtype=np.intp)
    if table.ndim != 2 or table.shape[1] != checks or not np.all((table > 0) & np.isfinite(table)):
        raise ValueError(f"costs from places must be (P, {checks}) finite numbers above 0, not {table.shape}")
    if after.shape != (checks,) or not 0 <= costs.start < len(table):
        raise ValueError(f"{checks} checks and a start must each have a place from 0 to {len(table) - 1}")
    if checks and not 0 <= after.min() <= after.max() < len(table):
        raise ValueError(f"places are numbered from 0 to {len(table) - 1}")
    return Places(table, after, costs.start)
