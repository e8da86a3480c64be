"""Can this brew be finished? What still works, how long it takes with that, and what stays off.

Only what is safe without any bypass: another element on its own way, less volume, the lid on, holding a temperature.
The circuit with the fault in it says what each element still gives and whether anything trips.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from diagnose.causes import Cause, fault_of
from diagnose.checks import Check
from diagnose.circuit.netlist import Netlist
from diagnose.circuit.rows import Row
from diagnose.circuit.settle import Settled, settle
from diagnose.circuit.setup import Setup
from diagnose.circuit.trips import outcome_shares
from diagnose.expect import true_range
from diagnose.knowledge.records import Fault
from diagnose.panel.records import Panel
from diagnose.physics.number import Interval
from diagnose.physics.vessel import (
    Kettle,
    boil_off_litres_per_hour,
    highest_celsius,
    loss_watts,
    minutes_to_heat,
    usual_kettle,
)
from diagnose.physics.water import boiling_celsius_at_altitude
from diagnose.setups import plug_of, running_setup
from diagnose.topology import commanded_by, sensing_probe, upstream

LEAST_WATTS = 50.0  # less than this is no heat
HOLDS = 0.99  # a device that may trip is not relied on
NEAR_BOIL_KELVIN = 0.5
SOON_MINUTES = 90.0  # what takes longer is worth a smaller volume
HOUR_MINUTES = 60.0


@dataclass(frozen=True, slots=True)
class Job:
    """What is still to be done: a volume, from one temperature to another, °C; `lid` None as the panel file says."""

    litres: float
    from_celsius: float
    to_celsius: float
    plato: float = 0.0
    lid: bool | None = None
    altitude_metres: float | None = None


@dataclass(frozen=True, slots=True)
class Option:
    """One element that may be used, and what it can do; minutes are inf where the losses eat up its heat."""

    heater: str
    watts: Interval
    share: float  # of what it gives on the sound panel
    minutes: Interval
    boil: str  # 'yes', 'no', 'perhaps': whether it holds a boil with the lid off
    boil_under_lid: str
    boil_off_litres_per_hour: Interval
    holds_celsius: Interval  # the temperature that it can hold under the lid, at worst and at best
    litres_in_an_hour: float  # how much of the volume reaches the temperature within an hour, at worst
    unplug: tuple[str, ...]  # what is unplugged before it is used


@dataclass(frozen=True, slots=True)
class StaysOff:
    """A heater that is not used, and why."""

    heater: str
    reason: str


@dataclass(frozen=True, slots=True)
class Finish:
    """The answer: what can be used, and what not."""

    job: Job
    options: tuple[Option, ...]
    stays_off: tuple[StaysOff, ...]


def finish(netlist: Netlist, causes: Sequence[Cause], job: Job) -> Finish:
    """What can still be done with a panel, whichever of these causes it is; with no cause, with the sound panel.

    Raises
    ------
    ValueError
        If a volume is not above zero, a temperature lies outside 0 to 100 °C, or the second is below the first.
    CircuitError
        Where a circuit can't be solved.
    """
    panel = netlist.panel
    options, off = [], []
    reasons = {heater: _unsafe(panel, heater, causes) for heater in panel.of_role("heater")}
    unplugged = tuple(
        dict.fromkeys(plug for heater, reason in reasons.items() if reason and (plug := plug_of(panel, heater)))
    )
    for heater, reason in reasons.items():
        if reason:
            off.append(StaysOff(heater, reason))
            continue
        found = _option(netlist, heater, causes, job, tuple(each for each in unplugged if each != heater))
        if isinstance(found, str):
            off.append(StaysOff(heater, found))
        else:
            options.append(found)
    options.sort(key=lambda option: option.minutes.high)
    return Finish(job, tuple(options), tuple(off))


# What may not be used -------------------------------------------------------------------------------------


def _unsafe(panel: Panel, heater: str, causes: Sequence[Cause]) -> str:
    """Why a heater is not to be used under any one of these causes; empty where nothing speaks against it."""
    for cause in causes:
        if cause.as_built:
            continue
        fault = fault_of(panel, cause)
        what = f"{panel.label(cause.part)}: {fault.title}"
        if fault.usable:
            continue
        if fault.stop or fault.remedy.electrician or panel.at_the_service(cause.part):
            return f"{what}. Everything stays off until an electrician has put that right."
        if _spoils_earth(panel, cause, fault):
            return f"{what}. Nothing is used without an earth that holds."
        if cause.part in _ways(panel, heater):
            return f"{what}. {_why(panel, heater, cause, fault)}"
    return ""


def _ways(panel: Panel, heater: str) -> set[str]:
    """All that a heater's current, its control and its temperature go through."""
    controllers = commanded_by(panel, heater)
    probes = {probe for each in controllers if (probe := sensing_probe(panel, each))}
    plug = plug_of(panel, heater)
    plugs = {*probes, *([plug] if plug else [])}
    sockets = {panel.plugs[each] for each in plugs if each in panel.plugs}
    return {heater, *upstream(panel, heater), *controllers, *plugs, *sockets}


def _spoils_earth(panel: Panel, cause: Cause, fault: Fault) -> bool:
    kind = panel.kind_of(cause.part)
    if cause.part in panel.wires_by_name:
        wire = panel.wires_by_name[cause.part]
        part, _, terminal = wire.a.partition(".")
        return panel.kind_of(part).terminals[terminal].path == "earth"
    return any(
        kind.branches[effect.target].path == "earth" and kind.branches[effect.target].form != "leak"
        for effect in fault.effects
        if effect.target in kind.branches
    )


def _why(panel: Panel, heater: str, cause: Cause, fault: Fault) -> str:
    """What makes a fault on a heater's way a reason not to use it."""
    kind = panel.kind_of(cause.part)
    forms = {
        kind.branches[effect.target].path: kind.branches[effect.target].form
        for effect in fault.effects
        if effect.target in kind.branches
    }
    if forms.get("earth") == "leak":
        return "What leaks to earth is not used at all, not even at low power."
    if any(effect.change == "half_wave" for effect in fault.effects):
        return "Half waves put direct current on the supply, to which a GFCI or RCD can be blind."
    if any(effect.change == "closed" or effect.state == "always" for effect in fault.effects) or (
        kind.role == "relay" and any(form == "leak" for form in forms.values())
    ):
        return "What can't be switched off is not used."
    if any(effect.change in ("ohms", "scale") for effect in fault.effects) and kind.role != "controller":
        return "A poor joint or a thinned wire burns where it is: not used until it is mended."
    return "Not used until it is mended."


# What it can do -------------------------------------------------------------------------------------------


def _option(
    netlist: Netlist, heater: str, causes: Sequence[Cause], job: Job, unplugged: tuple[str, ...]
) -> Option | str:
    panel = netlist.panel
    setup = _running(netlist, heater)
    own = plug_of(panel, heater)
    unplug = tuple(each for each in unplugged if each != own)
    setup = setup.unplugging(*unplug)
    hidden = [cause for cause in causes if not cause.as_built]
    rows = [Row(None), *(Row(cause, level) for cause in hidden for level in cause.levels)]
    settled = settle(netlist, setup, rows)
    if any(holds < HOLDS for holds in _holding(settled, heater, len(rows)).tolist()):
        return "A GFCI, RCD, breaker or fuse may trip with it, so it is left off."
    name = f"running:heat_rate:{heater}"
    check = Check(name, "heat_rate", heater, "", "", "", "running", setup, "outside", 0.0, "none")
    there = true_range(settled, check)
    watts = Interval(float(there.low.min()), float(there.high.max()))
    sound = float(there.value[0])
    if float(there.value.min()) < LEAST_WATTS:
        return "It gives no heat with this fault."
    kettle = kettle_for(panel, heater, job)
    return _judged(heater, watts, float(there.value.min()) / sound, kettle, job, unplug)


def _running(netlist: Netlist, heater: str) -> Setup:
    return running_setup(netlist, heater).commanding("call", *commanded_by(netlist.panel, heater))


def _holding(settled: Settled, heater: str, count: int) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """(H,) the least share of 'holds' among the devices on a heater's way; the sound panel counts as holding."""
    panel = settled.netlist.panel
    least = np.ones(count)
    for name in upstream(panel, heater):
        if name in settled.trips:
            least = np.minimum(least, outcome_shares(settled.trips[name])[:, 0])
    least[0] = 1.0
    return least


def kettle_for(panel: Panel, heater: str, job: Job) -> Kettle:
    """The kettle that a heater sits in, or a usual one for the volume; its lid as the job says."""
    kettle = panel.kettles.get(heater) or usual_kettle(job.litres)
    if job.lid is not None:
        kettle = replace(kettle, lid=job.lid)
    if job.altitude_metres is not None:
        kettle = replace(kettle, altitude_metres=job.altitude_metres)
    return kettle


def _judged(heater: str, watts: Interval, share: float, kettle: Kettle, job: Job, unplug: tuple[str, ...]) -> Option:
    watts = Interval(max(watts.low, 0.0), watts.high)
    boiling = boiling_celsius_at_altitude(kettle.altitude_metres)
    end = min(job.to_celsius, boiling)
    minutes = _minutes(kettle, job, job.litres, end, watts)
    return Option(
        heater=heater,
        watts=watts,
        share=share,
        minutes=minutes,
        boil=_holds_boil(replace(kettle, lid=False), job.litres, boiling, watts),
        boil_under_lid=_holds_boil(replace(kettle, lid=True), job.litres, boiling, watts),
        boil_off_litres_per_hour=boil_off_litres_per_hour(kettle, job.litres, watts),
        holds_celsius=Interval(
            highest_celsius(replace(kettle, lid=True), job.litres, watts.low),
            highest_celsius(replace(kettle, lid=True), job.litres, watts.high, pessimistic=False),
        ),
        litres_in_an_hour=_litres_within(kettle, job, end, watts) if minutes.high > SOON_MINUTES else job.litres,
        unplug=unplug,
    )


def _minutes(kettle: Kettle, job: Job, litres: float, end: float, watts: Interval) -> Interval:
    return minutes_to_heat(kettle, litres, min(job.from_celsius, end), end, watts, plato=job.plato)


def _holds_boil(kettle: Kettle, litres: float, boiling: float, watts: Interval) -> str:
    loss = loss_watts(kettle, litres, boiling - NEAR_BOIL_KELVIN)
    if watts.low > loss.high:
        return "yes"
    return "no" if watts.high < loss.low else "perhaps"


def _litres_within(kettle: Kettle, job: Job, end: float, watts: Interval) -> float:
    """The most that reaches the temperature within an hour at worst, by halving; 0 where nothing does."""
    low, high = 0.0, job.litres
    for _ in range(12):
        middle = (low + high) / 2
        if _minutes(kettle, job, middle, end, watts).high <= HOUR_MINUTES:
            low = middle
        else:
            high = middle
    return low
