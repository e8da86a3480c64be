"""The guards: named conditions that every check offered, every step and every event has to satisfy.

What is ready to be done, and which step comes next, follows from them: nothing goes past this list. Each guard is a
pure predicate of a situation. `python -m tests.mutation.guards` takes each away in turn.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

from diagnose.errors import AnswerError, Problem
from diagnose.exchanges import Exchange
from diagnose.knowledge.records import Exposure
from diagnose.safety.competence import COMPETENCES, COVERS, Competence
from diagnose.safety.state import PanelState

StepName = Literal[
    "switch_off", "isolate", "wait", "open_box", "try_meter", "prove_dead", "retry_meter",
    "put_back", "rewire", "close_box", "energise", "energise_open",
]  # fmt: skip
DEAD_QUANTITIES = ("resistance", "insulation", "millivolts")  # read on a dead circuit only
# What a step exposes to, where that is more than the way back to a safe panel, which is open to everybody.
STEP_EXPOSURE: dict[str, Exposure] = {"open_box": "isolated", "energise_open": "live"}


# Events that answer a question: each says which.
ANSWERING = ("answer", "confirm", "repaired", "passed", "failed", "declined", "works")


@dataclass(frozen=True, slots=True)
class Need:
    """What a check needs of the panel's state, and what it does there."""

    exposure: Exposure
    supply_on: bool
    rewired: Exchange = frozenset()  # terminals whose wires have changed places for it
    quantity: str = "sign"
    lifted: bool = False  # wires are taken off for it
    earth_lifted: bool = False  # an earth is among them


@dataclass(frozen=True, slots=True)
class Situation:
    """What is about to happen, and where: a check to be offered, a step to be done, or an event to be taken."""

    action: Literal["check", "step", "event"]
    state: PanelState
    competence: Competence
    need: Need | None = None  # of a check
    step: StepName | None = None
    event: str = ""
    answers: str = ""  # what the event says it answers: a check's id or a step
    asked: str = ""  # what was asked
    competence_after: Competence | None = None  # of an event
    stopped: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class Guard:
    """One condition; `says` is what is told where it does not hold."""

    name: str
    says: str
    holds: Callable[[Situation], bool]


def _check(test: Callable[[PanelState, Need], bool]) -> Callable[[Situation], bool]:
    """A condition on checks; other situations pass."""
    return lambda now: now.need is None or test(now.state, now.need)


def _step(steps: tuple[StepName, ...], test: Callable[[PanelState], bool]) -> Callable[[Situation], bool]:
    """A condition on some steps; other situations pass."""
    return lambda now: now.step not in steps or test(now.state)


def _covered(now: Situation) -> bool:
    exposure = now.need.exposure if now.need else STEP_EXPOSURE.get(now.step or "", "outside")
    return exposure in COVERS[now.competence]


def _not_raised(now: Situation) -> bool:
    later = now.competence_after
    return later is None or COMPETENCES.index(later) <= COMPETENCES.index(now.competence)


def _isolated(state: PanelState) -> bool:
    return state.supply == "isolated"


GUARDS: tuple[Guard, ...] = (
    # Checks
    Guard("within_competence", "this is more than the person said they do", _covered),
    Guard(
        "shut_for_outside", "a check from outside is done with the box shut",
        _check(lambda state, need: need.exposure != "outside" or not state.open),
    ),
    Guard(
        "supply_as_needed", "the supply is not as the check needs it",
        _check(lambda state, need: state.supply == ("energised" if need.supply_on else "isolated")),
    ),
    Guard(
        "wires_where_it_needs_them", "wires are not where the check needs them",
        _check(lambda state, need: state.rewired == need.rewired),
    ),
    Guard(
        "proved_dead_before_hands", "the box is not open, isolated and proved dead",
        _check(lambda state, need: need.exposure != "isolated" or (state.open and state.proved_dead)),
    ),
    Guard(
        "live_in_an_open_box", "a live check is done in an open box, after all steps to it",
        _check(lambda state, need: need.exposure != "live" or state.open),
    ),
    Guard(
        "dead_circuit_for_ohms", "ohms and insulation are read on a dead circuit only",
        _check(lambda state, need: need.quantity not in DEAD_QUANTITIES or not need.supply_on),
    ),
    Guard(
        "leads_off_only_dead", "a wire is taken off only in a box that is isolated and proved dead",
        _check(lambda state, need: not need.lifted or state.proved_dead),
    ),
    Guard("earth_stays_on", "an earth is never taken off", _check(lambda state, need: not need.earth_lifted)),
    # Steps
    Guard(
        "switch_before_plug", "the load is switched off before the supply is cut",
        _step(("isolate",), lambda state: state.supply in ("off_at_panel", "isolated")),
    ),
    Guard("wait_when_isolated", "waiting counts once the supply is cut", _step(("wait",), _isolated)),
    Guard(
        "open_after_isolating", "the box is opened once it is isolated, and after waiting",
        _step(("open_box",), lambda state: _isolated(state) and state.waited),
    ),
    Guard(
        "meter_first", "the meter is tried in an open box that is isolated",
        _step(("try_meter",), lambda state: _isolated(state) and state.open),
    ),
    Guard(
        "measure_with_a_tried_meter", "the meter is tried on a known source before it is trusted",
        _step(("prove_dead",), lambda state: state.proof == "meter_tried"),
    ),
    Guard(
        "meter_again_after", "the meter is tried again after the measurement",
        _step(("retry_meter",), lambda state: state.proof == "measured"),
    ),
    Guard(
        "hands_in_when_dead", "wires are put back or moved in a box that is proved dead",
        _step(("put_back", "rewire"), lambda state: state.proved_dead),
    ),
    Guard("close_when_isolated", "the box is closed while it is isolated", _step(("close_box",), _isolated)),
    Guard(
        "leads_back_first", "every wire is back before the box is closed or the supply put on",
        _step(("close_box", "energise", "energise_open"), lambda state: not state.leads_off),
    ),
    Guard("energise_shut", "the supply goes on with the box shut", _step(("energise",), lambda state: not state.open)),
    Guard(
        "energise_open_after_proof", "with the box open the supply is put on only after proving it dead",
        _step(("energise_open",), lambda state: state.proved_dead),
    ),
    # Events
    Guard("nothing_after_the_end", "the session has ended: nothing more is taken", lambda now: not now.stopped),
    Guard(
        "answers_what_is_asked", "this answers something that is not asked here",
        lambda now: now.event not in ANSWERING or now.answers == now.asked,
    ),
    Guard("competence_never_rises", "competence can be lowered in a session, and never raised", _not_raised),
)  # fmt: skip


def refusals(now: Situation) -> tuple[Guard, ...]:
    """The guards that refuse; none where it may go on."""
    return tuple(guard for guard in GUARDS if not guard.holds(now))


def require(now: Situation, expected: str) -> None:
    """Let a situation pass, or raise AnswerError with what the first guard says."""
    refused = refusals(now)
    if refused:
        raise AnswerError(Problem(refused[0].says, expected))
