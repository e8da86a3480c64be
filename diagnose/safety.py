"""What may be done, by whom, in which state of the panel. Everything that is offered passes here.

The words of the steps are in knowledge/steps.yaml; their order and what they allow are here.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

from diagnose.exchanges import Exchange
from diagnose.knowledge.records import Exposure

Competence = Literal["outside", "isolated", "live"]
COMPETENCES: tuple[Competence, ...] = ("outside", "isolated", "live")
StepName = Literal["isolate", "open_box", "prove_dead", "close_box", "energise", "energise_open", "rewire"]

_ALLOWED: dict[Competence, frozenset[Exposure]] = {
    "outside": frozenset({"outside"}),
    "isolated": frozenset({"outside", "isolated"}),
    "live": frozenset({"outside", "isolated", "live"}),
}


@dataclass(frozen=True, slots=True)
class PanelState:
    """Where the panel stands, as the person confirmed it step by step."""

    energised: bool = True
    open: bool = False
    proved_dead: bool = False
    rewired: Exchange = frozenset()  # terminals whose wires have changed places


@dataclass(frozen=True, slots=True)
class Need:
    """What a check needs of the panel's state."""

    exposure: Exposure
    supply_on: bool
    rewired: Exchange = frozenset()


def allowed(competence: Competence, exposure: Exposure) -> bool:
    """Whether a person of this competence may be offered a check of this exposure."""
    return exposure in _ALLOWED[competence]


def ready(state: PanelState, need: Need) -> bool:
    """Whether a check may be done in this state."""
    if state.rewired != need.rewired:
        return False
    if need.exposure == "outside":
        return not state.open and state.energised == need.supply_on
    if need.exposure == "isolated":
        return state.open and not state.energised and state.proved_dead
    return state.open and state.energised and need.supply_on


def next_step(state: PanelState, need: Need) -> StepName | None:
    """The next step towards a state in which the check may be done; None when it may.

    A box is opened only when it is isolated, and is proved dead before anything else once it is open.
    """
    if ready(state, need):
        return None
    if state.rewired != need.rewired:
        return _towards_rewiring(state)
    if need.exposure == "outside":
        if state.open:
            return "close_box" if not state.energised else "isolate"
        return "energise" if need.supply_on else "isolate"
    if state.energised and not (need.exposure == "live" and state.open):
        return "isolate"
    if not state.open:
        return "open_box"
    if not state.proved_dead:
        return "prove_dead"
    return "energise_open"


def _towards_rewiring(state: PanelState) -> StepName:
    """Wires change places in an open box that was isolated and proved dead, whatever the check itself needs."""
    if state.energised:
        return "isolate"
    if not state.open:
        return "open_box"
    return "rewire" if state.proved_dead else "prove_dead"


def after(state: PanelState, step: StepName, need: Need | None = None) -> PanelState:
    """The state once the person confirmed a step towards what a check needs.

    Raises ValueError for a step that this state doesn't allow.
    """
    match step:
        case "isolate":
            return replace(state, energised=False, proved_dead=False)
        case "open_box" if not state.energised:
            return replace(state, open=True, proved_dead=False)
        case "prove_dead" if state.open and not state.energised:
            return replace(state, proved_dead=True)
        case "close_box" if not state.energised:
            return replace(state, open=False)
        case "energise" if not state.open:
            return replace(state, energised=True, proved_dead=False)
        case "energise_open" if state.open and state.proved_dead:
            return replace(state, energised=True, proved_dead=False)
        case "rewire" if state.open and not state.energised and state.proved_dead and need is not None:
            return replace(state, rewired=need.rewired)
    raise ValueError(f"the step {step} is not allowed in this state")


def steps_between(state: PanelState, need: Need) -> tuple[StepName, ...]:
    """All steps from a state to one in which a check may be done."""
    steps: list[StepName] = []
    while (step := next_step(state, need)) is not None:
        steps.append(step)
        state = after(state, step, need)
    return tuple(steps)
