"""Digital one-wire temperature sensors: the fixed values that they show when something is wrong."""

from __future__ import annotations

import math
from typing import Literal

from diagnose.physics.number import require_not_negative, require_positive

POWER_ON_CELSIUS = 85.0
"""What the sensor holds after power-up until its first conversion. Source: common practice."""

DISCONNECTED_CELSIUS = -127.0
"""What reading software gives for a sensor that does not answer. Source: common practice."""

LOWEST_CELSIUS = -55.0
HIGHEST_CELSIUS = 125.0
STEP_KELVIN = 0.0625
"""Range and finest step of twelve-bit sensors. Source: trade data, from memory."""

PULL_UP_OHMS = 4700.0
"""Usual pull-up from the data line to its supply. Source: common practice."""

Meaning = Literal["temperature", "maybe power-on value", "disconnected", "impossible"]


def meaning_of(shown_celsius: float) -> Meaning:
    """Say what a value from a one-wire sensor means.

    85.0 exactly may be true in a hot kettle: it is the power-on value if it stays or comes and goes in steps.

    Source: common practice.

    Examples
    --------
    >>> meaning_of(66.5), meaning_of(85.0), meaning_of(-127.0)
    ('temperature', 'maybe power-on value', 'disconnected')
    """
    if shown_celsius == POWER_ON_CELSIUS:
        return "maybe power-on value"
    if shown_celsius == DISCONNECTED_CELSIUS:
        return "disconnected"
    if LOWEST_CELSIUS <= shown_celsius <= HIGHEST_CELSIUS:
        return "temperature"
    return "impossible"


def shown_celsius(true_celsius: float) -> float:
    """Return the step of the sensor next to a temperature, held within its range.

    Raises
    ------
    ValueError
        If the temperature is not a number.

    Examples
    --------
    >>> shown_celsius(66.7)
    66.6875
    """
    if math.isnan(true_celsius):
        raise ValueError("true_celsius is nan, expected a temperature")
    held = min(max(true_celsius, LOWEST_CELSIUS), HIGHEST_CELSIUS)
    return round(held / STEP_KELVIN) * STEP_KELVIN


def idle_data_volts(supply_volts: float, leak_ohms: float, pull_up_ohms: float = PULL_UP_OHMS) -> float:
    """Return the voltage on the idle data line with a leak to ground, as in a wet connector.

    Raises
    ------
    ValueError
        If the pull-up is not above zero, or another value is negative.

    References
    ----------
    Voltage divider.

    Examples
    --------
    >>> idle_data_volts(5.0, 4700.0)
    2.5
    """
    require_not_negative(supply_volts=supply_volts, leak_ohms=leak_ohms)
    require_positive(pull_up_ohms=pull_up_ohms)
    if math.isinf(leak_ohms):
        return supply_volts
    return supply_volts * leak_ohms / (leak_ohms + pull_up_ohms)
