"""How warm a surface gets from the heat that flows out through it, and how soon it cools."""

from __future__ import annotations

import math

from diagnose.physics.number import Interval, Number, require_not_negative, require_positive

ROOM_CELSIUS = Interval(12.0, 30.0)
"""Of the air in a home brewery on a brew day. Source: common practice."""

SWITCHED_OFF_MINUTES = Interval(0.5, 3.0)
"""From switching off to a reading on an outside surface. Source: common practice."""

OPENED_MINUTES = Interval(3.0, 8.0)
"""From switching off to a reading in the box: isolated, opened and proved dead in between. Source: common practice."""


def surface_celsius(base_celsius: Number, watts: Number, kelvin_per_watt: float) -> Number:
    """Return the temperature of a surface in the end, from that of what it gives its heat to.

    Parameters
    ----------
    base_celsius : float or array
        Of the air, or of the next body on the way to it.
    watts : float or array
        What flows through the thermal resistance.
    kelvin_per_watt : float
        That thermal resistance.

    Raises
    ------
    ValueError
        If the thermal resistance is negative.

    References
    ----------
    Heat times thermal resistance, as Ohm's law.

    Examples
    --------
    >>> surface_celsius(71.2, 12.0, 1.0)
    83.2
    """
    require_not_negative(kelvin_per_watt=kelvin_per_watt)
    return base_celsius + watts * kelvin_per_watt


def heated_share(minutes: float, time_constant_minutes: float) -> float:
    """Return the share of its final rise that a body has reached after so long on load.

    Raises
    ------
    ValueError
        If the time is negative or the time constant is not above zero.

    References
    ----------
    One heat capacity behind one thermal resistance: 1 - exp(-t / RC).

    Examples
    --------
    >>> round(heated_share(10.0, 10.0), 3)
    0.632
    """
    return 1.0 - cooled_share(minutes, time_constant_minutes)


def cooled_share(minutes: float, time_constant_minutes: float) -> float:
    """Return the share of its rise that a body still has so long after it was switched off.

    Raises
    ------
    ValueError
        If the time is negative or the time constant is not above zero.

    References
    ----------
    One heat capacity behind one thermal resistance: exp(-t / RC).

    Examples
    --------
    >>> round(cooled_share(5.0, 10.0), 3)
    0.607
    """
    require_not_negative(minutes=minutes)
    require_positive(time_constant_minutes=time_constant_minutes)
    return math.exp(-minutes / time_constant_minutes)
