"""Which insulation and earth resistance is good enough, by whom."""

from __future__ import annotations

import math
from typing import NamedTuple

from diagnose.physics.number import Interval, require_not_negative, require_positive


class InsulationLimit(NamedTuple):
    """The least insulation resistance that a source accepts, and the DC test voltage."""

    ohms: float
    test_volts: float
    source: str


INSULATION_LIMITS: dict[str, InsulationLimit] = {
    "circuit up to 500 V": InsulationLimit(1.0e6, 500.0, "IEC 60364-6"),
    "extra-low voltage": InsulationLimit(0.5e6, 250.0, "IEC 60364-6"),
    "class I heating under 3 kW, in service": InsulationLimit(0.3e6, 500.0, "UK in-service testing practice"),
    "class I, in service": InsulationLimit(1.0e6, 500.0, "UK in-service testing practice"),
    "new element, cold": InsulationLimit(20.0e6, 500.0, "trade practice pages"),
}
"""By what is tested. That in-service tests use 500 V is from memory."""

EARTH_OHMS = 0.1
"""The most between a metal part and the earth pin, without a cord. Source: EN 50106:2008."""

EARTH_TEST_AMPERES = 10.0
"""The least test current. Source: EN 50106:2008."""


def insulation_limit(tested: str) -> InsulationLimit:
    """Return the limit for what is tested.

    Raises
    ------
    ValueError
        If the table lacks it.

    Examples
    --------
    >>> insulation_limit("new element, cold").ohms
    20000000.0
    """
    if tested not in INSULATION_LIMITS:
        raise ValueError(f"no insulation limit for {tested!r}, expected one of {'; '.join(INSULATION_LIMITS)}")
    return INSULATION_LIMITS[tested]


def in_service_limit(rated_watts: float) -> InsulationLimit:
    """Return the limit for an earthed heating appliance in service, by its power.

    Raises
    ------
    ValueError
        If the power is not above zero.

    References
    ----------
    UK in-service testing practice: under 3 kW 0.3 MΩ, otherwise 1 MΩ.

    Examples
    --------
    >>> in_service_limit(2000.0).ohms, in_service_limit(3000.0).ohms
    (300000.0, 1000000.0)
    """
    require_positive(rated_watts=rated_watts)
    small = rated_watts < 3000.0
    return insulation_limit("class I heating under 3 kW, in service" if small else "class I, in service")


def earth_limit_ohms(cord_ohms: float = 0.0) -> float:
    """Return the most that the earth path of an appliance may have, with its cord's earth wire.

    Raises
    ------
    ValueError
        If the resistance is negative.

    References
    ----------
    EN 50106:2008: 0.1 Ω, and that of the cord.

    Examples
    --------
    >>> round(earth_limit_ohms(0.024), 3)
    0.124
    """
    require_not_negative(cord_ohms=cord_ohms)
    return EARTH_OHMS + cord_ohms


def insulation_leak_amperes(volts: float, hertz: float, insulation_ohms: float, farads: float = 0.0) -> float:
    """Return the alternating current through an insulation and its capacitance.

    Parameters
    ----------
    volts : float
        Between the conductor and earth.
    hertz : float
        Of the mains.
    insulation_ohms : float
        As measured with DC; infinity for a perfect one.
    farads : float
        Capacitance to earth.

    Raises
    ------
    ValueError
        If a value is negative, or the resistance is zero.

    References
    ----------
    Ohm's law, resistance and capacitance in parallel.

    Examples
    --------
    >>> round(insulation_leak_amperes(120.0, 60.0, 20_000.0) * 1000, 3)
    6.0
    """
    require_not_negative(volts=volts, hertz=hertz, farads=farads)
    if not insulation_ohms > 0:
        raise ValueError(f"insulation_ohms is {insulation_ohms}, expected a number above 0")
    return volts * abs(1 / insulation_ohms + 2j * math.pi * hertz * farads)


def shown_insulation_ohms(true_ohms: float, leads_ohms: Interval, tester_full_scale_ohms: float) -> Interval:
    """Return what an insulation tester can show: leads added, and not more than its full scale.

    Raises
    ------
    ValueError
        If a resistance is negative.

    Examples
    --------
    >>> shown_insulation_ohms(math.inf, Interval(0.2, 0.5), 2e9)
    Interval(low=2000000000.0, high=2000000000.0)
    """
    require_not_negative(true_ohms=true_ohms, leads_ohms=leads_ohms.low)
    require_positive(tester_full_scale_ohms=tester_full_scale_ohms)
    return Interval(
        min(true_ohms + leads_ohms.low, tester_full_scale_ohms),
        min(true_ohms + leads_ohms.high, tester_full_scale_ohms),
    )
