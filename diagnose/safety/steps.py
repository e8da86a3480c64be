"""The steps between states: what each changes, what is typed after it, and the way to where a check may be done."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from functools import lru_cache
from types import MappingProxyType
from typing import Literal, get_args

from diagnose.safety import guards
from diagnose.safety.competence import Competence
from diagnose.safety.guards import Guard, Need, Situation, StepName, refusals
from diagnose.safety.state import PanelState

STEPS: tuple[StepName, ...] = get_args(StepName)
Wants = Literal["done", "shows", "volts"]
# What a step is confirmed with: 'done'; whether the meter showed the known source; or the highest reading.
_TYPED: Mapping[StepName, Wants] = {"try_meter": "shows", "retry_meter": "shows", "prove_dead": "volts"}
WANTS: Mapping[StepName, Wants] = MappingProxyType({step: _TYPED.get(step, "done") for step in STEPS})
# Above this the circuit is not dead. Testers for the absence of voltage go by 3 V (UL 1436, from memory); on a panel
# that is cut off at its plug or breaker there is nothing that could leave more on a meter.
DEAD_VOLTS = 3.0
_LONGEST = 24  # steps on the longest way, with room to spare


def check_refusals(state: PanelState, need: Need, competence: Competence = "live") -> tuple[Guard, ...]:
    """The guards against doing a check in this state."""
    return refusals(Situation("check", state, competence, need=need))


def step_refusals(state: PanelState, step: StepName, competence: Competence = "live") -> tuple[Guard, ...]:
    """The guards against doing a step in this state."""
    return refusals(Situation("step", state, competence, step=step))


def ready(state: PanelState, need: Need) -> bool:
    """Whether a check may be done in this state."""
    return not check_refusals(state, need)


def next_step(state: PanelState, need: Need) -> StepName | None:
    """The next step towards a state in which the check may be done; None when it may.

    A box is opened only when it is isolated, and is proved dead before anything else once it is open.

    Raises ValueError for a check that may be done in no state.
    """
    if ready(state, need):
        return None
    if state.rewired != need.rewired:
        # Wires change places in an open box that was isolated and proved dead, whatever the check itself needs.
        return _towards_dead(state) or "rewire"
    if need.exposure == "outside":
        return _towards_shut(state, need.supply_on)
    step = _towards_dead(state)
    if step is not None:
        return step
    if need.exposure != "live":
        raise ValueError("there is no state in which this may be done")
    return "put_back" if state.leads_off else "energise_open"


def _towards_dead(state: PanelState) -> StepName | None:
    if state.supply != "isolated":
        return _cut_off(state)
    if not state.open:
        return "open_box" if state.waited else "wait"
    return None if state.proved_dead else _proving(state)


def _towards_shut(state: PanelState, supply_on: bool) -> StepName:
    if state.open:
        if state.supply != "isolated":
            return _cut_off(state)
        if state.leads_off:
            return "put_back" if state.proved_dead else _proving(state)
        return "close_box"
    return "energise" if supply_on else _cut_off(state)


def _cut_off(state: PanelState) -> StepName:
    return "isolate" if state.supply == "off_at_panel" else "switch_off"


def _proving(state: PanelState) -> StepName:
    match state.proof:
        case "none":
            return "try_meter"
        case "meter_tried":
            return "prove_dead"
    return "retry_meter"


def after(state: PanelState, step: StepName, need: Need | None = None) -> PanelState:
    """The state once the person confirmed a step towards what a check needs.

    Raises ValueError for a step that this state doesn't allow.
    """
    refused = step_refusals(state, step)
    if refused:
        raise ValueError(f"the step {step} is not allowed in this state: {refused[0].says}")
    return _changed(state, step, need)


def _changed(state: PanelState, step: StepName, need: Need | None) -> PanelState:
    match step:
        case "switch_off":
            return replace(state, supply="off_at_panel", waited=False, proof="none")
        case "isolate":
            return replace(state, supply="isolated", proof="none")
        case "wait":
            return replace(state, waited=True)
        case "open_box":
            return replace(state, open=True, proof="none")
        case "try_meter":
            return replace(state, proof="meter_tried", meter_failed=False)
        case "prove_dead":
            return replace(state, proof="measured")
        case "retry_meter":
            return replace(state, proof="dead")
        case "put_back":
            return replace(state, leads_off=False)
        case "rewire":
            return replace(state, rewired=need.rewired if need else frozenset())
        case "close_box":
            return replace(state, open=False, proof="none")
        case "energise" | "energise_open":
            return replace(state, supply="energised", waited=False, proof="none")


def meter_failed(state: PanelState) -> PanelState:
    """The meter did not show a source that is known: whatever it proved is not proved, and another one is needed."""
    return replace(state, proof="none", meter_failed=True)


def is_dead(volts: float) -> bool:
    """Whether the highest reading between any two conductors, or to earth, is that of a dead circuit."""
    return abs(volts) <= DEAD_VOLTS


def way(state: PanelState, need: Need, competence: Competence = "live") -> tuple[StepName, ...] | None:
    """All steps from a state to one in which a person may do a check; None where a guard stands in the way."""
    # The guards are part of the key: who takes one away must not be told what was true with it.
    return _way(state, need, competence, guards.GUARDS)


@lru_cache(maxsize=4096)
def _way(state: PanelState, need: Need, competence: Competence, _: tuple[Guard, ...]) -> tuple[StepName, ...] | None:
    steps: list[StepName] = []
    try:
        while (step := next_step(state, need)) is not None:
            if len(steps) == _LONGEST or step_refusals(state, step, competence):
                return None
            steps.append(step)
            state = _changed(state, step, need)
    except ValueError:
        return None
    return None if check_refusals(state, need, competence) else tuple(steps)


def steps_between(state: PanelState, need: Need) -> tuple[StepName, ...]:
    """All steps from a state to one in which a check may be done by someone who may do all.

    Raises ValueError for a check that may be done in no state.
    """
    steps = way(state, need)
    if steps is None:
        raise ValueError("there is no state in which this may be done")
    return steps
