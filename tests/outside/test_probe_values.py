"""Platinum sensors and thermistors against published tables."""

import numpy as np
import pytest

from diagnose.physics import platinum, thermistors

# IEC 60751, table of Pt100.
TABLE = {0: 100.00, 10: 103.90, 20: 107.79, 50: 119.40, 70: 127.08, 80: 130.90, 100: 138.51}
# Derived from the formula of IEC 60751.
DERIVED = {25: 109.73, 65: 125.16, 66.7: 125.81, 75: 128.99, 78: 130.13}


def test_coefficients_are_those_of_iec_60751():
    """A page gives C = −4.2735e-12: that is of another scale and has to stay out."""
    assert (platinum.A, platinum.B, platinum.C) == (3.9083e-3, -5.775e-7, -4.183e-12)


@pytest.mark.parametrize(("celsius", "ohms"), [*TABLE.items(), *DERIVED.items()])
def test_pt100_has_the_resistance_of_iec_60751(celsius, ohms):
    """Rounded, not cut off: truncated tables in circulation show 130.89 at 80 °C and 138.50 at 100 °C."""
    assert round(platinum.platinum_ohms(float(celsius)), 2) == ohms


@pytest.mark.parametrize(("celsius", "ohms"), TABLE.items())
def test_resistance_of_iec_60751_gives_the_temperature_back(celsius, ohms):
    # 0.005 Ω of rounding are 0.013 K.
    assert platinum.platinum_celsius(ohms) == pytest.approx(celsius, abs=0.0135)


@pytest.mark.parametrize(("celsius", "ohms"), [(-200.0, 18.52), (-100.0, 60.26), (-50.0, 80.31)])
def test_pt100_below_zero_has_the_resistance_of_iec_60751(celsius, ohms):
    """IEC 60751 table, from memory: here the fourth-order term counts."""
    assert round(platinum.platinum_ohms(celsius), 2) == ohms


@pytest.mark.parametrize(
    ("tolerance_class", "celsius", "kelvin"),
    [("A", 0, 0.15), ("A", 100, 0.35), ("A", -50, 0.25), ("B", 0, 0.30), ("B", 100, 0.80), ("B", -50, 0.55)],
)
def test_tolerance_is_that_of_iec_60751(tolerance_class, celsius, kelvin):
    """A ±(0.15 + 0.002·|t|), B ±(0.3 + 0.005·|t|) °C."""
    assert platinum.tolerance_kelvin(celsius, tolerance_class) == pytest.approx(kelvin, rel=1e-12)


def test_pt1000_at_150_celsius_is_that_of_the_worked_example():
    """Worked example, rftools.io: 1573.25 Ω, class A ±0.45 °C."""
    assert round(platinum.platinum_ohms(150.0, 1000.0), 2) == 1573.25
    assert platinum.tolerance_kelvin(150.0, "A") == pytest.approx(0.45, rel=1e-12)


def test_pt100_agrees_with_the_reference_package():
    reference = pytest.importorskip(
        "rtd_sensor", reason="reference package rtd-sensor not installed: pip install -e .[reference]"
    )
    celsius = np.linspace(-200.0, 850.0, 211)
    ohms = platinum.platinum_ohms(celsius)
    theirs = [reference.pt100.celsius_to_resistance(float(each)) for each in celsius]
    assert ohms == pytest.approx(theirs, rel=1e-12)
    assert platinum.platinum_celsius(ohms) == pytest.approx(celsius, abs=1e-8)


@pytest.mark.parametrize("tolerance_class", ["AA", "A", "B", "C"])
def test_tolerance_agrees_with_the_reference_package(tolerance_class):
    reference = pytest.importorskip(
        "rtd_sensor", reason="reference package rtd-sensor not installed: pip install -e .[reference]"
    )
    for celsius in (0.0, 20.0, 65.0, 100.0):
        theirs = reference.tolerance.thermometer_tolerance_c(
            celsius, tolerance_class=tolerance_class, construction="wire_wound"
        )
        assert platinum.tolerance_kelvin(celsius, tolerance_class) == pytest.approx(theirs, rel=1e-12)


# Component table of a 10 kΩ NTC, B25/85 = 3977 K: resistance over that at 25 °C.
NTC_TABLE = {
    0: 3.264, 10: 1.990, 25: 1.0, 50: 0.3601, 65: 0.2082, 70: 0.1751, 75: 0.1480, 80: 0.1256, 100: 0.06781,
}  # fmt: skip


@pytest.mark.parametrize(("celsius", "ratio"), NTC_TABLE.items())
def test_beta_formula_is_within_4_per_cent_of_the_component_table(celsius, ratio):
    assert thermistors.beta_ohms(celsius, 1.0, 3977.0) == pytest.approx(ratio, rel=0.04)


@pytest.mark.parametrize(("celsius", "ratio"), NTC_TABLE.items())
def test_steinhart_hart_through_three_points_follows_the_component_table(celsius, ratio):
    curve = thermistors.SteinhartHart.from_points((0.0, 32_640.0), (50.0, 3601.0), (100.0, 678.1))
    assert curve.celsius(ratio * 10_000) == pytest.approx(celsius, abs=0.05)
