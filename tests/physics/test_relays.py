import math

import pytest

from diagnose.physics import contactors, relays

PATH = relays.ThermalPath(1.3, 0.1, 1.0)


def test_relay_on_no_sink_to_speak_of_carries_next_to_nothing():
    bare = relays.ThermalPath(1.3, 0.1, 30.0)
    assert relays.highest_amperes(40.0, 125.0, bare) < 2.0 < relays.highest_amperes(40.0, 125.0, PATH)


def test_current_and_ambient_limits_agree():
    amperes = relays.highest_amperes(50.0, 110.0, PATH, 1.4)
    assert relays.highest_ambient_celsius(amperes * 1.4, 110.0, PATH) == pytest.approx(50.0)
    assert relays.chain_celsius(amperes * 1.4, 50.0, PATH).junction_celsius == pytest.approx(110.0)


def test_hotter_air_than_the_junction_leaves_no_current():
    assert relays.highest_amperes(130.0, 125.0, PATH) == 0.0


@pytest.mark.parametrize(("ambient", "amperes"), [(20.0, 40.0), (40.0, 40.0), (70.0, 10.0), (90.0, 0.0)])
def test_derating_is_flat_then_falls_then_is_zero(ambient, amperes):
    assert relays.derated_amperes(40.0, ambient, 40.0, 80.0) == pytest.approx(amperes)


def test_leakage_rises_with_frequency():
    assert relays.leakage_amperes(230.0, 60.0) > relays.leakage_amperes(230.0, 50.0)


@pytest.mark.parametrize(
    ("volts", "state"),
    [(0.0, "off"), (1.0, "off"), (1.5, "uncertain"), (3.0, "on"), (32.0, "on"), (-5.0, "off")],
)
def test_control_input_is_uncertain_between_its_limits(volts, state):
    assert relays.control_state(volts) == state


def test_too_many_inputs_pull_an_output_down_but_not_below_zero():
    assert relays.control_state(relays.loaded_output_volts(12.0, 470.0, 0.020)) == "uncertain"
    assert relays.loaded_output_volts(12.0, 470.0, 1.0) == 0.0


@pytest.mark.parametrize(
    ("volts", "was_in", "state"),
    [
        (110.0, False, "on"),
        (100.0, False, "uncertain"),
        (91.0, True, "on"),
        (80.0, True, "uncertain"),
        (20.0, True, "off"),
        (20.0, False, "off"),
    ],
)
def test_contactor_remembers_where_it_was(volts, was_in, state):
    assert contactors.coil_state(volts, 120.0, was_in) == state


def test_direct_current_coil_may_hold_longer():
    assert contactors.coil_state(3.0, 24.0, True, "DC") == "uncertain"
    assert contactors.coil_state(3.0, 24.0, True, "AC") == "off"


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: relays.on_state_watts(-1.0), "amperes is -1.0, expected 0 or more"),
        (
            lambda: relays.chain_celsius(1.0, 20.0, relays.ThermalPath(-1.0, 0.0, 0.0)),
            "junction_base is -1.0, expected 0 or more",
        ),
        (
            lambda: relays.derated_amperes(40.0, 20.0, 80.0, 80.0),
            "falling_kelvin is 0.0, expected a number above 0",
        ),
        (lambda: relays.snubber_ohms(0.0), "hertz is 0.0, expected a number above 0"),
        (lambda: relays.control_state(math.nan), "volts is nan, expected a finite number"),
        (
            lambda: relays.volts_behind_off_relay(120.0, 1j, 0.0),
            "load_ohms is 0.0, expected a number above 0",
        ),
        (lambda: contactors.coil_bands(24.0, "ac"), "current is 'ac', expected AC or DC"),
        (lambda: contactors.coil_state(300.0, 120.0, True), "volts is 300.0, expected from 0 to 240"),
    ],
)
def test_impossible_arguments_are_refused(call, message):
    with pytest.raises(ValueError) as caught:
        call()
    assert str(caught.value) == message


def test_current_limit_reckons_with_the_highest_drop_unless_told_otherwise():
    assert relays.highest_amperes(50.0, 110.0, PATH) == relays.highest_amperes(50.0, 110.0, PATH, 1.6)


@pytest.mark.parametrize("hertz", [50.0, 60.0])
def test_usual_snubber_is_47_ohms_and_22_nanofarads(hertz):
    assert relays.snubber_ohms(hertz) == relays.snubber_ohms(hertz, 47.0, 22e-9)
