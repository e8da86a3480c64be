"""What a check costs: minutes at the meter, minutes to get the panel into its setup, and a price on exposure."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from diagnose.checks import Check
from diagnose.circuit.setup import Setup
from diagnose.safety import Competence, Need, PanelState, StepName, steps_between

# Minutes of the steps, as in knowledge/steps.yaml, and of the small things: common practice.
STEP_MINUTES: Mapping[StepName, float] = MappingProxyType(
    {
        "switch_off": 0.3,
        "isolate": 1.7,
        "wait": 2.0,
        "open_box": 0.5,
        "try_meter": 0.5,
        "prove_dead": 1.0,
        "retry_meter": 0.5,
        "put_back": 0.5,
        "close_box": 1.0,
        "energise": 1.0,
        "energise_open": 1.5,
        "rewire": 6.0,
    }
)
QUESTION_MINUTES = 0.5  # to read what is asked and type what was seen
HANDLE_MINUTES = 0.2
PLUG_MINUTES = 0.5
COMMAND_MINUTES = 0.3
BATH_MINUTES = 5.0
WARM_MINUTES = 10.0
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


def setup_minutes(before: Setup | None, after: Setup) -> float:
    """Minutes to get from one setup to another, the supply and the lid not counted."""
    if before is None:
        return 0.0
    moved = sum(before.position(part) != at for part, at in after.positions)
    told = sum(dict(before.commands).get(name) != command for name, command in after.commands)
    plugs = len(before.unplugged ^ after.unplugged)
    baths = sum(bath not in before.baths for bath in after.baths)
    baths += sum(place not in before.placed for place in after.placed)
    # Two plugs that change places are pulled and put in twice: there and back it is the same again.
    plugs += 4 * len((before.swapped - before.rewired) ^ (after.swapped - after.rewired))
    lifts = len(before.lifted ^ after.lifted)
    warm = WARM_MINUTES if after.heated and after.supply_on and not before.heated else 0.0
    return (
        HANDLE_MINUTES * moved + COMMAND_MINUTES * told + PLUG_MINUTES * plugs + BATH_MINUTES * baths
        + LIFT_MINUTES * lifts + warm
    )  # fmt: skip


def cost_minutes(check: Check, state: PanelState, at: Setup | None, competence: Competence) -> float:
    """The cost of a check from where the panel stands, in minutes and minutes' worth of risk."""
    steps = sum(STEP_MINUTES[step] for step in steps_between(state, need_of(check)))
    price = EXPOSURE_PRICE[competence][check.work]
    return QUESTION_MINUTES + check.minutes + steps + setup_minutes(at, check.setup) + price
