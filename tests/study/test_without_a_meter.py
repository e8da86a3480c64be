"""Sessions by watch and thermometer alone: a hidden fault on half power, answered as a brewer would measure."""

from __future__ import annotations

import pytest

from diagnose.causes import causes_of
from diagnose.checks import Check
from diagnose.opening import open_model
from diagnose.physics.heating import vessel_joules
from diagnose.session import AskCheck, ConfirmStep, Session, Verdict, answer, ask, confirm, start
from diagnose.study.simulated import SimulatedPanel

LITRES, MINUTES, START_CELSIUS, KETTLE_KILOGRAMS = 30.0, 15.0, 20.0, 5.0  # invented: a kettle and a patient brewer
NAMED = 0.05


def by_watch_and_thermometer(panel: SimulatedPanel, check: Check) -> str:
    """What a brewer types who heats a known volume for a quarter of an hour."""
    if check.quantity != "heat_rate":
        return panel.answer(check)
    joules = panel.reading(check) * MINUTES * 60
    per_kelvin = vessel_joules(LITRES, START_CELSIUS, START_CELSIUS + 1, vessel_kilograms=KETTLE_KILOGRAMS)
    end = START_CELSIUS + joules / per_kelvin
    return f"{LITRES:g} L, {START_CELSIUS:g} to {end:.1f} C, {MINUTES:g} min"


def ended(panel: str, complaint: str, subject: str, key: str) -> tuple[Session, Verdict]:
    """The end of a session without a meter, about a panel with a hidden fault."""
    model = open_model(panel, complaint, subject)
    cause = next(cause for cause in causes_of(model.panel) if cause.key == key)
    hidden = SimulatedPanel(model.predictor.netlist, cause, trips_early=True)
    session = start(model, "outside", frozenset())
    for _ in range(40):
        question = ask(session)
        match question:
            case Verdict():
                return session, question
            case ConfirmStep():
                session = confirm(session)
            case AskCheck():
                assert question.check.exposure == "outside"
                assert question.check.instrument == "none"
                session = answer(session, by_watch_and_thermometer(hidden, question.check))
    raise AssertionError("no end in forty questions")


@pytest.mark.parametrize(
    ("panel", "subject", "relay"),
    [("shed_single_kettle", "element", "relay"), ("cellar_two_kettle", "boil_element", "boil_relay")],
)
def test_half_power_leads_to_the_relay_by_watch_and_thermometer(panel: str, subject: str, relay: str) -> None:
    session, verdict = ended(panel, "element_weak", subject, f"{relay}:half_wave")
    assert any("heat_rate" in given.check_id for given in session.answers)
    named = [share.part for share in verdict.causes if share.probability >= NAMED]
    assert named[0] == relay
    assert len(set(named)) <= 4
    assert not session.state.open


@pytest.mark.parametrize("leg", ["leg_1_open", "leg_2_open"])
def test_an_element_on_half_power_is_found_by_watch_and_thermometer(leg: str) -> None:
    """Of two legs side by side one is burned open: 1.65 kW become 0.8, and nothing else on that panel is as likely."""
    session, verdict = ended("balcony_one_pot", "element_weak", "element", f"element:{leg}")
    rise = next(given for given in session.answers if "heat_rate" in given.check_id)
    assert rise.value is not None and 700 < rise.value < 900
    assert verdict.part == "element"
    assert sum(share.probability for share in verdict.causes if share.fault in ("leg_1_open", "leg_2_open")) >= 0.8
    assert not session.state.open


@pytest.mark.parametrize(
    ("panel", "subject", "key", "others"),
    [
        ("shed_single_kettle", "element", "element:weak@2.5", {"relay", "contactor"}),
        ("cellar_two_kettle", "boil_element", "boil_element:weak@2.5", {"boil_relay", "boil_contactor"}),
    ],
)
def test_a_thinned_element_is_among_the_few_that_give_such_heat(
    panel: str, subject: str, key: str, others: set[str]
) -> None:
    """A relay on one half, a burnt pole and a thinned wire give like heat: what divides them takes a meter."""
    _, verdict = ended(panel, "element_weak", subject, key)
    assert verdict.kind == "group"
    assert {share.part for share in verdict.causes[:3]} == {subject, *others}


@pytest.mark.parametrize(
    ("panel", "subject", "key"),
    [
        ("cellar_two_kettle", "boil_element", "service:leg_1_lost"),
        ("cellar_two_kettle", "boil_element", "service:leg_2_lost"),
        ("loft_dairy_208", "element", "service:leg_2_lost"),
        ("shed_single_kettle", "element", "service:off"),
    ],
)
def test_a_lost_leg_leaves_an_element_cold_and_is_named(panel: str, subject: str, key: str) -> None:
    """Both poles of the element hang on the leg that is left, so it gives nothing; the box stays shut."""
    session, verdict = ended(panel, "element_cold", subject, key)
    assert verdict.kind == "group"
    assert "service" in {share.part for share in verdict.causes}
    assert not session.state.open


def test_a_lost_leg_of_a_star_is_seen_in_the_heat() -> None:
    model = open_model("mill_three_phase", "element_weak", "boil_element")
    lost = [cause.key for cause in model.causes if cause.part == "boil_contactor"]
    assert lost
    session, verdict = ended("mill_three_phase", "element_weak", "boil_element", lost[0])
    assert any("heat_rate" in given.check_id for given in session.answers)
    assert "boil_contactor" in {share.part for share in verdict.causes}
