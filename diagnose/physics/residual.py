"""Ground-fault and residual-current devices: which leak trips them, and how fast."""

from __future__ import annotations

from diagnose.physics.number import Interval, require_not_negative, require_positive
from diagnose.physics.protection import NEVER, TripBand

GROUND_FAULT_CLASS_A_AMPERES = Interval(4e-3, 6e-3)
"""Holds below the first, trips from the second. Source: NEC article 100, UL 943."""

GROUND_FAULT_FORMULA_AMPERES = Interval(6e-3, 264e-3)
"""Where the formula of the longest time holds. Source: UL 943."""

RESIDUAL_STEPS: tuple[tuple[float, float], ...] = ((5.0, 0.040), (2.0, 0.150), (1.0, 0.300))
"""From so many times the rated residual current, the longest time in seconds.

Source: IEC 61008-1 and 61009-1, devices without delay.
"""

LEAKAGE_FLOOR_AMPERES = 0.75e-3
LEAKAGE_PER_KILOWATT_AMPERES = 0.75e-3
LEAKAGE_CAP_AMPERES = 5e-3
"""Leakage allowed of stationary heating appliances with an earth. Source: IEC 60335-1 clause 13.2."""


def ground_fault_longest_seconds(leak_amperes: float) -> float:
    """Return the longest time that a class A ground-fault interrupter may take.

    Parameters
    ----------
    leak_amperes : float
        Difference between the two conductors; infinity (never) results below 6 mA.

    Raises
    ------
    ValueError
        If the current is negative.

    Notes
    -----
    Above 264 mA the time of 264 mA is kept.

    References
    ----------
    UL 943: T = (20/I)^1.43, I in mA from 6 to 264.

    Examples
    --------
    >>> ground_fault_longest_seconds(0.020)
    1.0
    """
    require_not_negative(leak_amperes=leak_amperes)
    if leak_amperes < GROUND_FAULT_FORMULA_AMPERES.low:
        return NEVER
    milliamperes = 1000 * min(leak_amperes, GROUND_FAULT_FORMULA_AMPERES.high)
    return float((20.0 / milliamperes) ** 1.43)


def ground_fault_band(leak_amperes: float) -> TripBand:
    """Return how soon and how late a class A ground-fault interrupter may trip.

    Raises
    ------
    ValueError
        If the current is negative.

    References
    ----------
    NEC article 100 and UL 943: not below 4 mA, always from 6 mA; no shortest time.

    Examples
    --------
    >>> ground_fault_band(0.005)
    TripBand(earliest_seconds=0.0, latest_seconds=inf)
    """
    latest = ground_fault_longest_seconds(leak_amperes)
    return TripBand(NEVER if leak_amperes < GROUND_FAULT_CLASS_A_AMPERES.low else 0.0, latest)


def residual_band(leak_amperes: float, rated_amperes: float = 0.030) -> TripBand:
    """Return how soon and how late a residual-current device without delay may trip.

    Parameters
    ----------
    leak_amperes : float
        Sum of the currents through the device.
    rated_amperes : float
        Rated residual current.

    Raises
    ------
    ValueError
        If the leak is negative, or the rating is not above zero.

    References
    ----------
    IEC 61008-1 and 61009-1: not at half the rated current, within 300, 150 and 40 ms at 1, 2 and 5 times.

    Examples
    --------
    >>> residual_band(0.150)
    TripBand(earliest_seconds=0.0, latest_seconds=0.04)
    >>> residual_band(0.015)
    TripBand(earliest_seconds=inf, latest_seconds=inf)
    """
    require_not_negative(leak_amperes=leak_amperes)
    require_positive(rated_amperes=rated_amperes)
    multiple = round(leak_amperes / rated_amperes, 9)
    if multiple <= 0.5:
        return TripBand(NEVER, NEVER)
    return TripBand(0.0, next((time for least, time in RESIDUAL_STEPS if multiple >= least), NEVER))


def fault_ohms(volts: float, leak_amperes: float) -> float:
    """Return the fault resistance that lets so much leak.

    Raises
    ------
    ValueError
        If a value is not above zero.

    References
    ----------
    Ohm's law.

    Examples
    --------
    >>> round(fault_ohms(120.0, 0.006))
    20000
    """
    require_positive(volts=volts, leak_amperes=leak_amperes)
    return volts / leak_amperes


def heating_leakage_limit_amperes(rated_watts: float) -> float:
    """Return the leakage that a stationary heating appliance with an earth may have when warm.

    Parameters
    ----------
    rated_watts : float
        Of the appliance. Portable ones may leak 0.75 mA whatever their power.

    Raises
    ------
    ValueError
        If the power is not above zero.

    References
    ----------
    IEC 60335-1 clause 13.2: 0.75 mA or 0.75 mA/kW, whichever is more, at most 5 mA.

    Examples
    --------
    >>> heating_leakage_limit_amperes(4000.0)
    0.003
    """
    require_positive(rated_watts=rated_watts)
    by_power = LEAKAGE_PER_KILOWATT_AMPERES * rated_watts / 1000
    return min(max(LEAKAGE_FLOOR_AMPERES, by_power), LEAKAGE_CAP_AMPERES)
