"""The state machine by itself, all of it: every state that steps can lead to, each step and each need there."""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache
from itertools import product

import pytest

from diagnose.checks import Check
from diagnose.circuit.setup import Lead, at_rest, isolated
from diagnose.errors import AnswerError
from diagnose.opening import bundled_panels, open_panel
from diagnose.panel.records import Panel
from diagnose.safety import (
    COMPETENCES,
    FACTS,
    GUARDS,
    STEPS,
    TAKES,
    Need,
    PanelState,
    Situation,
    after,
    after_break,
    after_work,
    capped,
    check_refusals,
    derived,
    is_dead,
    lower_of,
    meter_failed,
    ready,
    refusals,
    require,
    step_refusals,
    way,
)
from tests.safety.world import THREE, World

SHED = open_panel("shed_single_kettle")
PAIR = frozenset({("a.plus", "b.plus")})
MOVED = Need("outside", True, PAIR)
NEEDS = tuple(
    Need(exposure, supply_on, rewired, quantity, lifted, earth)
    for exposure, supply_on, rewired, quantity, lifted, earth in product(
        ("outside", "isolated", "live"), (True, False), (frozenset(), PAIR), ("sign", "voltage_ac", "resistance"),
        (False, True), (False, True),
    )
)  # fmt: skip


def neighbours(state: PanelState) -> Iterator[PanelState]:
    """What a step, a break, work, a failed meter or a wire taken off makes of a state."""
    for step in STEPS:
        for need in (MOVED, Need("outside", True)):
            if not step_refusals(state, step):
                yield after(state, step, need)
    yield after_break(state)
    yield after_work(state, opened=True)
    yield meter_failed(state)
    if state.proved_dead:
        yield PanelState(state.supply, state.open, state.waited, state.proof, True, state.rewired)


@lru_cache(maxsize=1)
def reachable() -> tuple[PanelState, ...]:
    """Every state that anything leads to."""
    found, new = {PanelState()}, [PanelState()]
    while new:
        for state in neighbours(new.pop()):
            if state not in found:
                found.add(state)
                new.append(state)
    return tuple(found)


def world_of(state: PanelState, competence: str = "live") -> World:
    """The same state, as the world that knows the rules sees it."""
    supply = {"energised": "on", "off_at_panel": "switched off", "isolated": "cut", "unknown": "unknown"}[state.supply]
    proof = THREE[: ("none", "meter_tried", "measured", "dead").index(state.proof)]
    return World(SHED, competence, supply, state.open, state.waited, list(proof), state.leads_off, state.rewired)


def allows(world: World, step: str) -> bool:
    """Whether the rules let a step be done."""
    try:
        world.may(step)
    except AssertionError:
        return False
    return True


def holds(state: PanelState, need: Need, competence: str) -> bool:
    """Whether the rules let a check be done."""
    world = world_of(state, competence)
    try:
        world._place(need.exposure, need.supply_on, need.quantity)
    except AssertionError:
        return False
    if need.quantity == "resistance" and need.supply_on:
        return False
    return state.rewired == need.rewired and not need.earth_lifted and (not need.lifted or world.dead)


def test_there_are_not_many_states() -> None:
    assert 40 < len(reachable()) < 400


@pytest.mark.parametrize("competence", COMPETENCES)
def test_a_step_may_be_done_exactly_where_the_rules_say(competence: str) -> None:
    wrong = [
        (state, step)
        for state in reachable()
        for step in STEPS
        if allows(world_of(state, competence), step) == bool(step_refusals(state, step, competence))  # type: ignore[arg-type]
    ]
    assert wrong == []


@pytest.mark.parametrize("competence", COMPETENCES)
def test_a_check_may_be_done_exactly_where_the_rules_say(competence: str) -> None:
    wrong = [
        (state, need)
        for state in reachable()
        for need in NEEDS
        if holds(state, need, competence) == bool(check_refusals(state, need, competence))  # type: ignore[arg-type]
    ]
    assert wrong == []


@pytest.mark.parametrize("competence", COMPETENCES)
def test_every_way_keeps_the_rules_and_arrives(competence: str) -> None:
    """From any state to any need: each step is one that the rules let be done, and at the end the check may be."""
    ways = 0
    for state, need in product(reachable(), [need for need in NEEDS if need.quantity != "voltage_ac"]):
        steps = way(state, need, competence)  # type: ignore[arg-type]
        if steps is None:
            continue
        ways += 1
        now = state
        for step in steps:
            assert allows(world_of(now, competence), step), (state, need, step)
            now = after(now, step, need)
        assert holds(now, need, competence) and ready(now, need), (state, need, steps)
    assert ways > 100


def test_a_box_opened_for_outside_work_is_never_left_without_a_way_back() -> None:
    """Whoever lowers their competence with the box open can still put wires back and close it."""
    shut = Need("outside", True)
    for state in reachable():
        if not state.rewired:
            assert way(state, shut, "outside") is not None or not (state.open or not state.leads_off), state


@pytest.mark.parametrize("state", [PanelState(), PanelState("isolated", True, True, "dead")])
def test_a_break_never_leaves_a_state_safer_than_it_is(state: PanelState) -> None:
    later = after_break(state)
    assert not later.proved_dead and later.supply in ("energised", "unknown") and later.open == state.open


@pytest.mark.parametrize(
    ("supply", "is_open", "proof", "leads_off"),
    [("energised", True, "dead", False), ("isolated", False, "dead", False), ("unknown", True, "measured", False),
     ("energised", True, "none", True), ("off_at_panel", True, "meter_tried", False)],
)  # fmt: skip
def test_what_can_t_be_is_not_representable(supply: str, is_open: bool, proof: str, leads_off: bool) -> None:
    with pytest.raises(ValueError, match=r"is not being proved dead|the panel is energised"):
        PanelState(supply, is_open, False, proof, leads_off)  # type: ignore[arg-type]


# Events ---------------------------------------------------------------------------------------------------


def test_nothing_is_taken_after_the_end() -> None:
    now = Situation("event", PanelState(), "live", event="skip", stopped=True)
    with pytest.raises(AnswerError, match="the session has ended: nothing more is taken; expected a new session"):
        require(now, "a new session")


@pytest.mark.parametrize("event", ["answer", "confirm", "passed", "failed", "declined", "repaired"])
def test_an_answer_is_to_what_was_asked(event: str) -> None:
    assert refusals(Situation("event", PanelState(), "live", event=event, answers="isolate", asked="switch_off"))
    assert not refusals(Situation("event", PanelState(), "live", event=event, answers="isolate", asked="isolate"))


@pytest.mark.parametrize(("now", "later"), list(product(COMPETENCES, COMPETENCES)))
def test_competence_only_falls(now: str, later: str) -> None:
    situation = Situation("event", PanelState(), now, event="lower", competence_after=later)  # type: ignore[arg-type]
    assert bool(refusals(situation)) == (COMPETENCES.index(later) > COMPETENCES.index(now))  # type: ignore[arg-type]


def test_guards_have_names_of_their_own_and_words() -> None:
    names = [guard.name for guard in GUARDS]
    assert len(set(names)) == len(names)
    assert all(guard.says and not guard.says.endswith(".") for guard in GUARDS)


# People ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("missing", FACTS)
def test_each_fact_that_is_missing_costs_the_competence_that_takes_it(missing: str) -> None:
    said = [fact for fact in FACTS if fact != missing]
    assert derived(said) == ("isolated" if missing == "live_training" else "outside")


def test_nothing_said_is_outside() -> None:
    assert derived(()) == "outside"
    assert derived(FACTS) == "live"
    assert derived((*TAKES["isolated"], "a made up fact")) == "isolated"


def test_two_people_are_as_competent_as_the_lower() -> None:
    assert [lower_of(a, b) for a, b in (("live", "outside"), ("isolated", "live"), ("live", "live"))] == [
        "outside", "isolated", "live",
    ]  # fmt: skip


@pytest.mark.parametrize(("instruments", "left"), [(("multimeter",), "live"), (("clamp",), "outside"), ((), "outside")])
def test_without_a_meter_nothing_is_opened(instruments: tuple[str, ...], left: str) -> None:
    assert capped("live", instruments) == left


@pytest.mark.parametrize(("volts", "dead"), [(0.0, True), (2.9, True), (-2.9, True), (3.1, False), (118.0, False)])
def test_dead_is_next_to_nothing(volts: float, dead: bool) -> None:
    assert is_dead(volts) == dead


# What a check may be made of ------------------------------------------------------------------------------


def earths(panel: Panel) -> list[str]:
    """Every terminal of a panel that is an earth, or that a wire joins to one."""
    ends = [
        f"{name}.{terminal.name}"
        for name, part in panel.parts.items()
        for terminal in part.kind.terminals.values()
        if terminal.path == "earth"
    ]
    joined = [b if a in ends else a for wire in panel.wires for a, b in ((wire.a, wire.b),) if a in ends or b in ends]
    return sorted({*ends, *joined, panel.references["earth"]})


@pytest.mark.parametrize("panel", [entry.name for entry in bundled_panels()])
def test_no_earth_can_be_written_down_as_lifted(panel: str) -> None:
    read = open_panel(panel)
    found = earths(read)
    assert found
    for end in found:
        with pytest.raises(ValueError, match="an earth is never taken off"):
            Lead(read, end)


def test_a_setup_lifts_nothing_that_was_not_looked_at_and_nothing_with_the_supply_on() -> None:
    from dataclasses import replace

    dead, live = isolated(SHED), at_rest(SHED)
    wire = Lead(SHED, "element.a")
    assert replace(dead, lifted=frozenset({wire})).lifted == {"element.a"}
    with pytest.raises(ValueError, match="an earth is never taken off"):
        replace(dead, lifted=frozenset({"element.a"}))  # type: ignore[arg-type]
    with pytest.raises(ValueError, match="on a dead panel only"):
        replace(live, lifted=frozenset({wire}))
    with pytest.raises(ValueError, match="an earth is never taken off"):
        live.exchanging(("element.a", "cord.a"))


@pytest.mark.parametrize(
    ("quantity", "exposure", "supply_on", "lifted"),
    [("resistance", "isolated", True, False), ("voltage_ac", "isolated", True, False), ("sign", "live", False, False),
     ("resistance", "outside", False, True), ("insulation", "live", True, False)],
)  # fmt: skip
def test_a_check_that_can_t_be_safe_can_t_be_made(quantity: str, exposure: str, supply_on: bool, lifted: bool) -> None:
    from dataclasses import replace

    setup = at_rest(SHED) if supply_on else isolated(SHED)
    if lifted:
        setup = replace(setup, lifted=frozenset({Lead(SHED, "element.a")}))
    with pytest.raises(ValueError, match=r"never read|dead|not opened|nothing is live"):
        Check("x", quantity, "element", "", "element.a", "element.b", "x", setup, exposure, 1.0, "multimeter")  # type: ignore[arg-type]
