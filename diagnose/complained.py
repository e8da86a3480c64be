"""What a complaint itself says of a reading: who finds an element weak has one that gives less than a full one."""

from __future__ import annotations

from dataclasses import replace
from math import inf

import numpy as np

from diagnose.checks import Check
from diagnose.circuit.netlist import BoolArray
from diagnose.expect import Prediction
from diagnose.grading import EDGE
from diagnose.knowledge.records import Complaint
from diagnose.panel.records import Panel


def most_watts(panel: Panel, complaint: Complaint, subject: str | None, check: Check) -> float:
    """The heat above which a fault would not have made this complaint, in watts; inf where it says nothing of it."""
    if check.quantity not in ("heat_rate", "boil_off") or check.part != subject:
        return inf
    most = inf
    for observation in complaint.observed:
        sign = panel.kind_of(check.part).signs.get(observation.sign)
        if observation.of != "subject" or observation.setup != check.setup_name or sign is None or sign.rated is None:
            continue
        top = max(high for name, _, high in sign.bands if name in observation.outcomes)
        most = min(most, top * (1 + EDGE) * sign.rated.value(panel.parts[check.part].ratings))
    return most


def as_complained(prediction: Prediction, most: float, faults: BoolArray) -> Prediction:
    """A prediction with no reading above `most` under the `faults` (1 + H,): a level that gives more is not this one.

    A cause stands for levels from hardly felt to all but open; of those the complaint leaves the ones that it is about.
    """
    if most == inf or prediction.table is not None:
        return prediction
    high = np.where(faults, np.minimum(prediction.high, most), prediction.high)
    return replace(prediction, low=np.minimum(prediction.low, high), high=high)
