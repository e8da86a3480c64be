"""Which checks a person may still do: with what is at hand, from where the panel stands, after what was answered."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from diagnose.hot import keeps_off, still_warm
from diagnose.model import Model
from diagnose.questions import Answer
from diagnose.safety import Competence, Need, PanelState, StepName, guards, way


@dataclass(frozen=True, slots=True)
class Reach:
    """How the panel stands, who is there, with what, and what they can't or won't do: steps, terminals to get at."""

    state: PanelState
    competence: Competence
    instruments: frozenset[str]
    refused: frozenset[StepName]
    unreachable: frozenset[str]


def still_open(model: Model, answers: Sequence[Answer], who: Reach) -> frozenset[str]:
    """Checks that may be done after all that was answered, by their ids; those that were answered are among them."""
    asked = [(model.checks_by_id[given.check_id], given.skipped) for given in answers]
    warm = still_warm(model.complaint, asked)
    stays_off = any(keeps_off(model, given) for given in answers)

    def worked_out() -> frozenset[str]:
        needs = set(model.needs.values())
        reached = {id(need): within_reach(who.state, who.competence, who.refused, need) for need in needs}
        return frozenset(
            check.id
            for check in model.checks
            if not who.unreachable.intersection((check.tail, check.head))
            and (warm or check.after is None)
            and not (stays_off and check.setup.supply_on)
            and (check.instrument == "none" or check.instrument in who.instruments)
            and reached[id(model.needs[check.id])]
        )

    # The guards are part of it: who takes one away must not be told what was true with it.
    return model.remembered(("still open", who, warm, stays_off, guards.GUARDS), worked_out)


def within_reach(state: PanelState, competence: Competence, refused: frozenset[StepName], need: Need) -> bool:
    """Whether no guard stands in the way to a check, and no step that the person can't or won't do."""
    steps = way(state, need, competence)
    return steps is not None and not refused.intersection(steps)
