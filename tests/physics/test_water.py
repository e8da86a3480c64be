import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from diagnose.physics import heating, water
from diagnose.physics.number import Interval


@given(st.floats(5.0, 350.0))
def test_boiling_point_and_pressure_come_back(celsius):
    assert water.boiling_celsius(water.saturation_pascals(celsius)) == pytest.approx(celsius, abs=1e-5)


def test_arrays_give_the_same_as_single_values():
    celsius = np.array([0.0, 4.0, 65.0, 100.0])
    for function in (water.water_density, water.water_specific_heat, water.evaporation_heat):
        assert function(celsius).tolist() == pytest.approx([function(float(each)) for each in celsius], rel=1e-14)


def test_water_is_densest_near_4_celsius():
    celsius = np.linspace(0.0, 20.0, 2001)
    assert celsius[np.argmax(water.water_density(celsius))] == pytest.approx(3.98, abs=0.05)


def test_warming_and_cooling_cancel():
    there, back = water.warming_joules_per_kilogram(20.0, 70.0), water.warming_joules_per_kilogram(70.0, 20.0)
    assert there == -back


def test_warming_is_the_integral_of_the_specific_heat():
    celsius = np.linspace(15.0, 75.0, 6001)
    heat = water.water_specific_heat(celsius)
    by_steps = np.sum((heat[1:] + heat[:-1]) / 2 * np.diff(celsius))
    assert water.warming_joules_per_kilogram(15.0, 75.0) == pytest.approx(by_steps, rel=1e-8)


def test_boiling_point_falls_with_altitude():
    points = [water.boiling_celsius_at_altitude(float(each)) for each in range(0, 4001, 500)]
    assert points == sorted(points, reverse=True)
    assert points[0] - points[2] == pytest.approx(3.3, abs=0.2)


def test_stronger_wort_needs_less_heat_by_the_kilogram():
    assert water.sugar_factor(0.0) == 1.0
    assert water.sugar_factor(20.0) < water.sugar_factor(10.0) < 1.0


def test_vessel_adds_its_own_heat():
    bare, steel = (heating.vessel_joules(50.0, 20.0, 65.0, vessel_kilograms=each) for each in (0.0, 8.0))
    assert steel - bare == pytest.approx(8.0 * 500.0 * 45.0)


def test_losses_above_the_power_never_get_there():
    assert heating.heating_seconds(1e6, 1000.0, 1000.0) == math.inf
    span = heating.heat_up_seconds(1e6, Interval(1000.0, 2000.0), Interval(0.0, 1500.0))
    assert span == (500.0, math.inf)


def test_proved_power_and_heating_time_are_inverse():
    joules = heating.vessel_joules(30.0, 15.0, 67.0, vessel_kilograms=6.0)
    watts, loss = Interval(4050.0, 4725.0), Interval(100.0, 300.0)
    low, high = heating.heat_up_seconds(joules, watts, loss)
    assert heating.proved_watts(joules, Interval(low, low), Interval(100.0, 100.0)).low == pytest.approx(4725.0)
    assert heating.proved_watts(joules, Interval(high, high), Interval(300.0, 300.0)).low == pytest.approx(4050.0)


def test_boil_off_read_cold_is_more_steam_than_read_hot():
    assert heating.boil_off_watts(4.0, measured_at_celsius=20.0) > heating.boil_off_watts(4.0)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: water.water_density(100.1), "temperature_celsius is 100.1, expected from 0 to 100"),
        (lambda: water.sugar_factor(41.0), "plato is 41.0, expected from 0 to 40"),
        (lambda: water.boiling_celsius(600.0), "pascals is 600.0, expected from 700 to 2e+07"),
        (lambda: water.air_pascals(12e3), "altitude_metres is 12000.0, expected from -1000 to 11000"),
        (lambda: water.water_kilograms(0.0), "litres is 0.0, expected a number above 0"),
        (
            lambda: water.warming_joules_per_kilogram(20.0, 101.0),
            "to_celsius is 101.0, expected from 0 to 100",
        ),
        (lambda: heating.heating_seconds(-1.0, 1.0), "joules is -1.0, expected 0 or more"),
        (
            lambda: heating.proved_watts(1.0, Interval(0.0, 1.0)),
            "seconds is 0.0, expected a number above 0",
        ),
        (lambda: heating.boil_off_watts(1.0, 50.0), "boiling_celsius is 50.0, expected from 60 to 100"),
    ],
)
def test_impossible_arguments_are_refused(call, message):
    with pytest.raises(ValueError) as caught:
        call()
    assert str(caught.value) == message
