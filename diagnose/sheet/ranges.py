"""What a check may show, divided as a person with paper can tell it apart: outcomes of a sign, ranges of a reading."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from math import inf, isfinite

import numpy as np

from diagnose.belief import Scale, outcome_table
from diagnose.checks import Check
from diagnose.circuit.netlist import FloatArray
from diagnose.expect import Prediction
from diagnose.heat_checks import cuts_of
from diagnose.likelihoods import between, outcomes_under
from diagnose.model import Model
from diagnose.scales import scale_of

WORTH_A_RANGE = 2e-3  # causes with less belief don't get a range of their own
INNER = 0.25  # an edge keeps so much of the gap between two ranges to either side
MOST_RANGES = 6
_UNITS = {
    "voltage_ac": (("V", 1.0),),
    "voltage_dc": (("V", 1.0),),
    "voltage_drop": (("V lost", 1.0),),
    "resistance": (("Ω", 1.0), ("kΩ", 1e3), ("MΩ", 1e6)),
    "insulation": (("kΩ", 1e3), ("MΩ", 1e6), ("GΩ", 1e9)),
    "current_ac": (("mA", 1e-3), ("A", 1.0)),
    "temperature": (("°C", 1.0),),
    "surface_temperature": (("°C", 1.0),),
    "temperature_error": (("°C off", 1.0),),
    "millivolts": (("mV", 1e-3),),
    "heat_rate": (("kW", 1e3),),
    "boil_off": (("kW", 1e3),),
}


DISPLAYED = ("temperature", "temperature_error")  # by a controller, which may show no number
_TYPED = {
    "temperature": "C", "surface_temperature": "C", "voltage_ac": "V", "voltage_dc": "V", "voltage_drop": "V",
    "current_ac": "A",
    "heat_rate": "W", "boil_off": "W", "millivolts": "V",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Range:
    """Readings from `low` up to, but not with, `high`, in SI; OL alone where both are inf."""

    low: float
    high: float

    def holds(self, reading: float) -> bool:
        """Whether a reading belongs here; inf is OL."""
        return self.low <= reading < self.high or self.low == reading == inf


@dataclass(frozen=True, eq=False, slots=True)
class Possible:
    """One thing that a check may show: outcomes of a sign, or ranges; and its (H + 1,) likelihood, the unknown last.

    `typical` is what would be typed for it.
    """

    outcomes: tuple[str, ...]
    ranges: tuple[Range, ...]
    likelihood: FloatArray
    typical: str


def possible(model: Model, check: Check, now: FloatArray) -> tuple[Possible, ...]:
    """What a check may show, given what is believed: whole and without overlap."""
    prediction = model.predict(check)
    if prediction.table is not None:
        names = model.panel.kind_of(check.part).signs[check.sign].outcomes
        table = outcomes_under(prediction, "sign")
        return tuple(Possible((name,), (), table[:, k], name) for k, name in enumerate(names))
    worth = np.r_[True, now[:-1] >= WORTH_A_RANGE]  # the sound panel's reading is always one to tell apart
    cuts = cuts_of(model, check)
    if cuts is not None:
        edges, has_over = [float(f"{cut:.2g}") for cut in cuts], False
    else:
        edges, has_over = _edges(prediction, worth, scale_of(check.quantity))
    table = between(prediction, check.quantity, np.array(edges), has_over)
    ranges = [Range(low, high) for low, high in pairwise([-inf, *edges, inf])]
    if has_over:
        ranges.append(Range(inf, inf))
    return tuple(
        Possible((), (each,), table[:, k], _typical(prediction, check, each, now * table[:, k]))
        for k, each in enumerate(ranges)
    )


def _edges(
    prediction: Prediction, worth: np.ndarray[tuple[int], np.dtype[np.bool_]], scale: Scale
) -> tuple[list[float], bool]:
    low, high = prediction.low[worth], prediction.high[worth]
    table = outcome_table(low, high, scale, MOST_RANGES)
    numbers = len(table.edges) + 1
    edges = [
        round_edge(scale, float(table.high[k]), float(table.edges[k]), float(table.low[k + 1]))
        for k in range(numbers - 1)
    ]
    return edges, table.has_over


def round_edge(scale: Scale, below: float, edge: float, above: float) -> float:
    """The roundest number near the middle between two ranges: one that can be read at arm's length.

    Examples
    --------
    >>> round_edge(Scale("logarithmic", 0.1, 1e7, 0.1, 1e7), 12.1, 700.0, 1e6)
    1000.0
    """
    if not below < above:
        return float(f"{edge:.3g}")  # the ranges touch: nothing to round within
    start, end = (float(place) for place in scale.coordinate([below, above]))
    margin = INNER * (end - start)
    low, high = (float(value) for value in scale.value([start + margin, end - margin]))
    largest = max(abs(low), abs(high))
    power = 10.0 ** np.ceil(np.log10(largest)) if largest > 0 else 1.0
    for step in (power * factor / 10**digit for digit in range(4) for factor in (1.0, 0.5, 0.2)):
        tried = float(f"{round(edge / step) * step:.6g}")
        if low <= tried <= high:
            return tried
    return float(f"{edge:.3g}")


def _typical(prediction: Prediction, check: Check, where: Range, weight: FloatArray) -> str:
    """A reading in the range, as the likeliest cause would show it."""
    if where.low == inf:
        return "no number" if check.quantity in DISPLAYED else "OL"
    lead = int(np.argmax(weight))
    if lead < len(weight) - 1:
        low, high = float(prediction.low[lead + 1]), float(prediction.high[lead + 1])
    else:
        low = high = float("nan")
    ends = [end for end in (max(low, where.low), min(high, where.high)) if isfinite(end)]
    middle = sum(ends) / len(ends) if ends else _inside(where, check)
    if not where.holds(middle):
        middle = _inside(where, check)
    if check.quantity == "temperature_error":
        true = check.setup.placed[0][1]
        return f"{true + middle:.1f} C, {true:.1f} C"
    return _typed(check.quantity, middle)


def _inside(where: Range, check: Check) -> float:
    scale = scale_of(check.quantity)
    low, high = max(where.low, scale.low), min(where.high, scale.high)
    start, end = (float(place) for place in scale.coordinate([low, high]))
    return float(scale.value((start + end) / 2))


def _typed(quantity: str, value: float) -> str:
    return f"{value:.6g} {_TYPED.get(quantity, 'ohm')}"


def ranges_text(quantity: str, ranges: tuple[Range, ...]) -> str:
    """Ranges in the meter's notation: 'under 50 V', '9 Ω to 40 Ω', '1 kΩ or more, or OL'.

    Examples
    --------
    >>> ranges_text("resistance", (Range(1000.0, inf), Range(inf, inf)))
    '1 kΩ or more, or OL'
    >>> ranges_text("voltage_ac", (Range(-inf, 50.0), Range(200.0, 300.0)))
    'under 50 V, 200 to 300 V'
    """
    over = "no number" if quantity in DISPLAYED else "OL"
    has_over = quantity in ("resistance", "insulation", *DISPLAYED)
    texts = []
    for number, each in enumerate(ranges):
        if each.low == inf:
            if not (number and ranges[number - 1].high == inf):
                texts.append(over)
        elif each.high == inf:
            own = each.low > -inf
            text = f"{value_text(quantity, each.low)} or more" if own else "any number"
            with_over = number + 1 < len(ranges) and ranges[number + 1].low == inf
            texts.append(f"{text}, or {over}" if has_over and with_over else text)
        elif each.low == -inf:
            texts.append(f"under {value_text(quantity, each.high)}")
        else:
            low, high = value_text(quantity, each.low), value_text(quantity, each.high)
            same = low.split()[1] == high.split()[1]
            texts.append(f"{low.split()[0] if same else low} to {high}")
    return ", ".join(texts)


def value_text(quantity: str, value: float) -> str:
    """One number as short as it can be said: '1 kΩ', '0.5 V'."""
    units = _UNITS[quantity]
    unit, factor = next(((unit, factor) for unit, factor in reversed(units) if abs(value) >= factor), units[0])
    return f"{float(f'{value / factor:.4g}'):g} {unit}"


def united(ranges: tuple[Range, ...]) -> tuple[Range, ...]:
    """Ranges with those that touch made one; OL stays apart."""
    found: list[Range] = []
    for each in sorted(ranges, key=lambda one: (one.low, one.high)):
        if found and found[-1].high == each.low and each.low < inf:
            found[-1] = Range(found[-1].low, each.high)
        else:
            found.append(each)
    return tuple(found)
