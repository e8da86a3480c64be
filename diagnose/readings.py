"""What a person types as a meter reading: any usual writing of a number and unit, or OL."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Literal, NoReturn

from diagnose.errors import AnswerError, Problem
from diagnose.units import NotAQuantity, quoted, read_si, show, split

QuantityName = Literal[
    "voltage_ac",
    "voltage_dc",
    "resistance",
    "current_ac",
    "insulation",
    "temperature",
    "heat_rate",
    "boil_off",
    "surface_temperature",
    "millivolts",
]
TemperatureUnit = Literal["C", "F"]
LONGEST = 60
# '>200M' says that a meter's range ends there. Less than this is no end of a range that insulation needs.
LEAST_OVER_RANGE_OHMS = 1e6


@dataclass(frozen=True, slots=True)
class Reading:
    """A reading in SI (volts, ohms, amperes, watts; degrees Celsius), inf where the meter shows OL."""

    quantity: QuantityName
    value: float
    over_range: bool
    text: str


@dataclass(frozen=True, slots=True)
class _Rule:
    """How one quantity is typed, and what a plain meter can show of it."""

    dimension: str
    unit: str
    expected: str
    low: float
    high: float
    limits: str
    mode: str = ""


_RULES: dict[str, _Rule] = {
    "voltage_ac": _Rule("voltage", "V", "voltage (such as 118 V)", 0, 1000, "0 to 1000 V", "AC"),
    "voltage_dc": _Rule("voltage", "V", "voltage (such as 12.6 V)", -1000, 1000, "-1000 to 1000 V", "DC"),
    "resistance": _Rule("resistance", "ohm", "resistance (such as 10.4 Ω, or OL)", 0, 1e12, "up to 1 TΩ"),
    "current_ac": _Rule("current", "A", "current (such as 22.9 A)", 0, 400, "0 to 400 A", "AC"),
    "insulation": _Rule("resistance", "Mohm", "insulation (such as 20 MΩ, or OL)", 0, 1e12, "up to 1 TΩ"),
    "millivolts": _Rule("voltage", "mV", "voltage (such as 3.30 mV)", -0.6, 0.6, "-600 to 600 mV", "DC"),
    "temperature": _Rule("temperature", "C", "temperature (such as 65 °C)", -60, 450, "-60 to 450 °C"),
    "surface_temperature": _Rule(
        "temperature", "C", "temperature of the surface (such as 38 °C)", -60, 600, "-60 to 600 °C"
    ),
    "heat_rate": _Rule("power", "kW", "heating power (such as 4.5 kW)", 0, 100e3, "0 to 100 kW"),
    "boil_off": _Rule("power", "kW", "heating power (such as 4.5 kW)", 0, 100e3, "0 to 100 kW"),
}
DROP_EXAMPLE = "both, the one without the load first, such as 232, 224"
_BETWEEN = re.compile(r"\s*(?:,\s|;|/|\band\b|\bthen\b|\bto\b|→|->|\s)\s*", re.IGNORECASE)
_CONTROL = re.compile(r"[\x00-\x1f\x7f-\x9f\u2028\u2029\ud800-\udfff]")
_ABOUT = re.compile(r"^(?:[~≈=]|about\b|approx(?:imately)?\b\.?|around\b|ca\b\.?|circa\b)\s*", re.IGNORECASE)
_FULL_STOP = re.compile(r"(?<=[A-Za-zΩ%])\.$")
_OPEN = re.compile(
    r"(?:[o0]\s?\.?\s?l\.?|open|open circuit|inf|infinite|infinity|overload|over ?range|over ?limit|∞)"
    r"(?:\s*(?:[kmg]?\s?(?:ohms?|[Ω\u2126])|meg|megohms?|[kmg]|[mk]?v|[mk]?a))?(?:\s?(?:ac|dc))?",
    re.IGNORECASE,
)
_OVER = re.compile(r"(?:>=?|≥|over\b|above\b|more than\b)\s*(\S.*)", re.IGNORECASE)
_UNDER = re.compile(r"(?:<=?|≤|under\b|below\b|less than\b).*", re.IGNORECASE)
_MODE = re.compile(r"(.*?[\d\sVA])(ac|dc|rms)(?:\s?rms)?", re.IGNORECASE)
_DEGREES = re.compile(r"(.*?)\s*(?:°|deg|degs|degrees?)", re.IGNORECASE)
# No such meter shows milliohms, and a small m for M is a slip by a thousand million: ask again.
_MILLIOHMS = ("mohm", "mohms", "mΩ", "m")


def parse_reading(text: str, quantity: QuantityName, temperature_unit: TemperatureUnit = "C") -> Reading:
    """Return the reading that was typed; a plain number is in the unit usual for the quantity.

    V, Ω and A; MΩ for insulation, kW for heat_rate, `temperature_unit` for temperature.

    Raises
    ------
    AnswerError
        If the text is no reading of the quantity, or one that no such meter shows.

    Examples
    --------
    >>> parse_reading("4k7", "resistance").value
    4700.0
    >>> parse_reading("O.L", "insulation").over_range
    True
    """
    rule = _RULES[quantity]
    if len(text) > LONGEST:
        _refuse(text, f"is longer than {LONGEST} characters", rule.expected)
    if _CONTROL.search(text):
        _refuse(text, "has a control character in it", rule.expected)
    typed = text.strip()
    if not typed:
        raise AnswerError(Problem("nothing was typed", rule.expected))
    clean = _FULL_STOP.sub("", _ABOUT.sub("", typed))
    if _OPEN.fullmatch(clean):
        return _over_range(typed, quantity, rule)
    if over := _OVER.fullmatch(clean):
        return _above(typed, over[1], quantity, rule)
    if _UNDER.fullmatch(clean):
        _refuse(typed, "is not one number", f"the number that the meter shows, {rule.expected}")
    clean = _without_mode(typed, clean, rule)
    value = _value(typed, clean, quantity, rule, temperature_unit)
    return Reading(quantity, value, False, typed)


def parse_drop(text: str) -> float:
    """Volts that a load draws down: two readings, without the load first, or their difference alone.

    Raises AnswerError where it is neither.

    >>> parse_drop("232 V, 224.5 V"), parse_drop("7.5")
    (7.5, 7.5)
    """
    together = re.sub(r"(?<=\d)\s+(?=m?v)", "", text.strip(), flags=re.IGNORECASE)
    words = [word for word in _BETWEEN.split(together) if word and word.lower() not in ("ac", "rms")]
    if not 1 <= len(words) <= 2:
        raise AnswerError(Problem(f"{quoted(text.strip())} is not two readings", DROP_EXAMPLE))
    if len(words) == 1:
        sign = -1.0 if words[0].startswith("-") else 1.0
        return sign * parse_reading(words[0].lstrip("-"), "voltage_ac").value
    without, loaded = (parse_reading(word, "voltage_ac").value for word in words)
    return without - loaded


def show_reading(reading: Reading) -> str:
    """Return a reading as a meter shows it, with no more digits than were typed: `118 V AC`, `OL`."""
    if reading.over_range:
        return "OL"
    rule = _RULES[reading.quantity]
    number, unit = show(reading.value, rule.dimension, 4).split(" ", 1)
    if "." in number:
        number = number.rstrip("0").rstrip(".")
    return f"{number} {unit} {rule.mode}".strip()


def _refuse(text: str, reason: str, expected: str) -> NoReturn:
    raise AnswerError(Problem(f"{quoted(text)} {reason}", expected))


def _over_range(typed: str, quantity: QuantityName, rule: _Rule) -> Reading:
    """OL is a reading on ohms; elsewhere it says that the meter is set wrongly."""
    if rule.dimension == "resistance":
        return Reading(quantity, math.inf, True, typed)
    if quantity == "temperature":
        _refuse(typed, "is no temperature: the thermometer sees no probe", rule.expected)
    if quantity == "surface_temperature":
        _refuse(typed, "is no temperature", "the highest that the thermometer can show, if it shows HI")
    if quantity in ("heat_rate", "boil_off"):
        _refuse(typed, "is no heating power", rule.expected)
    _refuse(typed, "means that the meter is over range", f"a higher range on the meter, then {rule.expected}")


def _above(typed: str, bound: str, quantity: QuantityName, rule: _Rule) -> Reading:
    """Read '>200M': over range if the bound is where a meter's ohms end."""
    if rule.dimension != "resistance":
        _refuse(typed, "is not one number", f"the number that the meter shows, {rule.expected}")
    if _value(typed, bound, quantity, rule, "C") < LEAST_OVER_RANGE_OHMS:
        _refuse(typed, "is not one number", "the number that the meter shows on a higher range, or OL")
    return Reading(quantity, math.inf, True, typed)


def _without_mode(typed: str, clean: str, rule: _Rule) -> str:
    """Take 'AC' or 'DC' off a voltage or current, and refuse the one that was not asked for."""
    match = _MODE.fullmatch(clean)
    if not match or not rule.mode:
        return clean
    mode = match[2].upper()
    if mode not in (rule.mode, "RMS"):
        _refuse(typed, f"is {mode}", f"{rule.mode} {rule.expected}")
    return match[1].strip()


def _value(typed: str, clean: str, quantity: QuantityName, rule: _Rule, temperature_unit: str) -> float:
    unit = rule.unit
    if rule.dimension == "temperature":
        unit = temperature_unit
        if degrees := _DEGREES.fullmatch(clean):
            clean = degrees[1]
    try:
        if rule.dimension == "resistance" and split(clean, rule.dimension)[1] in _MILLIOHMS:
            _refuse(typed, "is in milliohms (a small m)", f"{rule.expected}; a capital M for megohms")
        value = read_si(clean, rule.dimension, unit)
    except NotAQuantity as error:
        _refuse(typed, str(error), rule.expected)
    if value < 0 and rule.low == 0:
        _refuse(typed, "is below zero", rule.expected)
    if not rule.low <= value <= rule.high:
        _refuse(typed, "is outside what such a meter shows", f"{rule.expected}, {rule.limits}")
    return value + 0.0  # no minus zero
