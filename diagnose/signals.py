"""Any sensor's curve, both ways: what it gives at a temperature, and what a controller's input makes of that."""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import lru_cache
from typing import cast

import numpy as np
from numpy.typing import NDArray

from diagnose.knowledge.curves import Curve
from diagnose.physics.platinum import platinum_celsius, platinum_ohms
from diagnose.physics.thermistors import SteinhartHart, beta_celsius, beta_ohms
from diagnose.physics.thermocouples import Kind, emf_celsius, emf_volts

FloatArray = NDArray[np.float64]


def signal_at(curve: Curve, celsius: float) -> float:
    """Return what a sensor gives at a temperature: ohms, volts with its cold end at 0 °C, or degrees.

    Raises
    ------
    ValueError
        If the temperature lies outside what the formula of its sort holds for.

    References
    ----------
    The formulas of `platinum`, `thermistors` and `thermocouples`, each with its own source.
    """
    values = curve.values
    match curve.form:
        case "platinum":
            return float(platinum_ohms(celsius, values["at_zero"]))
        case "beta":
            return beta_ohms(celsius, values["ohms_25"], values["beta"])
        case "table":
            return _steinhart_hart(curve).ohms(celsius)
        case "thermocouple":
            return emf_volts(cast(Kind, curve.metal), celsius)
    return celsius


def celsius_of(curve: Curve, signal: float) -> float:
    """Return the temperature that an input set to this curve makes of a signal.

    Infinity above its range, minus infinity below it: there the input shows a message instead of a number.

    References
    ----------
    The inverse of `signal_at`.
    """
    low, high = signal_at(curve, curve.low_celsius), signal_at(curve, curve.high_celsius)
    falling = high < low  # a thermistor: open is far too cold, shorted far too hot
    if signal <= min(low, high):
        return math.inf if falling else -math.inf
    if signal >= max(low, high):
        return -math.inf if falling else math.inf
    return _inverse(curve)(signal)


def celsius_of_all(curve: Curve, signals: FloatArray) -> FloatArray:
    """Return `celsius_of` for (H,) signals; equal ones are worked out once."""
    different, place = np.unique(signals, return_inverse=True)
    return np.array([celsius_of(curve, float(signal)) for signal in different])[place.reshape(signals.shape)]


def share_per_kelvin(curve: Curve, celsius: float) -> float:
    """Return by what share of itself a resistance changes for one kelvin; 0 for what is no resistance.

    References
    ----------
    Central difference over two kelvin of `signal_at`.
    """
    if curve.gives != "ohms":
        return 0.0
    return abs(math.log(signal_at(curve, celsius + 1.0) / signal_at(curve, celsius - 1.0))) / 2


def _inverse(curve: Curve) -> Callable[[float], float]:
    values = curve.values
    match curve.form:
        case "platinum":
            return lambda ohms: float(platinum_celsius(ohms, values["at_zero"]))
        case "beta":
            return lambda ohms: beta_celsius(ohms, values["ohms_25"], values["beta"])
        case "table":
            return _steinhart_hart(curve).celsius
        case "thermocouple":
            return lambda volts: emf_celsius(cast(Kind, curve.metal), volts)
    return lambda degrees: degrees


@lru_cache(maxsize=16)
def _points(points: tuple[tuple[float, float], ...]) -> SteinhartHart:
    return SteinhartHart.from_points(*points)


def _steinhart_hart(curve: Curve) -> SteinhartHart:
    return _points(tuple((curve.values[f"t{number}"], curve.values[f"r{number}"]) for number in (1, 2, 3)))
