"""What a verdict says beside the cause: the second one of a pair, and what else is to be seen to."""

from __future__ import annotations

from diagnose.causes import Cause
from diagnose.model import Model
from diagnose.questions import Further


def fault_key(cause: Cause) -> tuple[tuple[str, str], ...]:
    """What causes at different levels of the same faults have in common."""
    return tuple((member.part, member.fault) for member in cause.members)


def further_of(model: Model, cause: Cause) -> tuple[Further, ...]:
    """What is seen to after the remedy of a cause: where it is a pair, its second one."""
    if cause.also is None:
        return ()
    remedy = model.fault(cause.also).remedy
    return (Further(cause.also.part, "it is at fault as well", remedy.text, remedy.proof, True),)
