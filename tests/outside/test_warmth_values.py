"""Heat in the panel against published values, through the functions that the expectations use."""

from __future__ import annotations

import numpy as np
import pytest

from diagnose.causes import causes_of
from diagnose.circuit.netlist import build
from diagnose.circuit.rows import Row
from diagnose.circuit.settle import Settled, settle
from diagnose.grading import grade_sign
from diagnose.opening import open_panel
from diagnose.physics.contactors import coil_bands
from diagnose.physics.contacts import (
    GLOWING_JOINT_CELSIUS,
    RECEPTACLE_RISE_KELVIN,
    joint_ohms,
    joint_watts,
    urgency_of_rise,
)
from diagnose.physics.number import Interval
from diagnose.physics.relays import ON_STATE_DROP_VOLTS, WATTS_PER_AMPERE
from diagnose.physics.warmth import surface_celsius
from diagnose.setups import named_setups
from diagnose.warmth import surface_of, surface_warmth


@pytest.fixture(name="shed", scope="module")
def _shed() -> Settled:
    """The shed's panel, its kettle heating for ten minutes."""
    netlist = build(open_panel("shed_single_kettle"))
    return settle(netlist, named_setups(netlist, "element")["warm"], [Row(None)])


def test_relay_on_its_sink_is_that_of_the_worked_example() -> None:
    """Worked example: 10 A, 1.2 V; 1.3/0.1/1.0 K/W: 100 °C at the junction in air of 71.2 °C, base 84.4 °C."""
    watts = 10.0 * 1.2
    sink = surface_celsius(71.2, watts, 1.0)
    base = surface_celsius(sink, watts, 0.1)
    assert (sink, base) == pytest.approx((83.2, 84.4))
    assert surface_celsius(base, watts, 1.3) == pytest.approx(100.0)
    assert surface_celsius(np.array([71.2]), np.array([watts]), 1.0) == pytest.approx([83.2])


def test_the_knowledge_base_has_the_sink_of_the_worked_example() -> None:
    """Worked example: 1.0 K/W from sink to air, 0.1 K/W from base to sink."""
    panel = open_panel("shed_single_kettle")
    ratings = panel.parts["relay"].ratings
    assert surface_of(panel, "relay", "sink").kelvin_per_watt.value(ratings) == 1.0
    body = surface_of(panel, "relay", "body")
    assert 0.1 in Interval(*(body.kelvin_per_watt.value(ratings) * share for share in (body.low, body.high)))


def test_relay_watts_by_the_ampere_are_trade_data(shed: Settled) -> None:
    """Trade data: 1.0–1.6 V, 1.0–1.5 W per A: at the current that the circuit gives."""
    amperes = float(shed.amperes("relay", "triac")[0])
    # 230 V over 17.6 ohm are 13 A; the feed, the cords and the relay keep some 4 % of it.
    assert amperes == pytest.approx(0.96 * 230 / (230**2 / 3000), abs=0.2)
    watts = float(shed.volts("relay", "triac")[0]) * amperes
    assert watts / amperes in WATTS_PER_AMPERE
    place = shed.netlist.places[shed.netlist.branches_of("relay", "triac")[0]]
    assert place.low * 1.2 == pytest.approx(ON_STATE_DROP_VOLTS.low, abs=0.01)
    assert place.high * 1.2 == pytest.approx(ON_STATE_DROP_VOLTS.high, abs=0.01)


def test_a_joint_that_takes_35_watts_may_glow() -> None:
    """NBSIR 76-1011: 35 W at 15 A is over 400 °C; our wire's end may be as hot as that, and is far over a sound one."""
    ohms = joint_ohms(35.0, 15.0)
    assert joint_watts(15.0, ohms) == pytest.approx(35.0)
    panel = open_panel("shed_single_kettle")
    ends = panel.wire_kind.surfaces["ends"]
    most = surface_celsius(25.0, 35.0, ends.kelvin_per_watt.value({}) * ends.high)
    assert most >= GLOWING_JOINT_CELSIUS


def test_sound_plug_stays_within_the_rise_of_a_receptacle(shed: Settled) -> None:
    """UL 498, from memory: 30 K at the rated current, here 12.5 A in a plug for 16 A."""
    there = surface_warmth(shed, "cord", "plug")
    room = 21.0
    assert float(there.middle[0]) - room < RECEPTACLE_RISE_KELVIN


@pytest.mark.parametrize("level", ["cord:blade_burnt@0.5", "outlet:worn@0.5"])
def test_a_spoilt_contact_exceeds_it(level: str) -> None:
    netlist = build(open_panel("shed_single_kettle"))
    cause = next(each for each in causes_of(netlist.panel) if each.key == level)
    hot = settle(netlist, named_setups(netlist, "element")["warm"], [Row(cause, cause.level)])
    assert float(surface_warmth(hot, "cord", "plug").low[0]) - 12.0 > RECEPTACLE_RISE_KELVIN


@pytest.mark.parametrize("part", ["cord", "feed_cord", "relay"])
def test_bands_against_a_twin_are_those_of_neta(part: str) -> None:
    """NETA MTS: rises of like parts of 4–15 K and over 15 K."""
    bands = open_panel("shed_single_kettle").parts[part].kind.signs["against_twin"].bands
    assert [(name, round(100 * low), round(100 * high)) for name, low, high in bands] == [
        ("similar", 0, 4), ("warmer", 4, 15), ("much hotter", 15, 1000),
    ]  # fmt: skip
    assert urgency_of_rise(10.0) == "mend soon"
    assert urgency_of_rise(20.0) == "mend now"


@pytest.mark.parametrize("name", ["contactor", "contactor_1", "contactor_3", "contactor_4", "contactor_hold"])
def test_contactors_of_the_knowledge_base_pull_in_and_drop_out_by_iec_60947_4_1(name: str) -> None:
    """IEC 60947-4-1 cl. 8.2.1.2, from memory: 85–110 %; drop-out 20–75 % (AC)."""
    from diagnose.knowledge.library import load_library

    coil = load_library().kinds[name].coil
    assert coil is not None
    bands = coil_bands(120.0, "AC")
    ratings = {"coil_voltage": 120.0}
    assert coil.pull_in.value(ratings) == pytest.approx(bands.works[0])
    assert bands.drops_out[0] <= coil.drop_out.value(ratings) <= bands.drops_out[1]


@pytest.mark.parametrize(("share", "heard"), [(0.9, "yes"), (0.6, "buzzes"), (0.1, "no")])
def test_a_coil_is_heard_by_the_share_of_its_voltage(share: float, heard: str) -> None:
    """IEC 60947-4-1, from memory: it pulls in from 85 %; that it hums below that is common practice."""
    netlist = build(open_panel("shed_single_kettle"))
    # A resistance in the switch leaves the coil of 1322 + j5878 ohm that share of 230 V.
    coil = 1 / netlist.alternating[netlist.branches_of("contactor", "winding")[0]]
    more = np.sqrt((abs(coil) / share) ** 2 - coil.imag**2) - coil.real
    cause = next(each for each in causes_of(netlist.panel) if each.key.startswith("heat_switch:poor"))
    settled = settle(netlist, named_setups(netlist, "element")["running"], [Row(cause, float(more))])
    shares = grade_sign(settled, "contactor", "pulled_in")[0]
    outcomes = netlist.panel.parts["contactor"].kind.signs["pulled_in"].outcomes
    assert outcomes[int(np.argmax(shares))] == heard
