"""How long a vessel takes to heat, and which power a measured rise or boil-off proves."""

from __future__ import annotations

import math

from diagnose.physics.number import Interval, require_not_negative, require_positive, require_range
from diagnose.physics.water import (
    evaporation_heat,
    sugar_factor,
    warming_joules_per_kilogram,
    water_density,
    water_kilograms,
)

STEEL_SPECIFIC_HEAT = 500.0
ALUMINIUM_SPECIFIC_HEAT = 900.0
COPPER_SPECIFIC_HEAT = 385.0
"""Of vessels, J/(kg K), stainless steel among them. Source: handbook values, from memory."""

NO_LOSS = Interval(0.0, 0.0)


def heating_seconds(joules: float, heating_watts: float, loss_watts: float = 0.0) -> float:
    """Return the time to bring in some heat; infinity when the losses eat all of the power.

    Raises
    ------
    ValueError
        If a value is negative.

    References
    ----------
    Energy over net power.

    Examples
    --------
    >>> heating_seconds(20 * 4200 * 25, 0.8 * 1000)
    2625.0
    """
    require_not_negative(joules=joules, heating_watts=heating_watts, loss_watts=loss_watts)
    net = heating_watts - loss_watts
    return joules / net if net > 0 else math.inf


def vessel_joules(
    litres: float,
    from_celsius: float,
    to_celsius: float,
    *,
    vessel_kilograms: float = 0.0,
    vessel_specific_heat: float = STEEL_SPECIFIC_HEAT,
    plato: float = 0.0,
) -> float:
    """Return the heat that takes a filled vessel from one temperature to another.

    Parameters
    ----------
    litres : float
        Of water or wort, measured at the first temperature.
    from_celsius, to_celsius : float
        From 0 to 100 °C.
    vessel_kilograms, vessel_specific_heat : float
        Of the vessel and what is warmed with it, kg and J/(kg K).
    plato : float
        Extract of the wort in per cent; its density is taken as 1 + plato/258 times that of water.

    Raises
    ------
    ValueError
        If a value lies outside its range.

    References
    ----------
    `diagnose.physics.water`; the density of wort by its extract is a brewers' rule of thumb, from memory.

    Examples
    --------
    >>> round(vessel_joules(50.0, 20.0, 65.0, vessel_kilograms=8.0) / 3.6e6, 2)
    2.66
    """
    require_not_negative(vessel_kilograms=vessel_kilograms, vessel_specific_heat=vessel_specific_heat)
    mass = water_kilograms(litres, from_celsius) * (1 + plato / 258)
    factor = sugar_factor(plato, (from_celsius + to_celsius) / 2)
    liquid = mass * factor * warming_joules_per_kilogram(from_celsius, to_celsius)
    return liquid + vessel_kilograms * vessel_specific_heat * (to_celsius - from_celsius)


def heat_up_seconds(joules: float, watts: Interval, loss_watts: Interval = NO_LOSS) -> Interval:
    """Return the shortest and the longest time to bring in some heat.

    Parameters
    ----------
    joules : float
        From `vessel_joules`.
    watts : Interval
        What the elements give.
    loss_watts : Interval
        What the vessel loses on the way, as a mean.

    Raises
    ------
    ValueError
        If a value is negative.

    Examples
    --------
    >>> heat_up_seconds(1e6, Interval(900.0, 1100.0), Interval(0.0, 100.0)).high
    1250.0
    """
    return Interval(
        heating_seconds(joules, watts.high, loss_watts.low),
        heating_seconds(joules, watts.low, loss_watts.high),
    )


def proved_watts(joules: float, seconds: Interval, loss_watts: Interval = NO_LOSS) -> Interval:
    """Return the power that the elements must have given for a measured rise.

    Parameters
    ----------
    joules : float
        From `vessel_joules`.
    seconds : Interval
        The time that it took, as well as it is known.
    loss_watts : Interval
        What the vessel lost on the way, as a mean.

    Raises
    ------
    ValueError
        If the heat or a loss is negative, or a time is not above zero.

    Examples
    --------
    >>> proved_watts(1.8e6, Interval(590.0, 610.0), Interval(0.0, 150.0)).low > 2900
    True
    """
    require_not_negative(joules=joules, loss_watts=loss_watts.low)
    require_positive(seconds=seconds.low)
    return Interval(joules / seconds.high + loss_watts.low, joules / seconds.low + loss_watts.high)


def boil_off_watts(
    litres_per_hour: float, boiling_celsius: float = 100.0, measured_at_celsius: float | None = None
) -> float:
    """Return the power that leaves a boil as steam.

    Parameters
    ----------
    litres_per_hour : float
        How much the volume falls.
    boiling_celsius : float
        From 60 to 100 °C, by altitude.
    measured_at_celsius : float, optional
        Temperature of the liquid when its volume was read; boiling if not given.

    Raises
    ------
    ValueError
        If the rate is negative or a temperature lies outside.

    References
    ----------
    Heat of evaporation fitted to IAPWS-95, density of Kell 1975.

    Examples
    --------
    >>> round(boil_off_watts(4.0))
    2403
    """
    require_not_negative(litres_per_hour=litres_per_hour)
    require_range("boiling_celsius", boiling_celsius, 60.0, 100.0)
    measured_at = boiling_celsius if measured_at_celsius is None else measured_at_celsius
    kilograms_per_second = litres_per_hour / 1000 * water_density(measured_at) / 3600
    return kilograms_per_second * evaporation_heat(boiling_celsius)
