"""Complaints about a kettle's temperature and pace: overshoot, hunting, slow boils, and nothing wrong."""

from __future__ import annotations

import pytest

from diagnose.causes import causes_of
from diagnose.opening import open_model
from diagnose.session import AskCheck, ConfirmStep, Verdict, answer, ask, confirm, start
from diagnose.study.simulated import SimulatedPanel


def ended(complaint: str, key: str) -> Verdict:
    model = open_model("shed_single_kettle", complaint, "element")
    cause = next(cause for cause in causes_of(model.panel) if cause.key == key)
    hidden = SimulatedPanel(model.predictor.netlist, cause, trips_early=True)
    session = start(model, "outside", frozenset())
    for _ in range(40):
        question = ask(session)
        match question:
            case Verdict():
                return question
            case ConfirmStep():
                session = confirm(session)
            case AskCheck():
                session = answer(session, hidden.answer(question.check))
    raise AssertionError("no end in forty questions")


@pytest.mark.parametrize("complaint", ["overshoots", "hunts"])
@pytest.mark.parametrize(
    ("part", "fault"),
    [("controller", "badly_tuned"), ("probe", "far_off"), ("element", "unstirred"), ("element", "too_large")],
)
def test_what_makes_a_kettle_swing_is_found_without_a_meter(complaint: str, part: str, fault: str) -> None:
    verdict = ended(complaint, f"{part}:{fault}")
    assert verdict.kind == "found"
    assert (verdict.causes[0].part, verdict.causes[0].fault) == (part, fault)


def test_a_relay_that_stays_on_overshoots_and_does_not_hunt() -> None:
    verdict = ended("overshoots", "relay:shorted@0.02")
    assert verdict.part == "relay"
    hunting = open_model("shed_single_kettle", "hunts", "element")
    assert "relay" not in {cause.part for cause in hunting.causes}


def test_a_typed_log_is_graded_as_the_sign() -> None:
    model = open_model("shed_single_kettle", "overshoots", "element")
    session = start(model, "outside", frozenset())
    question = ask(session)
    while not (isinstance(question, AskCheck) and question.check.sign == "course"):
        session = confirm(session) if isinstance(question, ConfirmStep) else answer(session, _sound(question))
        question = ask(session)
    climbing = "set 66: " + ", ".join(f"{minute} {62 + minute}" for minute in range(11))
    told = answer(session, climbing).answers[-1]
    assert told.outcome == question.outcomes.index("climbs")


def _sound(question: AskCheck) -> str:
    assert question.prediction.table is not None
    return question.outcomes[int(question.prediction.table[0].argmax())]


@pytest.mark.parametrize("complaint", ["slow_to_boil", "slower_than_before"])
def test_nothing_wrong_is_among_the_causes_of_a_slow_kettle(complaint: str) -> None:
    model = open_model("cellar_two_kettle", complaint, "boil_element")
    built = next(cause for cause in model.causes if cause.as_built)
    fault = model.fault(built)
    assert "nothing is broken, it gives all it can: 40 L from 15 °C to the boil take" in fault.title
    assert not fault.remedy.electrician
    if complaint == "slower_than_before":
        assert "Scale or a burnt film takes nothing from the power" in fault.remedy.text
