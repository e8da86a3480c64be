"""What a check costs: minutes at the meter, minutes to get the panel into its setup, and a price on exposure."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from diagnose.checks import Check
from diagnose.circuit.setup import Setup
from diagnose.safety import Competence, Need, PanelState, after, steps_between
from diagnose.texts import step_minutes

# Minutes of the small things: common practice. Those of the steps are in knowledge/steps.yaml.
QUESTION_MINUTES = 0.5  # to read what is asked and type what was seen
HANDLE_MINUTES = 0.2
PLUG_MINUTES = 0.5
COMMAND_MINUTES = 0.3
BATH_MINUTES = 5.0
WARM_MINUTES = 10.0
WATCH_MINUTES = 15.0  # until what comes and goes comes, of half an hour at most: a judgement
COOL_MINUTES = 5.0  # what ran warm is left alone for a while before hands go near it
LIFT_MINUTES = 2.0
# A price in minutes on being exposed; it weighs more on those who do it less: common practice.
EXPOSURE_PRICE: Mapping[Competence, Mapping[str, float]] = MappingProxyType(
    {
        "outside": {"outside": 0.0, "isolated": 3.0, "live": 60.0},
        "isolated": {"outside": 0.0, "isolated": 1.0, "live": 30.0},
        "live": {"outside": 0.0, "isolated": 0.5, "live": 8.0},
    }
)


def need_of(check: Check) -> Need:
    """What a check needs of the panel's state."""
    setup = check.setup
    return Need(check.exposure, setup.supply_on, setup.rewired, check.quantity, bool(setup.lifted), setup.earth_lifted)


def setup_minutes(before: Setup | None, then: Setup) -> float:
    """Minutes to get from one setup to another, the supply and the lid not counted."""
    if before is None:
        return 0.0
    moved = sum(before.position(part) != at for part, at in then.positions)
    told = sum(dict(before.commands).get(name) != command for name, command in then.commands)
    plugs = len(before.unplugged ^ then.unplugged)
    baths = sum(bath not in before.baths for bath in then.baths)
    baths += sum(place not in before.placed for place in then.placed)
    # Two plugs that change places are pulled and put in twice: there and back it is the same again.
    plugs += 4 * len((before.swapped - before.rewired) ^ (then.swapped - then.rewired))
    lifts = len(before.lifted ^ then.lifted)
    warm = WARM_MINUTES if then.heated and then.supply_on and not before.heated else 0.0
    watch = WATCH_MINUTES if then.watched and not before.watched else 0.0
    cool = COOL_MINUTES if before.heated and not then.supply_on else 0.0
    return (
        HANDLE_MINUTES * moved + COMMAND_MINUTES * told + PLUG_MINUTES * plugs + BATH_MINUTES * baths
        + LIFT_MINUTES * lifts + warm + watch + cool
    )  # fmt: skip


def change_minutes(check: Check, state: PanelState, at: Setup | None) -> float:
    """Minutes from where the panel stands until the check can be done: steps, handles, plugs, baths, lifted leads."""
    steps = sum(step_minutes(step) for step in steps_between(state, need_of(check)))
    return steps + setup_minutes(at, check.setup)


def exposure_price(check: Check, competence: Competence) -> float:
    """Minutes that a check's risk is worth to this person."""
    return EXPOSURE_PRICE[competence][check.work]


def cost_minutes(check: Check, state: PanelState, at: Setup | None, competence: Competence) -> float:
    """The cost of a check from where the panel stands, in minutes and minutes' worth of risk."""
    return QUESTION_MINUTES + check.minutes + change_minutes(check, state, at) + exposure_price(check, competence)


def state_for(need: Need) -> PanelState:
    """How the panel stands when a check of this need has been done."""
    state = PanelState()
    for step in steps_between(state, need):
        state = after(state, step, need)
    return state
