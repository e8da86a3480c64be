"""The readings that hurt or mislead people, each worked out from first principles beside what the circuit says."""

from __future__ import annotations

from math import pi, sqrt
from pathlib import Path

import pytest

from diagnose.circuit.setup import at_rest
from diagnose.grading import grade_sign
from diagnose.panel.records import Panel
from tests.knowledge.literal import cause, everything_on, meter, panel_of, solved

METER_OHMS = 10e6  # trade data
SNUBBER_OHMS, SNUBBER_FARADS = 47.0, 22e-9  # a typical snubber: trade data
ELEMENT_OHMS = 240**2 / 5500

KETTLE = """
    controller: controller, 120 V
    relay: relay, 40 A
    outlet: outlet
    cord: cord, 30 A, 1 m
    element: element, 5.5 kW, 240 V
    probe: probe
    socket: probe_socket
"""
KETTLE_WIRES = """
    leg_1 - relay - outlet.a
    leg_2 - outlet.b
    earth - outlet.earth
    cord.a - element.a
    cord.b - element.b
    cord.earth - element.earth
    leg_1 - controller.line
    controller.neutral - neutral
    controller.plus - relay.plus
    controller.minus - relay.minus
    socket.a - controller.probe_a
    socket.b - controller.probe_b
    socket.c - controller.probe_c
"""


def kettle(folder: Path, system: str = "split_phase_240") -> Panel:
    return panel_of(folder, system, KETTLE, KETTLE_WIRES, "cord - outlet\nprobe - socket")


def snubber_impedance(hertz: float) -> complex:
    return complex(SNUBBER_OHMS, -1 / (2 * pi * hertz * SNUBBER_FARADS))


def test_an_outlet_behind_an_off_relay_looks_live_until_something_is_plugged_in(tmp_path: Path) -> None:
    """'240 V at the outlet, so the relay is on' - it is off, and the meter sees what leaks through its snubber."""
    panel = kettle(tmp_path)
    resting = at_rest(panel)
    empty = solved(panel, resting.unplugging("cord"))
    for volts, other in ((120, "neutral.bar"), (240, "outlet.b")):
        expected = volts * METER_OHMS / abs(METER_OHMS + snubber_impedance(60))
        assert meter(empty, "outlet.a", other) == pytest.approx(expected, rel=1e-4)
        assert expected > 0.999 * volts
    fitted = solved(panel, resting)
    expected = 240 * ELEMENT_OHMS / abs(ELEMENT_OHMS + snubber_impedance(60))
    assert expected == pytest.approx(0.0208, abs=5e-5)
    assert meter(fitted, "outlet.a", "outlet.b") == pytest.approx(expected, rel=0.02)


def test_one_lost_leg_leaves_both_ends_of_a_240_v_element_live(tmp_path: Path) -> None:
    """'Both wires of the element have 120 V, so it must get 240 V' - both are one leg, seen through the element."""
    panel = kettle(tmp_path)
    settled = solved(panel, None, cause("service", "leg_2_lost"))
    assert meter(settled, "outlet.a", "outlet.b", 0) == pytest.approx(240, rel=0.02)
    through = 120 * METER_OHMS / (METER_OHMS + ELEMENT_OHMS)
    # 120 V less what the relay drops at next to no current.
    assert meter(settled, "outlet.a", "neutral.bar", 1) == pytest.approx(120, rel=0.005)
    assert meter(settled, "outlet.b", "neutral.bar", 1) == pytest.approx(through, rel=0.005)
    assert meter(settled, "outlet.a", "outlet.b", 1) < 0.1
    assert settled.heat_watts("element")[1] < 1


def test_a_lost_neutral_divides_240_v_between_two_120_v_loads(tmp_path: Path) -> None:
    """'One pot crawls and the other one burned out' - in series over both legs the smaller load gets the most."""
    panel = panel_of(
        tmp_path, "split_phase_240",
        "pot: element, 1.5 kW, 120 V\nwarmer: element, 500 W, 120 V",
        "leg_1 - pot.a\npot.b - neutral\nleg_2 - warmer.a\nwarmer.b - neutral\nearth - pot.earth\nearth - warmer.earth",
    )  # fmt: skip
    pot, warmer = 120**2 / 1500, 120**2 / 500
    for lost in (cause("feed_cord", "neutral_open"), cause("service", "neutral_lost")):
        settled = solved(panel, None, lost)
        assert meter(settled, "pot.a", "pot.b", 0) == pytest.approx(120, rel=0.01)
        if lost.part == "feed_cord":
            assert meter(settled, "pot.a", "pot.b", 1) == pytest.approx(240 * pot / (pot + warmer), rel=0.01)
            assert meter(settled, "warmer.a", "warmer.b", 1) == pytest.approx(240 * warmer / (pot + warmer), rel=0.01)
            assert 240 * warmer / (pot + warmer) == pytest.approx(180)
        else:
            both = meter(settled, "pot.a", "pot.b", 1) + meter(settled, "warmer.a", "warmer.b", 1)
            assert both == pytest.approx(240, rel=0.01)


def test_a_half_wave_relay_gives_half_the_power(tmp_path: Path) -> None:
    """Half of each cycle: half the watts, and volts over the square root of two over relay and element alike."""
    panel = kettle(tmp_path)
    settled = solved(panel, everything_on(panel), cause("relay", "half_wave"))
    full = settled.heat_watts("element")[0]
    assert settled.heat_watts("element")[1] == pytest.approx(full / 2, rel=0.02)
    assert meter(settled, "outlet.a", "outlet.b", 1) == pytest.approx(240 / sqrt(2), rel=0.02)
    assert meter(settled, "relay.line", "relay.load", 1) == pytest.approx(240 / sqrt(2), rel=0.02)
    weak = panel.parts["element"].kind.signs["heat"].outcomes.index("weak")
    assert grade_sign(settled, "element", "heat")[1, weak] > 0.9


@pytest.mark.parametrize(
    ("lamp", "outcome"),
    [("lamp_led", "dim"), ("lamp", "lit"), ("lamp_filament", "dark")],
    ids=["an LED glows", "a neon lights", "a filament stays dark"],
)
def test_what_leaks_through_an_off_relay_lights_some_lamps(tmp_path: Path, lamp: str, outcome: str) -> None:
    """'The lamp says that it is on' - with the element unplugged the lamp alone hangs on the off relay's snubber."""
    extra = KETTLE.replace("5.5 kW, 240 V", "1.5 kW, 230 V").replace("controller, 120 V", "controller, 230 V")
    wires = KETTLE_WIRES.replace("leg_2", "neutral") + "outlet.a - lamp - neutral\n"
    panel = panel_of(
        tmp_path, "single_phase_230", f"{extra}lamp: {lamp}, 230 V", wires, "cord - outlet\nprobe - socket"
    )
    settled = solved(panel, at_rest(panel).unplugging("cord"))
    part = panel.parts["lamp"]
    ohms = part.kind.branches["lamp"].values["ohms"].value(part.ratings)
    assert settled.volts("lamp", "lamp")[0] == pytest.approx(230 * ohms / abs(ohms + snubber_impedance(50)), rel=0.01)
    outcomes = part.kind.signs["light"].outcomes
    assert grade_sign(settled, "lamp", "light")[0, outcomes.index(outcome)] > 0.6
