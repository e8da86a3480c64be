"""The one registry of units: text to quantity to SI float, and back to what a meter shows."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal, get_args

from diagnose.errors import AnswerError, Problem

if TYPE_CHECKING:
    import pint

Dimension = Literal[
    "voltage", "current", "resistance", "power", "temperature", "temperature_difference", "length", "area",
    "volume", "mass", "time", "frequency", "capacitance", "inductance", "pressure", "ratio", "energy",
]  # fmt: skip
DIMENSIONS: tuple[str, ...] = get_args(Dimension)
LONGEST = 80
LARGEST = 1e12


@dataclass(frozen=True, slots=True)
class _Measure:
    """A dimension: its unit inside, an example, and the (factor, symbol) pairs that it is shown in."""

    base: str
    example: str
    scales: tuple[tuple[float, str], ...]


_MEASURES: dict[str, _Measure] = {
    "voltage": _Measure("volt", "120 V", ((1e-3, "mV"), (1, "V"), (1e3, "kV"))),
    "current": _Measure("ampere", "16 A", ((1e-3, "mA"), (1, "A"))),
    "resistance": _Measure("ohm", "10.4 Ω", ((1, "Ω"), (1e3, "kΩ"), (1e6, "MΩ"), (1e9, "GΩ"))),
    "power": _Measure("watt", "4500 W", ((1, "W"), (1e3, "kW"))),
    "temperature": _Measure("celsius", "65 °C", ((1, "°C"),)),
    "temperature_difference": _Measure("kelvin", "5 K", ((1, "K"),)),
    "length": _Measure("metre", "2 m", ((1e-3, "mm"), (1, "m"))),
    "area": _Measure("metre ** 2", "2.5 mm²", ((1e-6, "mm²"),)),
    "volume": _Measure("metre ** 3", "40 L", ((1e-3, "L"),)),
    "mass": _Measure("kilogram", "20 kg", ((1e-3, "g"), (1, "kg"))),
    "time": _Measure("second", "5 min", ((1, "s"), (60, "min"), (3600, "h"))),
    "frequency": _Measure("hertz", "60 Hz", ((1, "Hz"), (1e3, "kHz"))),
    "capacitance": _Measure("farad", "22 nF", ((1e-9, "nF"), (1e-6, "µF"), (1e-3, "mF"), (1, "F"))),
    "inductance": _Measure("henry", "10 mH", ((1e-6, "µH"), (1e-3, "mH"), (1, "H"))),
    "pressure": _Measure("pascal", "101 kPa", ((1, "Pa"), (1e3, "kPa"))),
    "ratio": _Measure("", "5 %", ((0.01, "%"),)),
    "energy": _Measure("joule", "1 kWh", ((1, "J"), (1e3, "kJ"), (1e6, "MJ"))),
}
# Letters that are a unit only beside a quantity of one dimension: 'F' is a farad, but 149 F is a temperature.
_SHORT: dict[str, dict[str, str]] = {
    "resistance": {"k": "kohm", "K": "kohm", "M": "Mohm", "meg": "Mohm", "Meg": "Mohm", "MEG": "Mohm",
                   "G": "Gohm", "R": "ohm", "r": "ohm"},
    "temperature": {"C": "degC", "c": "degC", "F": "degF", "f": "degF"},
    "temperature_difference": {
        **dict.fromkeys(("C", "c", "degC"), "delta_degree_Celsius"),
        **dict.fromkeys(("F", "f", "degF"), "delta_degree_Fahrenheit"),
    },
}  # fmt: skip
_ANYWHERE = {
    "%": "percent", "USgal": "gal", "sqmm": "mm2", "lbs": "lb", "k": "kohm", "meg": "Mohm", "R": "ohm",
    "C": "degC",
    **{unit + mode: unit for unit in "VA" for mode in ("ac", "AC", "dc", "DC")}, "vac": "V", "vdc": "V",
}  # fmt: skip
# Spellings taken in any case where the exact one is unknown: '5500w', '1.2 KOHM'.
_ANY_CASE = {
    unit.lower(): unit
    for unit in (
        "V", "mV", "kV", "volt", "volts", "A", "mA", "uA", "amp", "amps", "ohm", "ohms", "kohm", "Mohm", "kΩ",
        "W", "kW", "watt", "watts", "degC", "degF", "celsius", "fahrenheit", "m", "cm", "mm", "ft", "in",
        "mm2", "cm2", "L", "mL", "gal", "qt", "kg", "g", "lb", "s", "min", "h", "hr", "Hz", "kHz", "nF", "uF",
        "mH", "Pa", "kPa", "hPa", "mbar", "bar", "psi", "J", "kJ", "kWh",
    )
}  # fmt: skip
_ONE_SPELLING = str.maketrans(
    {
        "µ": "u",
        "μ": "u",
        "\u2126": "Ω",
        "℃": "°C",
        "℉": "°F",
        "−": "-",
        "–": "-",
        "\u00a0": " ",
        "\u2009": " ",
        "\u202f": " ",
    }
)
_NUMBER = re.compile(r"([+-]?)\s?(\d+(?:[.,]\d*)?|[.,]\d+)((?:[eE][+-]?\d+)?)(?![\d.,])\s*(.*)", re.ASCII)
_INFIX = re.compile(r"([+-]?\d+)([RrkKMG])(\d+)\s?(?:ohms?|Ω)?", re.ASCII)
_UNIT = re.compile(r"[A-Za-zΩ_]+(?:\*\*[23])?|%")
_TWO_WAYS = re.compile(r"[1-9]\d{0,2},\d{3}", re.ASCII)
_CONTROL = re.compile(r"[\x00-\x1f\x7f-\x9f\u2028\u2029\ud800-\udfff]")


class NotAQuantity(ValueError):
    """Text that is no quantity of the dimension asked for; says why, as what follows the quoted text."""


def quoted(text: str) -> str:
    """Return text in quotes for a message: one line, no control characters, not endless."""
    clean = _CONTROL.sub("?", text)
    return f"'{clean if len(clean) <= 60 else clean[:57] + '…'}'"


def expectation(dimension: str) -> str:
    """Return what was expected, for a message: `voltage (such as 120 V)`."""
    return f"{dimension.replace('_', ' ')} (such as {_measure(dimension).example})"


def _measure(dimension: str) -> _Measure:
    if dimension not in _MEASURES:
        raise ValueError(f"{dimension!r} is no dimension, expected one of {', '.join(DIMENSIONS)}")
    return _MEASURES[dimension]


@lru_cache(maxsize=1)
def registry() -> pint.UnitRegistry[Any]:
    """Return the registry; pint is imported here because it costs more than the rest of a start together."""
    import pint

    return pint.UnitRegistry(str(Path(__file__).with_name("units.txt")))


def split(text: str, dimension: str = "") -> tuple[float, str]:
    """Split `10.4 ohm`, `10,4`, `4k7` into a number and its unit, which may be ''; raises NotAQuantity."""
    if len(text) > LONGEST or _CONTROL.search(text):
        raise NotAQuantity("is not a number with a unit")
    clean = text.translate(_ONE_SPELLING).strip()
    if dimension == "resistance" and (infix := _INFIX.fullmatch(clean)):
        clean = f"{infix[1]}.{infix[3]} {infix[2]}"
    match = _NUMBER.fullmatch(clean)
    if not match:
        raise NotAQuantity("is not a number")
    sign, digits, exponent, unit = match.groups()
    if _TWO_WAYS.fullmatch(digits):
        raise NotAQuantity(f"can be read as {digits.replace(',', '')} or as {digits.replace(',', '.')}")
    number = float(sign + digits.replace(",", ".") + exponent)
    if abs(number) > LARGEST:
        raise NotAQuantity("is too large")
    return number, unit


def _normal(unit: str) -> str:
    unit = re.sub(r"\s+", "", unit).replace("°", "deg").replace("degrees", "deg").replace("degree", "deg")
    unit = unit.replace("²", "2").replace("³", "3").replace("^", "")
    return re.sub(r"(?<=[A-Za-z])\*{0,2}([23])$", r"\1", unit)


@lru_cache(maxsize=1024)
def _unit(text: str, dimension: str) -> pint.Unit | None:
    """Return the unit that some text means beside a quantity of a dimension, or None."""
    unit = _normal(text)
    unit = _SHORT.get(dimension, {}).get(unit) or _ANYWHERE.get(unit, unit)
    for spelling in (unit, _ANY_CASE.get(unit.lower(), "")):
        chosen = _SHORT.get(dimension, {}).get(spelling, spelling)
        power = re.sub(r"([23])$", r"**\1", chosen)
        if _UNIT.fullmatch(power) and (found := _look_up(power)) is not None:
            return found
    return None


def _look_up(unit: str) -> pint.Unit | None:
    import pint

    try:
        found = registry().parse_units(unit)
    except (pint.errors.PintError, AttributeError, ValueError):
        # the second: a prefix before a unit with an offset; the third: a word that pint takes for a number, as nan
        return None
    return found if _dimension_of(found) else None


def _dimension_of(unit: pint.Unit) -> str:
    return next((name for name in DIMENSIONS if unit.is_compatible_with(_MEASURES[name].base)), "")


def read_quantity(text: str, dimension: str, unit: str = "") -> pint.Quantity[float]:
    """Return the quantity that text says; a plain number is in `unit`, or refused without one.

    Raises NotAQuantity, and ValueError if the dimension is unknown.
    """
    measure = _measure(dimension)
    number, typed = split(text, dimension)
    if not (typed or unit or dimension == "ratio"):
        raise NotAQuantity("has no unit")
    found = _unit(typed or unit, dimension) if typed or unit else registry().Unit("")
    if found is None:
        raise NotAQuantity(f"has an unknown unit {quoted(typed)}")
    if not found.is_compatible_with(measure.base):
        other = _dimension_of(found).replace("_", " ")
        raise NotAQuantity("is a ratio" if other == "ratio" else f"is {other}")
    quantity: pint.Quantity[float] = registry().Quantity(number, found)
    if abs(quantity.to(measure.base).magnitude) > LARGEST:
        raise NotAQuantity("is too large")
    return quantity


def read_si(text: str, dimension: str, unit: str = "") -> float:
    """Return what `read_quantity` reads, in the SI unit of the dimension; temperatures in degrees Celsius."""
    return float(read_quantity(text, dimension, unit).to(_measure(dimension).base).magnitude)


def quantity(text: str, dimension: str, *, assume: bool = False) -> pint.Quantity[float]:
    """Return the quantity that text says, in the unit it is written in.

    A plain number is taken in the SI unit if `assume`, else refused (but a ratio needs no unit).
    Raises AnswerError, which says what the text is and what was expected.
    """
    try:
        return read_quantity(text, dimension, _measure(dimension).base if assume else "")
    except NotAQuantity as error:
        raise AnswerError(Problem(f"{quoted(text)} {error}", expectation(dimension))) from None


def to_si(text: str, dimension: str, *, assume: bool = False) -> float:
    """Return what text says in the SI unit of a dimension; temperatures in degrees Celsius.

    Raises AnswerError as `quantity` does.

    Examples
    --------
    >>> to_si("1.2 kΩ", "resistance")
    1200.0
    """
    return float(quantity(text, dimension, assume=assume).to(_measure(dimension).base).magnitude)


def awg_area(text: str) -> float:
    """Return the copper's cross-section in square metres from `10 AWG`, `1/0 AWG` or `2.5 mm²`.

    Sizes by ASTM B258: d = 0.127 mm · 92^((36 - n) / 39); 1/0 is n = 0, 4/0 is n = -3.
    Raises AnswerError for other text, and for sizes outside 18 to 1 AWG, 1/0 to 4/0 AWG, 0.1 to 120 mm².
    """
    expected = "a conductor size (such as 10 AWG or 2.5 mm²)"
    wrong = f"{quoted(text)} is no size of wire"
    match = re.fullmatch(r"(\d{1,2})(/0)?\s*awg", text.strip(), re.ASCII | re.IGNORECASE)
    if not match:
        try:
            area = read_si(text, "area")
        except NotAQuantity as error:
            raise AnswerError(Problem(f"{quoted(text)} {error}", expected)) from None
        if not 0.1e-6 <= area <= 120e-6:
            raise AnswerError(Problem(wrong, expected + ", 0.1 to 120 mm²"))
        return area
    number, aught = int(match[1]), bool(match[2])
    if not 1 <= number <= (4 if aught else 18):
        raise AnswerError(Problem(wrong, expected + ", 18 to 1 or 1/0 to 4/0 AWG"))
    gauge = 1 - number if aught else number
    diameter_metres: float = 0.127e-3 * 92 ** ((36 - gauge) / 39)
    return math.pi / 4 * diameter_metres**2


_ASCII = str.maketrans({"Ω": "ohm", "°": "", "–": "-", "µ": "u", "²": "2"})


def _scale(magnitude: float, dimension: str, digits: int) -> tuple[float, str, int]:
    """Return the factor, symbol and decimals of a display with so many digits that can show a magnitude."""
    scales = _measure(dimension).scales
    rounded = float(f"{magnitude:.{digits - 1}e}")
    most = digits - 2 if dimension == "temperature" else digits - 1
    factor, symbol = max((s for s in scales if rounded >= s[0] * (1 - 1e-9)), default=scales[0])
    whole = len(str(int(rounded / factor * (1 + 1e-9))))
    decimals = max(0, min(most, digits - whole))
    if float(f"{magnitude / factor:.{decimals}f}") == 0:
        factor, symbol = next((scale for scale in scales if scale[0] == 1), scales[0])
        decimals = max(0, most)
    return factor, symbol, decimals


def _plain(value: float, decimals: int) -> str:
    text = f"{value:.{decimals}f}"
    return text.removeprefix("-") if float(text) == 0 else text


def show(value: float, dimension: str, digits: int = 3, *, ascii: bool = False) -> str:
    """Return an SI value as a meter shows it: `10.4 Ω`, `4.20 mA`, `OL` for infinity; ValueError on nan."""
    return show_range(value, value, dimension, digits, ascii=ascii)


def show_range(low: float, high: float, dimension: str, digits: int = 3, *, ascii: bool = False) -> str:
    """Return an interval of SI values with one prefix for both ends: `9.9–11.0 Ω`; ValueError on nan."""
    if math.isnan(low) or math.isnan(high):
        raise ValueError(f"{low} to {high} is no range, expected two numbers")
    low, high = min(low, high), max(low, high)
    ends = [end for end in (low, high) if math.isfinite(end)]
    factor, symbol, decimals = _scale(max(map(abs, ends), default=0.0), dimension, digits)
    texts = [_plain(end / factor, decimals) for end in ends]
    if len(ends) == 2:
        joint = " to " if low < 0 else "–"
        text = f"{texts[0] if texts[0] == texts[1] else joint.join(texts)} {symbol}"
    elif high == math.inf:
        text = f"{texts[0]} {symbol}–OL" if ends else "OL"
    else:
        text = f"-OL to {texts[0]} {symbol}" if ends else "-OL"
    return text.translate(_ASCII) if ascii else text
