"""Reference points for a probe: what is typed of them, and what temperature a reading at a probe's pins is."""

from __future__ import annotations

import re

from diagnose.checks import Check
from diagnose.circuit.sensing import curve_of, tip_celsius
from diagnose.errors import AnswerError, Problem
from diagnose.panel.records import Panel
from diagnose.physics.number import Interval
from diagnose.readings import parse_reading
from diagnose.signals import celsius_of, signal_at
from diagnose.site import boiling_at_pressure, boiling_interval
from diagnose.units import NotAQuantity, read_si, show

ROOM_CELSIUS = 20.0
PAIR_EXAMPLE = "the display, then the thermometer, such as 71.5, 65"
BOIL_EXAMPLE = "what it shows; with it, if known, where: 97 at 800 m, or 97 at 930 hPa"
NEAR_KELVIN = 12.0  # how far the liquid may be from what is asked for
LOOPS = (("a", "b"), ("a", "c"))  # pins between which the sensor lies
_PAIR = re.compile(r"\s*(?:,|;|/|\band\b|\bvs\.?\b|\bagainst\b|\s)\s*", re.IGNORECASE)
_AT = re.compile(r"(.+?)\s*(?:@|\bat\b)\s*(.+)", re.IGNORECASE)
_PRESSURE = re.compile(r"([\d.,]+)\s*(hpa|mbar|kpa)", re.IGNORECASE)


def read_pair(check: Check, text: str) -> float:
    """How far the display is above a known thermometer, in kelvin; inf where it shows no number.

    Raises AnswerError unless two temperatures were typed, the second near to what was asked for.
    """
    wanted = tip_celsius(check.setup, check.setup.placed[0][0])
    if text.strip().lower() in ("none", "no number"):
        return float("inf")
    words = [word for word in _PAIR.split(_joined(text).strip()) if word]
    if len(words) != 2:
        raise AnswerError(Problem(f"'{text}' is not two temperatures", PAIR_EXAMPLE))
    shown, true = (parse_reading(word, "temperature").value for word in words)
    if abs(true - wanted) > NEAR_KELVIN:
        near = f"{wanted - NEAR_KELVIN:.0f} to {wanted + NEAR_KELVIN:.0f} °C"
        raise AnswerError(Problem(f"the thermometer's {true:.0f} °C is not what this asks for", f"liquid of {near}"))
    return shown - true


def _joined(text: str) -> str:
    """Units next to their numbers, so that a space divides the two readings."""
    return re.sub(r"\s*(?:°|deg(?:rees)?)?\s*([CF])\b", r"\1", text, flags=re.IGNORECASE)


def read_boiling(panel: Panel, text: str) -> tuple[float, tuple[float, float] | None]:
    """What is shown in boiling water, as if that boiled in the middle of what it may here, and by how much it is surer.

    `97 at 800 m` or `97 at 930 hPa` says where; else the panel's own altitude counts, or any usual one.

    Raises AnswerError where a part of it can't be read.
    """
    if text.strip().lower() in ("none", "no number"):
        return float("inf"), None
    match = _AT.fullmatch(text.strip())
    if match is None:
        return parse_reading(text, "temperature").value, None
    here, there = boiling_interval(panel), _boils(panel, match[2])
    shown = parse_reading(match[1], "temperature").value
    less = (there.high - there.low) / 2 - (here.high - here.low) / 2
    return shown + (here.low + here.high) / 2 - (there.low + there.high) / 2, (less, less)


def _boils(panel: Panel, where: str) -> Interval:
    try:
        if pressure := _PRESSURE.fullmatch(where.strip()):
            factor = 1000.0 if pressure[2].lower() == "kpa" else 100.0
            return boiling_at_pressure(float(pressure[1].replace(",", ".")) * factor)
        return boiling_interval(panel, read_si(where, "length", "m"))
    except (ValueError, NotAQuantity) as error:
        raise AnswerError(Problem(f"'{where}' is no altitude or air pressure: {error}", BOIL_EXAMPLE)) from error


def temperature_of(panel: Panel, check: Check, value: float) -> str:
    """What temperature a reading at a probe's pins is, in a line; nothing where it is not one of a sensor."""
    kind = panel.parts[check.part].kind if check.part in panel.parts else None
    if kind is None or kind.role != "probe" or check.quantity not in ("resistance", "millivolts"):
        return ""
    ends = tuple(end.partition(".")[2] for end in (check.tail, check.head))
    curve = curve_of(panel, check.part)
    if curve is None or curve.gives == "degrees" or ends not in LOOPS or not kind.plug:
        return ""
    if (curve.gives == "volts") != (check.quantity == "millivolts"):
        return ""
    signal = value + (signal_at(curve, ROOM_CELSIUS) if curve.gives == "volts" else 0.0)
    celsius = celsius_of(curve, signal)
    shown = show(value, "resistance") if curve.gives == "ohms" else f"{1000 * value:.2f} mV"
    cold_end = f", its connector at {ROOM_CELSIUS:.0f} °C" if curve.gives == "volts" else ""
    if abs(celsius) == float("inf"):
        return f"{shown} is no temperature of a {curve.title}{cold_end}."
    return f"{shown} is a {curve.title} at {celsius:.0f} °C{cold_end}."


def asked_line(panel: Panel, check: Check) -> str:
    """What a reference point is, where it is not the same everywhere; else nothing."""
    if check.setup_name != "boiled":
        return ""
    low, high = boiling_interval(panel)
    known = "" if panel.altitude_metres is not None else ", as nobody said how high you are"
    return f"Water boils at {low:.1f} to {high:.1f} °C here{known}."
