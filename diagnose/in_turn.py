"""Where an end leaves several things to mend: the order in which to mend and try them, one by one."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

import numpy as np

from diagnose.acting import CHANGE_MINUTES, NEVER_GUESSED, SPARE
from diagnose.causes import Cause
from diagnose.circuit.netlist import FloatArray
from diagnose.model import Model
from diagnose.plan import repair_order, repair_plan_with_setup
from diagnose.safety import Competence, Need, PanelState, steps_between
from diagnose.texts import step_minutes
from diagnose.warmth import in_the_box

SHOWN = 0.05  # belief below which nothing is changed on the chance: a judgement
TOGETHER = 0.8  # belief that all of them hold, below which none is worth changing unseen: a judgement
MOST = 6
SET_MINUTES = 5.0  # to land a wire anew, or to put a setting right, and to try it: common practice
FETCH_MINUTES = 60.0  # more where a part is not to hand and has to be got first: a judgement, an hour at the least


@dataclass(frozen=True, slots=True)
class Turn:
    """One thing to mend and try. `minutes` are without those of opening the box, which are spent once."""

    part: str
    title: str
    probability: float
    minutes: float
    to_hand: bool  # nothing has to be bought first


def in_turn(
    model: Model, now: FloatArray, at_hand: Collection[str], state: PanelState, competence: Competence
) -> tuple[Turn, ...]:
    """What to mend and try one by one, in the order of the least expected minutes; empty where that is no way on.

    It is none where one thing alone is likely, where any that is likely is an electrician's work, a danger in itself or
    something that opens by itself, where all together hold too little belief, or where the box is not theirs to open.
    """
    sums = np.bincount(model.group_numbers, weights=now)
    likely = [int(group) for group in np.argsort(-sums, kind="stable") if sums[group] >= SHOWN]
    causes = [_leading(model, now, group) for group in likely]
    if sums[likely].sum() < TOGETHER or not all(cause is not None and _is_ours(model, cause) for cause in causes):
        return ()
    first: dict[str, Cause] = {}  # a part that is changed takes all its faults with it
    share: dict[str, float] = {}
    for cause, group in zip(causes, likely, strict=True):
        if cause is not None:
            first.setdefault(cause.part, cause)
            share[cause.part] = share.get(cause.part, 0.0) + float(sums[group])
    ours = list(first.values())
    if not 2 <= len(ours) <= MOST:
        return ()
    inside = [in_the_box(model.panel, cause.part) for cause in ours]
    if competence == "outside" and any(inside):
        return ()
    hand = [_to_hand(model, cause, at_hand) for cause in ours]
    turns = [
        Turn(cause.part, model.title(cause), share[cause.part], _minutes(model, cause, to_hand), to_hand)
        for cause, to_hand in zip(ours, hand, strict=True)
    ]
    return tuple(turns[number] for number in _order(turns, inside, state))


def opening_minutes(state: PanelState) -> float:
    """Minutes from a state of the panel until hands may go into its box."""
    return sum(step_minutes(step) for step in steps_between(state, Need("isolated", False)))


def _order(turns: list[Turn], inside: list[bool], state: PanelState) -> list[int]:
    probability = [turn.probability for turn in turns]
    cost = [turn.minutes for turn in turns]
    opening = opening_minutes(state)
    if not any(inside) or not opening:
        return [int(number) for number in repair_order(probability, cost)]
    return list(repair_plan_with_setup(probability, cost, [0 if each else -1 for each in inside], [opening]).order)


def _leading(model: Model, now: FloatArray, group: int) -> Cause | None:
    members = np.flatnonzero(model.group_numbers == group)
    number = int(members[np.argmax(now[members])])
    return model.causes[number] if number < len(model.causes) else None


def _is_ours(model: Model, cause: Cause) -> bool:
    """Whether it is one thing that can be mended by whoever may open the box, and is safe to try."""
    if cause.also is not None or cause.as_built or model.panel.at_the_service(cause.part):
        return False
    fault, part = model.fault(cause), model.panel.parts.get(cause.part)
    return not fault.stop and not fault.remedy.electrician and (part is None or part.kind.role not in NEVER_GUESSED)


def _to_hand(model: Model, cause: Cause, at_hand: Collection[str]) -> bool:
    part = model.panel.parts.get(cause.part)
    if part is None or model.fault(cause).usable:
        return True
    return f"{SPARE}{part.name}" in at_hand or f"{SPARE}{part.kind.name}" in at_hand


def _minutes(model: Model, cause: Cause, to_hand: bool) -> float:
    changed = cause.part in model.panel.parts and not model.fault(cause).usable
    return (CHANGE_MINUTES if changed else SET_MINUTES) + (0.0 if to_hand else FETCH_MINUTES)
