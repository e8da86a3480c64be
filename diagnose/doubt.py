"""When an answer is asked for once more, and which slip it may be."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Literal

import numpy as np

from diagnose.belief import posteriors_without_each, update
from diagnose.checks import Check
from diagnose.circuit.netlist import FloatArray
from diagnose.combined import belief_after, fits_answer, likelihood
from diagnose.heat_checks import seen_with
from diagnose.knowledge.slips import Slip, load_slips
from diagnose.likelihoods import fitting
from diagnose.model import Model
from diagnose.questions import Answer, Doubt

SETTLED, UPSET = 0.8, 0.5  # belief in what leads, before and after an answer that turns it over: a judgement
AGREES = 0.5  # belief in causes that a slip would make the answer fit, from which it is the likely one
NOTHING_SHARE = 0.02  # a reading below this share of what is expected is next to nothing
HANGS = 0.9  # belief that the other answers leave in what an end names, below which one answer decides it: a judgement
NAMED_ALONE = 0.97  # belief in one group, from which an end names it alone
MOST_SLIPS = 4
LONG_MINUTES = 10.0  # a rise, a boil-off or a log of temperatures: many readings, and not noted twice on a brew day


def doubted(model: Model, answers: Sequence[Answer], given: Answer) -> Literal["", "unexplained", "overturns"]:
    """Why an answer after these others should be asked for once more; nothing where it is taken as it is.

    Nothing known explains it, or it turns a settled belief over. Belief in groups counts: what would be done.
    """
    if not fits_answer(model, given).any():
        return "unexplained"
    before = belief_after(model, answers)
    after = update(before, likelihood(model, given))
    groups = _group_sums(model, before), _group_sums(model, after)
    lead = int(np.argmax(groups[0]))
    return "overturns" if groups[0][lead] > SETTLED and groups[1][lead] < UPSET else ""


def deciding(model: Model, answers: Sequence[Answer]) -> Answer | None:
    """The answer that an end hangs on, where it was given only once: without it the others point elsewhere.

    One slip must not name a part. Of several such answers, the one whose absence changes most.
    """
    given = [answer for answer in answers if not answer.skipped]
    if not given or not model.causes:
        return None
    likely = np.array([likelihood(model, answer) for answer in given])
    now = belief_after(model, answers)
    groups = model.group_numbers
    lead = groups == int(np.argmax(np.bincount(groups, weights=now)))
    if now[lead].sum() < NAMED_ALONE:
        return None  # several parts are named: no one answer has pointed at one, and more looking follows in any case
    found, least = None, HANGS
    for answer, without in zip(given, posteriors_without_each(model.prior, likely), strict=True):
        share = float(without[lead].sum())
        if not answer.doubted and model.checks_by_id[answer.check_id].minutes < LONG_MINUTES and share < least:
            found, least = answer, share
    return found


def _group_sums(model: Model, now: FloatArray) -> FloatArray:
    return np.bincount(model.group_numbers, weights=now).astype(np.float64)


def doubt_of(model: Model, answers: Sequence[Answer], check: Check, given: Answer, decides: bool = False) -> Doubt:
    """Why this answer to a check, beside those others, is asked for once more, and the slips to think of."""
    why = "decides" if decides else doubted(model, answers, given) or "unexplained"
    now = belief_after(model, answers)
    usual = [slip for slip in load_slips() if check.quantity in slip.quantities and _can_happen(slip, check)]
    likely = [slip for slip in usual if _would_fit(model, now, check, given, slip)]
    words = [*_neighbours(model, now, check, given), *(slip.words for slip in likely)]
    first = bool(words)
    words += [slip.words for slip in usual if slip not in likely and _possible(slip, given)]
    return Doubt(why, tuple(dict.fromkeys(words))[:MOST_SLIPS], first)


def _can_happen(slip: Slip, check: Check) -> bool:
    setup = check.setup
    return {
        "": True,
        "unplugged": bool(setup.unplugged) and not setup.supply_on,
        "lifted": bool(setup.lifted),
        "running": setup.supply_on,
        "warm": setup.warm,
    }[slip.when]


def _possible(slip: Slip, given: Answer) -> bool:
    """Whether an answer could come of a slip, whatever is believed: OL comes of no probes that touch each other."""
    if given.value is None or not slip.shows:
        return given.value is None or slip.factor is None or np.isfinite(given.value)
    return bool(np.isinf(given.value)) == (slip.shows == "open")


def _would_fit(model: Model, now: FloatArray, check: Check, given: Answer, slip: Slip) -> bool:
    """Whether most of the belief expects what the meter would have shown without the slip."""
    if given.value is None:
        return False
    prediction = seen_with(model, check, given.width)
    if slip.factor is not None:
        if not np.isfinite(given.value) or given.value == 0:
            return False
        fits = fitting(prediction, check.quantity, given.value * slip.factor, None)[1:]
        return bool(now[:-1][fits].sum() >= AGREES)
    low = prediction.low[1:]
    if slip.shows == "nothing":
        something = np.isfinite(low) & (abs(given.value) < NOTHING_SHARE * np.abs(low)) & (np.abs(low) > 0)
        over = np.isposinf(low) & (abs(given.value) < 1)
        return bool(now[:-1][something | over].sum() >= AGREES)
    if slip.shows == "open":
        return bool(np.isinf(given.value) and now[:-1][np.isfinite(prediction.high[1:])].sum() >= AGREES)
    return False


def _neighbours(model: Model, now: FloatArray, check: Check, given: Answer) -> Iterator[str]:
    """Pairs of terminals nearby between which the likeliest cause would show just this."""
    if given.value is None or not np.isfinite(given.value) or not check.tail or given.value == 0:
        return
    lead = int(np.argmax(now[:-1])) + 1 if len(model.causes) else 0
    for other in model.checks:
        if other.id == check.id or other.quantity != check.quantity or other.setup != check.setup:
            continue
        if len({check.tail, check.head} & {other.tail, other.head}) != 1:
            continue
        fits = fitting(model.predict(other), other.quantity, given.value, None)
        if fits[lead]:
            ends = " to ".join(model.panel.terminal_label(end) for end in (other.tail, other.head))
            yield f"another terminal: {ends} shows this"
            return
