"""Water and wort: density, specific heat, boiling point, heat of evaporation."""

from __future__ import annotations

import math

import numpy as np

from diagnose.physics.number import Number, require_positive, require_range

STANDARD_PASCALS = 101_325.0

# Kell 1975, J. Chem. Eng. Data 20, 97; kg/m³ at one atmosphere.
_DENSITY_ABOVE = (999.83952, 16.945176, -7.9870401e-3, -46.170461e-6, 105.56302e-9, -280.54253e-12)
_DENSITY_BELOW = 16.879850e-3

# Our own fits to IAPWS-95: of specific heat at one atmosphere, 0 to 100 °C, within 0.013 %; of the heat of
# evaporation at saturation, 0 to 150 °C, within 0.01 %. J/(kg K) and J/kg.
_SPECIFIC_HEAT = (4218.9215, -3.1923834, 9.6393868e-2, -1.41766854e-3, 1.09843936e-5, -3.29007100e-8)
_EVAPORATION = (2501019.2, -2387.7227, 0.82312859, -0.014063758)

# IAPWS-IF97 region 4, n1 to n10.
_SATURATION = (
    0.11670521452767e4, -0.72421316703206e6, -0.17073846940092e2, 0.12020824702470e5, -0.32325550322333e7,
    0.14915108613530e2, -0.48232657361591e4, 0.40511340542057e6, -0.23855557567849, 0.65017534844798e3,
)  # fmt: skip


def _polynomial(coefficients: tuple[float, ...], x: Number) -> Number:
    total = 0.0 * x
    for coefficient in reversed(coefficients):
        total = total * x + coefficient
    return total


def water_density(temperature_celsius: Number) -> Number:
    """Return the density of liquid water at one atmosphere in kg/m³.

    Parameters
    ----------
    temperature_celsius : float or array
        From 0 to 100 °C.

    Raises
    ------
    ValueError
        If a temperature lies outside.

    References
    ----------
    Kell 1975, Journal of Chemical and Engineering Data 20, 97; within 0.002 % of IAPWS-95.

    Examples
    --------
    >>> round(water_density(65.0), 2)
    980.55
    """
    require_range("temperature_celsius", temperature_celsius, 0.0, 100.0)
    above = _polynomial(_DENSITY_ABOVE, temperature_celsius)
    return above / (1.0 + _DENSITY_BELOW * temperature_celsius)


def water_specific_heat(temperature_celsius: Number) -> Number:
    """Return the specific heat of liquid water at one atmosphere in J/(kg K).

    Parameters
    ----------
    temperature_celsius : float or array
        From 0 to 100 °C.

    Raises
    ------
    ValueError
        If a temperature lies outside.

    References
    ----------
    Polynomial of our own, fitted to IAPWS-95; within 0.013 % of it.

    Examples
    --------
    >>> round(water_specific_heat(65.0), 1)
    4187.3
    """
    require_range("temperature_celsius", temperature_celsius, 0.0, 100.0)
    return _polynomial(_SPECIFIC_HEAT, temperature_celsius)


def evaporation_heat(temperature_celsius: Number) -> Number:
    """Return the heat that evaporates a kilogram of water in J/kg.

    Parameters
    ----------
    temperature_celsius : float or array
        From 0 to 150 °C.

    Raises
    ------
    ValueError
        If a temperature lies outside.

    References
    ----------
    Polynomial of our own, fitted to IAPWS-95; within 0.01 % of it.

    Examples
    --------
    >>> round(evaporation_heat(100.0) / 1e6, 3)
    2.256
    """
    require_range("temperature_celsius", temperature_celsius, 0.0, 150.0)
    return _polynomial(_EVAPORATION, temperature_celsius)


def sugar_factor(plato: float, temperature_celsius: float = 65.0) -> float:
    """Return the specific heat of wort over that of water, by its extract.

    Parameters
    ----------
    plato : float
        Extract in per cent by mass, 0 to 40.
    temperature_celsius : float
        From 0 to 100 °C.

    Raises
    ------
    ValueError
        If a value lies outside.

    Notes
    -----
    For pure sugar in water, which wort is close to.

    References
    ----------
    Sugar-industry formula 4.1868 − Bx·(0.0297 − 4.6e-5·purity) + 7.5e-5·Bx·t kJ/(kg K) for a purity of 100;
    from memory.

    Examples
    --------
    >>> round(sugar_factor(12.0), 3)
    0.942
    """
    require_range("plato", plato, 0.0, 40.0)
    require_range("temperature_celsius", temperature_celsius, 0.0, 100.0)
    return 1.0 - plato * (0.0297 - 4.6e-3 - 7.5e-5 * temperature_celsius) / 4.1868


def saturation_pascals(temperature_celsius: float) -> float:
    """Return the pressure at which water boils at a temperature.

    Parameters
    ----------
    temperature_celsius : float
        From 0 to 370 °C.

    Raises
    ------
    ValueError
        If the temperature lies outside.

    References
    ----------
    IAPWS-IF97, equation 30.

    Examples
    --------
    >>> round(saturation_pascals(100.0))
    101418
    """
    require_range("temperature_celsius", temperature_celsius, 0.0, 370.0)
    n1, n2, n3, n4, n5, n6, n7, n8, n9, n10 = _SATURATION
    kelvin = temperature_celsius + 273.15
    theta = kelvin + n9 / (kelvin - n10)
    a = theta**2 + n1 * theta + n2
    b = n3 * theta**2 + n4 * theta + n5
    c = n6 * theta**2 + n7 * theta + n8
    return float(1e6 * (2 * c / (-b + math.sqrt(b * b - 4 * a * c))) ** 4)


def boiling_celsius(pascals: float = STANDARD_PASCALS) -> float:
    """Return the temperature at which water boils under a pressure.

    Parameters
    ----------
    pascals : float
        Absolute, 700 Pa to 20 MPa.

    Raises
    ------
    ValueError
        If the pressure lies outside.

    References
    ----------
    IAPWS-IF97, equation 31.

    Examples
    --------
    >>> round(boiling_celsius(), 2)
    99.97
    """
    require_range("pascals", pascals, 700.0, 20e6)
    n1, n2, n3, n4, n5, n6, n7, n8, n9, n10 = _SATURATION
    beta = math.sqrt(math.sqrt(pascals / 1e6))
    e = beta**2 + n3 * beta + n6
    f = n1 * beta**2 + n4 * beta + n7
    g = n2 * beta**2 + n5 * beta + n8
    d = 2 * g / (-f - math.sqrt(f * f - 4 * e * g))
    kelvin = (n10 + d - math.sqrt((n10 + d) ** 2 - 4 * (n9 + n10 * d))) / 2
    return kelvin - 273.15


def air_pascals(altitude_metres: float) -> float:
    """Return the pressure of the standard atmosphere at an altitude.

    Parameters
    ----------
    altitude_metres : float
        Above sea level, -1000 to 11 000 m.

    Raises
    ------
    ValueError
        If the altitude lies outside.

    References
    ----------
    ISO 2533 (standard atmosphere), from memory: 6.5 K/km from 288.15 K, exponent 5.25588.

    Examples
    --------
    >>> round(air_pascals(1500.0))
    84556
    """
    require_range("altitude_metres", altitude_metres, -1000.0, 11_000.0)
    return float(STANDARD_PASCALS * (1 - 0.0065 * altitude_metres / 288.15) ** 5.25588)


def boiling_celsius_at_altitude(altitude_metres: float) -> float:
    """Return the temperature at which water boils at an altitude in ordinary weather.

    Raises
    ------
    ValueError
        If the altitude lies outside -1000 to 11 000 m.

    References
    ----------
    ISO 2533 (from memory) and IAPWS-IF97.

    Examples
    --------
    >>> round(boiling_celsius_at_altitude(1500.0), 1)
    95.0
    """
    return boiling_celsius(air_pascals(altitude_metres))


def water_kilograms(litres: float, temperature_celsius: float = 20.0) -> float:
    """Return the mass of water measured at a temperature (density of Kell 1975).

    Raises
    ------
    ValueError
        If the volume is not above zero, or the temperature lies outside 0 to 100 °C.

    Examples
    --------
    >>> round(water_kilograms(20.0, 65.0), 2)
    19.61
    """
    require_positive(litres=litres)
    return litres / 1000 * water_density(temperature_celsius)


def warming_joules_per_kilogram(from_celsius: float, to_celsius: float) -> float:
    """Return the heat that takes a kilogram of water from one temperature to another; negative when it cools.

    Raises
    ------
    ValueError
        If a temperature lies outside 0 to 100 °C.

    References
    ----------
    Integral of `water_specific_heat`.

    Examples
    --------
    >>> round(warming_joules_per_kilogram(20.0, 65.0) / 1000, 1)
    188.2
    """
    for name, value in (("from_celsius", from_celsius), ("to_celsius", to_celsius)):
        require_range(name, value, 0.0, 100.0)
    integral = np.polynomial.polynomial.polyint(np.array(_SPECIFIC_HEAT))
    ends = np.polynomial.polynomial.polyval(np.array([from_celsius, to_celsius]), integral)
    return float(ends[1] - ends[0])
