"""What may be done, by whom, in which state of the panel. Everything that is offered passes here.

`competence` says who may do what, `state` how the panel stands, `steps` how it gets from one state to the next,
`guards` what all of that has to satisfy, and `stop` what ends a session at once. The words are in knowledge/.
"""

from __future__ import annotations

from diagnose.safety import guards
from diagnose.safety.competence import (
    COMPETENCES,
    FACTS,
    TAKES,
    Competence,
    Fact,
    allowed,
    capped,
    derived,
    facts_taken,
    lower_of,
)
from diagnose.safety.guards import GUARDS, Guard, Need, Situation, StepName, refusals, require
from diagnose.safety.state import PanelState, after_break, after_work
from diagnose.safety.steps import (
    DEAD_VOLTS,
    STEPS,
    WANTS,
    after,
    check_refusals,
    is_dead,
    meter_failed,
    next_step,
    ready,
    step_refusals,
    steps_between,
    way,
)
from diagnose.safety.stop import DANGERS, PLAIN_STOP, REFERRED, STOP_KEY, danger_said

__all__ = [
    "COMPETENCES", "DANGERS", "DEAD_VOLTS", "FACTS", "GUARDS", "PLAIN_STOP", "REFERRED", "STEPS", "STOP_KEY",
    "TAKES", "WANTS", "Competence", "Fact", "Guard", "Need", "PanelState", "Situation", "StepName", "after",
    "after_break", "after_work", "allowed", "capped", "check_refusals", "danger_said", "derived", "facts_taken",
    "guards", "is_dead", "lower_of", "meter_failed", "next_step", "ready", "refusals", "require", "step_refusals",
    "steps_between", "way",
]  # fmt: skip
