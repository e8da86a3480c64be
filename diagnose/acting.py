"""A part to hand may be changed on a guess, where that is expected to take less time than to look further."""

from __future__ import annotations

from collections.abc import Collection, Sequence

import numpy as np

from diagnose.choose import Choice
from diagnose.circuit.netlist import FloatArray
from diagnose.circuit.setup import PROTECTIVE_ROLES
from diagnose.errors import Problem, UsageError
from diagnose.model import Model
from diagnose.panel.records import Panel
from diagnose.plan import group_entropy, worth_trying
from diagnose.safety import Need, PanelState, steps_between
from diagnose.texts import step_minutes

SPARE = "spare:"  # before the name of a part that is to hand, beside the instruments that are
CHANGE_MINUTES = 15.0  # to change a part in a dead box, with its wires, and to try it: common practice
LEAST_SHARE = 0.5  # belief below which a guess would more likely be wrong than right
# What has to open is never changed on a guess: what opened it has to be found.
NEVER_GUESSED = (*PROTECTIVE_ROLES, "fuse")
TOLD_APART_NO_MORE = "no check that is open to you tells these apart"
TO_HAND = "that part is to hand, and to change it is expected to take less time than to look further"


def spares_of(panel: Panel, names: Sequence[str]) -> tuple[str, ...]:
    """Parts to hand, by the names of this panel's parts or of kinds of part, as a session has them at hand.

    Raises UsageError for a name that is neither on this panel.
    """
    kinds = {part.kind.name for part in panel.parts.values()}
    for name in names:
        if name not in panel.parts and name not in kinds:
            raise UsageError(Problem(f"--spares: this panel has no part or kind of part '{name}'",
                                     "names as the panel file has them, with commas between"))  # fmt: skip
    return tuple(f"{SPARE}{name}" for name in dict.fromkeys(names))


def may_guess(model: Model, now: FloatArray, at_hand: Collection[str]) -> bool:
    """Whether what leads is more likely than not, can be changed with a part to hand, and by the person.

    Never a protective device or a fuse, what is an electrician's, or what is a danger in itself.
    """
    sums = np.bincount(model.group_numbers, weights=now)
    lead = int(np.argmax(sums))
    members = np.flatnonzero(model.group_numbers == lead)
    if sums[lead] < LEAST_SHARE or members[-1] == len(now) - 1:
        return False
    cause = model.causes[int(members[np.argmax(now[members])])]
    part = model.panel.parts.get(cause.part)
    if part is None or part.kind.role in NEVER_GUESSED:
        return False
    fault = model.fault(cause)
    ours = f"{SPARE}{part.name}" in at_hand or f"{SPARE}{part.kind.name}" in at_hand
    return ours and not fault.stop and not fault.remedy.electrician


def worth_guessing(
    model: Model, now: FloatArray, at_hand: Collection[str], state: PanelState, choice: Choice
) -> bool:  # fmt: skip
    """Whether the part that leads is better changed now than looked at further, beginning with this check.

    To look further is reckoned at the rate of the check that would be next.
    """
    if not may_guess(model, now, at_hand):
        return False
    steps = sum(step_minutes(step) for step in steps_between(state, Need("isolated", False)))
    look = group_entropy(now / now.sum(), model.group_numbers) * choice.minutes / choice.bits
    share = float(np.bincount(model.group_numbers, weights=now).max())
    return worth_trying(share, steps + CHANGE_MINUTES, look)


def why_no_more(model: Model, now: FloatArray, at_hand: Collection[str]) -> str:
    """Why nothing more is asked though several causes are left."""
    return TO_HAND if may_guess(model, now, at_hand) else TOLD_APART_NO_MORE
