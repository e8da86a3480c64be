"""Platinum resistance sensors (Pt100, Pt1000): temperature, resistance and tolerance."""

from __future__ import annotations

from typing import Literal

import numpy as np
from numpy.typing import NDArray

from diagnose.physics.number import Interval, Number, require_positive, require_range

A = 3.9083e-3  # 1/K; all three: IEC 60751
B = -5.775e-7  # 1/K²
C = -4.183e-12  # 1/K⁴, below 0 °C only

LOWEST_CELSIUS = -200.0
HIGHEST_CELSIUS = 850.0

ToleranceClass = Literal["AA", "A", "B", "C"]

TOLERANCE: dict[ToleranceClass, tuple[float, float]] = {
    "AA": (0.10, 0.0017),  # from memory
    "A": (0.15, 0.002),
    "B": (0.30, 0.005),
    "C": (0.60, 0.010),  # from memory
}
"""K, and K for each °C away from 0. Source: IEC 60751."""


def platinum_ohms(temperature_celsius: Number, nominal_ohms: float = 100.0) -> Number:
    """Return the resistance of a platinum sensor at a temperature.

    Parameters
    ----------
    temperature_celsius : float or array
        From -200 to 850 °C.
    nominal_ohms : float
        Resistance at 0 °C: 100 for a Pt100.

    Raises
    ------
    ValueError
        If a temperature lies outside, or the nominal resistance is not above zero.

    References
    ----------
    IEC 60751, Callendar–Van Dusen; the fourth-order term only below 0 °C.

    Examples
    --------
    >>> round(platinum_ohms(65.0), 2)
    125.16
    >>> round(platinum_ohms(150.0, 1000.0), 2)
    1573.25
    """
    require_range("temperature_celsius", temperature_celsius, LOWEST_CELSIUS, HIGHEST_CELSIUS)
    require_positive(nominal_ohms=nominal_ohms)
    t = temperature_celsius
    below_zero = C * (t - 100.0) * t**3 * (t < 0.0)
    return nominal_ohms * (1.0 + A * t + B * t**2 + below_zero)


def platinum_celsius(ohms: Number, nominal_ohms: float = 100.0) -> Number:
    """Return the temperature of a platinum sensor from its resistance.

    Parameters
    ----------
    ohms : float or array
        Within what the sensor has from -200 to 850 °C.
    nominal_ohms : float
        Resistance at 0 °C.

    Raises
    ------
    ValueError
        If a resistance lies outside what a sensor from -200 to 850 °C has.

    Notes
    -----
    The quadratic is solved exactly from 0 °C; below, Newton's steps from there are within 1e-9 K.

    References
    ----------
    IEC 60751.

    Examples
    --------
    >>> round(platinum_celsius(138.51), 2)
    100.01
    >>> round(platinum_celsius(18.52), 2)
    -200.0
    """
    require_positive(nominal_ohms=nominal_ohms)
    # A hair's breadth is allowed so that the rounded ends of the published tables pass.
    lowest = platinum_ohms(LOWEST_CELSIUS, nominal_ohms) - 1e-4 * nominal_ohms
    highest = platinum_ohms(HIGHEST_CELSIUS, nominal_ohms) + 1e-4 * nominal_ohms
    require_range("ohms", ohms, lowest, highest)
    ratio = np.asarray(ohms, dtype=np.float64) / nominal_ohms
    celsius = (-A + np.sqrt(A * A - 4 * B * (1.0 - ratio))) / (2 * B)
    cold = ratio < 1.0
    for _ in range(5):
        step = (_ratio(celsius) - ratio) / _ratio_slope(celsius)
        celsius = np.where(cold, celsius - step, celsius)
    if isinstance(ohms, np.ndarray):
        return celsius
    return float(celsius)


def _ratio(celsius: NDArray[np.float64]) -> NDArray[np.float64]:
    return 1.0 + A * celsius + B * celsius**2 + C * (celsius - 100.0) * celsius**3


def _ratio_slope(celsius: NDArray[np.float64]) -> NDArray[np.float64]:
    return A + 2 * B * celsius + C * (4 * celsius**3 - 300.0 * celsius**2)


def tolerance_kelvin(temperature_celsius: float, tolerance_class: ToleranceClass = "B") -> float:
    """Return how far a sensor of a class may be off.

    Raises
    ------
    ValueError
        If the class is unknown or the temperature lies outside -200 to 850 °C.

    References
    ----------
    IEC 60751: class A 0.15 + 0.002·|t|, class B 0.3 + 0.005·|t|.

    Examples
    --------
    >>> round(tolerance_kelvin(150.0, "A"), 3)
    0.45
    """
    require_range("temperature_celsius", temperature_celsius, LOWEST_CELSIUS, HIGHEST_CELSIUS)
    if tolerance_class not in TOLERANCE:
        raise ValueError(f"tolerance_class is {tolerance_class!r}, expected one of {', '.join(TOLERANCE)}")
    constant, slope = TOLERANCE[tolerance_class]
    return constant + slope * abs(temperature_celsius)


def tolerance_celsius(temperature_celsius: float, tolerance_class: ToleranceClass = "B") -> Interval:
    """Return what a good sensor of a class, read without error, may show at a temperature (IEC 60751).

    Raises
    ------
    ValueError
        As `tolerance_kelvin`.

    Examples
    --------
    >>> tolerance_celsius(0.0, "A")
    Interval(low=-0.15, high=0.15)
    """
    return Interval.around(temperature_celsius, tolerance_kelvin(temperature_celsius, tolerance_class))


def tolerance_ohms(
    temperature_celsius: float, tolerance_class: ToleranceClass = "B", nominal_ohms: float = 100.0
) -> Interval:
    """Return the resistances that a good sensor of a class may have at a temperature (IEC 60751).

    Raises
    ------
    ValueError
        As `tolerance_kelvin`, and if the nominal resistance is not above zero.

    Examples
    --------
    >>> low, high = tolerance_ohms(0.0, "B")
    >>> round(low, 2), round(high, 2)
    (99.88, 100.12)
    """
    low, high = tolerance_celsius(temperature_celsius, tolerance_class)
    return Interval(
        platinum_ohms(max(low, LOWEST_CELSIUS), nominal_ohms),
        platinum_ohms(min(high, HIGHEST_CELSIUS), nominal_ohms),
    )


def kelvin_per_ohm(temperature_celsius: float, nominal_ohms: float = 100.0) -> float:
    """Return how far one stray ohm shifts the shown temperature (slope of IEC 60751's curve).

    Raises
    ------
    ValueError
        If the temperature lies outside -200 to 850 °C, or the nominal resistance is not above zero.

    Examples
    --------
    >>> round(kelvin_per_ohm(65.0), 2)
    2.61
    """
    require_range("temperature_celsius", temperature_celsius, LOWEST_CELSIUS, HIGHEST_CELSIUS)
    require_positive(nominal_ohms=nominal_ohms)
    t = temperature_celsius
    slope = A + 2 * B * t + (C * (4 * t**3 - 300 * t**2) if t < 0 else 0.0)
    return 1 / (slope * nominal_ohms)
