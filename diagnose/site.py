"""Where a panel stands: at which temperature water boils there."""

from __future__ import annotations

from diagnose.panel.records import Panel
from diagnose.physics.number import Interval
from diagnose.physics.water import boiling_celsius, boiling_celsius_at_altitude

WEATHER_PASCALS = 2500.0  # how far the air pressure is from its mean on most days: common practice
# Where nobody said how high the panel stands: most breweries lie below this. Common practice.
USUAL_METRES = Interval(0.0, 1500.0)
PASCALS_PER_METRE = 11.3  # near sea level: the standard atmosphere


def boiling_interval(panel: Panel, altitude_metres: float | None = None) -> Interval:
    """The temperatures at which water may boil: at a given altitude, at the panel's, or anywhere usual; in any weather.

    Raises ValueError for an altitude outside -1000 to 11 000 m.
    """
    given = panel.altitude_metres if altitude_metres is None else altitude_metres
    low, high = (USUAL_METRES.high, USUAL_METRES.low) if given is None else (given, given)
    weather = WEATHER_PASCALS / PASCALS_PER_METRE
    return Interval(boiling_celsius_at_altitude(low + weather), boiling_celsius_at_altitude(high - weather))


def boiling_at_pressure(pascals: float) -> Interval:
    """The boiling point at a measured air pressure, known within a tenth of a per cent.

    Raises ValueError for a pressure outside 700 Pa to 20 MPa.
    """
    return Interval(boiling_celsius(pascals * 0.999), boiling_celsius(pascals * 1.001))


def boiling_middle(panel: Panel) -> float:
    """The middle of what water may boil at, in degrees Celsius."""
    low, high = boiling_interval(panel)
    return (low + high) / 2
