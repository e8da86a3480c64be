"""Text that is safe to show, shares, and readings as a meter shows them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from math import isinf
from types import MappingProxyType

from diagnose.escaping import unseen_out
from diagnose.units import show_range

_DIMENSIONS = {
    "voltage_drop": "voltage",
    "voltage_ac": "voltage", "voltage_dc": "voltage", "resistance": "resistance", "insulation": "resistance",
    "current_ac": "current", "temperature_error": "temperature_difference", "millivolts": "voltage",
    "temperature": "temperature", "heat_rate": "power", "boil_off": "power",
    "surface_temperature": "temperature",
}  # fmt: skip
# What a plain number is taken to be in, as `readings` does.
UNITS: Mapping[str, str] = MappingProxyType(
    {
        "voltage_drop": "V AC",
        "voltage_ac": "V AC", "voltage_dc": "V DC", "resistance": "ohm", "insulation": "Mohm",
        "current_ac": "A", "temperature": "deg C", "temperature_error": "deg C", "millivolts": "mV",
         "heat_rate": "kW", "boil_off": "kW",
        "surface_temperature": "deg C",
    }
)  # fmt: skip
ABOUT_NOTHING_VOLTS = 1.0


@dataclass(frozen=True, slots=True)
class Page:
    """What is shown at once: a heading, lines, and what the answer is asked for with."""

    title: str
    lines: tuple[str, ...]
    prompt: str = ""


def clean(text: str) -> str:
    """Text without control characters, on one line: safe to send to a terminal."""
    return " ".join(unseen_out(text).split())


def clean_all(lines: Iterable[str]) -> list[str]:
    """Every line cleaned, its indentation kept."""
    return [" " * (len(line) - len(line.lstrip(" "))) + clean(line) for line in lines]


def capital(text: str) -> str:
    """The same with its first letter capital; 'HLT' stays as it is."""
    return text[:1].upper() + text[1:]


def percent(share: float) -> str:
    """A share as a person reads it: never 100 % nor 0 %, since belief is neither."""
    if share > 0.99:
        return "over 99 %"
    return f"{share * 100:.0f} %" if share >= 0.01 else "under 1 %"


def range_text(quantity: str, low: float, high: float) -> str:
    """An interval of readings in SI as a meter shows it: '228–252 V', 'about 0 V', 'OL'."""
    if quantity == "millivolts":
        return f"{1e3 * low:.2f} to {1e3 * high:.2f} mV"
    if quantity == "temperature_error":
        return "no number" if isinf(high) else f"{low:+.1f} to {high:+.1f} °C off"
    if quantity == "temperature" and isinf(high):
        return "no number" if isinf(low) else f"{range_text(quantity, low, low)} or more, or no number"
    if quantity == "voltage_drop":
        return f"{_volts(max(low, 0.0), max(high, 0.0))} less with the load on"
    if isinf(low):
        return "OL"
    dimension = _DIMENSIONS[quantity]
    if isinf(high):
        return f"{show_range(low, low, dimension)} or more, or OL"
    if dimension == "voltage":
        return _volts(low, high)
    return show_range(low, high, dimension)


def _volts(low: float, high: float) -> str:
    """Always in volts: a 'mV' on the screen would be looked for on the meter."""
    largest = max(abs(low), abs(high))
    if largest <= ABOUT_NOTHING_VOLTS:
        return "about 0 V"
    decimals = 0 if largest >= 20 else 1
    ends = [f"{end:.{decimals}f}" for end in (low, high)]
    ends = [end.removeprefix("-") if float(end) == 0 else end for end in ends]
    joint = " to " if low < 0 else "–"
    return f"{ends[0] if ends[0] == ends[1] else joint.join(ends)} V"
