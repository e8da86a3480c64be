"""What gets warm, how it is told, and that nobody is asked to heat it again."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import pytest

from diagnose.causes import causes_of
from diagnose.circuit.netlist import Netlist, build
from diagnose.circuit.rows import Row
from diagnose.circuit.settle import Settled, settle
from diagnose.hot import still_warm, too_hot
from diagnose.model import Model
from diagnose.opening import all_complaints, open_model, open_panel
from diagnose.session import AskCheck, ConfirmStep, Verdict, answer, ask, confirm, leave_out, open_checks, start
from diagnose.setups import named_setups
from diagnose.study.simulated import SimulatedPanel
from diagnose.warmth import excess_kelvin, in_the_box, surface_warmth

CELLAR = "cellar_two_kettle"
EVERYTHING = frozenset({"multimeter", "clamp", "insulation_tester", "infrared_thermometer"})
HOT = ("plug_hot", "relay_hot", "relay_smells")


@lru_cache(maxsize=4)
def netlist_of(panel: str) -> Netlist:
    return build(open_panel(panel))


@lru_cache(maxsize=8)
def model_of(complaint: str) -> Model:
    return open_model("shed_single_kettle", complaint, "element")


def settled(*keys: str, panel: str = CELLAR, subject: str = "boil_element") -> Settled:
    netlist = netlist_of(panel)
    causes = {cause.key: cause for cause in causes_of(netlist.panel)}
    rows = [Row(None), *(Row(causes[key], causes[key].level) for key in keys)]
    return settle(netlist, named_setups(netlist, subject)["warm"], rows)


def test_heat_goes_with_the_square_of_the_current() -> None:
    """4.5 and 5.5 kW in like plugs: 1.5 times the rise."""
    rise = [
        float(surface_warmth(settled(subject=f"{name}_element"), f"{name}_cord", "plug").middle[0]) - 21.0
        for name in ("boil", "hlt")
    ]
    assert rise[0] / rise[1] == pytest.approx((5.5 / 4.5) ** 2, rel=0.03)


def test_least_likeliest_and_most_keep_their_order() -> None:
    hot = settled("boil_relay:dry@15", "boil_relay:sink_small@3", "boil_cord:blade_burnt@0.04", "fan:dead")
    for part, surface in (("boil_relay", "sink"), ("boil_relay", "body"), ("boil_relay", "lid"), ("boil_cord", "plug")):
        for off, opened in ((False, False), (True, False), (True, True)):
            there = surface_warmth(hot, part, surface, off=off, opened=opened)
            assert (there.low <= there.middle).all()
            assert (there.middle <= there.high).all()


def test_what_is_switched_off_cools() -> None:
    hot = settled("boil_relay:sink_small@3")
    running, off, opened = (
        surface_warmth(hot, "boil_relay", "sink", off=off, opened=opened).middle
        for off, opened in ((False, False), (True, False), (True, True))
    )
    assert (running > off).all()
    assert (off > opened).all()
    assert (opened > 21.0).all()


@pytest.mark.parametrize(
    ("cause", "hotter", "as_before"),
    [
        ("boil_relay:dry@15", "body", "sink"),  # the heat no longer gets to the sink's face
        ("boil_relay:sink_clogged@2.5", "sink", ""),
        ("fan:stuck", "sink", ""),
        ("fan:dead", "sink", ""),
        ("fan:blocked", "sink", ""),
    ],
)
def test_each_fault_warms_what_it_should(cause: str, hotter: str, as_before: str) -> None:
    hot = settled(cause)
    assert excess_kelvin(hot, "boil_relay", hotter).middle[1] > 3.0
    if as_before:
        assert excess_kelvin(hot, "boil_relay", as_before).middle[1] == pytest.approx(0.0, abs=0.5)


def test_a_dead_fan_is_worse_than_a_blocked_filter() -> None:
    hot = settled("fan:blocked", "fan:stuck")
    sound, blocked, stuck = surface_warmth(hot, "boil_relay", "sink").middle
    assert sound < blocked < stuck


def test_a_sound_panel_has_no_excess_anywhere() -> None:
    sound = settled()
    panel = netlist_of(CELLAR).panel
    for part in (*panel.parts, *panel.wires_by_name):
        for surface in panel.kind_of(part).surfaces:
            assert abs(float(excess_kelvin(sound, part, surface).middle[0])) < 1.0


def test_what_lies_outside_is_not_in_the_box() -> None:
    panel = netlist_of(CELLAR).panel
    assert in_the_box(panel, "boil_relay")
    assert in_the_box(panel, "wire_feed_cord_l1_to_main_switch_line_1")
    for part in ("boil_element", "boil_cord", "feed_cord", "feed_breaker", "wall_point", "boil_probe"):
        assert not in_the_box(panel, part)


@pytest.mark.parametrize("complaint", HOT)
def test_what_is_hot_is_never_run_again_to_see(complaint: str) -> None:
    """Every check is with the supply off, and looks or measures from outside or where it is proved dead."""
    model = model_of(complaint)
    assert model.checks
    assert all(not check.setup.supply_on for check in model.checks)
    assert all(check.exposure in ("outside", "isolated") for check in model.checks)
    assert "hot_part" in model.complaint.cautions
    question = ask(start(model, "live", EVERYTHING))
    assert isinstance(question, ConfirmStep)
    assert question.step in ("switch_off", "isolate")


def test_what_is_felt_in_the_box_is_felt_dead() -> None:
    inside = [check for check in model_of("relay_hot").checks if check.after is not None and check.surface]
    assert {check.surface for check in inside} >= {"sink", "body", "lid"}
    for check in inside:
        assert check.exposure == ("outside" if check.surface in ("lid", "plug") else "isolated")


def test_warm_checks_end_once_something_else_was_done() -> None:
    """After a look at anything else the panel is cold; after one was skipped as well."""
    model = model_of("relay_hot")
    session = start(model, "isolated", EVERYTHING)
    assert any(check.after for check in open_checks(session))
    other = next(check for check in model.checks if check.after is None)
    warm = next(check for check in model.checks if check.after is not None)
    assert still_warm(model.complaint, [])
    assert still_warm(model.complaint, [(warm, False)])
    assert not still_warm(model.complaint, [(warm, False), (other, False)])
    assert not still_warm(model.complaint, [(warm, True)])
    assert not still_warm(all_complaints()["element_cold"], [])


def test_a_scorching_plug_ends_all_with_the_supply_on() -> None:
    model = model_of("relay_hot")
    check = next(check for check in model.checks if check.surface == "lid")
    assert too_hot(check, 85.0, "")
    assert not too_hot(check, 45.0, "")
    sign = next(check for check in model.checks if check.sign == "against_twin")
    assert too_hot(sign, None, "much hotter")
    assert not too_hot(sign, None, "warmer")


def test_an_infrared_thermometer_tells_a_clogged_sink() -> None:
    """Through a real session, of which only what is warm is answered."""
    model = model_of("relay_hot")
    cause = next(each for each in model.causes if each.fault == "sink_small")
    hidden = SimulatedPanel(model.predictor.netlist, cause)
    check = next(check for check in model.checks if check.surface == "sink")
    there = model.predict(check)
    sound, low, high = (float(each[0]) for each in (there.value, there.low, there.high))
    assert low < sound < high
    assert hidden.reading(check) > sound + 10.0


def test_a_session_about_a_hot_plug_finds_the_outlet() -> None:
    model = model_of("plug_hot")
    cause = next(each for each in model.causes if each.key == "outlet:worn@0.04")
    hidden = SimulatedPanel(model.predictor.netlist, cause)
    session = start(model, "outside", frozenset())
    for _ in range(30):
        question = ask(session)
        if isinstance(question, Verdict):
            break
        if isinstance(question, ConfirmStep):
            session = confirm(session, hidden.confirmed(question.step))
        else:
            session = answer(session, hidden.answer(question.check))
    assert isinstance(question, Verdict)
    assert question.part == "outlet"


def test_skipping_leaves_a_session_that_ends() -> None:
    session = start(model_of("plug_hot"), "outside", frozenset())
    for _ in range(60):
        question = ask(session)
        if isinstance(question, Verdict):
            break
        session = leave_out(session) if isinstance(question, AskCheck) else confirm(session, "done")
    assert isinstance(question, Verdict)


def test_predictions_are_finite() -> None:
    model = model_of("relay_hot")
    for check in model.checks:
        if check.quantity == "surface_temperature":
            prediction = model.predict(check)
            assert np.isfinite(prediction.low).all()
            assert np.isfinite(prediction.high).all()
