"""What a verdict says: shares of causes and of what would be done, the second of a pair, what else is to be seen to."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from diagnose.causes import Cause
from diagnose.chains import notes_of
from diagnose.circuit.netlist import FloatArray
from diagnose.model import Model
from diagnose.questions import CauseShare, Further

AS_WELL = "it is at fault as well"
SHOWN_SHARE = 0.01


def fault_key(cause: Cause) -> tuple[tuple[str, str], ...]:
    """What causes at different levels of the same faults have in common."""
    return tuple((member.part, member.fault) for member in cause.members)


def further_of(model: Model, cause: Cause) -> tuple[Further, ...]:
    """What is seen to after the remedy of a cause: of a pair its second one, then what may have gone with either."""
    found: dict[str, Further] = {}
    if cause.also is not None:
        remedy = model.fault(cause.also).remedy
        found[cause.also.part] = Further(cause.also.part, AS_WELL, remedy.text, remedy.proof, True)
    done = set(model.fault(cause).remedy.proof)
    for member in cause.members:
        for note in notes_of(model, member):
            left = tuple(name for name in note.proof if name not in done)
            if note.part not in found and left:
                found[note.part] = Further(note.part, note.why, "", left, False)
    return tuple(found.values())


def group_shares(model: Model, now: FloatArray) -> Mapping[int, float]:
    """Belief in each group: what would be replaced or done."""
    sums = np.bincount(model.group_numbers, weights=now)
    return {number: float(value) for number, value in enumerate(sums)}


def shares(model: Model, now: FloatArray) -> tuple[CauseShare, ...]:
    """Faults with their belief, all levels together, the likeliest first; those under a hundredth are left out.

    Of a group of which no fault has a hundredth and all together have, the likeliest stands for the others.
    """
    order = np.argsort(-now[:-1], kind="stable")
    sums: dict[tuple[tuple[str, str], ...], float] = {}
    for cause, share in zip(model.causes, now, strict=False):
        sums[fault_key(cause)] = sums.get(fault_key(cause), 0.0) + float(share)
    found: list[tuple[int, CauseShare]] = []
    for number in order:
        cause = model.causes[int(number)]
        total = sums.pop(fault_key(cause), None)
        if total is None:
            continue  # another level of the same fault, already counted in
        also = ("", "") if cause.also is None else (cause.also.part, cause.also.fault)
        share_of = CauseShare(cause.part, cause.fault, cause.level, total, model.title(cause), *also)
        found.append((int(model.group_numbers[number]), share_of))
    shown = [each for _, each in found if each.probability >= SHOWN_SHARE]
    told = {group for group, each in found if each.probability >= SHOWN_SHARE}
    groups = group_shares(model, now)
    for group, each in found:
        if group not in told and groups[group] >= SHOWN_SHARE:
            told.add(group)
            shown.append(replace(each, probability=groups[group]))
    shown.sort(key=lambda each: -each.probability)
    return tuple(shown) or tuple(each for _, each in found[:1])
