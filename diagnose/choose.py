"""The next check on a panel: information about what to do, for its cost, under the safety rules."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from diagnose.belief import pad_tables
from diagnose.checks import Check
from diagnose.circuit.netlist import FloatArray
from diagnose.circuit.setup import Setup
from diagnose.costs import cost_minutes
from diagnose.heat_checks import HEAT_QUANTITIES, cuts_of
from diagnose.likelihoods import outcomes_under
from diagnose.model import Model
from diagnose.plan import expected_information
from diagnose.safety import Competence, PanelState

LEAST_BITS = 0.01  # a check that tells less is not worth a person's time

ALIKE = 0.02  # readings nearer to each other than this share are the same reading
OUT = 1e-7  # belief below which a cause has no say in what is asked next


@dataclass(frozen=True, slots=True)
class Choice:
    """The chosen check, what it is expected to tell, and what it costs."""

    check: Check
    bits: float
    minutes: float


def best_check(
    model: Model,
    now: FloatArray,
    checks: Sequence[Check],
    state: PanelState,
    at: Setup | None,
    competence: Competence,
    answered: Sequence[Check] = (),
) -> Choice | None:
    """The check with the most information for its cost; None where nothing is left to ask.

    A check that would show the same as one already answered, whatever the cause, is passed over: the same reading
    taken twice is no second witness.
    """
    checks = [check for check in checks if not any(_repeats(model, check, other) for other in answered)]
    if not checks:
        return None
    bits = information_of(model, now, checks)
    minutes = np.array([cost_minutes(check, state, at, competence) for check in checks])
    score = np.where(bits >= LEAST_BITS, bits / minutes, -1.0)
    best = int(np.argmax(score))
    return Choice(checks[best], float(bits[best]), float(minutes[best])) if score[best] > 0 else None


def _repeats(model: Model, check: Check, other: Check) -> bool:
    """Whether two readings would be alike under every cause."""
    if check.quantity in HEAT_QUANTITIES and other.quantity in HEAT_QUANTITIES:
        return True  # a boil-off is a coarser reading of the same watts
    if check.quantity != other.quantity or check.quantity == "sign":
        return False
    one, two = model.predict(check), model.predict(other)
    return np.allclose(one.low, two.low, rtol=ALIKE) and np.allclose(one.high, two.high, rtol=ALIKE)


def information_of(model: Model, now: FloatArray, checks: Sequence[Check]) -> FloatArray:
    """(C,) expected information of each check on what to do, in bits. Causes that are out are left out."""
    live = np.flatnonzero(now > OUT)
    share = now[live] / now[live].sum()
    tables = pad_tables([table_of(model, check)[live] for check in checks])
    return np.asarray(expected_information(share, tables, model.group_numbers[live]))


def table_of(model: Model, check: Check) -> FloatArray:
    """(H + 1, O) probability of each distinguishable outcome of a check under each cause, the unknown one last."""
    if check.id not in model.tables:
        model.tables[check.id] = outcomes_under(model.predict(check), check.quantity, cuts_of(model, check))
    return model.tables[check.id]
