"""The answer to 'can I finish this brew?' in short lines, for the command and for the end of a session."""

from __future__ import annotations

import math
from collections.abc import Sequence

from diagnose.causes import Cause
from diagnose.circuit.netlist import Netlist, build
from diagnose.errors import Problem, UsageError
from diagnose.expected_table import read_fault
from diagnose.finish import Finish, Job, Option, finish, kettle_for
from diagnose.model import Model
from diagnose.opening import open_panel
from diagnose.panel.records import Panel
from diagnose.physics.number import Interval
from diagnose.physics.water import boiling_celsius_at_altitude
from diagnose.session import Verdict
from diagnose.units import show, show_range, to_si
from diagnose.wording import capital, clean_all, regional_lines, table_cautions

USUAL_JOB = Job(30.0, 20.0, 100.0)  # for the end of a session, where nothing was said of a volume: an example
LONG_MINUTES = 600.0
NOTHING = (
    "Nothing on this panel heats it safely now. Cover the wort and cool it, or heat it on something of its own outlet;",
    "what waits warm sours within hours. Nothing is bridged or held in to get through the day.",
)


def finish_text(panel: Panel, answer: Finish) -> list[str]:
    """The whole answer, line by line."""
    job = answer.job
    lines = [f"{job.litres:.4g} L from {job.from_celsius:.3g} to {job.to_celsius:.3g} °C:"]
    for option in answer.options:
        lines += option_lines(panel, option, job)
    if not answer.options:
        lines += NOTHING
    if answer.stays_off:
        lines.append("Stays off:")
        lines += [f"- {panel.label(each.heater)}. {each.reason}" for each in answer.stays_off]
    heaters = [option.heater for option in answer.options]
    cautions = table_cautions(panel, ["outside"], heaters, supply_on=bool(heaters))
    return clean_all(regional_lines(panel, [*lines, *(f"Caution: {text}" for text in cautions)]))


def option_lines(panel: Panel, option: Option, job: Job) -> list[str]:
    """What one element can do, and what goes before it."""
    kettle = kettle_for(panel, option.heater, job)
    boiling = boiling_celsius_at_altitude(kettle.altitude_metres)
    name = capital(panel.label(option.heater))
    lines = [f"{name} alone, {show_range(*option.watts, 'power')}, lid {'on' if kettle.lid else 'off'}:"]
    lines += [f"  first unplug {panel.label(plug)}" for plug in option.unplug]
    lines.append(f"  {_time_words(option.minutes)}")
    if option.litres_in_an_hour < job.litres:
        lines.append(f"  within an hour: at most {math.floor(option.litres_in_an_hour)} L of it")
    if job.to_celsius >= boiling - 5:
        lines.append(f"  {_boil_words(option)}")
    if option.boil_under_lid != "yes":
        low, high = option.holds_celsius
        lines.append(f"  under the lid it holds {low:.0f}–{high:.0f} °C")
    return lines


def _time_words(minutes: Interval) -> str:
    if minutes.low > LONG_MINUTES:
        return "never gets there: the kettle loses as much as it gives; less volume, the lid on, a jacket"
    if minutes.high > LONG_MINUTES:
        return f"{minutes.low:.0f} minutes at best, perhaps never"
    return f"{minutes.low:.0f}–{minutes.high:.0f} minutes"


def _boil_words(option: Option) -> str:
    if option.boil == "yes":
        low, high = option.boil_off_litres_per_hour
        return f"holds a boil with the lid off, {low:.1f}–{high:.1f} L/h boiled off"
    if option.boil_under_lid == "no":
        return "holds no boil, not even under the lid"
    return "holds a boil at most with the lid partly on, which also keeps in what a boil should drive off"


def finish_line(netlist: Netlist, causes: Sequence[Cause]) -> str:
    """One line for the end of a session: the best that still works, whichever of these causes it is.

    Raises CircuitError where a circuit can't be solved.
    """
    panel = netlist.panel
    job = USUAL_JOB
    answer = finish(netlist, causes, job)
    faults = next((f"--fault {cause.key}" for cause in causes if not cause.as_built), "")
    more = f"For your volume: diagnose finish {panel.name} {faults} --litres 30 --from 20C"
    if not answer.options:
        return f"This brew: no element here is safe to go on with. {more}"
    best = answer.options[0]
    unplug = "".join(f", {panel.label(plug)} unplugged" for plug in best.unplug)
    return (
        f"This brew: {panel.label(best.heater)} alone{unplug} takes {job.litres:g} L from "
        f"{job.from_celsius:g} °C to the boil: {_time_words(best.minutes)}. {more}"
    )


def left_by(model: Model, verdict: Verdict) -> list[Cause] | None:
    """The causes that a verdict about an element leaves; None where there is nothing to finish with them."""
    roles = {model.panel.kind_of(model.subject).role} if model.subject else set()
    if "heater" not in roles or verdict.kind not in ("found", "group"):
        return None
    named = {(share.part, share.fault) for share in verdict.causes}
    return [cause for cause in model.causes if (cause.part, cause.fault) in named]


def finish_data(netlist: Netlist, causes: Sequence[Cause]) -> dict[str, object]:
    """What still works, for JSON: watts and minutes of each element that may be used, and why the others stay off.

    Minutes are null where the losses eat up the heat. Raises CircuitError where a circuit can't be solved.
    """

    def ends(interval: Interval) -> dict[str, float | None]:
        return {"low": _finite(interval.low), "high": _finite(interval.high)}

    answer = finish(netlist, causes, USUAL_JOB)
    return {
        "litres": USUAL_JOB.litres, "from": USUAL_JOB.from_celsius, "to": USUAL_JOB.to_celsius,
        "options": [
            {
                "part": option.heater, "share": round(option.share, 3), "watts": ends(option.watts),
                "minutes": ends(option.minutes), "boil": option.boil, "boil_under_lid": option.boil_under_lid,
                "unplug": list(option.unplug),
            }
            for option in answer.options
        ],
        "stays_off": [{"part": each.heater, "reason": each.reason} for each in answer.stays_off],
    }  # fmt: skip


def _finite(value: float) -> float | None:
    return round(value, 1) if math.isfinite(value) else None


def main_finish(
    panel_name: str, faults: Sequence[str], litres: str, start: str, end: str, lid: str | None, altitude: str | None
) -> int:
    """Print what can still be done; returns the exit code: 1 where nothing on the panel may be used.

    Raises
    ------
    UsageError
        For an option that can't be used.
    FileError
        With every problem of the panel file.
    """
    panel = open_panel(panel_name)
    job = read_job(litres, start, end, lid, altitude)
    causes = [read_fault(panel, fault) for fault in faults]
    answer = finish(build(panel), causes, job)
    print("\n".join(finish_text(panel, answer)))
    return 0 if answer.options else 1


def read_job(litres: str, start: str, end: str, lid: str | None, altitude: str | None) -> Job:
    """What is to be done, from what was typed. Raises UsageError for what can't be used."""
    volume = to_si(litres if not litres.strip().replace(".", "", 1).isdigit() else f"{litres} L", "volume") * 1000
    metres = to_si(altitude, "length") if altitude else None
    first = to_si(start, "temperature", assume=True)
    last = to_si(end, "temperature", assume=True)
    if not 1 <= volume <= 2000:
        raise UsageError(Problem(f"--litres: {volume:.3g} L is outside a kettle", "1 to 2000 L"))
    for name, value in (("--from", first), ("--to", last)):
        if not 0 <= value <= 100:
            raise UsageError(Problem(f"{name}: {show(value, 'temperature')} is no brew's", "0 to 100 °C"))
    if last < first:
        raise UsageError(Problem("--to is below --from", "a temperature above it"))
    if metres is not None and not -500 <= metres <= 6000:
        raise UsageError(Problem(f"--altitude: {metres:g} m", "-500 to 6000 m"))
    return Job(volume, first, last, lid=None if lid is None else lid == "on", altitude_metres=metres)
