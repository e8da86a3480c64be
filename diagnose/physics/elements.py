"""Heating elements: power, resistance and current, and what broken or bridged legs leave of them."""

from __future__ import annotations

import math
from typing import Literal

from diagnose.physics.number import Interval, require_not_negative, require_positive, require_range

SQUARE_METRES_PER_SQUARE_INCH = 0.0254**2

HOT_TO_COLD_FACTOR = Interval(1.00, 1.06)
"""Resistance of a nickel–chromium winding at work over that when cold. Source: trade data, from memory."""

MAGNESIA_DRYING_CELSIUS = Interval(110.0, 177.0)
MAGNESIA_DRYING_HOURS = 4.0
"""To dry a damp element: at least so long, out of the water, off the supply. Source: trade practice pages."""


def element_ohms(rated_watts: float, rated_volts: float) -> float:
    """Return the resistance of an element from its plate: V²/P.

    Raises
    ------
    ValueError
        If a value is not above zero.

    References
    ----------
    Ohm's law.

    Examples
    --------
    >>> element_ohms(4500.0, 240.0)
    12.8
    """
    require_positive(rated_watts=rated_watts, rated_volts=rated_volts)
    return rated_volts**2 / rated_watts


def element_amperes(rated_watts: float, rated_volts: float, volts: float | None = None) -> float:
    """Return the current of an element at a voltage, or at its rated voltage if none is given.

    Raises
    ------
    ValueError
        If a rating is not above zero, or the voltage is negative.

    References
    ----------
    Ohm's law.

    Examples
    --------
    >>> element_amperes(4500.0, 240.0)
    18.75
    """
    at = rated_volts if volts is None else volts
    require_not_negative(volts=at)
    return at / element_ohms(rated_watts, rated_volts)


def element_watts(rated_watts: float, rated_volts: float, volts: float) -> float:
    """Return the power of an element on another voltage than its rated one.

    Raises
    ------
    ValueError
        If a rating is not above zero, or the voltage is negative.

    References
    ----------
    P = V²/R, with R taken as constant.

    Examples
    --------
    >>> element_watts(4500.0, 240.0, 120.0)
    1125.0
    """
    require_not_negative(volts=volts)
    return volts**2 / element_ohms(rated_watts, rated_volts)


def power_tolerance_watts(rated_watts: float) -> Interval:
    """Return the power that a good heating appliance may take at its rated voltage.

    Raises
    ------
    ValueError
        If the rating is not above zero.

    References
    ----------
    IEC 60335-1 table 1, from memory: to 25 W +20 %; to 200 W ±10 %; above, +5 % or 20 W if that is
    more, −10 %. For up to 25 W the standard has no lower limit: 0 here.

    Examples
    --------
    >>> power_tolerance_watts(4500.0)
    Interval(low=4050.0, high=4725.0)
    """
    require_positive(rated_watts=rated_watts)
    if rated_watts <= 25.0:
        return Interval(0.0, rated_watts * 1.2)
    if rated_watts <= 200.0:
        return Interval(rated_watts * 0.9, rated_watts * 1.1)
    return Interval(rated_watts * 0.9, rated_watts + max(rated_watts * 0.05, 20.0))


def resistance_tolerance_ohms(rated_watts: float, rated_volts: float) -> Interval:
    """Return the resistances that a good element may have at work: those of `power_tolerance_watts`.

    Raises
    ------
    ValueError
        If a value is not above zero, or the rating is 25 W or less, where the standard sets no upper end.

    References
    ----------
    IEC 60335-1 table 1, from memory, and Ohm's law.

    Examples
    --------
    >>> low, high = resistance_tolerance_ohms(4500.0, 240.0)
    >>> round(low, 2), round(high, 2)
    (12.19, 14.22)
    """
    least, most = power_tolerance_watts(rated_watts)
    require_positive(rated_volts=rated_volts, least_watts=least)
    return Interval(rated_volts**2 / most, rated_volts**2 / least)


def watt_density(watts: float, diameter_metres: float, heated_length_metres: float) -> float:
    """Return watts per square metre of the sheath.

    Raises
    ------
    ValueError
        If the power is negative, or a length is not above zero.

    References
    ----------
    Surface of a cylinder without its ends.

    Examples
    --------
    >>> per_square_metre = watt_density(500.0, 0.375 * 0.0254, 9 * 0.0254)
    >>> round(per_square_metre * SQUARE_METRES_PER_SQUARE_INCH, 1)
    47.2
    """
    require_not_negative(watts=watts)
    require_positive(diameter_metres=diameter_metres, heated_length_metres=heated_length_metres)
    return watts / (math.pi * diameter_metres * heated_length_metres)


def parallel_ohms(*legs_ohms: float) -> float:
    """Return the resistance of legs in parallel; an open leg is infinity.

    Raises
    ------
    ValueError
        If there is no leg, or a resistance is negative.

    References
    ----------
    Ohm's law.

    Examples
    --------
    >>> parallel_ohms(20.0, 20.0, math.inf)
    10.0
    """
    if not legs_ohms:
        raise ValueError("no leg given, expected at least one")
    for ohms in legs_ohms:
        require_not_negative(leg_ohms=ohms)
    if 0.0 in legs_ohms:
        return 0.0
    siemens = sum(1 / ohms for ohms in legs_ohms)
    return 1 / siemens if siemens else math.inf


def partly_shorted_ohms(ohms: float, bridged_fraction: float) -> float:
    """Return what is left of a winding of which a fraction is bridged.

    Raises
    ------
    ValueError
        If the resistance is not above zero, or the fraction lies outside 0 to 1.

    References
    ----------
    Resistance in proportion to the length of the winding.

    Examples
    --------
    >>> partly_shorted_ohms(12.0, 0.25)
    9.0
    """
    require_positive(ohms=ohms)
    require_range("bridged_fraction", bridged_fraction, 0.0, 1.0)
    return ohms * (1.0 - bridged_fraction)


ThreeLegs = Literal["star", "star with neutral", "delta"]
Lost = Literal["nothing", "leg", "phase"]

_THREE_LEG_FRACTIONS: dict[tuple[ThreeLegs, Lost], float] = {
    ("star", "nothing"): 1.0,
    ("star", "leg"): 1 / 2,
    ("star", "phase"): 1 / 2,
    ("star with neutral", "nothing"): 1.0,
    ("star with neutral", "leg"): 2 / 3,
    ("star with neutral", "phase"): 2 / 3,
    ("delta", "nothing"): 1.0,
    ("delta", "leg"): 2 / 3,
    ("delta", "phase"): 1 / 2,
}


def three_leg_power_fraction(connection: ThreeLegs, lost: Lost) -> float:
    """Return which part of its power a three-phase element of three like legs keeps.

    Parameters
    ----------
    connection : str
        "star", "star with neutral" or "delta".
    lost : str
        "nothing", one burnt-out "leg", or one "phase" of the supply.

    Raises
    ------
    ValueError
        If a word is none of these.

    References
    ----------
    Ohm's law: a star left with two legs is 2R across the full voltage; a delta without a phase is R
    beside 2R.

    Examples
    --------
    >>> three_leg_power_fraction("delta", "phase")
    0.5
    """
    try:
        return _THREE_LEG_FRACTIONS[connection, lost]
    except KeyError:
        raise ValueError(f"no three-leg element {connection!r} that lost {lost!r}") from None
