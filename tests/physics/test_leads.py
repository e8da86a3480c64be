import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from diagnose.physics.leads import Hookup, seen_ohms, shown_temperature
from diagnose.physics.platinum import kelvin_per_ohm

LEADS = {"single_ohms": 0.4, "return_ohms": 0.4, "sense_ohms": 0.4}


@given(st.floats(0.0, 100.0), st.floats(0.0, 20.0))
def test_three_like_leads_change_nothing(celsius, lead):
    hookup = Hookup(3, single_ohms=lead, return_ohms=lead, sense_ohms=lead)
    assert shown_temperature(celsius, hookup) == pytest.approx(celsius, abs=1e-6)


@given(st.floats(0.0, 100.0), st.floats(0.0, 20.0), st.floats(0.0, 20.0))
def test_four_leads_never_matter(celsius, first, second):
    hookup = Hookup(4, single_ohms=first, return_ohms=second)
    assert shown_temperature(celsius, hookup) == pytest.approx(celsius, abs=1e-6)


def test_two_leads_add_to_the_sensor():
    shown = shown_temperature(65.0, Hookup(2, **LEADS))
    assert shown - 65.0 == pytest.approx(0.8 * kelvin_per_ohm(65.0), rel=2e-3)


def test_jumper_in_place_of_the_third_wire_is_a_two_wire_sensor():
    jumpered = shown_temperature(65.0, Hookup(3, fault="third_jumpered", **LEADS))
    assert jumpered == shown_temperature(65.0, Hookup(2, **LEADS))


def test_corroded_single_lead_reads_high_and_corroded_return_reads_low():
    high = shown_temperature(65.0, Hookup(3, single_ohms=2.4, return_ohms=0.4, sense_ohms=0.4))
    low = shown_temperature(65.0, Hookup(3, single_ohms=0.4, return_ohms=2.4, sense_ohms=0.4))
    assert high == pytest.approx(65.0 + 2 * kelvin_per_ohm(65.0), abs=0.01)
    assert low == pytest.approx(65.0 - 2 * kelvin_per_ohm(65.0), abs=0.01)


def test_swapped_pair_is_no_fault_but_takes_the_other_lead_for_the_correction():
    assert shown_temperature(65.0, Hookup(3, fault="pair_swapped", **LEADS)) == pytest.approx(65.0)
    assert seen_ohms(100.0, Hookup(3, 0.4, 5.0, 0.4, fault="pair_swapped")) == pytest.approx(100.0)


@pytest.mark.parametrize(
    ("fault", "shown"),
    [
        ("open", math.inf),
        ("shorted", -math.inf),
        ("third_missing", math.inf),
        ("single_swapped_with_return", -math.inf),
        ("single_swapped_with_sense", -math.inf),
    ],
)
def test_gross_faults_leave_the_range(fault, shown):
    assert shown_temperature(65.0, Hookup(3, fault=fault, **LEADS)) == shown


@pytest.mark.parametrize(("celsius", "leak"), [(20.0, 5e3), (65.0, 5e3), (100.0, 50e3)])
def test_wet_connector_reads_low(celsius, leak):
    assert shown_temperature(celsius, Hookup(3, leak_ohms=leak)) < celsius


def test_wetter_connector_reads_lower_and_hotter_sensor_suffers_more():
    errors = [65.0 - shown_temperature(65.0, Hookup(3, leak_ohms=leak)) for leak in (100e3, 10e3, 1e3)]
    assert errors == sorted(errors)
    cold, hot = (each - shown_temperature(each, Hookup(3, leak_ohms=10e3)) for each in (20.0, 95.0))
    assert hot > cold


def test_open_sensor_in_a_wet_connector_shows_the_leak():
    assert seen_ohms(math.inf, Hookup(3, leak_ohms=120.0)) == 120.0
    assert seen_ohms(0.0, Hookup(3, leak_ohms=0.0)) == 0.0


def test_wrong_kind_of_sensor_leaves_the_range():
    assert shown_temperature(20.0, Hookup(), nominal_ohms=1000.0, input_nominal_ohms=100.0) == math.inf
    assert shown_temperature(20.0, Hookup(), nominal_ohms=100.0, input_nominal_ohms=1000.0) == -math.inf


def test_controller_with_a_narrow_range_gives_up_sooner():
    hookup = Hookup(2, single_ohms=20.0, return_ohms=20.0)
    assert math.isfinite(shown_temperature(65.0, hookup))
    assert shown_temperature(65.0, hookup, lowest_celsius=-50.0, highest_celsius=150.0) == math.inf


@pytest.mark.parametrize("wires", [2, 4])
def test_faults_of_the_third_wire_need_one(wires):
    with pytest.raises(ValueError) as caught:
        seen_ohms(100.0, Hookup(wires, fault="third_missing"))
    assert str(caught.value) == "fault 'third_missing' needs three wires, expected none, open or shorted"


def test_negative_lead_is_refused():
    with pytest.raises(ValueError, match="single_ohms is -1, expected 0 or more"):
        seen_ohms(100.0, Hookup(single_ohms=-1))
