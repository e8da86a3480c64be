import itertools
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from diagnose.physics import residual
from diagnose.physics.protection import CURVES, trip_band

ALL = [(standard, curve) for standard, curves in CURVES.items() for curve in curves]


@pytest.mark.parametrize(("standard", "curve"), ALL)
@given(
    rating=st.sampled_from([0.1, 1.0, 6.0, 16.0, 30.0, 40.0, 60.0, 80.0, 125.0]),
    multiple=st.floats(0.0, 50.0),
)
def test_earliest_is_never_after_latest(standard, curve, rating, multiple):
    band = trip_band(rating, standard, curve, rating * multiple)
    assert 0.0 <= band.earliest_seconds <= band.latest_seconds


@pytest.mark.parametrize(("standard", "curve"), ALL)
@pytest.mark.parametrize("rating", [0.1, 2.0, 16.0, 40.0, 80.0, 125.0])
def test_more_current_never_trips_later(standard, curve, rating):
    bands = [trip_band(rating, standard, curve, rating * step / 50) for step in range(2000)]
    for less, more in itertools.pairwise(bands):
        assert more.earliest_seconds <= less.earliest_seconds
        assert more.latest_seconds <= less.latest_seconds


def test_between_two_points_the_time_lies_between_theirs():
    latest = trip_band(20.0, "UL 489", "", 20.0 * math.sqrt(1.35 * 2.0)).latest_seconds
    assert latest == pytest.approx(math.sqrt(3600.0 * 120.0))


def test_beyond_the_last_point_the_heat_is_constant():
    assert trip_band(20.0, "UL 489", "", 80.0).latest_seconds == pytest.approx(30.0)


def test_fuse_at_its_rating_holds_and_time_lag_takes_an_inrush():
    assert trip_band(1.0, "IEC 60127", "T", 1.0) == (math.inf, math.inf)
    assert trip_band(1.0, "IEC 60127", "T", 8.0).earliest_seconds > 0.02
    assert trip_band(1.0, "IEC 60127", "F", 8.0).earliest_seconds == 0.0
    assert trip_band(1.0, "UL 248-14", "T", 2.0) == (5.0, 120.0)
    assert trip_band(5.0, "UL 248-14", "T", 10.0) == (12.0, 120.0)
    assert trip_band(5.0, "UL 248-14", "F", 10.0) == (0.0, 120.0)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (
            lambda: trip_band(16.0, "DIN", "B", 20.0),
            "standard is 'DIN', expected one of UL 489, IEC 60898-1, IEC 60127, UL 248-14, BS 1362",
        ),
        (
            lambda: trip_band(16.0, "IEC 60898-1", "K", 20.0),
            "IEC 60898-1 has no curve 'K', expected one of 'B', 'C', 'D'",
        ),
        (lambda: trip_band(0.0, "UL 489", "", 20.0), "rating_amperes is 0.0, expected a number above 0"),
        (lambda: trip_band(1.0, "UL 489", "", math.nan), "current_amperes is nan, expected 0 or more"),
        (lambda: residual.ground_fault_band(-1e-3), "leak_amperes is -0.001, expected 0 or more"),
        (lambda: residual.residual_band(0.01, 0.0), "rated_amperes is 0.0, expected a number above 0"),
        (lambda: residual.fault_ohms(120.0, 0.0), "leak_amperes is 0.0, expected a number above 0"),
    ],
)
def test_impossible_arguments_are_refused(call, message):
    with pytest.raises(ValueError) as caught:
        call()
    assert str(caught.value) == message


def test_dead_short_trips_a_ground_fault_interrupter_within_its_shortest_limit():
    assert residual.ground_fault_longest_seconds(20.0) == residual.ground_fault_longest_seconds(0.264)


@pytest.mark.parametrize("milliamperes", [0.0, 3.9, 4.0, 5.9, 6.0, 15.0, 15.1, 30.0, 60.0, 150.0, 5000.0])
def test_residual_bands_are_in_order(milliamperes):
    for band in (
        residual.ground_fault_band(milliamperes / 1000),
        residual.residual_band(milliamperes / 1000),
    ):
        assert band.earliest_seconds <= band.latest_seconds
