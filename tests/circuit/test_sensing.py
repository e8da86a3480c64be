"""What controllers show of sound and faulty probes of every kind, in whole panels."""

from __future__ import annotations

from math import inf

import numpy as np
import pytest

from diagnose.circuit.sensing import curve_of, set_for
from diagnose.circuit.setup import at_rest
from diagnose.controller_signs import change_shares
from diagnose.grading import grade_sign
from diagnose.physics.platinum import platinum_celsius, platinum_ohms
from diagnose.physics.thermocouples import ThermocoupleWiring, shown_celsius
from tests.sensing_panels import FITTED, bath, netlist_with, shown, solved

TWO_WIRE = {"probe_pt100_2": 100.0, "probe_pt1000_2": 1000.0}  # what the 0.6 ohm of their leads adds to


@pytest.mark.parametrize("kind", FITTED)
@pytest.mark.parametrize("celsius", [0.0, 20.0, 66.5, 98.0])
def test_a_sound_probe_is_shown_right(kind: str, celsius: float) -> None:
    """Two-wire probes are off by their leads, and a digital one by its last bit."""
    netlist = netlist_with(kind)
    nominal = TWO_WIRE.get(kind, 0.0)
    expected = platinum_celsius(platinum_ohms(celsius, nominal) + 0.6, nominal) if nominal else celsius
    assert shown(netlist, bath(netlist, celsius)) == pytest.approx(expected, abs=0.06)


@pytest.mark.parametrize("kind", FITTED)
def test_a_controller_is_set_for_the_probe_that_is_fitted(kind: str) -> None:
    panel = netlist_with(kind).panel
    assert set_for(panel, "controller") == curve_of(panel, "probe")


@pytest.mark.parametrize("kind", FITTED)
@pytest.mark.parametrize("fault", ["probe:open", "probe:shorted"])
def test_a_broken_or_shorted_probe_leaves_the_range(kind: str, fault: str) -> None:
    """A thermistor goes the other way: open is far too cold. A shorted thermocouple shows its connector's warmth."""
    netlist = netlist_with(kind)
    level = {"thermocouple": "@0.2"}.get(kind.split("_")[0], "@0.5") if fault.endswith("shorted") else ""
    found = shown(netlist, bath(netlist, 60.0), fault + level)
    if kind.startswith("thermocouple") and level:
        assert 18 < found < 24
        return
    falling = kind.startswith("probe_ntc")
    far = inf if (fault == "probe:open") != falling or kind == "probe_digital" else -inf
    assert found == far


@pytest.mark.parametrize("kind", ["probe", "probe_pt100_4", "probe_pt1000_3", "probe_pt1000_4"])
def test_a_missing_third_lead_is_shown_as_a_broken_probe(kind: str) -> None:
    netlist = netlist_with(kind)
    assert shown(netlist, bath(netlist, 60.0), "probe:third_open") == inf


def test_three_and_four_wires_take_the_leads_off() -> None:
    for kind in ("probe", "probe_pt100_4"):
        netlist = netlist_with(kind, "4 ohm")
        assert shown(netlist, bath(netlist, 65.0)) == pytest.approx(65.0, abs=0.01)
    netlist = netlist_with("probe_pt100_2", "4 ohm")
    assert shown(netlist, bath(netlist, 65.0)) == pytest.approx(platinum_celsius(platinum_ohms(65.0) + 8.0), abs=0.06)


@pytest.mark.parametrize(
    ("crossed", "expected"),
    [("a_and_b_crossed", -inf), ("a_and_sense_crossed", -inf)],
)
def test_swapped_leads_are_shown_as_the_formula_has_it(crossed: str, expected: float) -> None:
    netlist = netlist_with("probe", new=True)
    assert shown(netlist, bath(netlist, 60.0), f"probe_socket:{crossed}") == expected


@pytest.mark.parametrize(("level", "kelvin"), [(2000.0, 12.3), (6000.0, 4.2)])
def test_a_wet_connector_reads_low_in_ice_by_what_stands_beside_the_sensor(level: float, kelvin: float) -> None:
    """100 ohm beside 2 kilohm is 95.24 ohm, 4.76 / 0.39 K low."""
    netlist = netlist_with("probe")
    assert shown(netlist, bath(netlist, 0.0), f"probe:wet@{level:g}") == pytest.approx(-kelvin, abs=0.1)


def test_a_poor_joint_is_the_same_everywhere_and_a_leak_is_not() -> None:
    netlist = netlist_with("probe")
    joint = [shown(netlist, bath(netlist, at), "probe:joint@3") - at for at in (0.0, 90.0)]
    leak = [shown(netlist, bath(netlist, at), "probe:wet@6000") - at for at in (0.0, 90.0)]
    assert abs(joint[1] - joint[0]) < 0.5
    assert leak[1] < 1.5 * leak[0] < 0


@pytest.mark.parametrize("metal", ["K", "J", "T"])
@pytest.mark.parametrize(("key", "wiring"), [
    ("probe_socket:copper_extension", {"extension": "copper"}),
    ("probe_socket:extension_reversed", {"extension_reversed": True}),
])  # fmt: skip
def test_a_wrong_extension_shows_what_the_formula_has(metal: str, key: str, wiring: dict[str, object]) -> None:
    netlist = netlist_with(f"thermocouple_{metal.lower()}")
    expected = shown_celsius(ThermocoupleWiring(metal, **wiring), 65.0, 30.0, 20.0)  # type: ignore[arg-type]
    assert shown(netlist, bath(netlist, 65.0), key) == pytest.approx(expected, abs=0.05)


def test_a_reversed_thermocouple_falls_when_it_is_heated() -> None:
    netlist = netlist_with("thermocouple_k")
    hot, hotter = (shown(netlist, bath(netlist, at), "probe:reversed") for at in (30.0, 60.0))
    assert hotter < hot < 20


def test_a_poor_joint_moves_a_thermocouple_only_by_the_current_that_looks_for_a_break() -> None:
    """A tenth of a microampere through 3 kilohm is 0.3 mV, 7.4 degrees of type K; through an ohm it is nothing."""
    netlist = netlist_with("thermocouple_k")
    assert shown(netlist, bath(netlist, 20.0), "probe:joint@3000") == pytest.approx(27.4, abs=0.2)


@pytest.mark.parametrize(
    ("kind", "fault", "at", "expected"),
    [
        ("probe", "wrong_probe_set", 60.0, -inf),  # a tenth of what a Pt1000 has
        ("probe", "wrong_curve_set", 60.0, 30.3),  # no volts: the terminals' own warmth
        ("probe_pt1000_3", "wrong_probe_set", 60.0, inf),
        ("probe_ntc", "wrong_probe_set", 25.0, 25.0),  # both have 10 kilohm there
        ("probe_ntc", "wrong_probe_set", 70.0, 78.1),
        ("probe_ntc", "wrong_curve_set", 25.0, inf),  # 10 kilohm of platinum
        ("thermocouple_j", "wrong_probe_set", 30.0, 30.0),  # no difference to its terminals: the room's ten are
        ("probe", "wrong_unit", 100.0, 212.0),
        ("probe", "offset@8", 50.0, 58.0),
    ],
)
def test_a_wrong_setting_shows_what_its_physics_says(kind: str, fault: str, at: float, expected: float) -> None:
    netlist = netlist_with(kind)
    assert shown(netlist, bath(netlist, at), f"controller:{fault}") == pytest.approx(expected, abs=0.4)


def test_a_probe_out_of_the_liquid_is_right_by_hand_and_low_in_its_place() -> None:
    netlist = netlist_with("probe")
    key = "probe:not_immersed@0.12"
    assert shown(netlist, at_rest(netlist.panel).placing("probe", 70.0), key) == pytest.approx(64.0, abs=0.01)
    assert shown(netlist, bath(netlist, 70.0), key) == pytest.approx(70.0, abs=0.01)


def test_a_starved_digital_probe_holds_its_power_on_value() -> None:
    netlist = netlist_with("probe_digital")
    assert shown(netlist, bath(netlist, 20.0), "probe:starved@3500") == 85.0
    assert shown(netlist, bath(netlist, 20.0), "probe:wet@600") == inf


def test_a_reading_jumps_with_a_load_and_not_without() -> None:
    netlist = netlist_with("probe")
    idle = at_rest(netlist.panel)
    every = {name: netlist.panel.parts[name].kind.run for name, _ in idle.positions}
    sign = netlist.panel.parts["controller"].kind.signs["shown"]
    for key in ("probe:beside_power", "probe_socket:unscreened"):
        for setup, seen in ((idle, "plausible"), (idle.commanding("call", "controller").moved(**every), "jumping")):
            shares = grade_sign(solved(netlist, setup, (key,)), "controller", "shown")[0]
            assert sign.outcomes[int(np.argmax(shares))] == seen


def test_errors_that_stay_are_told_from_errors_that_grow() -> None:
    netlist = netlist_with("probe")
    keys = (None, "controller:offset@8", "probe:joint@3", "probe:wet@2000", "probe:not_immersed@0.12", "probe:open")
    cold = solved(netlist, at_rest(netlist.panel).placing("probe", 15.0), keys)
    hot = solved(netlist, at_rest(netlist.panel).placing("probe", 70.0), keys)
    shares = change_shares(cold, hot, "controller")
    assert [("falls", "same", "rises")[int(row.argmax())] if row.sum() else "none" for row in shares] == [
        "same", "same", "same", "falls", "falls", "none",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("key", "sign", "outcome"),
    [
        (None, "front", "as it should be"),
        ("controller:setpoint_low", "front", "setpoint below the reading"),
        ("controller:not_calling", "front", "manual lamp lit"),
        ("controller:alarm_lockout", "front", "alarm or lockout"),
        ("controller:program_stopped", "front", "program stopped"),
        ("controller:cooling_action", "menu", "action is cooling"),
        ("controller:wrong_output_set", "menu", "output of another kind"),
        ("controller:long_cycle", "menu", "times of minutes"),
        ("controller:wrong_unit", "input_menu", "another unit"),
        ("probe:open", "front", "alarm or lockout"),  # an alarm of the sensor, computed from what it reads
        ("controller:dead", "front", "dark"),
        ("probe:wet@2000", "steadiness", "wanders"),
    ],
)
def test_each_setting_has_its_own_sign_on_the_outside(key: str | None, sign: str, outcome: str) -> None:
    netlist = netlist_with("probe")
    known = netlist.panel.parts["controller"].kind.signs[sign]
    assert known.exposure == "outside"
    shares = grade_sign(solved(netlist, at_rest(netlist.panel), (key,)), "controller", sign)[0]
    assert known.outcomes[int(np.argmax(shares))] == outcome
