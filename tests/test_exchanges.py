"""Like for like: what may change places, and what the circuit makes of it."""

from __future__ import annotations

from functools import lru_cache

import pytest

from diagnose.causes import causes_of
from diagnose.checks import offered_checks
from diagnose.circuit.netlist import Netlist, build
from diagnose.circuit.rows import Row
from diagnose.circuit.settle import settle
from diagnose.costs import cost_minutes, need_of
from diagnose.exchanges import PROTECTIVE, alike, control_exchange, exchanges, partners, probe_exchange
from diagnose.grading import grade_sign
from diagnose.opening import all_complaints, bundled_panels, open_model, open_panel
from diagnose.safety import Need, PanelState, after, next_step, ready, steps_between
from diagnose.session import ConfirmStep, ask, confirm, start
from diagnose.setups import named_setups
from diagnose.study.simulated import SimulatedPanel
from diagnose.wording.changes import change_lines, moved_lines

CELLAR = "cellar_two_kettle"


@lru_cache(maxsize=4)
def netlist_of(panel: str) -> Netlist:
    return build(open_panel(panel))


def outcome(cause_key: str | None, subject: str, setup: str, sign: str) -> str:
    netlist = netlist_of(CELLAR)
    cause = next((c for c in causes_of(netlist.panel) if c.key == cause_key), None)
    assert (cause is None) == (cause_key is None)
    return SimulatedPanel(netlist, cause).sign(named_setups(netlist, subject)[setup], subject, sign)[0]


def test_only_what_is_alike_changes_places() -> None:
    panel = open_panel(CELLAR)
    assert probe_exchange(panel, "hlt_probe", "boil_probe") == {("boil_probe", "hlt_probe")}
    assert control_exchange(panel, "boil_relay", "hlt_relay") == {
        ("boil_relay.minus", "hlt_relay.minus"),
        ("boil_relay.plus", "hlt_relay.plus"),
    }
    assert not alike(panel, "hlt_breaker", "boil_breaker")
    assert not alike(panel, "hlt_fuse", "boil_fuse")
    assert not alike(panel, "hlt_element", "boil_element")  # 4.5 and 5.5 kW


@pytest.mark.parametrize("name", [entry.name for entry in bundled_panels()])
def test_nothing_that_protects_is_ever_exchanged(name: str) -> None:
    panel = open_panel(name)
    for exchange in exchanges(panel):
        for end in (end for pair in exchange for end in pair):
            assert panel.parts[end.partition(".")[0]].kind.role not in PROTECTIVE
            if "." in end:
                part, _, terminal = end.partition(".")
                assert panel.parts[part].kind.terminals[terminal].path == "control"


def test_a_newly_built_panel_moves_no_more_wires() -> None:
    panel = open_panel("balcony_one_pot")
    assert not partners(panel, "relay")


@pytest.mark.parametrize(
    ("cause", "before", "now"),
    [
        (None, "right", "right"),
        ("boil_probe:joint@12", "high", "right"),  # the fault went with the probe
        ("boil_controller:offset@8", "high", "high"),  # it stayed
        ("boil_probe_socket:wet@600", "low", "low"),
        ("hlt_probe:joint@12", "right", "high"),  # it came from the other
    ],
)
def test_whether_an_error_follows_the_probe(cause: str | None, before: str, now: str) -> None:
    assert outcome(cause, "boil_controller", "bathed", "compared") == before
    assert outcome(cause, "boil_controller", "exchanged", "compared") == now


@pytest.mark.parametrize(
    ("cause", "now"),
    [
        (None, "full"),
        ("boil_relay:open", "none"),
        ("boil_relay:input_open", "none"),
        ("boil_controller:output_dead", "full"),
        ("boil_controller:not_calling", "full"),
        ("wire_boil_controller_plus_to_boil_relay_plus:open", "full"),
        ("hlt_controller:output_dead", "none"),
    ],
)
def test_whether_a_cold_element_follows_the_control_wires(cause: str | None, now: str) -> None:
    assert outcome(cause, "boil_element", "crossed", "heat") == now


def test_a_relay_that_is_stuck_stays_stuck_and_a_stuck_output_goes_with_its_wires() -> None:
    assert outcome("boil_relay:shorted@0.02", "boil_element", "crossed_resting", "heat") == "full"
    assert outcome("boil_controller:output_stuck", "boil_element", "resting", "heat") == "full"
    assert outcome("boil_controller:output_stuck", "boil_element", "crossed_resting", "heat") == "none"


def test_exchanged_branches_conduct_nothing_otherwise() -> None:
    netlist = netlist_of(CELLAR)
    setups = named_setups(netlist, "boil_element")
    for name, expected in (("running", False), ("crossed", True)):
        settled = settle(netlist, setups[name], [Row(None)])
        moved = [number for number, place in enumerate(netlist.places) if place.when and "." in place.when[0]]
        assert moved
        assert all(bool(settled.y_direct[0, number]) == expected for number in moved)
        assert grade_sign(settled, "boil_element", "heat")[0].argmax() == 2


def test_wires_are_moved_only_in_a_box_that_was_proved_dead_and_go_back_the_same_way() -> None:
    pair = frozenset({("a.plus", "b.plus")})
    need = Need("outside", True, pair)
    state, steps = PanelState(), []
    while (step := next_step(state, need)) is not None:
        if step == "rewire":
            assert state.open and not state.energised and state.proved_dead
        state = after(state, step, need)
        steps.append(step)
    way = ["switch_off", "isolate", "wait", "open_box", "try_meter", "prove_dead", "retry_meter", "rewire", "close_box"]
    assert steps == [*way, "energise"]
    back = Need("outside", True)
    assert not ready(state, back)
    assert steps_between(state, back) == (*way, "energise")
    for wrong in (PanelState(), PanelState("isolated", open=True), PanelState("isolated")):
        with pytest.raises(ValueError, match="rewire"):
            after(wrong, "rewire", need)


def test_moving_wires_is_offered_to_those_who_open_the_box_and_costs_the_work() -> None:
    netlist = netlist_of(CELLAR)
    setups = named_setups(netlist, "boil_element")
    (heat,) = (
        check
        for check in offered_checks(netlist.panel, setups, ("crossed",), (), "boil_element")
        if check.sign == "heat"
    )
    assert (heat.exposure, heat.work) == ("outside", "isolated")
    assert need_of(heat).rewired == heat.setup.rewired
    assert cost_minutes(heat, PanelState(), setups["running"], "isolated") > 15


def test_the_steps_name_the_wires_and_the_page_the_plugs() -> None:
    model = open_model(CELLAR, "element_cold", "boil_element")
    crossing = next(check for check in model.checks if check.setup_name == "crossed")
    session = start(model, "isolated")
    said = moved_lines(session, ConfirmStep("rewire", crossing))
    assert len(said) == 2
    assert all(line.startswith("Exchange the wires at") for line in said)
    setups = named_setups(netlist_of(CELLAR), "boil_controller")
    lines = change_lines(model.panel, setups["idle"], setups["exchanged"])
    assert any(line.startswith("Exchange, each into the other's socket") for line in lines)
    back = change_lines(model.panel, setups["exchanged"], setups["idle"])
    assert any(line.startswith("Put back, each in its own socket") for line in back)


def test_a_session_ends_with_the_wires_still_to_go_back_only_after_saying_so() -> None:
    from diagnose.screen.pages import left_lines

    assert left_lines(PanelState()) == []
    assert "Put the wires" in left_lines(PanelState(rewired=frozenset({("a.plus", "b.plus")})))[0]


def test_complaints_that_ask_for_an_exchange_find_it_where_there_is_a_second() -> None:
    assert "exchanged" in all_complaints()["probe_reads_off"].setups
    one_kettle = open_model("shed_single_kettle", "element_cold", "element")
    assert not any(check.setup.swapped for check in one_kettle.checks)
    assert not isinstance(ask(confirm_all(start(one_kettle, "isolated"))), ConfirmStep)


def confirm_all(session):  # type: ignore[no-untyped-def]
    while isinstance(ask(session), ConfirmStep):
        session = confirm(session)
    return session
