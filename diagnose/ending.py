"""What a verdict says beside the cause: the second one of a pair, and what else is to be seen to."""

from __future__ import annotations

from diagnose.causes import Cause
from diagnose.chains import notes_of
from diagnose.model import Model
from diagnose.questions import Further

AS_WELL = "it is at fault as well"


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
