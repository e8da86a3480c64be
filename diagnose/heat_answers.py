"""What a person types as a heating power: watts, a rise of a known volume, or what boiled off."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import NoReturn

from diagnose.errors import AnswerError, Problem
from diagnose.physics.heating import STEEL_SPECIFIC_HEAT
from diagnose.physics.number import Interval
from diagnose.physics.vessel import METALS, Kettle, Measured, measured_boil_off, measured_rise, usual_kettle
from diagnose.physics.water import boiling_celsius_at_altitude
from diagnose.readings import QuantityName, parse_reading
from diagnose.units import quoted

LONGEST = 120
NEAR_THE_BOIL_KELVIN = 3.0  # nearer to the boil, part of the heat goes into steam: common practice
RISE_EXAMPLE = "such as 40 L, 20 to 31 C, 15 min; or kW"
BOIL_EXAMPLE = "such as 28 to 25 L, 45 min; or kW"
# Litres: the US gallon and quart, the imperial gallon; by definition.
LITRES: Mapping[str, float] = MappingProxyType(
    {"imp gal": 4.54609, "gal": 3.785411784, "qt": 0.946352946, "l": 1.0, "ml": 0.001}
)
KILOGRAMS_SHARE = 0.2  # how well a kettle's mass is known where it is told: common practice

_NUMBER = r"(-?\d{1,6}(?:[.,]\d{1,6})?)"
_TO = r"\s*(?:to|until|->|→|-|–|—)\s*"
_DEGREE = r"\s*(?:°|º|deg(?:rees?)?)?\s*"
_GALLON = r"(?:us\s*)?gal(?:lons?|s)?|(?:imp(?:erial)?|uk)\s*gal(?:lons?|s)?"
_VOLUME_UNIT = rf"({_GALLON}|qts?|quarts?|lit(?:re|er)s?|ltrs?|l|ml)\b"
_SPAN = re.compile(rf"(?:from\s+)?{_NUMBER}{_TO}{_NUMBER}\s*{_VOLUME_UNIT}", re.IGNORECASE)
_VOLUME = re.compile(rf"{_NUMBER}\s*{_VOLUME_UNIT}", re.IGNORECASE)
_RISE = re.compile(
    rf"(?:from\s+)?{_NUMBER}{_DEGREE}([CF]?)\b{_TO}{_NUMBER}{_DEGREE}(celsius|fahrenheit|[CF])?(?![\w.,]*\d)(?!\w)",
    re.IGNORECASE,
)
_HOURS = re.compile(rf"{_NUMBER}\s*h(?:ours?|rs?)?\b", re.IGNORECASE)
_MINUTES = re.compile(rf"{_NUMBER}\s*(?:min(?:ute)?s?|')(?![a-z])", re.IGNORECASE)
_SECONDS = re.compile(rf"{_NUMBER}\s*(?:s|secs?|seconds?|\")(?![a-z])", re.IGNORECASE)
_CLOCK = re.compile(r"\b(\d{1,3}):([0-5]\d)\b")
_LID = re.compile(r"(?:\b(no|without|open)\s+(?:a\s+)?)?\blid\b\s*:?\s*(on|off)?", re.IGNORECASE)
_JACKET = re.compile(r"\b(?:(not|no)\s+)?(insulated|insulation|jacket(?:ed)?|bare)\b", re.IGNORECASE)
_PLATO = re.compile(rf"{_NUMBER}\s*(?:°\s*)?(?:p|plato|brix|%)(?![a-z])", re.IGNORECASE)
_GRAVITY = re.compile(r"\b(1[.,]\d{2,3})\b(?:\s*(?:sg|og))?", re.IGNORECASE)
_MASS = re.compile(rf"{_NUMBER}\s*(kg|lbs?)\b\s*(?:of\s+)?(steel|stainless|alumin(?:i)?um|copper)?", re.IGNORECASE)
_LOSS = re.compile(rf"\bloss(?:es)?\s*(?:of\s*)?{_NUMBER}\s*(k?w)\b", re.IGNORECASE)
_FILLER = re.compile(
    r"\b(?:water|wort|in|of|for|over|and|at|within|took|lost|kettle|boil(?:ed)?|off|per|after|with|a|an)\b|[\s,;./@=+]+",
    re.IGNORECASE,
)
_CONTROL = re.compile(r"[\x00-\x1f\x7f-\x9f\u2028\u2029\ud800-\udfff]")


@dataclass(frozen=True, slots=True)
class HeatRun:
    """A rise, or a loss of volume at the boil, as it was typed. What was not said is None."""

    litres: float | None = None
    litres_after: float | None = None  # of a boil-off told by two volumes
    from_celsius: float | None = None
    to_celsius: float | None = None
    minutes: float | None = None
    plato: float = 0.0
    lid: bool | None = None
    insulated: bool | None = None
    kilograms: float | None = None
    specific_heat: float | None = None
    loss_watts: float | None = None

    def kettle(self, known: Kettle | None) -> Kettle:
        """The kettle that it was measured in: what was typed, else what the panel file says, else a usual one."""
        kettle = known or usual_kettle(self.litres or 1.0)
        if self.lid is not None:
            kettle = replace(kettle, lid=self.lid)
        if self.insulated is not None:
            kettle = replace(kettle, insulated=self.insulated)
        if self.kilograms is not None:
            share = KILOGRAMS_SHARE * self.kilograms
            heat = self.specific_heat or STEEL_SPECIFIC_HEAT
            kettle = replace(kettle, kilograms=Interval.around(self.kilograms, share), specific_heat=heat)
        if self.loss_watts is not None:
            kettle = replace(kettle, loss_watts=Interval(self.loss_watts, self.loss_watts))
        return kettle


def parse_heat(text: str, quantity: QuantityName, known: Kettle | None = None) -> tuple[float, Measured | None]:
    """The heating power that was typed, in watts, and how it was measured where that was typed.

    Parameters
    ----------
    text : str
        `5.4 kW`, or what was measured: for `heat_rate` litres or gallons, two temperatures and minutes; for `boil_off`
        litres lost, or two volumes, and minutes. `lid off`, `insulated`, `12 P`, `8 kg steel`, `loss 200 W` may follow.
    quantity : 'heat_rate' or 'boil_off'
    known : Kettle, optional
        What the panel file says of the kettle.

    Raises
    ------
    AnswerError
        With all that is missing, or with what was not understood.

    Examples
    --------
    >>> round(parse_heat("40 L, 20 to 31 C, 15 min", "heat_rate")[0], -1)
    2160.0
    >>> parse_heat("5.4", "heat_rate")
    (5400.0, None)
    """
    example = BOIL_EXAMPLE if quantity == "boil_off" else RISE_EXAMPLE
    if len(text) > LONGEST:
        _refuse(text, f"is longer than {LONGEST} characters", example)
    if _CONTROL.search(text):
        _refuse(text, "has a control character in it", example)
    if not any(pattern.search(text) for pattern in (_VOLUME, _MINUTES, _RISE, _CLOCK)):
        return parse_reading(text, quantity).value, None
    run = _run(text, example)
    try:
        found = _boiled(text, run, known) if quantity == "boil_off" else _risen(text, run, known)
    except ValueError as error:
        _refuse(text, f"can't be worked out: {error}", example)
    return found.watts, found


def _risen(text: str, run: HeatRun, known: Kettle | None) -> Measured:
    missing = [
        what
        for what, value in (
            ("the volume (40 L or 10 gal)", run.litres),
            ("the two temperatures, with C or F (20 to 31 C)", run.from_celsius),
            ("the time (15 min)", run.minutes),
        )
        if value is None
    ]
    _ask_for(text, missing, RISE_EXAMPLE)
    assert run.litres is not None and run.minutes is not None
    assert run.from_celsius is not None and run.to_celsius is not None
    kettle = run.kettle(known)
    boiling = boiling_celsius_at_altitude(kettle.altitude_metres)
    if min(run.from_celsius, run.to_celsius) < 0:
        _refuse(text, "has a temperature below freezing", RISE_EXAMPLE)
    if max(run.from_celsius, run.to_celsius) > boiling - NEAR_THE_BOIL_KELVIN:
        _refuse(text, "ends at the boil, where heat goes into steam", "a rise that ends well below the boil")
    return measured_rise(kettle, run.litres, run.from_celsius, run.to_celsius, run.minutes, plato=run.plato)


def _boiled(text: str, run: HeatRun, known: Kettle | None) -> Measured:
    missing = [
        what
        for what, value in (
            ("the litres lost, or the volume before and after (28 to 25 L)", run.litres),
            ("the time (45 min)", run.minutes),
        )
        if value is None
    ]
    _ask_for(text, missing, BOIL_EXAMPLE)
    assert run.litres is not None and run.minutes is not None
    if run.lid:
        _refuse(text, "was measured under a lid, where steam runs back", "a boil with the lid off")
    lost = run.litres
    if run.litres_after is not None:
        lost = run.litres - run.litres_after
        if lost < 0:
            _refuse(text, "has more after than before", BOIL_EXAMPLE)
    if known is None and run.loss_watts is None:
        return measured_boil_off(None, lost, run.minutes)
    return measured_boil_off(run.kettle(known), lost, run.minutes)


def _ask_for(text: str, missing: list[str], example: str) -> None:
    if missing:
        _refuse(text, f"does not say {' nor '.join(missing)}", f"all of it in one line, {example}")


def _refuse(text: str, reason: str, expected: str) -> NoReturn:
    raise AnswerError(Problem(f"{quoted(text.strip())} {reason}", expected))


def _number(text: str) -> float:
    return float(text.replace(",", "."))


def _litres(number: str, unit: str) -> float:
    unit = unit.lower()
    if unit.startswith(("imp", "uk")):
        name = "imp gal"
    elif "gal" in unit:
        name = "gal"
    else:
        name = "qt" if unit.startswith("q") else "ml" if unit == "ml" else "l"
    return _number(number) * LITRES[name]


def _run(text: str, example: str) -> HeatRun:
    """All that a line says; what is left over when all is taken out has to be nothing but filling words."""
    run, rest = HeatRun(), text

    def take(pattern: re.Pattern[str]) -> re.Match[str] | None:
        nonlocal rest
        match = pattern.search(rest)
        if match:
            rest = f"{rest[: match.start()]} , {rest[match.end() :]}"
        return match

    if found := take(_LOSS):
        run = replace(run, loss_watts=_number(found[1]) * (1000 if found[2].lower() == "kw" else 1))
    if found := take(_MASS):
        kilograms = _number(found[1]) * (0.45359237 if found[2].lower().startswith("lb") else 1)
        metal = (found[3] or "steel").lower()
        name = "aluminium" if metal.startswith("alu") else "copper" if metal == "copper" else "steel"
        run = replace(run, kilograms=kilograms, specific_heat=METALS[name])
    if found := take(_SPAN):
        run = replace(run, litres=_litres(found[1], found[3]), litres_after=_litres(found[2], found[3]))
    elif found := take(_VOLUME):
        run = replace(run, litres=_litres(found[1], found[2]))
    minutes, told = 0.0, False
    for pattern, each in ((_HOURS, 60.0), (_MINUTES, 1.0), (_SECONDS, 1 / 60)):
        if found := take(pattern):
            minutes, told = minutes + _number(found[1]) * each, True
    if found := take(_CLOCK):
        minutes, told = minutes + int(found[1]) + int(found[2]) / 60, True
    elif not told and re.search(r"\b(?:per|an?)\s+hour\b|/\s*h\b", rest, re.IGNORECASE):
        rest = re.sub(r"\b(?:per|an?)\s+hour\b|/\s*h\b", " ", rest, flags=re.IGNORECASE)
        minutes, told = 60.0, True
    if told:
        run = replace(run, minutes=minutes)
    if found := take(_RISE):
        unit = (found[4] or found[2] or "").upper()[:1]
        if not unit:
            _refuse(text, "does not say whether the temperatures are °C or °F", example)
        start, end = _number(found[1]), _number(found[3])
        if unit == "F":
            start, end = (start - 32) / 1.8, (end - 32) / 1.8
        run = replace(run, from_celsius=start, to_celsius=end)
    if found := take(_LID):
        shut = found[1] is None and (found[2] or "on").lower() == "on"
        run = replace(run, lid=shut)
    if found := take(_JACKET):
        run = replace(run, insulated=(found[1] is None) != (found[2].lower() == "bare"))
    if found := take(_PLATO):
        run = replace(run, plato=_number(found[1]))
    elif found := take(_GRAVITY):
        # 4 points of gravity are about 1 °P: a brewers' rule of thumb, from memory.
        run = replace(run, plato=(_number(found[1]) - 1) * 250)
    left = _FILLER.sub("", rest)
    if left:
        _refuse(text, f"has something in it that is not understood: {quoted(left)}", example)
    for what, value in (("volume", run.litres), ("time", run.minutes)):
        if value is not None and value <= 0:
            _refuse(text, f"has a {what} that is not above zero", example)
    if not 0 <= run.plato <= 40:
        _refuse(text, "has an extract outside 0 to 40 °P", example)
    return run
