import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from diagnose.physics import platinum


@given(st.floats(-200.0, 850.0), st.sampled_from([100.0, 500.0, 1000.0]))
def test_temperature_comes_back_from_its_resistance(celsius, nominal):
    ohms = platinum.platinum_ohms(celsius, nominal)
    assert platinum.platinum_celsius(ohms, nominal) == pytest.approx(celsius, abs=1e-8)


def test_arrays_give_the_same_as_single_values():
    celsius = np.array([-150.0, -0.001, 0.0, 0.001, 65.0, 800.0])
    ohms = platinum.platinum_ohms(celsius)
    assert ohms.tolist() == pytest.approx([platinum.platinum_ohms(float(each)) for each in celsius], rel=1e-14)
    assert platinum.platinum_celsius(ohms) == pytest.approx(celsius, abs=1e-9)
    assert isinstance(platinum.platinum_celsius(100.0), float)


def test_fourth_order_term_stays_out_above_zero():
    assert platinum.platinum_ohms(500.0) == pytest.approx(100 * (1 + 3.9083e-3 * 500 - 5.775e-7 * 500**2))


def test_tolerance_in_ohms_is_the_tolerance_in_kelvin_by_the_slope():
    low, high = platinum.tolerance_ohms(65.0, "B")
    assert (high - low) / 2 * platinum.kelvin_per_ohm(65.0) == pytest.approx(0.3 + 0.005 * 65, rel=1e-4)


@pytest.mark.parametrize("celsius", [-150.0, -1.0, 0.0, 65.0, 800.0])
def test_slope_is_that_of_the_curve(celsius):
    step = 1e-3
    rise = platinum.platinum_ohms(celsius + step) - platinum.platinum_ohms(celsius - step)
    assert platinum.kelvin_per_ohm(celsius) == pytest.approx(2 * step / rise, rel=1e-5)


def test_tolerance_at_the_ends_stays_on_the_curve():
    assert platinum.tolerance_ohms(-200.0).low == platinum.platinum_ohms(-200.0)
    assert platinum.tolerance_ohms(850.0).high == platinum.platinum_ohms(850.0)


@pytest.mark.parametrize(
    "call",
    [
        lambda: platinum.platinum_ohms(-200.1),
        lambda: platinum.platinum_ohms(np.array([20.0, 851.0])),
        lambda: platinum.platinum_celsius(18.0),
        lambda: platinum.platinum_celsius(400.0),
        lambda: platinum.platinum_celsius(100.0, 0.0),
        lambda: platinum.tolerance_kelvin(900.0),
    ],
)
def test_impossible_arguments_are_refused(call):
    with pytest.raises(ValueError, match="expected"):
        call()


def test_unknown_tolerance_class_is_refused():
    with pytest.raises(ValueError, match=r"^tolerance_class is 'Z', expected one of AA, A, B, C$"):
        platinum.tolerance_kelvin(20.0, "Z")
