import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from diagnose.physics.thermistors import SteinhartHart, beta_celsius, beta_from_points, beta_ohms

CURVE = SteinhartHart.from_points((0.0, 32_640.0), (50.0, 3601.0), (100.0, 678.1))


@given(st.floats(-40.0, 150.0))
def test_beta_formula_comes_back(celsius):
    assert beta_celsius(beta_ohms(celsius)) == pytest.approx(celsius, abs=1e-8)


@given(st.floats(-40.0, 150.0))
def test_steinhart_hart_comes_back(celsius):
    assert CURVE.celsius(CURVE.ohms(celsius)) == pytest.approx(celsius, abs=1e-8)


def test_curve_goes_through_its_points():
    for celsius, ohms in ((0.0, 32_640.0), (50.0, 3601.0), (100.0, 678.1)):
        assert CURVE.celsius(ohms) == pytest.approx(celsius, abs=1e-9)


def test_beta_between_points_of_the_formula_is_the_formulas():
    first, second = ((each, beta_ohms(each, 10_000.0, 3435.0)) for each in (10.0, 60.0))
    assert beta_from_points(first, second) == pytest.approx(3435.0)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: beta_ohms(301.0), "temperature_celsius is 301.0, expected from -80 to 300"),
        (lambda: beta_celsius(0.0), "ohms is 0.0, expected a number above 0"),
        (lambda: beta_celsius(1e-3), "ohms is 0.001, expected more: the formula has no temperature for it"),
        (
            lambda: beta_from_points((20.0, 1.0), (20.0, 2.0)),
            "both points are at 20.0 °C, expected two temperatures",
        ),
        (
            lambda: SteinhartHart.from_points((0.0, 5e3), (50.0, 5e3), (100.0, 600.0)),
            "two points have the same resistance, expected three different ones",
        ),
        (
            lambda: SteinhartHart.from_points((0.0, 1000.0), (50.0, 1194.0), (100.0, 1385.0)),
            "no falling curve goes through the points, expected fewer ohms when warmer",
        ),
        (lambda: CURVE.celsius(math.inf), "ohms is inf, expected a number above 0"),
    ],
)
def test_impossible_arguments_are_refused(call, message):
    with pytest.raises(ValueError) as caught:
        call()
    assert str(caught.value) == message
