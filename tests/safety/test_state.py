"""What a state becomes by itself: after a break, after work on the panel, when the meter fails; and its refusals."""

from __future__ import annotations

import pytest

from diagnose.safety import PanelState
from diagnose.safety.competence import COMPETENCES, FACTS, TAKES, Competence, allowed, derived, facts_taken
from diagnose.safety.guards import Need
from diagnose.safety.state import after_break, after_work
from diagnose.safety.steps import DEAD_VOLTS, is_dead, meter_failed, next_step, steps_between
from diagnose.safety.stop import EARTH_OHMS, danger_said, dangerous_earth

DEAD = PanelState("isolated", True, True, "dead")
OFF = PanelState("off_at_panel", waited=True)


@pytest.mark.parametrize("opened", [False, True])
@pytest.mark.parametrize("state", [PanelState(), OFF, DEAD, PanelState("isolated", True, meter_failed=True)])
def test_after_work_nothing_is_known_and_the_lid_may_be_off(state: PanelState, opened: bool) -> None:
    """Whoever worked on it may have put the supply on, and opened it; another meter may be at hand."""
    assert after_work(state, opened) == PanelState("unknown", state.open or opened)


def test_after_a_break_what_was_off_is_not_known() -> None:
    assert after_break(DEAD) == PanelState("unknown", True)
    assert after_break(OFF) == PanelState("unknown")
    assert after_break(PanelState()) == PanelState()


def test_a_meter_that_fails_takes_the_proof_away() -> None:
    """Nothing else changes; the way on begins with another meter on the known source."""
    failed = meter_failed(DEAD)
    assert failed == PanelState("isolated", True, True, "none", meter_failed=True)
    assert next_step(failed, Need("isolated", supply_on=False)) == "try_meter"


def test_the_steps_to_a_check_on_the_dead_panel() -> None:
    need = Need("isolated", supply_on=False)
    assert steps_between(PanelState(), need) == (
        "switch_off", "isolate", "wait", "open_box", "try_meter", "prove_dead", "retry_meter",
    )  # fmt: skip
    assert steps_between(DEAD, need) == ()


@pytest.mark.parametrize(
    ("state", "message"),
    [
        (("energised", True, False, "dead"), "a panel that is energised and open is not being proved dead"),
        (("isolated", False, True, "measured"), "a panel that is isolated and shut is not being proved dead"),
        (("energised", True, False, "none", True), "leads are off and the panel is energised"),
    ],
)
def test_refusals_say_what_can_t_be(state: tuple[str, bool, bool, str], message: str) -> None:
    with pytest.raises(ValueError) as caught:
        PanelState(*state)
    assert str(caught.value) == message


@pytest.mark.parametrize("competence", ["outside", "isolated", "live"])
def test_what_a_given_competence_takes_for_granted_gives_it(competence: str) -> None:
    facts = facts_taken(competence)
    assert set(facts) == TAKES[competence] and list(facts) == [fact for fact in FACTS if fact in facts]
    assert derived(facts) == competence


def test_an_earth_path_is_a_danger_just_above_its_limit() -> None:
    assert dangerous_earth(EARTH_OHMS) == "" and dangerous_earth(EARTH_OHMS + 0.1) == "no earth"
    assert dangerous_earth(float("inf")) == "no earth"


@pytest.mark.parametrize("said", ["there isn't smoke", "there isn’t smoke", "I don't see sparks", "no fire"])
def test_what_is_denied_is_no_danger(said: str) -> None:
    assert danger_said(said) == ""
    assert danger_said("smoke, there") == "smoke"


@pytest.mark.parametrize(
    ("state", "supply_on", "steps"),
    [
        (OFF, True, ("energise",)),
        (PanelState("isolated", waited=True), True, ("energise",)),
        (DEAD, True, ("close_box", "energise")),
        (DEAD, False, ("close_box",)),
        (PanelState(), False, ("switch_off", "isolate")),
        (PanelState(), True, ()),
    ],
)
def test_the_steps_to_a_look_from_outside(state: PanelState, supply_on: bool, steps: tuple[str, ...]) -> None:
    assert steps_between(state, Need("outside", supply_on)) == steps


def test_wires_change_places_once_the_panel_is_proved_dead() -> None:
    need = Need("outside", True, rewired=frozenset({frozenset({"probe_a.red", "probe_b.red"})}))
    assert next_step(PanelState(), need) == "switch_off"
    assert next_step(PanelState("isolated", True, True, "none"), need) == "try_meter"
    assert next_step(DEAD, need) == "rewire"
    assert steps_between(DEAD, need) == ("rewire", "close_box", "energise")


@pytest.mark.parametrize(
    ("volts", "dead"), [(0.0, True), (DEAD_VOLTS, True), (-DEAD_VOLTS, True), (3.01, False), (-230, False)]
)
def test_a_circuit_is_dead_up_to_and_with_the_limit(volts: float, dead: bool) -> None:
    assert is_dead(volts) is dead


def test_a_check_that_no_state_allows_says_so() -> None:
    with pytest.raises(ValueError) as caught:
        steps_between(PanelState(), Need("isolated", supply_on=False, lifted=True, earth_lifted=True))
    assert str(caught.value) == "there is no state in which this may be done"


@pytest.mark.parametrize("competence", COMPETENCES)
def test_a_competence_covers_its_own_exposure_and_those_below(competence: Competence) -> None:
    covered = [exposure for exposure in COMPETENCES if allowed(competence, exposure)]
    assert covered == list(COMPETENCES[: COMPETENCES.index(competence) + 1])
