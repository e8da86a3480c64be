"""The dial, its regulator, a fuse in a plug, a limiting selector and a coil do in a panel what they do in a brewery."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import pytest

from diagnose.causes import Cause, causes_of
from diagnose.circuit.netlist import Netlist, build
from diagnose.circuit.rows import Row
from diagnose.circuit.settle import Settled, settle
from diagnose.grading import grade_sign
from diagnose.opening import all_complaints, fitting, open_panel
from diagnose.setups import named_setups


@lru_cache
def netlist_of(panel: str) -> Netlist:
    return build(open_panel(panel))


def row(netlist: Netlist, key: str) -> Row:
    cause: Cause = next(cause for cause in causes_of(netlist.panel) if cause.key.split("@")[0] == key)
    return Row(cause, cause.level)


def solved(panel: str, subject: str, setup: str, *keys: str) -> Settled:
    """The sound panel and then each fault in a named setup."""
    netlist = netlist_of(panel)
    return settle(netlist, named_setups(netlist, subject)[setup], [Row(None), *(row(netlist, key) for key in keys)])


def seen(settled: Settled, part: str, sign: str) -> list[str]:
    """The likeliest outcome of a sign, row by row."""
    outcomes = settled.netlist.panel.kind_of(part).signs[sign].outcomes
    return [outcomes[int(at)] for at in np.argmax(grade_sign(settled, part, sign), axis=1)]


DIAL = ("vicarage_dial_box", "element")


def test_a_dial_commands_the_heat_where_there_is_no_controller() -> None:
    assert seen(solved(*DIAL, "running"), "element", "heat") == ["full"]
    assert seen(solved(*DIAL, "resting"), "element", "heat") == ["none"]
    assert seen(solved(*DIAL, "idle"), "element", "heat") == ["none"]


def test_faults_of_dial_and_regulator_are_told_by_the_circuit() -> None:
    """An open track never fires it, a shorted one always, half a triac gives half the power."""
    cold = ("dial:track_open", "dial:left_at_nought", "dial:knob_loose", "regulator:open", "regulator:not_fired")
    assert seen(solved(*DIAL, "running", *cold), "element", "heat") == ["full"] + ["none"] * 5
    hot = ("regulator:shorted", "dial:shorted")
    assert seen(solved(*DIAL, "resting", *hot), "element", "heat") == ["none", "full", "full"]
    half = solved(*DIAL, "running", "regulator:half_wave").heat_watts("element")
    assert half[1] / half[0] == pytest.approx(0.5, abs=0.03)


def test_the_fuse_in_a_plug_blows_on_a_short_and_holds_its_load() -> None:
    settled = solved(*DIAL, "running", "element:shorted")
    assert np.isinf(settled.trips["feed_cord"][0]).all()
    assert settled.trips["feed_cord"][1][0] < 10


def test_a_limiting_selector_keeps_the_second_element_off_at_low() -> None:
    netlist = netlist_of("harbour_limited")
    high = named_setups(netlist, "second_element")["running"]
    assert high.position("limit_selector") == "high"
    low = high.moved(limit_selector="low")
    settled = settle(netlist, low, [Row(None), row(netlist, "limit_selector:second_stuck")])
    assert seen(settled, "first_element", "heat") == ["full", "full"]
    assert seen(settled, "second_element", "heat") == ["none", "full"]


def test_both_elements_may_heat_at_once_behind_50_amperes() -> None:
    netlist = netlist_of("quarry_two_at_once")
    both = [named_setups(netlist, name)["running"] for name in ("liquor_element", "boil_element")]
    on = both[0].moved(**{name: at for name, at in both[1].positions if name.endswith("switch")})
    setup = on.moved(liquor_switch="on").commanding("call", "liquor_controller", "boil_controller")
    settled = settle(netlist, setup, [Row(None)])
    assert [seen(settled, f"{name}_element", "heat") for name in ("liquor", "boil")] == [["full"], ["full"]]
    assert np.isinf(settled.trips["feed_breaker"]).all()


def test_what_ails_the_pump_is_seen_at_the_coil_and_the_other_way_round() -> None:
    settled = solved("tower_heat_exchange", "pump", "running", "pump:air_locked", "coil:blocked", "coil:fouled")
    assert seen(settled, "pump", "flow") == ["full stream", "none", "trickle", "full stream"]
    assert seen(settled, "coil", "gives") == ["warmer", "no warmer", "no warmer", "no warmer"]


def test_complaints_that_nothing_on_a_panel_could_show_are_not_offered() -> None:
    """A box without a controller has no display that could be dark; its mains lamp could."""
    names = {complaint.name for complaint in fitting(open_panel("vicarage_dial_box"), all_complaints().values())}
    assert {"element_cold", "element_stuck_on", "breaker_trips", "panel_dead"} <= names
    assert not names & {"controller_dead", "contactor_buzzes", "probe_jumps", "flow_poor", "coil_gives_nothing"}
