"""Breakers, ground-fault and residual-current devices against their standards."""

import math

import pytest

from diagnose.physics import residual
from diagnose.physics.protection import trip_band

HOUR = 3600.0


@pytest.mark.parametrize(
    ("milliamperes", "seconds"), [(6, 5.59), (10, 2.69), (20, 1.00), (30, 0.560), (100, 0.100), (264, 0.025)]
)
def test_ground_fault_time_is_that_of_ul_943(milliamperes, seconds):
    """UL 943: T = (20/I)^1.43 s, values derived from the formula."""
    time = residual.ground_fault_longest_seconds(milliamperes / 1000)
    assert time == pytest.approx(seconds, abs=0.005 if seconds > 1 else 0.0005)


def test_class_a_trips_from_6_and_not_below_4_milliamperes():
    """NEC article 100 and UL 943."""
    assert residual.ground_fault_band(0.0039) == (math.inf, math.inf)
    assert residual.ground_fault_band(0.0050) == (0.0, math.inf)
    assert residual.ground_fault_band(0.0060).latest_seconds < math.inf


@pytest.mark.parametrize(("multiple", "seconds"), [(1.0, 0.300), (2.0, 0.150), (5.0, 0.040)])
def test_residual_current_device_has_the_times_of_iec_61008(multiple, seconds):
    """IEC 61008-1 and 61009-1."""
    assert residual.residual_band(0.030 * multiple, 0.030).latest_seconds == seconds


def test_residual_current_device_holds_at_half_its_rating():
    """IEC 61008-1 and 61009-1: a 30 mA device trips somewhere between 15 and 30 mA."""
    assert residual.residual_band(0.015).earliest_seconds == math.inf
    assert residual.residual_band(0.020) == (0.0, math.inf)


@pytest.mark.parametrize(("watts", "milliamperes"), [(500, 0.75), (2000, 1.5), (5500, 4.125), (9000, 5.0)])
def test_leakage_limit_is_that_of_iec_60335_1_clause_13_2(watts, milliamperes):
    """0.75 mA or 0.75 mA/kW, at most 5 mA; values derived."""
    assert residual.heating_leakage_limit_amperes(watts) * 1000 == pytest.approx(milliamperes, rel=1e-12)


@pytest.mark.parametrize(("volts", "milliamperes", "kilohms"), [(120, 6, 20.0), (230, 30, 7.67), (230, 15, 15.3)])
def test_fault_resistance_follows_from_ohms_law(volts, milliamperes, kilohms):
    """Derived."""
    assert residual.fault_ohms(volts, milliamperes / 1000) / 1000 == pytest.approx(kilohms, rel=3e-3)


@pytest.mark.parametrize("rating", [15.0, 30.0, 50.0, 100.0])
def test_ul_489_breaker_holds_its_rating(rating):
    """UL 489: holds 100 %."""
    assert trip_band(rating, "UL 489", "", rating) == (math.inf, math.inf)


@pytest.mark.parametrize(
    ("rating", "multiple", "latest"),
    [
        (15.0, 1.35, HOUR),
        (50.0, 1.35, HOUR),
        (60.0, 1.35, 2 * HOUR),  # from memory
        (20.0, 2.0, 120.0),
        (30.0, 2.0, 120.0),
        (40.0, 2.0, 240.0),
        (50.0, 2.0, 240.0),
        (60.0, 2.0, 360.0),
        (100.0, 2.0, 360.0),
    ],
)
def test_ul_489_breaker_trips_by_its_calibration_points(rating, multiple, latest):
    """UL 489."""
    band = trip_band(rating, "UL 489", "", rating * multiple)
    assert band.latest_seconds == pytest.approx(latest, rel=1e-9)


@pytest.mark.parametrize("curve", ["B", "C", "D"])
@pytest.mark.parametrize(("rating", "latest"), [(16.0, 60.0), (32.0, 60.0), (40.0, 120.0), (63.0, 120.0)])
def test_iec_breaker_keeps_its_thermal_points(curve, rating, latest):
    """IEC 60898-1: 1.13 for 1 h, 1.45 within 1 h, 2.55 in 1 to 60 s (≤ 32 A) or 120 s."""
    assert trip_band(rating, "IEC 60898-1", curve, 1.13 * rating).earliest_seconds == HOUR
    assert trip_band(rating, "IEC 60898-1", curve, 1.13 * rating).latest_seconds == math.inf
    assert trip_band(rating, "IEC 60898-1", curve, 1.45 * rating).latest_seconds == HOUR
    assert trip_band(rating, "IEC 60898-1", curve, 2.55 * rating) == pytest.approx((1.0, latest))


@pytest.mark.parametrize(("curve", "may", "must"), [("B", 3, 5), ("C", 5, 10), ("D", 10, 20)])
def test_iec_breaker_keeps_its_instantaneous_band(curve, may, must):
    """IEC 60898-1: not instantaneous at the lower multiple, within 0.1 s at the upper."""
    assert trip_band(16.0, "IEC 60898-1", curve, 16.0 * may).earliest_seconds >= 0.1
    assert trip_band(16.0, "IEC 60898-1", curve, 16.0 * must) == (0.0, 0.1)
    assert trip_band(16.0, "IEC 60898-1", curve, 15.9 * must).latest_seconds > 0.1


@pytest.mark.parametrize(
    ("curve", "multiple", "earliest", "latest"),
    [
        ("F", 1.5, HOUR, math.inf),
        ("F", 2.75, 0.05, 2.0),
        ("F", 4.0, 0.01, 0.3),
        ("F", 10.0, 0.0, 0.02),
        ("T", 2.75, 0.6, 10.0),
        ("T", 4.0, 0.15, 3.0),
        ("T", 10.0, 0.02, 0.3),
    ],
)
def test_small_fuse_keeps_the_points_of_iec_60127(curve, multiple, earliest, latest):
    """IEC 60127-2, from memory."""
    assert trip_band(1.0, "IEC 60127", curve, multiple) == pytest.approx((earliest, latest))


@pytest.mark.parametrize(
    ("curve", "multiple", "rating", "latest"),
    [
        ("B", 3, 32.0, 45.0),
        ("B", 3, 40.0, 90.0),
        ("C", 5, 32.0, 15.0),
        ("C", 5, 40.0, 30.0),
        ("D", 10, 32.0, 4.0),
        ("D", 10, 40.0, 8.0),
    ],
)
def test_iec_breaker_trips_in_time_at_the_foot_of_its_instantaneous_band(curve, multiple, rating, latest):
    """IEC 60898-1 table 7, from memory."""
    assert trip_band(rating, "IEC 60898-1", curve, rating * multiple) == pytest.approx((0.1, latest))


def test_iec_breaker_above_63_amperes_has_two_hours():
    """IEC 60898-1, from memory."""
    assert trip_band(80.0, "IEC 60898-1", "C", 80.0 * 1.13).earliest_seconds == 2 * HOUR
    assert trip_band(80.0, "IEC 60898-1", "C", 80.0 * 1.45).latest_seconds == 2 * HOUR


@pytest.mark.parametrize("curve", ["F", "T"])
def test_small_fuse_keeps_the_points_of_ul_248_14(curve):
    """UL 248-14, from memory: holds 110 %, opens at 135 % within 1 h and at 200 % within 2 min."""
    assert trip_band(2.0, "UL 248-14", curve, 2.0 * 1.10) == (math.inf, math.inf)
    assert trip_band(2.0, "UL 248-14", curve, 2.0 * 1.11).earliest_seconds < math.inf
    assert trip_band(2.0, "UL 248-14", curve, 2.0 * 1.35).latest_seconds == HOUR
    assert trip_band(2.0, "UL 248-14", curve, 2.0 * 2.00).latest_seconds == 120.0


@pytest.mark.parametrize(
    ("curve", "rating", "least"), [("F", 0.1, 0.01), ("F", 0.125, 0.05), ("T", 0.1, 0.2), ("T", 0.125, 0.6)]
)
def test_smallest_fuses_melt_sooner_by_iec_60127(curve, rating, least):
    """IEC 60127-2 at 2.75 times, from memory."""
    assert trip_band(rating, "IEC 60127", curve, rating * 2.75).earliest_seconds == pytest.approx(least)


def test_the_fuse_of_a_british_plug_holds_and_blows_as_its_standard_says():
    """BS 1362, from memory: 1.6 times its rating for 30 min, blown within 30 min at 1.9 times."""
    assert trip_band(13.0, "BS 1362", "", 13.0) == (math.inf, math.inf)
    assert trip_band(13.0, "BS 1362", "", 1.6 * 13).earliest_seconds == pytest.approx(HOUR / 2)
    assert trip_band(13.0, "BS 1362", "", 1.6 * 13).latest_seconds == math.inf
    assert trip_band(13.0, "BS 1362", "", 1.9 * 13).latest_seconds == pytest.approx(HOUR / 2)
