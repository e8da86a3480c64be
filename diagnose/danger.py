"""Answers that mean danger in themselves: what is burnt or wet, an earth that is gone, a device that trips again."""

from __future__ import annotations

from collections.abc import Sequence

from diagnose.checks import Check
from diagnose.model import Model
from diagnose.questions import Answer
from diagnose.safety.stop import TRIPS_AT_ONCE, dangerous_earth, dangerous_outcome, dangerous_trips

# A load of the mains has some ohms at least; a meter's leads add up to half an ohm: common practice.
LOAD_OHMS, SHORT_OHMS = 3.0, 1.0


def danger_in_any(model: Model, answers: Sequence[Answer]) -> str:
    """The first danger that these answers show, taken in their order; nothing where there is none."""
    for count, given in enumerate(answers, start=1):
        if not given.skipped and (danger := danger_in(model, answers[:count])):
            return danger
    return ""


def danger_in(model: Model, answers: Sequence[Answer]) -> str:
    """The danger that the last answer shows, by itself or after those before it; nothing where there is none."""
    last = answers[-1]
    if last.skipped:
        return ""
    check = model.checks_by_id[last.check_id]
    if last.outcome is not None:
        outcome = outcome_of(model, check, last)
        tripped = [
            given for given in answers
            if not given.skipped
            and (other := model.checks_by_id[given.check_id]).part == check.part
            and other.sign == check.sign
            and outcome_of(model, other, given) == TRIPS_AT_ONCE
        ]  # fmt: skip
        again = dangerous_trips(len(tripped)) if outcome == TRIPS_AT_ONCE else ""
        return dangerous_outcome(outcome) or again
    if check.quantity == "resistance" and last.value is not None and along_earth(model, check):
        return dangerous_earth(last.value)
    return ""


def tripped_at_once(model: Model, given: Answer) -> bool:
    """Whether an answer says that a protective device tripped as soon as it was set."""
    return not given.skipped and outcome_of(model, model.checks_by_id[given.check_id], given) == TRIPS_AT_ONCE


def outcome_of(model: Model, check: Check, given: Answer) -> str:
    """The outcome of a sign that was answered, in its words; nothing for a reading or a skip."""
    if given.outcome is None:
        return ""
    return model.panel.kind_of(check.part).signs[check.sign].outcomes[given.outcome]


def shorted(model: Model, given: Answer) -> bool:
    """Whether a reading tells of a short across the supply: a load that has next to no ohms, or a pole on the earth.

    The supply stays off then: nobody switches on into a short to see more.
    """
    check = model.checks_by_id[given.check_id]
    if check.quantity != "resistance" or given.value is None or given.value >= SHORT_OHMS:
        return False
    least = float(model.predict(check).low[0])
    load = LOAD_OHMS <= least < float("inf")
    to_earth = _is_earth(model, check.tail) != _is_earth(model, check.head)
    return load or (to_earth and least > LOAD_OHMS)


def along_earth(model: Model, check: Check) -> bool:
    """Whether a reading is of one earth path, from end to end: both probes are on an earth terminal."""
    return all(_is_earth(model, end) for end in (check.tail, check.head))


def _is_earth(model: Model, end: str) -> bool:
    part, _, name = end.partition(".")
    return bool(end) and model.panel.kind_of(part).terminals[name].path == "earth"
