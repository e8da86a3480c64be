"""Heating powers that brewers measure, against worked examples and a reference library of water properties.

The same functions that a session uses for a typed rise or boil-off.
"""

from __future__ import annotations

import pytest

from diagnose.heat_answers import parse_heat
from diagnose.physics.elements import watt_density
from diagnose.physics.number import Interval
from diagnose.physics.vessel import Kettle, boil_off_litres_per_hour, loss_watts, minutes_to_heat, usual_kettle
from diagnose.physics.water import boiling_celsius_at_altitude, water_density

BARE = "0 kg, loss 0 W"
IDEAL = Kettle(200.0, Interval(0.0, 0.0), loss_watts=Interval(0.0, 0.0))

# Source: school worked examples, as the project's table of check values gives them: mass, rise, useful power, seconds.
# They take 4186 or 4200 J/(kg K); real water has 4180 to 4186 between 20 and 60 degrees, so 0.6 % is allowed.
SCHOOL = [
    (20.0, 10.0, 35.0, 0.8 * 1000.0, 2625.0),
    (20.0, 10.0, 30.0, 2000.0, 840.0),
    (125.0, 20.0, 60.0, 2000.0 - 150.0, 11351.0),
    (49.1 * 3.785411784, 18.8, 62.1, 4610.0, 7306.8),
]


@pytest.mark.parametrize(("kilograms", "start", "end", "watts", "seconds"), SCHOOL)
def test_school_examples_are_read_as_typed_rises(
    kilograms: float, start: float, end: float, watts: float, seconds: float
) -> None:
    litres = kilograms / water_density(start) * 1000
    typed = f"{litres:.3f} L, {start} to {end} C, {seconds / 60:.4f} min, {BARE}"
    value, measured = parse_heat(typed, "heat_rate")
    assert value == pytest.approx(watts, rel=0.006)
    assert measured is not None
    assert measured.low < watts < measured.high


@pytest.mark.parametrize(("kilograms", "start", "end", "watts", "seconds"), SCHOOL)
def test_school_examples_take_as_long_as_they_say(
    kilograms: float, start: float, end: float, watts: float, seconds: float
) -> None:
    litres = kilograms / water_density(start) * 1000
    found = minutes_to_heat(IDEAL, litres, start, end, Interval(watts, watts))
    assert 60 * found.low == pytest.approx(seconds, rel=0.006)


@pytest.mark.parametrize(("start", "end"), [(10.0, 30.0), (20.0, 66.0), (60.0, 95.0)])
def test_a_rise_agrees_with_the_reference_library(start: float, end: float) -> None:
    """CoolProp's enthalpies and densities of water (IAPWS-95) at one atmosphere, within 0.1 %."""
    props = pytest.importorskip("CoolProp.CoolProp").PropsSI

    def of(what: str, celsius: float) -> float:
        return float(props(what, "T", celsius + 273.15, "P", 101325, "Water"))

    joules = 0.040 * of("D", start) * (of("H", end) - of("H", start))
    value, _ = parse_heat(f"40 L, {start} to {end} C, 20 min, {BARE}", "heat_rate")
    assert value == pytest.approx(joules / 1200, rel=1e-3)


@pytest.mark.parametrize(("lost", "minutes"), [(3.0, 45.0), (6.0, 60.0)])
def test_a_boil_off_agrees_with_the_reference_library(lost: float, minutes: float) -> None:
    """CoolProp's latent heat and density at the boil, within 0.1 %."""
    props = pytest.importorskip("CoolProp.CoolProp").PropsSI
    latent = props("H", "P", 101325, "Q", 1, "Water") - props("H", "P", 101325, "Q", 0, "Water")
    watts = lost / 1000 * props("D", "P", 101325, "Q", 0, "Water") * latent / (60 * minutes)
    value, _ = parse_heat(f"{lost} L in {minutes} min, loss 0 W", "boil_off")
    assert value == pytest.approx(watts, rel=1e-3)
    back = boil_off_litres_per_hour(IDEAL, 40.0, Interval(value, value))
    assert back.low == pytest.approx(lost * 60 / minutes, rel=1e-6)


# Source: altitude tables for cooks, from memory: 212 degrees F at the sea, about 1 degree less for each 500 feet.
@pytest.mark.parametrize(
    ("feet", "fahrenheit"), [(0, 212.0), (2000, 208.4), (5000, 203.0), (7500, 198.4), (10000, 194.0)]
)
def test_the_boil_falls_with_altitude(feet: float, fahrenheit: float) -> None:
    assert boiling_celsius_at_altitude(feet * 0.3048) * 1.8 + 32 == pytest.approx(fahrenheit, abs=0.6)


def test_watt_density_of_a_cartridge() -> None:
    """Source: worked example, 500 W on 0.375 by 9 in: 47.1 W/in²."""
    inch = 0.0254
    assert watt_density(500.0, 0.375 * inch, 9 * inch) * inch**2 == pytest.approx(47.1, abs=0.1)


def test_a_covered_kettle_at_mash_temperature_cools_as_brewers_see() -> None:
    """Common practice: a bare 50 L kettle with its lid on loses 4 to 10 degrees in an hour at 66 degrees."""
    lost = loss_watts(usual_kettle(50.0), 50.0, 66.0)
    slow, quick = (3600 * watts / (50 * water_density(66.0) / 1000 * 4187) for watts in lost)
    assert slow < 7 < quick
    assert slow > 3
    assert quick < 13
