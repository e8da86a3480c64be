"""Heat checks without a meter: a typed rise or boil-off as an answer, and what a share of full power means."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from diagnose.checks import Check
from diagnose.circuit.netlist import FloatArray
from diagnose.complained import as_complained, most_watts
from diagnose.expect import Prediction, Predictor
from diagnose.heat_answers import parse_heat
from diagnose.model import Model
from diagnose.readings import QuantityName
from diagnose.units import show

HEAT_QUANTITIES = ("heat_rate", "boil_off")
Width = tuple[float, float]  # what a reading may be off below and above, where it brings its own uncertainty

# Shares of full power that panels make, each with where it comes from: arithmetic of resistances on lost legs.
SHARES = (
    (0.0, "next to nothing"),
    (1 / 4, "a quarter"),
    (1 / 3, "a third"),
    (1 / 2, "half"),
    (2 / 3, "two thirds"),
    (3 / 4, "three quarters"),
    (1.0, "full power"),
)
NEXT_TO_NOTHING = 0.06


def read_heat(model: Model, check: Check, text: str) -> tuple[float, Width | None]:
    """The watts that were typed, and how far off they may be where it was said how they were measured.

    Raises AnswerError with what is missing or was not understood.
    """
    quantity: QuantityName = "boil_off" if check.quantity == "boil_off" else "heat_rate"
    value, measured = parse_heat(text, quantity, model.panel.kettles.get(check.part))
    return value, None if measured is None else (value - measured.low, measured.high - value)


def seen_with(model: Model, check: Check, width: Width | None) -> Prediction:
    """What a check shows under each cause, to a reading of its own width.

    Without a width, the usual error of the instrument stands in the prediction already.
    """
    if width is None:
        return model.predict(check)
    most = most_watts(model.panel, model.complaint, model.subject, check)
    return as_complained(seen_by(model.predictor, check, width), most + width[0], model.broken)


def seen_by(predictor: Predictor, check: Check, width: Width | None) -> Prediction:
    """The same, for the causes of a predictor."""
    prediction = predictor.predict(check)
    if width is None or prediction.table is not None:
        return prediction
    low, high = predictor.true_interval(check)
    low = low - width[1] if check.quantity not in HEAT_QUANTITIES else np.maximum(low - width[1], 0.0)
    return replace(prediction, low=low, high=high + width[0])


def share_cuts(model: Model, check: Check) -> FloatArray:
    """The powers midway between the shares that panels make, in watts: what a rise can tell apart."""
    sound = float(model.predict(check).value[0])
    shares = np.array([share for share, _ in SHARES])
    return np.asarray(np.maximum(sound, 1.0) * (shares[:-1] + shares[1:]) / 2)


def share_words(low: float, high: float) -> str:
    """The shares of full power that lie in an interval, in words; else the nearest in per cent.

    >>> share_words(0.45, 0.55), share_words(0.62, 0.8), share_words(0.83, 0.87)
    ('half', 'two thirds or three quarters', 'about 85 %')
    """
    if (low + high) / 2 < NEXT_TO_NOTHING:
        return SHARES[0][1]
    inside = [words for share, words in SHARES if low <= share <= high]
    if not inside:
        return f"about {50 * (low + high):.0f} %"
    if len(inside) > 2:
        return f"{inside[0]} to {inside[-1]}"
    return " or ".join(inside)


def cuts_of(model: Model, check: Check) -> FloatArray | None:
    """Readings that divide what a check may show, where most causes' intervals overlap; None where they divide it."""
    if check.quantity in HEAT_QUANTITIES:
        return share_cuts(model, check)
    if check.quantity == "voltage_drop":
        high = float(model.predict(check).high[0])
        return np.array([high, 2 * high])  # more than a sound house and cord lose, and far more
    return None


def judged(model: Model, check: Check, watts: float, width: Width | None, now: FloatArray) -> str:
    """What a heating power means: its share of what the sound panel gives, and the likeliest causes that give it.

    `now` is the belief (H + 1,) after the answer.
    """
    sound = float(model.predict(check).value[0])
    if sound <= 0:
        return ""
    below, above = width if width is not None else (0.1 * watts, 0.1 * watts)
    words = share_words((watts - below) / sound, (watts + above) / sound)
    given = f"{show(watts, 'power')} of {show(sound, 'power')}: {words}."
    seen = seen_with(model, check, width)
    fits = (seen.low <= watts) & (watts <= seen.high)
    titles: dict[str, float] = {}
    for number in np.flatnonzero(fits[1:]):
        cause = model.causes[int(number)]
        title = f"{model.panel.label(cause.part)}: {model.fault(cause).title}"
        titles[title] = titles.get(title, 0.0) + float(now[number])
    worth = sorted((title for title in titles if titles[title] >= 0.01), key=lambda title: -titles[title])
    if fits[0]:
        return f"{given} That is what the sound panel may give."
    if not worth:
        return given
    more = len(worth) - 3
    named = "; ".join(worth[:3]) + (f"; {more} more" if more > 0 else "")
    return f"{given} That is what this would give: {named}."
