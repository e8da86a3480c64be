"""What is warm: whether it may still be felt for, and whether it is too hot for the panel to be switched on again."""

from __future__ import annotations

from collections.abc import Iterable

from diagnose.checks import Check
from diagnose.danger import outcome_of, shorted
from diagnose.knowledge.records import Complaint
from diagnose.model import Model
from diagnose.questions import Answer

COOLING = "cooling"
COOLING_CHECKS = 4  # what can be felt and read before it has cooled: about a minute each, common practice
# Brass, nylon and thermosets of a plug are good for 60 to 105 degrees Celsius, so a face that shows this much has
# something hotter behind it: common practice.
TOO_HOT_CELSIUS = 70.0
SCORCHED = ("much hotter", "burnt", "acrid")
FELT = ("against_twin", "smell")


def made_by_heat(complaint: Complaint) -> bool:
    """Whether the complaint is of something that got warm: the panel was on load until now."""
    return any(observation.setup == "warm" and observation.sign in FELT for observation in complaint.observed)


def still_warm(complaint: Complaint, answered: Iterable[tuple[Check, bool]]) -> bool:
    """Whether checks just after heating may still be asked for, by the checks so far, each with whether it was skipped.

    A panel that was on load is warm until something else was done, and until one such check was skipped.
    """
    felt = 0
    for check, skipped in reversed(list(answered)):
        if check.setup_name == COOLING:
            felt += 1
            if skipped or felt >= COOLING_CHECKS:
                return False
        elif not skipped:
            return check.setup_name == "warm"
    return made_by_heat(complaint)


def too_hot(check: Check, value: float | None, outcome: str) -> bool:
    """Whether an answer tells of something so hot that nobody switches the panel on again to see more."""
    if check.quantity == "sign":
        return outcome in SCORCHED
    return check.surface != "" and check.exposure == "outside" and value is not None and value >= TOO_HOT_CELSIUS


def keeps_off(model: Model, given: Answer) -> bool:
    """Whether nobody switches the panel on again to see more after this answer: too hot, or a short."""
    check = model.checks_by_id[given.check_id]
    return too_hot(check, given.value, outcome_of(model, check, given)) or shorted(model, given)
