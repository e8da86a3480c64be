"""More than one fault at once: sets of causes that together explain what was seen."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable, Mapping, Sequence
from itertools import combinations
from typing import TypeVar

import numpy as np
from numpy.typing import ArrayLike

from diagnose.plan.information import FloatArray

Part = TypeVar("Part", bound=Hashable)
MOST_SETS = 100_000


def minimal_hitting_sets(
    conflicts: Iterable[Iterable[Part]], most_faults: int | None = None
) -> tuple[frozenset[Part], ...]:
    """The smallest sets that share a member with every conflict: the minimal diagnoses.

    Parameters
    ----------
    conflicts : iterable of iterables
        Each a set of parts that can't all be sound.
    most_faults : int, optional
        Larger sets are left out.

    Returns
    -------
    tuple of frozensets, fewest members first, then by the members' names.

    Raises
    ------
    ValueError
        If there are more than 100 000 sets to keep.

    Notes
    -----
    Reiter 1987, Artificial Intelligence 32 (from memory); built up conflict by conflict (Berge).

    >>> [sorted(each) for each in minimal_hitting_sets([{"A1", "M1", "M2"}, {"A1", "A2", "M1", "M3"}])]
    [['A1'], ['M1'], ['A2', 'M2'], ['M2', 'M3']]
    """
    found: set[frozenset[Part]] = {frozenset()}
    for conflict in sorted((frozenset(each) for each in conflicts), key=len):
        hitting = {each for each in found if each & conflict}
        longer = {each | {part} for each in found - hitting for part in conflict}
        if most_faults is not None:
            longer = {each for each in longer if len(each) <= most_faults}
        # A longer set is minimal unless it holds a set that hit this conflict all along.
        found = hitting | {each for each in longer if not any(short <= each for short in hitting)}
        if len(found) > MOST_SETS:
            raise ValueError("too many sets of faults")
    return tuple(sorted(found, key=lambda each: (len(each), sorted(map(str, each)))))


def minimal_conflicts(
    members: Sequence[Part], agree: Callable[[frozenset[Part]], bool], most: int | None = None
) -> tuple[frozenset[Part], ...]:
    """The smallest sets that can't all hold: of parts that can't all be sound, or of readings that nothing explains.

    Parameters
    ----------
    members : sequence
        What a set may be of.
    agree : callable
        Whether a set can hold together. A set within one that can is taken to hold as well.
    most : int, optional
        Larger sets are not looked for.

    Returns
    -------
    tuple of frozensets, fewest members first, in the order of `members`. Looks at no set that holds a smaller conflict
    (Reiter 1987, Artificial Intelligence 32, from memory, calls these minimal conflict sets).

    >>> [sorted(each) for each in minimal_conflicts("abc", lambda some: not {"a", "c"} <= some)]
    [['a', 'c']]
    """
    found: list[frozenset[Part]] = []
    for size in range(1, (len(members) if most is None else min(most, len(members))) + 1):
        for each in map(frozenset, combinations(members, size)):
            if not any(smaller <= each for smaller in found) and not agree(each):
                found.append(each)
    return tuple(found)


def consistent_candidates(
    parts: Sequence[Part], conflicts: Iterable[Iterable[Part]], most_faults: int | None = None
) -> tuple[frozenset[Part], ...]:
    """All sets of parts, minimal or not, that hit every conflict; fewest members first."""
    sets = [frozenset(each) for each in conflicts]
    most = len(parts) if most_faults is None else min(most_faults, len(parts))
    every = (frozenset(each) for size in range(most + 1) for each in combinations(parts, size))
    return tuple(candidate for candidate in every if all(candidate & conflict for conflict in sets))


def candidate_probabilities(candidates: Sequence[frozenset[Part]], failing: Mapping[Part, float]) -> FloatArray:
    """(N,) probability that just the members of each candidate failed, parts failing independently.

    Every candidate that fits what was seen keeps its prior, and the whole is scaled to one (de Kleer &
    Williams 1987, Artificial Intelligence 32). Raises ValueError for probabilities not between 0 and 1.
    """
    if not all(0 < share < 1 for share in failing.values()):
        raise ValueError("each part must fail with a probability between 0 and 1")
    if not candidates:
        raise ValueError("no candidate is left")
    odds = {part: np.log(share) - np.log1p(-share) for part, share in failing.items()}
    logs = np.array([sum(odds[part] for part in candidate) for candidate in candidates], dtype=np.float64)
    weights = np.exp(logs - logs.max())
    return np.asarray(weights / weights.sum())


def probe_table(predicted: ArrayLike, values: int) -> FloatArray:
    """Outcomes of measuring at a place, for `expected_information`.

    Parameters
    ----------
    predicted : (N,) array
        The value that each candidate predicts there; nan where it predicts none.
    values : int
        How many different values can occur there at all. A candidate that predicts none takes each to be
        equally probable (de Kleer & Williams 1987).

    Returns
    -------
    (N, O) array: a column for each predicted value, rising, and a last one for all other values.

    Raises
    ------
    ValueError
        If more values are predicted than can occur.
    """
    predicted = np.asarray(predicted, dtype=np.float64)
    named = np.unique(predicted[~np.isnan(predicted)])
    if values < max(len(named), 1):
        raise ValueError(f"{len(named)} values are predicted, {values} can occur")
    table = np.zeros((len(predicted), len(named) + 1))
    table[:, :-1] = predicted[:, None] == named
    table[np.isnan(predicted)] = np.r_[np.full(len(named), 1 / values), 1 - len(named) / values]
    return table
