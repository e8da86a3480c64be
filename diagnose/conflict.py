"""Where nothing known explains the answers: which of them exclude each other, and which one is the odd one out."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from diagnose.combine import minimal_conflicts, minimal_hitting_sets
from diagnose.combined import fits_answer, likelihood, told
from diagnose.model import Model
from diagnose.questions import Answer, Conflict

MOST_TOGETHER = 3  # more answers than this that exclude each other only together tell a reader nothing


def conflict_of(model: Model, answers: Sequence[Answer]) -> Conflict | None:
    """Which answers exclude each other under the causes of a model; None where one of these explains all of them."""
    given = told(answers)
    if not given or not model.causes:
        return None
    fits = np.array([fits_answer(model, answer)[1:] for answer in given])
    if fits.all(axis=0).any():
        return None
    sets = minimal_conflicts(range(len(given)), lambda some: bool(fits[list(some)].all(axis=0).any()), MOST_TOGETHER)
    odd, without = _odd_one(model, given, fits)
    # Of several, one with the odd answer in it says more.
    chosen = min(sets, key=lambda some: (len(some), odd not in some, sorted(some)), default=frozenset[int]())
    several: tuple[int, ...] = ()
    if odd < 0:
        several, without = _odd_ones(model, given, fits, sets)
    return Conflict(
        tuple(given[n].check_id for n in sorted(chosen)), "" if odd < 0 else given[odd].check_id, without,
        tuple(given[number].check_id for number in several),
    )  # fmt: skip


def _odd_one(
    model: Model, given: Sequence[Answer], fits: np.ndarray[tuple[int, int], np.dtype[np.bool_]]
) -> tuple[int, str]:
    """The answer that is most likely the slip, by its number, and the cause that it hides; -1 where there is none."""
    likely = np.array([likelihood(model, answer) for answer in given])
    likely, blind = likely[:, :-1], likely[:, -1]  # under the cause that nobody knows: what a slip may be
    found, most, without = -1, 0.0, ""
    for number in range(len(given)):
        others = np.delete(likely, number, axis=0).prod(axis=0) * np.delete(fits, number, axis=0).all(axis=0)
        weight = model.prior[:-1] * others * blind[number]
        if len(given) > 1 and weight.max() > most:
            found, most, without = number, float(weight.max()), model.title(model.causes[int(weight.argmax())])
    return found, without


def _odd_ones(
    model: Model, given: Sequence[Answer], fits: np.ndarray[tuple[int, int], np.dtype[np.bool_]],
    conflicts: Sequence[frozenset[int]],
) -> tuple[tuple[int, ...], str]:  # fmt: skip
    """The fewest answers that would all have to be wrong, by their numbers, and the cause that they hide.

    They are hitting sets of the conflicts, answers in the place of parts: of every set that excludes itself at least
    one is wrong. Of several the likeliest; none where even so nothing known explains the rest.
    """
    likely = np.array([likelihood(model, answer) for answer in given])
    likely, blind = likely[:, :-1], likely[:, -1]
    found: tuple[int, ...] = ()
    most, without = 0.0, ""
    for some in minimal_hitting_sets(conflicts, MOST_TOGETHER):
        wrong = sorted(some)
        if len(wrong) == len(given) or (found and len(wrong) > len(found)):
            break
        rest = np.delete(likely, wrong, axis=0).prod(axis=0) * np.delete(fits, wrong, axis=0).all(axis=0)
        weight = model.prior[:-1] * rest * blind[wrong].prod()
        if weight.max() > most:
            found, most, without = tuple(wrong), float(weight.max()), model.title(model.causes[int(weight.argmax())])
    return found, without
