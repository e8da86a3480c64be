"""The order and the words of the steps to a dead panel, against published practice; each check names its source."""

from __future__ import annotations

from itertools import combinations

import pytest

from diagnose.opening import bundled_panels, open_panel
from diagnose.panel.records import Panel
from diagnose.safety import (
    DEAD_VOLTS,
    TAKES,
    Need,
    PanelState,
    after,
    is_dead,
    meter_failed,
    step_refusals,
    way,
)
from diagnose.safety.guards import StepName
from diagnose.texts import load_texts, step_text

PANELS = [entry.name for entry in bundled_panels()]
DEAD = Need("isolated", False)
SHUT = Need("outside", True)


def steps_to(state: PanelState, need: Need) -> tuple[StepName, ...]:
    steps = way(state, need)
    assert steps is not None
    return steps


def dead_state() -> PanelState:
    state = PanelState()
    for step in steps_to(state, DEAD):
        state = after(state, step, DEAD)
    return state


def lines_of(panel: Panel, step: StepName) -> str:
    return " ".join(step_text(panel, step).lines)


@pytest.mark.parametrize(
    ("first", "then", "source"),
    [
        ("switch_off", "isolate", "NFPA 70E 120.5, from memory: load current is interrupted first"),
        ("isolate", "wait", "WAC 296-24-975: stored charge is released once the supply is cut"),
        ("wait", "open_box", "WAC 296-24-975; NFPA 70E 120.5, from memory: stored energy before the test"),
        ("isolate", "try_meter", "HSE GS38: isolate, then prove dead"),
        ("try_meter", "prove_dead", "HSE GS38; US DOE handbook: the tester is proved before the test"),
        ("prove_dead", "retry_meter", "HSE GS38; US DOE handbook: the tester is proved again after the test"),
    ],
)  # fmt: skip
def test_the_order_is_that_of_published_practice(first: StepName, then: StepName, source: str) -> None:
    steps = steps_to(PanelState(), DEAD)
    assert steps.index(first) < steps.index(then), source
    assert steps[-1] == "retry_meter", "nothing comes between the whole proof and the work"


@pytest.mark.parametrize(
    "step", ["switch_off", "isolate", "wait", "open_box", "try_meter", "prove_dead", "retry_meter"]
)
def test_no_step_of_the_proof_can_be_left_out(step: StepName) -> None:
    """HSE GS38, US DOE handbook: a proof with a part left out is none. What comes after each is refused without it."""
    steps, state = steps_to(PanelState(), DEAD), PanelState()
    for each in steps:
        if each == step:
            break
        state = after(state, each, DEAD)
    later = steps[steps.index(step) + 1 :][:1]
    # To open the box the supply has to be cut, not only switched off: WAC 296-24-975, of switches and push buttons.
    assert not later or step_refusals(state, later[0]), f"{later} without {step}"
    assert not state.proved_dead


def test_switching_off_at_the_panel_isolates_nothing() -> None:
    """WAC 296-24-975: push buttons, switches and interlocks are never the sole means of de-energising."""
    off = after(PanelState(), "switch_off")
    assert step_refusals(off, "wait") and step_refusals(off, "open_box") and step_refusals(off, "try_meter")
    assert "alone makes nothing safe" in " ".join(load_texts().steps["switch_off"].lines)


@pytest.mark.parametrize("name", PANELS)
def test_isolating_is_by_the_plug_or_by_a_breaker_that_is_locked(name: str) -> None:
    """WAC 296-24-975: lock and tag. A plug in sight needs none: 29 CFR 1910.147(a)(2)(iii), from memory."""
    panel = open_panel(name)
    words = lines_of(panel, "isolate")
    if panel.supply.unplugs:
        assert "Pull the plug" in words and "where you can see it" in words
    else:
        assert "Turn off the breaker" in words and "lock it" in words and "tag" in words
    assert "until you say so" in words, "only who works gives it back"


@pytest.mark.parametrize("name", PANELS)
def test_every_pair_and_each_to_earth_is_measured(name: str) -> None:
    """NFPA 70E 120.5, from memory: phase to phase and to ground. HSE GS38: all conductors, the neutral as well."""
    panel = open_panel(name)
    legs = [reference for reference in panel.references if reference.startswith("leg")]
    conductors = [*(["line"] if len(legs) == 1 else [leg.replace("_", " ") for leg in legs]), "neutral", "earth"]
    words = lines_of(panel, "prove_dead")
    for one, other in combinations(conductors, 2):
        assert f"{one} to {other}" in words
    pairs = len(conductors) * (len(conductors) - 1) // 2
    assert f"({pairs} pairs)" in words
    assert "where probes or tools will go" in words, "at the point of work: HSE GS38"
    switch = panel.label(panel.of_role("isolator")[0])
    assert f"supply side of {switch}" in words, "where it would be live with the main switch off: HSG85, from memory"


def test_a_meter_that_shows_nothing_at_the_known_source_proves_nothing() -> None:
    """HSE GS38: a tester that fails its proof after the test makes the test void, and another one is taken."""
    state = dead_state()
    assert state.proved_dead
    failed = meter_failed(state)
    assert not failed.proved_dead and failed.meter_failed
    assert steps_to(failed, DEAD) == ("try_meter", "prove_dead", "retry_meter")
    words = " ".join(load_texts().steps["other_meter"].lines)
    assert "Nothing is proved" in words and "another meter" in words


def test_dead_is_far_below_what_is_dangerous() -> None:
    """50 V AC: NFPA 70E 110.4, IEC 61140. Testers for the absence of voltage go by 3 V: UL 1436. All from memory."""
    assert DEAD_VOLTS <= 3.0 < 50.0
    assert not is_dead(50.0) and not is_dead(12.0) and is_dead(0.4)


def test_the_known_source_is_known_and_elsewhere() -> None:
    """HSE GS38: a proving unit, or a known live source."""
    words = " ".join(load_texts().steps["try_meter"].lines)
    assert "proving unit" in words and "you know is live" in words
    assert "outside the panel" in load_texts().interview["known_source"][0]
    again = " ".join(load_texts().steps["retry_meter"].lines)
    assert "the same source" in again


def test_who_opens_the_box_has_the_meter_the_source_and_the_lock() -> None:
    """A CAT III meter for the installation: IEC 61010-1. A source to prove it: HSE GS38. Lock, tag: WAC 296-24-975."""
    assert {"rated_meter", "known_source", "lock"} <= TAKES["isolated"]
    asked = load_texts().interview
    assert "CAT III" in asked["rated_meter"][0] and "fused leads" in asked["rated_meter"][0]
    assert "lock" in asked["lock"][0] and "tag" in asked["lock"][0]
    assert "CAT III" in " ".join(load_texts().steps["energise_open"].lines)


def test_live_work_is_for_those_who_are_trained_and_not_alone() -> None:
    """NFPA 70E 130.2: qualified persons, and only what can't be done dead. HSE HSG85: accompanied. Both from memory."""
    assert TAKES["live"] - TAKES["isolated"] == {"live_training"}
    words = " ".join(load_texts().steps["energise_open"].lines)
    assert "trained for live work" in words and "second person" in words and "referral" in words
    assert "the law" in load_texts().interview["live_training"][0]


@pytest.mark.parametrize(
    ("state", "source"),
    [
        (PanelState("isolated", True, True, "dead"), "29 CFR 1910.333(b)(2)(v), from memory: tools, covers"),
        (PanelState("isolated", True, True, "dead", leads_off=True), "the same: each conductor is back in its place"),
        (PanelState("isolated", True, True, "dead", rewired=frozenset({("a.plus", "b.plus")})), "the same"),
    ],
)  # fmt: skip
def test_the_supply_comes_back_last(state: PanelState, source: str) -> None:
    steps = steps_to(state, SHUT)
    assert steps[-2:] == ("close_box", "energise"), source
    if state.leads_off:
        assert steps[0] == "put_back", source
    if state.rewired:
        assert steps[0] == "rewire", source
    assert "No tools" in " ".join(load_texts().steps["close_box"].lines)


def test_proof_checks_come_in_the_order_of_a_first_verification() -> None:
    """IEC 60364-6 cl. 6.4.3, from memory: continuity of the earth, insulation, polarity, residual devices, function."""
    order = list(load_texts().proofs)
    wanted = ["earth_continuity", "insulation", "polarity", "gfci_test", "first_heat"]
    assert sorted(wanted, key=order.index) == wanted
    dead = [proof.supply_on for proof in load_texts().proofs.values()]
    assert dead == sorted(dead), "dead tests before any with the supply on"


def test_a_burn_is_cooled_for_twenty_minutes_and_a_shock_is_cut_off_first() -> None:
    """Twenty minutes of cool running water: ILCOR. Supply cut before anyone is touched: HSE. Both from memory."""
    stop = load_texts().stop.lines
    shock = next(line for line in stop if "shock" in line)
    assert shock.index("Cut the supply") < shock.index("touch them") < shock.index("call the emergency number")
    assert any("Cool running water for twenty minutes" in line for line in stop)
    assert stop[0].startswith("Touch nothing") and "far end" in stop[0]
