import math

import numpy as np
import pytest

from diagnose.physics import number
from diagnose.physics.number import Interval


def test_interval_times_a_negative_factor_keeps_its_low_end_first():
    assert Interval(1.0, 2.0).scaled(-3.0) == (-6.0, -3.0)


def test_interval_holds_its_ends_and_nothing_that_is_no_number():
    interval = Interval.around(10.0, 0.5)
    assert 9.5 in interval
    assert 10.5 in interval
    assert 10.6 not in interval
    assert math.nan not in interval
    assert "10" not in interval


@pytest.mark.parametrize("value", [-0.1, 100.1, math.nan, np.array([50.0, 101.0]), np.array([50.0, math.nan])])
def test_value_outside_a_range_is_refused(value):
    with pytest.raises(ValueError, match=r"^celsius is .*, expected from 0 to 100$"):
        number.require_range("celsius", value, 0.0, 100.0)


@pytest.mark.parametrize("value", [0.0, -1.0, math.inf, math.nan])
def test_value_that_is_not_positive_is_refused(value):
    with pytest.raises(ValueError, match=rf"^ohms is {value}, expected a number above 0$"):
        number.require_positive(ohms=value)


@pytest.mark.parametrize("value", [-1.0, math.nan])
def test_negative_value_is_refused(value):
    with pytest.raises(ValueError, match=rf"^ohms is {value}, expected 0 or more$"):
        number.require_not_negative(ohms=value)


def test_infinity_is_not_negative():
    number.require_not_negative(ohms=math.inf)
