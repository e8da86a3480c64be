"""Each answer held against what each cause would show: for, against, or neither."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from diagnose.circuit.netlist import FloatArray
from diagnose.combined import fits_answer
from diagnose.heat_checks import seen_with
from diagnose.model import Model
from diagnose.questions import Answer


@dataclass(frozen=True, slots=True)
class Evidence:
    """One answer, and what it says of the leading cause."""

    check_id: str
    text: str
    expected_low: float  # under the leading cause; nan for a sign
    expected_high: float
    expected_outcome: str
    sound_low: float  # on the sound panel
    sound_high: float
    sound_outcome: str
    agrees: bool  # with the leading cause
    sound: bool  # as the sound panel would show
    rules_out: int  # causes that would not show this


def evidence_of(model: Model, answers: Sequence[Answer], now: FloatArray) -> tuple[Evidence, ...]:
    """All answers that say something, in the order they were given."""
    if len(now) < 2:
        return ()
    lead = int(np.argmax(now[:-1])) + 1
    found = []
    for answer in answers:
        if answer.skipped:
            continue
        check = model.checks_by_id[answer.check_id]
        prediction = seen_with(model, check, answer.width)
        fits = fits_answer(model, answer)
        outcomes: tuple[str, ...] = ("",)
        lead_outcome = sound_outcome = 0
        if prediction.table is not None:
            outcomes = model.panel.kind_of(check.part).signs[check.sign].outcomes
            lead_outcome, sound_outcome = (int(np.argmax(prediction.table[row])) for row in (lead, 0))
        found.append(
            Evidence(
                answer.check_id,
                answer.text,
                float(prediction.low[lead]),
                float(prediction.high[lead]),
                outcomes[lead_outcome],
                float(prediction.low[0]),
                float(prediction.high[0]),
                outcomes[sound_outcome],
                bool(fits[lead]),
                bool(fits[0]),
                int((~fits[1:]).sum()),
            )
        )
    return tuple(found)
