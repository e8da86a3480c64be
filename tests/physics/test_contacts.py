import math

import pytest

from diagnose.physics import contacts, heat, insulation
from diagnose.physics.number import Interval


def test_joint_from_its_drop_and_from_its_heat_is_the_same():
    ohms = contacts.joint_ohms_from_drop(0.3, 20.0)
    assert contacts.joint_ohms(contacts.joint_watts(20.0, ohms), 20.0) == pytest.approx(ohms)


@pytest.mark.parametrize(("rise", "urgency"), [(-5.0, "none"), (0.99, "none"), (3.5, "watch"), (200.0, "mend now")])
def test_urgency_has_no_gaps(rise, urgency):
    assert contacts.urgency_of_rise(rise) == urgency


def test_rise_at_part_load_is_worse_at_full():
    assert contacts.urgency_of_rise(contacts.rise_at_load_kelvin(5.0, 10.0, 20.0)) == "mend now"


def test_dead_fan_makes_it_hotter_than_a_live_one():
    watts = Interval(40.0, 60.0)
    dead, live = (heat.enclosure_rise_kelvin(watts, 0.48, "plastic", flow) for flow in (0.0, 40.0))
    assert dead.low > 3 * live.high
    assert dead.low < dead.high


def test_metal_box_is_cooler_than_plastic():
    watts = Interval(50.0, 50.0)
    assert heat.enclosure_rise_kelvin(watts, 0.5, "steel").high < heat.enclosure_rise_kelvin(watts, 0.5, "plastic").high


def test_free_standing_box_has_its_back_as_well():
    wall, free = (heat.free_area_square_metres(0.4, 0.5, 0.2, on_wall=each) for each in (True, False))
    assert free - wall == pytest.approx(0.2)


def test_capacitance_leaks_beside_the_resistance():
    both = insulation.insulation_leak_amperes(230.0, 50.0, 1e6, 10e-9)
    resistive, capacitive = 230e-6, 230 * 2 * math.pi * 50 * 10e-9
    assert both == pytest.approx(math.hypot(resistive, capacitive))
    assert insulation.insulation_leak_amperes(230.0, 50.0, math.inf) == 0.0


def test_tester_shows_its_leads_and_no_more_than_its_scale():
    assert insulation.shown_insulation_ohms(0.0, Interval(0.2, 0.5), 1e9) == (0.2, 0.5)
    assert insulation.shown_insulation_ohms(5e9, Interval(0.2, 0.5), 1e9) == (1e9, 1e9)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: contacts.joint_ohms(1.0, 0.0), "amperes is 0.0, expected a number above 0"),
        (lambda: contacts.urgency_of_rise(math.nan), "rise_kelvin is nan, expected a number"),
        (
            lambda: heat.enclosure_rise_kelvin(Interval(1.0, 1.0), 0.5, "wood"),
            "material is 'wood', expected one of steel, aluminium, plastic",
        ),
        (
            lambda: heat.free_area_square_metres(0.0, 1.0, 1.0),
            "width_metres is 0.0, expected a number above 0",
        ),
        (
            lambda: insulation.insulation_leak_amperes(120.0, 60.0, 0.0),
            "insulation_ohms is 0.0, expected a number above 0",
        ),
        (lambda: insulation.in_service_limit(0.0), "rated_watts is 0.0, expected a number above 0"),
    ],
)
def test_impossible_arguments_are_refused(call, message):
    with pytest.raises(ValueError) as caught:
        call()
    assert str(caught.value) == message


def test_unknown_insulation_limit_lists_the_known_ones():
    with pytest.raises(ValueError, match=r"^no insulation limit for 'x', expected one of circuit up to 500 V; "):
        insulation.insulation_limit("x")


@pytest.mark.parametrize(
    ("material", "low", "high"), [("steel", 4.5, 6.5), ("aluminium", 4.5, 12.0), ("plastic", 3.0, 4.5)]
)
def test_closed_box_loses_heat_by_its_walls_alone(material, low, high):
    """Watts per square metre and kelvin: trade data, from memory."""
    rise = heat.enclosure_rise_kelvin(Interval(30.0, 60.0), 0.5, material)
    assert rise == pytest.approx((30.0 / (0.5 * high), 60.0 / (0.5 * low)))


def test_air_carries_what_the_gas_law_says():
    """Ideal gas at 101 325 Pa, 287.05 J/(kg K), specific heat 1005 J/(kg K): at 50 and at 20 °C."""
    low, high = (101_325 / (287.05 * (celsius + 273.15)) * 1005 for celsius in (50.0, 20.0))
    used = heat.AIR_JOULES_PER_CUBIC_METRE_KELVIN
    assert used == pytest.approx((low, high), rel=1e-3)
