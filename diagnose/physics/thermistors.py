"""Thermistors with falling resistance (NTC): the beta formula and Steinhart–Hart, both ways."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from diagnose.physics.number import require_positive, require_range

ZERO_CELSIUS_KELVIN = 273.15
LOWEST_CELSIUS = -80.0
HIGHEST_CELSIUS = 300.0

Point = tuple[float, float]
"""(temperature in °C, resistance in Ω)."""


def beta_ohms(temperature_celsius: float, ohms_25: float = 10_000.0, beta_kelvin: float = 3977.0) -> float:
    """Return the resistance of a thermistor by the beta formula.

    Parameters
    ----------
    temperature_celsius : float
        From -80 to 300 °C.
    ohms_25 : float
        Resistance at 25 °C.
    beta_kelvin : float
        The B value; one between 25 and 85 °C is off by about 4 % at 0 °C and 1 % from 50 to 100 °C.

    Raises
    ------
    ValueError
        If the temperature lies outside, or another value is not above zero.

    References
    ----------
    R = R25 · exp(B · (1/T − 1/298.15 K)); textbook two-point form.

    Examples
    --------
    >>> round(beta_ohms(85.0))
    1070
    """
    require_range("temperature_celsius", temperature_celsius, LOWEST_CELSIUS, HIGHEST_CELSIUS)
    require_positive(ohms_25=ohms_25, beta_kelvin=beta_kelvin)
    kelvin = temperature_celsius + ZERO_CELSIUS_KELVIN
    return ohms_25 * math.exp(beta_kelvin * (1 / kelvin - 1 / (25.0 + ZERO_CELSIUS_KELVIN)))


def beta_celsius(ohms: float, ohms_25: float = 10_000.0, beta_kelvin: float = 3977.0) -> float:
    """Return the temperature of a thermistor by the beta formula; the inverse of `beta_ohms`.

    Raises
    ------
    ValueError
        If a value is not above zero, or the formula has no temperature for it.

    Examples
    --------
    >>> round(beta_celsius(10_000.0), 6)
    25.0
    """
    require_positive(ohms=ohms, ohms_25=ohms_25, beta_kelvin=beta_kelvin)
    inverse = 1 / (25.0 + ZERO_CELSIUS_KELVIN) + math.log(ohms / ohms_25) / beta_kelvin
    if inverse <= 0:
        raise ValueError(f"ohms is {ohms}, expected more: the formula has no temperature for it")
    return 1 / inverse - ZERO_CELSIUS_KELVIN


def beta_from_points(first: Point, second: Point) -> float:
    """Return the B value in kelvin between two measured points.

    Raises
    ------
    ValueError
        If the temperatures are equal, or a resistance is not above zero.

    Examples
    --------
    >>> round(beta_from_points((25.0, 10_000.0), (85.0, 1070.2)))
    3977
    """
    require_positive(first_ohms=first[1], second_ohms=second[1])
    inverse = [1 / (celsius + ZERO_CELSIUS_KELVIN) for celsius, _ in (first, second)]
    if inverse[0] == inverse[1]:
        raise ValueError(f"both points are at {first[0]} °C, expected two temperatures")
    return math.log(first[1] / second[1]) / (inverse[0] - inverse[1])


@dataclass(frozen=True, slots=True)
class SteinhartHart:
    """1/T = a + b·ln R + c·(ln R)³, T in kelvin, R in ohms.

    References
    ----------
    Steinhart & Hart 1968, Deep-Sea Research 15.

    Examples
    --------
    >>> curve = SteinhartHart.from_points((0.0, 32_640.0), (50.0, 3601.0), (100.0, 678.1))
    >>> round(curve.celsius(10_000.0), 1)
    25.0
    >>> round(curve.ohms(50.0))
    3601
    """

    a: float
    b: float
    c: float

    @classmethod
    def from_points(cls, first: Point, second: Point, third: Point) -> SteinhartHart:
        """Return the curve through three measured points.

        Raises
        ------
        ValueError
            If a resistance is not above zero, two points are alike, or no falling curve fits.
        """
        points = (first, second, third)
        for celsius, ohms in points:
            require_range("temperature_celsius", celsius, LOWEST_CELSIUS, HIGHEST_CELSIUS)
            require_positive(ohms=ohms)
        logs = np.array([math.log(ohms) for _, ohms in points])
        inverse = np.array([1 / (celsius + ZERO_CELSIUS_KELVIN) for celsius, _ in points])
        try:
            a, b, c = np.linalg.solve(np.stack([np.ones(3), logs, logs**3], axis=1), inverse)
        except np.linalg.LinAlgError:
            raise ValueError("two points have the same resistance, expected three different ones") from None
        curve = cls(float(a), float(b), float(c))
        if not all(curve._slope(log) > 0 for log in np.linspace(logs.min(), logs.max(), 9)):
            raise ValueError("no falling curve goes through the points, expected fewer ohms when warmer")
        return curve

    def celsius(self, ohms: float) -> float:
        """Return the temperature at a resistance; `ValueError` if that is not above zero."""
        require_positive(ohms=ohms)
        log = math.log(ohms)
        return 1 / (self.a + self.b * log + self.c * log**3) - ZERO_CELSIUS_KELVIN

    def ohms(self, temperature_celsius: float) -> float:
        """Return the resistance at a temperature; `ValueError` outside -80 to 300 °C."""
        require_range("temperature_celsius", temperature_celsius, LOWEST_CELSIUS, HIGHEST_CELSIUS)
        target = 1 / (temperature_celsius + ZERO_CELSIUS_KELVIN)
        # From 1 mΩ to 1 GΩ: bisection needs no closed form, which loses digits where c is small.
        low, high = math.log(1e-3), math.log(1e9)
        for _ in range(80):
            middle = (low + high) / 2
            if self.a + self.b * middle + self.c * middle**3 < target:
                low = middle
            else:
                high = middle
        return math.exp((low + high) / 2)

    def _slope(self, log: float) -> float:
        return self.b + 3 * self.c * log**2
