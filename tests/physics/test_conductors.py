import itertools
import math

import numpy as np
import pytest

from diagnose.physics import ampacity, conductors, supply


def test_stranded_wire_has_more_resistance_than_solid_of_every_gauge():
    for gauge in range(-3, 25):
        stranded, solid = (conductors.awg_ohms_per_metre(gauge, stranded=each) for each in (True, False))
        assert 1.0 < stranded / solid < 1.04, gauge


def test_resistance_falls_from_gauge_to_gauge_across_table_and_formula():
    ohms = [conductors.awg_ohms_per_metre(gauge) for gauge in range(24, -4, -1)]
    assert all(1.15 < thin / thick < 1.36 for thin, thick in itertools.pairwise(ohms))


def test_copper_factor_takes_arrays():
    factors = conductors.copper_factor(np.array([20.0, 75.0]))
    assert factors == pytest.approx([1.0, 1.21615])


def test_copper_factor_and_back_is_one():
    assert conductors.copper_factor(75.0, 20.0) * conductors.copper_factor(20.0, 75.0) == pytest.approx(1.0)


def test_wires_in_parallel_share():
    assert conductors.run_ohms(0.01, 5.0, parallel=2) == pytest.approx(0.025)


def test_short_at_the_end_of_a_longer_cord_draws_less():
    per_metre = conductors.awg_ohms_per_metre(14)
    near, far = (conductors.fault_amperes(120.0, 0.05 + 0.02j, 2 * per_metre * run) for run in (1.0, 20.0))
    assert near > 1500
    assert 250 < far < 350


def test_fault_current_is_of_the_magnitude_and_not_of_the_sum():
    assert conductors.fault_amperes(100.0, 3j, 4.0) == pytest.approx(20.0)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: conductors.awg_diameter_metres(41), "gauge is 41, expected from -3 to 40"),
        (lambda: conductors.copper_factor(300.0), "temperature_celsius is 300.0, expected from -100 to 250"),
        (
            lambda: conductors.metric_ohms_per_metre(3.0),
            "area_square_millimetres is 3.0, expected one of 0.5, 0.75, 1, 1.5, 2.5, 4, 6, 10, 16, 25, 35",
        ),
        (lambda: conductors.run_ohms(0.01, -1.0), "length_metres is -1.0, expected 0 or more"),
        (lambda: conductors.run_ohms(0.01, 1.0, 0), "parallel is 0, expected from 1 to 100"),
        (
            lambda: conductors.fault_amperes(120.0, 0j, 0.0),
            "source_and_loop_ohms is 0.0, expected a number above 0",
        ),
        (
            lambda: ampacity.ampacity_amperes(13),
            "no ampacity for 13 AWG at 75 °C, expected 14, 12, 10, 8, 6 or 4 AWG at 60, 75 or 90 °C",
        ),
        (lambda: supply.supply_range(100.0), "no supply range for 100 V, expected one of 120, 240, 230, 400"),
    ],
)
def test_impossible_arguments_are_refused(call, message):
    with pytest.raises(ValueError) as caught:
        call()
    assert str(caught.value) == message


def test_breaker_too_large_for_the_terminals_is_seen_from_8_gauge_on():
    assert not ampacity.wire_is_protected(8, 50.0, 60)
    assert ampacity.wire_is_protected(8, 50.0, 75)


def test_cord_limit_rises_with_its_size():
    limits = [ampacity.CORD_LIMIT_AMPERES[size] for size in sorted(ampacity.CORD_LIMIT_AMPERES)]
    assert limits == sorted(limits)


def test_lost_neutral_shares_the_whole_voltage():
    low, high = supply.lost_neutral_volts(240.0, 12.8, 1440.0)
    assert low + high == pytest.approx(240.0)
    assert high == pytest.approx(240.0 * 1440.0 / 1452.8)
    assert supply.lost_neutral_volts(240.0, 1440.0, 12.8) == pytest.approx((low, high))


def test_sagged_voltage_never_falls_below_zero():
    assert supply.sagged_volts(120.0, math.inf, 0.1) == 0.0
