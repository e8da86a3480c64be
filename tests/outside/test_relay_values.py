"""Relays, contactors, contacts and insulation against published values."""

import math

import pytest

from diagnose.physics import contactors, contacts, insulation, relays


def test_heat_sink_chain_is_that_of_the_worked_example():
    """Worked example: 10 A, 1.2 V, junction 100 °C, 1.3/0.1/1.0 K/W: ambient 71.2 °C, base 84.4 °C."""
    path = relays.ThermalPath(1.3, 0.1, 1.0)
    ambient = relays.highest_ambient_celsius(10 * 1.2, 100.0, path)
    assert ambient == pytest.approx(71.2, abs=1e-9)
    assert relays.chain_celsius(10 * 1.2, ambient, path) == pytest.approx((83.2, 84.4, 100.0))


def test_on_state_values_are_trade_data():
    """Trade data: drop 1.0–1.6 V, 1.0–1.5 W per A."""
    assert relays.ON_STATE_DROP_VOLTS == (1.0, 1.6)
    assert relays.WATTS_PER_AMPERE == (1.0, 1.5)


def test_control_input_values_are_trade_data():
    """Trade data: 3–32 V DC, on at 3 V, off at 1 V."""
    assert relays.CONTROL_RANGE_VOLTS == (3.0, 32.0)
    assert [relays.control_state(each) for each in (3.0, 1.0)] == ["on", "off"]


@pytest.mark.parametrize("hertz_and_volts", [(60.0, 120.0), (60.0, 240.0), (50.0, 230.0)])
def test_leakage_of_a_usual_snubber_lies_in_the_trade_range(hertz_and_volts):
    """Trade data: 1–10 mA off-state leakage; the snubber of 47 Ω and 22–47 nF is from memory."""
    hertz, volts = hertz_and_volts
    for farads in (22e-9, 47e-9):
        # The smallest snubber on 120 V leaks 0.995 mA, which a data sheet calls 1 mA.
        assert round(relays.leakage_amperes(volts, hertz, farads=farads), 4) in relays.OFF_STATE_LEAKAGE_AMPERES


@pytest.mark.parametrize(
    ("volts", "load", "meter", "shown"),
    [
        (120.0, math.inf, 1e7, 119.991),
        (240.0, math.inf, 1e7, 239.981),
        # 5500 W at 240 V, between the two legs.
        (240.0, 10.47, 1e7, 0.0208),
        # The first is what is there without a meter, the second what a meter leaves of it.
        (120.0, 300e3, 1e12, 111.3288),
        (120.0, 300e3, 1e7, 110.8601),
    ],
)
def test_voltage_behind_an_off_relay_is_that_of_a_circuit_simulator(volts, load, meter, shown):
    """ngspice 39, AC analysis at 60 Hz: snubber 47 Ω + 22 nF."""
    found = relays.volts_behind_off_relay(volts, relays.snubber_ohms(60.0), load, meter)
    assert found == pytest.approx(shown, rel=1e-5, abs=5e-5)


def test_low_impedance_meter_unmasks_the_snubber():
    """Trade data: about 3 kΩ in low-impedance mode, against about 10 MΩ with which line is shown."""
    snubber = relays.snubber_ohms(60.0)
    assert relays.volts_behind_off_relay(120.0, snubber, math.inf, 1e7) > 0.999 * 120
    assert relays.volts_behind_off_relay(120.0, snubber, math.inf, 3e3) < 0.03 * 120


@pytest.mark.parametrize(("current", "lowest"), [("AC", 20.0), ("DC", 10.0)])
def test_coil_bands_are_those_of_iec_60947_4_1(current, lowest):
    """IEC 60947-4-1 clause 8.2.1.2, from memory."""
    bands = contactors.coil_bands(100.0, current)
    assert bands.works == pytest.approx((85.0, 110.0))
    assert bands.drops_out == pytest.approx((lowest, 75.0))


def test_glowing_joint_is_that_of_nbsir_76_1011():
    """NBSIR 76-1011, abstract: 35 W at 15 A, 5 W at 0.8 A, over 400 °C; 0.156 Ω derived."""
    assert contacts.GLOWING_JOINT_WATTS == ((15.0, 35.0), (0.8, 5.0))
    assert contacts.GLOWING_JOINT_CELSIUS == 400.0
    assert contacts.joint_ohms(35.0, 15.0) == pytest.approx(0.156, abs=5e-4)


@pytest.mark.parametrize(("amperes", "watts"), [(23.0, 5.3), (30.0, 9.0)])
def test_ten_milliohms_heat_as_ohms_law_says(amperes, watts):
    """Derived."""
    assert contacts.joint_watts(amperes, 0.010) == pytest.approx(watts, abs=0.05)


@pytest.mark.parametrize(
    ("rise", "urgency"),
    [(0.5, "none"), (1, "watch"), (3, "watch"), (4, "mend soon"), (15, "mend soon"), (15.1, "mend now")],
)
def test_rise_of_like_parts_is_judged_as_by_neta(rise, urgency):
    """NETA MTS: 1–3, 4–15, over 15 K."""
    assert contacts.urgency_of_rise(rise) == urgency


def test_rise_at_a_receptacle_is_limited_by_ul_498():
    """UL 498, from memory."""
    assert contacts.RECEPTACLE_RISE_KELVIN == 30.0


@pytest.mark.parametrize(
    ("tested", "megohms", "test_volts", "source"),
    [
        ("circuit up to 500 V", 1.0, 500.0, "IEC 60364-6"),
        ("extra-low voltage", 0.5, 250.0, "IEC 60364-6"),
        ("class I heating under 3 kW, in service", 0.3, 500.0, "UK in-service testing practice"),
        ("class I, in service", 1.0, 500.0, "UK in-service testing practice"),
        ("new element, cold", 20.0, 500.0, "trade practice pages"),
    ],
)
def test_insulation_limit_is_that_of_its_source(tested, megohms, test_volts, source):
    assert insulation.insulation_limit(tested) == (megohms * 1e6, test_volts, source)


def test_earth_limit_is_that_of_en_50106():
    """EN 50106:2008: 0.1 Ω, corded 0.1 Ω and the cord, at least 10 A."""
    assert insulation.earth_limit_ohms() == 0.1
    assert insulation.earth_limit_ohms(0.05) == pytest.approx(0.15)
    assert insulation.EARTH_TEST_AMPERES == 10.0
