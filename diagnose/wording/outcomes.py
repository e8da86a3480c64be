"""What a check may show, and which causes would show it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from diagnose.circuit.netlist import FloatArray
from diagnose.expect import Prediction
from diagnose.model import Model
from diagnose.session import AskCheck
from diagnose.wording.values import percent, range_text

WORTH_NAMING = 0.01  # causes with less belief are counted, not named


@dataclass(frozen=True, slots=True)
class Outcome:
    """One thing that a check may show, and the causes that would show it."""

    text: str
    share: float  # how much of the belief in known causes would show it
    causes: tuple[tuple[int, float], ...]  # (cause, its share of the belief after this), the likeliest first
    sound: bool


def outcomes_of(model: Model, question: AskCheck, now: FloatArray) -> list[Outcome]:
    """The things that a check may show, what the sound panel would show first, then the likeliest first."""
    prediction, known = question.prediction, now[:-1]
    if prediction.table is not None:
        found = [_sign_outcome(question, known, k) for k in range(len(question.outcomes))]
    else:
        found = [_range_outcome(question, known, low, high) for low, high in _bands(prediction, known)]
    found = [outcome for outcome in found if outcome.share >= WORTH_NAMING / 2]
    return sorted(found, key=lambda outcome: (not outcome.sound, -outcome.share))


def _sign_outcome(question: AskCheck, known: FloatArray, column: int) -> Outcome:
    assert question.prediction.table is not None
    table = question.prediction.table
    return _outcome(question.outcomes[column], known * table[1:, column], int(np.argmax(table[0])) == column)


def _bands(prediction: Prediction, known: FloatArray) -> list[tuple[float, float]]:
    """The predicted intervals of causes worth naming, those that overlap made one."""
    bands: list[tuple[float, float]] = []
    worth = known >= WORTH_NAMING / 2
    for low, high in sorted(zip(prediction.low[1:][worth], prediction.high[1:][worth], strict=True)):
        if bands and low <= bands[-1][1]:
            bands[-1] = (bands[-1][0], max(bands[-1][1], float(high)))
        else:
            bands.append((float(low), float(high)))
    return bands


def _range_outcome(question: AskCheck, known: FloatArray, low: float, high: float) -> Outcome:
    prediction = question.prediction
    inside = (prediction.low[1:] <= high) & (prediction.high[1:] >= low)
    sound = bool(prediction.low[0] <= high and prediction.high[0] >= low)
    return _outcome(range_text(question.check.quantity, low, high), known * inside, sound)


def _outcome(text: str, weight: FloatArray, sound: bool) -> Outcome:
    total = float(weight.sum())
    order = np.argsort(-weight, kind="stable")
    causes = (
        tuple((int(number), float(weight[number]) / total) for number in order if weight[number] > 0) if total else ()
    )
    return Outcome(text, total, causes, sound)


def meaning_lines(model: Model, question: AskCheck, now: FloatArray, most: int) -> list[str]:
    """At most so many lines of what readings that are not sound would mean."""
    other = [outcome for outcome in outcomes_of(model, question, now) if not outcome.sound]
    return [
        f"  {outcome.text} ({percent(outcome.share)}): {named(model, outcome.causes, 2)}" for outcome in other[:most]
    ]


def named(model: Model, causes: Sequence[tuple[int, float]], most: int) -> str:
    """The first causes in words, the others counted."""
    worth = [number for number, share in causes if share >= WORTH_NAMING]
    texts = [cause_title(model, number) for number in worth]
    texts = list(dict.fromkeys(texts))
    more = len(texts) - most
    return "; ".join(texts[:most]) + (f"; {more} more" if more > 0 else "")


def cause_title(model: Model, number: int) -> str:
    """A cause in words: part and fault, and of a pair both."""
    return model.title(model.causes[number])
