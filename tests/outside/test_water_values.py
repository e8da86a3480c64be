"""Water, heating and boiling against property tables, a reference package and school examples."""

import numpy as np
import pytest

from diagnose.physics import heating, water
from diagnose.physics.number import Interval


@pytest.fixture(scope="module")
def properties():
    reference = pytest.importorskip(
        "CoolProp", reason="reference package CoolProp not installed: pip install -e .[reference]"
    )
    from CoolProp import CoolProp

    assert reference
    return CoolProp.PropsSI


@pytest.mark.parametrize(("celsius", "density"), [(20, 998.207), (60, 983.2), (80, 971.8), (100, 958.4)])
def test_density_is_that_of_the_property_table(celsius, density):
    """Property table, kg/m³, one decimal from 60 °C."""
    assert water.water_density(float(celsius)) == pytest.approx(density, abs=0.05)


@pytest.mark.parametrize(("celsius", "kilojoules"), [(20, 4.1818), (60, 4.1843), (70, 4.1895), (100, 4.2159)])
def test_specific_heat_is_that_of_the_property_table(celsius, kilojoules):
    """Property table, kJ/(kg K)."""
    assert water.water_specific_heat(float(celsius)) / 1000 == pytest.approx(kilojoules, rel=1e-3)


def test_water_at_65_celsius_is_that_of_iapws_95():
    """IAPWS-95 at 101.325 kPa, derived with a reference package: 980.55 kg/m³, 4.1873 kJ/(kg K)."""
    assert water.water_density(65.0) == pytest.approx(980.55, rel=1e-3)
    assert water.water_specific_heat(65.0) == pytest.approx(4187.3, rel=1e-3)


def test_density_and_specific_heat_agree_with_the_reference_package(properties):
    celsius = np.linspace(0.01, 99.9, 60)
    density = [properties("D", "T", each + 273.15, "P", 101325, "Water") for each in celsius]
    heat = [properties("C", "T", each + 273.15, "P", 101325, "Water") for each in celsius]
    assert water.water_density(celsius) == pytest.approx(density, rel=2e-5)
    assert water.water_specific_heat(celsius) == pytest.approx(heat, rel=1.3e-4)


def test_heat_of_evaporation_agrees_with_the_reference_package(properties):
    for celsius in np.linspace(0.01, 150.0, 40):
        steam, liquid = (properties("H", "T", celsius + 273.15, "Q", each, "Water") for each in (1, 0))
        assert water.evaporation_heat(float(celsius)) == pytest.approx(steam - liquid, rel=1e-4)


def test_boiling_point_agrees_with_the_reference_package(properties):
    for pascals in (10e3, 50e3, 70e3, 84_556.0, 101_325.0, 200e3, 1e6):
        theirs = properties("T", "P", pascals, "Q", 0, "Water") - 273.15
        assert water.boiling_celsius(pascals) == pytest.approx(theirs, abs=0.01)


def test_warming_agrees_with_the_reference_package(properties):
    low, high = (properties("H", "T", each + 273.15, "P", 101325, "Water") for each in (18.0, 67.0))
    assert water.warming_joules_per_kilogram(18.0, 67.0) == pytest.approx(high - low, rel=1e-4)


@pytest.mark.parametrize(
    ("kelvin", "megapascals"), [(300.0, 0.353658941e-2), (500.0, 0.263889776e1), (600.0, 0.123443146e2)]
)
def test_saturation_pressure_is_that_of_the_check_table_of_iapws_if97(kelvin, megapascals):
    """IAPWS-IF97 table 35, from memory."""
    assert water.saturation_pascals(kelvin - 273.15) / 1e6 == pytest.approx(megapascals, rel=1e-8)


@pytest.mark.parametrize(("megapascals", "kelvin"), [(0.1, 0.372755919e3), (1.0, 0.453035632e3), (10.0, 0.584149488e3)])
def test_saturation_temperature_is_that_of_the_check_table_of_iapws_if97(megapascals, kelvin):
    """IAPWS-IF97 table 36, from memory."""
    assert water.boiling_celsius(megapascals * 1e6) + 273.15 == pytest.approx(kelvin, rel=1e-8)


@pytest.mark.parametrize(("metres", "pascals"), [(0, 101_325), (1000, 89_875), (2000, 79_495), (5000, 54_020)])
def test_pressure_at_altitude_is_that_of_iso_2533(metres, pascals):
    """ISO 2533 table, geopotential altitude, from memory."""
    assert water.air_pascals(float(metres)) == pytest.approx(pascals, rel=2e-4)


@pytest.mark.parametrize(
    ("joules", "watts", "loss", "seconds", "tolerance"),
    [
        (20 * 4200 * (35 - 10), 0.80 * 1000, 0, 2625, 1e-9),
        (20 * 4200 * (30 - 10), 2000, 0, 840, 1e-9),
        (125 * 4200 * (60 - 20), 2000, 150, 11_351, 1e-4),
        # 49.1 US gal at 3.785 kg each, as the example takes it.
        (49.1 * 3.785 * 4186 * (62.1 - 18.8), 4610, 0, 7306.8, 1e-4),
    ],
)
def test_heating_time_is_that_of_the_school_example(joules, watts, loss, seconds, tolerance):
    """School worked examples with the specific heat that each states: 4200 or 4186 J/(kg K)."""
    assert heating.heating_seconds(joules, watts, loss) == pytest.approx(seconds, rel=tolerance)


def test_heating_time_of_the_school_example_holds_with_the_real_properties_of_water():
    """School worked example: 49.1 US gal, 18.8 to 62.1 °C, 4610 W take 7306.8 s; our fits are near."""
    joules = heating.vessel_joules(49.1 * 3.785411784, 18.8, 62.1)
    low, high = heating.heat_up_seconds(joules, Interval(4610.0, 4610.0))
    assert low == high == pytest.approx(7306.8, rel=3e-3)
