"""In what order to try remedies, one by one, until the fault is gone."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from diagnose.plan.information import FloatArray, IndexArray

MOST_ACTIONS = 16


@dataclass(frozen=True, slots=True)
class RepairPlan:
    """An order of actions and its expected cost."""

    order: tuple[int, ...]
    cost: float


def repair_order(probability: ArrayLike, cost: ArrayLike) -> IndexArray:
    """The order of least expected cost: by falling probability over cost; equal ones keep their order.

    Parameters
    ----------
    probability : (N,) array
        That each action mends the fault; exclusive, so the sum is at most one.
    cost : (N,) array
        Of trying it and seeing whether the fault is gone.

    Raises
    ------
    ValueError
        If they are no probabilities or a cost is negative.

    Notes
    -----
    Heckerman, Breese & Rommelse 1995, CACM 38(3), from memory.
    """
    probability, cost = _checked(probability, cost)
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = np.where(probability > 0, probability / cost, 0.0)
    return np.argsort(-ratio, kind="stable")


def worth_trying(probability: float, act: float, look: float) -> bool:
    """Whether a remedy is better tried now than after looking until the cause is known.

    Trying it costs `act`; where it does not mend, what it takes to look and to act is still to come. Looking first
    costs `look`, then `act` once. So act + (1 - p)(look + act) against look + act.

    >>> worth_trying(0.8, 15.0, 10.0), worth_trying(0.5, 15.0, 10.0)
    (True, False)
    """
    return act + (1 - probability) * (look + act) < look + act


def sequence_cost(
    probability: ArrayLike,
    cost: ArrayLike,
    order: ArrayLike,
    cluster: ArrayLike | None = None,
    setup_cost: ArrayLike = (),
) -> float:
    """Expected cost of trying actions in an order until the fault is gone.

    `cluster` (N,) numbers what has to be opened before an action (-1: nothing), `setup_cost` (K,) what
    opening costs, paid once. Raises ValueError as `repair_order` does.

    >>> round(sequence_cost([0.5, 0.3, 0.2], [10, 2, 1], [2, 1, 0]), 9)
    7.6
    """
    probability, cost = _checked(probability, cost)
    clusters, opening = _checked_clusters(len(cost), cluster, setup_cost)
    steps = [int(step) for step in np.asarray(order, dtype=np.intp)]
    if len(set(steps)) < len(steps) or any(not 0 <= step < len(cost) for step in steps):
        raise ValueError("an order names each action once")
    opened: set[int] = set()
    left, total = 1.0, 0.0
    for step in steps:
        place = int(clusters[step])
        total += left * (cost[step] + (opening[place] if place >= 0 and place not in opened else 0.0))
        opened.add(place)
        left -= probability[step]
    return float(total)


def repair_plan_with_setup(
    probability: ArrayLike, cost: ArrayLike, cluster: ArrayLike, setup_cost: ArrayLike
) -> RepairPlan:
    """The best order where some actions share the cost of opening something up.

    Exact: what is left to pay depends only on which actions were tried, so the best order is found over
    subsets, not over orders. Arguments as for `sequence_cost`.

    Raises
    ------
    ValueError
        As `repair_order`; for more than 16 actions; for a cluster without a set-up cost.
    """
    probability, cost = _checked(probability, cost)
    clusters, opening = _checked_clusters(len(cost), cluster, setup_cost)
    count = len(cost)
    if count > MOST_ACTIONS:
        raise ValueError(f"at most {MOST_ACTIONS} actions, not {count}")
    members = [sum(1 << n for n in range(count) if clusters[n] == place) for place in range(len(opening))]
    everything = (1 << count) - 1
    best, first = [0.0] * (everything + 1), [0] * (everything + 1)
    for tried in range(everything - 1, -1, -1):
        left = 1.0 - sum(float(probability[n]) for n in range(count) if tried >> n & 1)
        options = []
        for n in range(count):
            if not tried >> n & 1:
                place = int(clusters[n])
                extra = float(opening[place]) if place >= 0 and not tried & members[place] else 0.0
                options.append((left * (float(cost[n]) + extra) + best[tried | 1 << n], n))
        best[tried], first[tried] = min(options)
    order: list[int] = []
    tried = 0
    while tried != everything:
        order.append(first[tried])
        tried |= 1 << first[tried]
    return RepairPlan(tuple(order), best[0])


def _checked(probability: ArrayLike, cost: ArrayLike) -> tuple[FloatArray, FloatArray]:
    probability, cost = np.asarray(probability, dtype=np.float64), np.asarray(cost, dtype=np.float64)
    if probability.ndim != 1 or probability.shape != cost.shape:
        raise ValueError(f"probability {probability.shape} and cost {cost.shape} must be (N,) alike")
    if not np.all(probability >= 0) or not probability.sum() <= 1 + 1e-6:
        raise ValueError("probabilities must not be negative or sum to more than one")
    if not np.all((cost >= 0) & np.isfinite(cost)):
        raise ValueError("costs must be finite and not negative")
    return probability, cost


def _checked_clusters(count: int, cluster: ArrayLike | None, setup_cost: ArrayLike) -> tuple[IndexArray, FloatArray]:
    clusters = np.full(count, -1) if cluster is None else np.asarray(cluster, dtype=np.intp)
    opening = np.asarray(setup_cost, dtype=np.float64)
    if clusters.shape != (count,) or opening.ndim != 1 or np.any(clusters >= len(opening)):
        raise ValueError("each action needs a cluster that has a set-up cost, or -1")
    if not np.all((opening >= 0) & np.isfinite(opening)):
        raise ValueError("set-up costs must be finite and not negative")
    return clusters.astype(np.intp), opening
