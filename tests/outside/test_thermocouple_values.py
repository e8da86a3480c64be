"""Thermocouples against ITS-90 and published worked examples."""

import numpy as np
import pytest

from diagnose.physics import thermocouples
from diagnose.physics.thermocouples import HIGHEST_CELSIUS, compensated_celsius, emf_celsius, emf_volts


@pytest.mark.parametrize(
    ("kind", "celsius", "millivolts"),
    [
        ("K", 0.0, 0.0), ("K", 25.0, 1.000), ("K", 65.0, 2.644), ("K", 100.0, 4.096),
        ("J", 0.0, 0.0), ("J", 25.0, 1.277), ("J", 65.0, 3.382), ("J", 100.0, 5.269),
    ],
)  # fmt: skip
def test_voltage_is_that_of_nist_monograph_175(kind, celsius, millivolts):
    """Derived from the published coefficients of ITS-90."""
    assert emf_volts(kind, celsius) * 1000 == pytest.approx(millivolts, abs=5.1e-4)


@pytest.mark.parametrize(("celsius", "millivolts"), [(25.0, 0.992), (65.0, 2.687), (100.0, 4.279)])
def test_voltage_of_type_t_is_that_of_its_90(celsius, millivolts):
    """ITS-90 table of type T, from memory."""
    assert emf_volts("T", celsius) * 1000 == pytest.approx(millivolts, abs=1e-3)


@pytest.mark.parametrize(("millivolts", "fahrenheit"), [(2.55, 195), (6.21, 357), (10.93, 567), (18.83, 904)])
def test_type_k_with_cold_end_at_84_fahrenheit_is_that_of_the_worked_example(millivolts, fahrenheit):
    """Worked example, instrumentationtools.com."""
    shown = compensated_celsius("K", millivolts / 1000, (84 - 32) / 1.8)
    assert round(shown * 1.8 + 32) == fahrenheit


@pytest.mark.parametrize(("millivolts", "celsius"), [(5.05, 112), (31.44, 586), (40.29, 732)])
def test_type_j_with_cold_end_at_17_celsius_is_that_of_the_worked_example(millivolts, celsius):
    """Worked example, instrumentationtools.com."""
    assert round(compensated_celsius("J", millivolts / 1000, 17.0)) == celsius


def test_a_published_error_of_type_j_stays_out():
    """The same page gives 346 °C for 17.82 mV with the cold end at 17 °C; ITS-90 gives 342.7."""
    assert compensated_celsius("J", 17.82e-3, 17.0) == pytest.approx(342.7, abs=0.05)


@pytest.mark.parametrize("kind", ["J", "K", "T"])
def test_voltage_agrees_with_the_reference_package(kind):
    reference = pytest.importorskip(
        "thermocouples", reason="reference package thermocouples not installed: pip install -e .[reference]"
    )
    theirs = reference.get_thermocouple(kind)
    for celsius in np.linspace(thermocouples.LOWEST_CELSIUS, HIGHEST_CELSIUS[kind], 201):
        volts = emf_volts(kind, float(celsius))
        assert volts == pytest.approx(theirs.temp_to_volt(float(celsius)), abs=1e-12)
        assert emf_celsius(kind, volts) == pytest.approx(celsius, abs=1e-6)
