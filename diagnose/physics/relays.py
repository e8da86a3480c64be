"""Solid-state relays: heat, leakage when off, and when their control side works."""

from __future__ import annotations

import math
from typing import Literal, NamedTuple

from diagnose.physics.number import Interval, require_not_negative, require_positive
from diagnose.physics.warmth import surface_celsius

ON_STATE_DROP_VOLTS = Interval(1.0, 1.6)
"""Between the load terminals of a relay that is on, with at least an ampere. Source: trade data."""

WATTS_PER_AMPERE = Interval(1.0, 1.5)
"""Heat of a relay by the ampere it carries. Source: trade data."""

OFF_STATE_LEAKAGE_AMPERES = Interval(1e-3, 10e-3)
"""Through the snubber of a relay that is off. Source: trade data."""

CONTROL_RANGE_VOLTS = Interval(3.0, 32.0)
CONTROL_ON_VOLTS = 3.0
CONTROL_OFF_VOLTS = 1.0
"""DC control input: surely on from, surely off up to. Source: trade data."""

CONTROL_AMPERES = Interval(5e-3, 30e-3)
"""What a DC control input takes. Source: trade data, from memory."""

State = Literal["on", "off", "uncertain"]


class Chain(NamedTuple):
    """Temperatures from the sink to the junction, in °C."""

    sink_celsius: float
    base_celsius: float
    junction_celsius: float


class ThermalPath(NamedTuple):
    """Thermal resistances in K/W: junction to base, base to sink, sink to surrounding air."""

    junction_base: float
    base_sink: float
    sink_air: float


def on_state_watts(amperes: float, drop_volts: Interval = ON_STATE_DROP_VOLTS) -> Interval:
    """Return the heat of a relay that is on.

    Raises
    ------
    ValueError
        If the current is negative.

    References
    ----------
    Drop times current; the drop is trade data.

    Examples
    --------
    >>> on_state_watts(20.0)
    Interval(low=20.0, high=32.0)
    """
    require_not_negative(amperes=amperes)
    return drop_volts.scaled(amperes)


def chain_celsius(watts: float, ambient_celsius: float, path: ThermalPath) -> Chain:
    """Return the temperatures along a relay on its heat sink.

    Raises
    ------
    ValueError
        If the power or a thermal resistance is negative.

    References
    ----------
    Thermal resistances in series.

    Examples
    --------
    >>> [round(each, 1) for each in chain_celsius(12.0, 71.2, ThermalPath(1.3, 0.1, 1.0))]
    [83.2, 84.4, 100.0]
    """
    _check_path(path)
    require_not_negative(watts=watts)
    sink = surface_celsius(ambient_celsius, watts, path.sink_air)
    base = surface_celsius(sink, watts, path.base_sink)
    return Chain(sink, base, surface_celsius(base, watts, path.junction_base))


def highest_ambient_celsius(watts: float, junction_celsius: float, path: ThermalPath) -> float:
    """Return the air temperature at which the junction just reaches its limit.

    Raises
    ------
    ValueError
        If the power or a thermal resistance is negative.

    References
    ----------
    Thermal resistances in series.

    Examples
    --------
    >>> round(highest_ambient_celsius(12.0, 100.0, ThermalPath(1.3, 0.1, 1.0)), 1)
    71.2
    """
    _check_path(path)
    require_not_negative(watts=watts)
    return junction_celsius - watts * sum(path)


def highest_amperes(
    ambient_celsius: float, junction_celsius: float, path: ThermalPath, drop_volts: float = 1.6
) -> float:
    """Return the current at which the junction just reaches its limit in air of a temperature.

    Raises
    ------
    ValueError
        If the drop or the whole thermal resistance is not above zero.

    References
    ----------
    Thermal resistances in series.

    Examples
    --------
    >>> round(highest_amperes(71.2, 100.0, ThermalPath(1.3, 0.1, 1.0), 1.2), 3)
    10.0
    """
    _check_path(path)
    require_positive(drop_volts=drop_volts, thermal_resistance=sum(path))
    return max(0.0, (junction_celsius - ambient_celsius) / sum(path) / drop_volts)


def derated_amperes(
    rated_amperes: float, ambient_celsius: float, full_up_to_celsius: float, none_from_celsius: float
) -> float:
    """Return the current allowed on a falling straight line of a data sheet.

    Raises
    ------
    ValueError
        If the rating is not above zero, or the line does not fall.

    Examples
    --------
    >>> derated_amperes(40.0, 60.0, 40.0, 80.0)
    20.0
    """
    require_positive(rated_amperes=rated_amperes, falling_kelvin=none_from_celsius - full_up_to_celsius)
    left = (none_from_celsius - ambient_celsius) / (none_from_celsius - full_up_to_celsius)
    return rated_amperes * min(1.0, max(0.0, left))


def _check_path(path: ThermalPath) -> None:
    for name, value in path._asdict().items():
        require_not_negative(**{name: value})


def snubber_ohms(hertz: float, resistance_ohms: float = 47.0, farads: float = 22e-9) -> complex:
    """Return the impedance of the series snubber across a relay that is off.

    Parameters
    ----------
    hertz : float
        Of the mains.
    resistance_ohms, farads : float
        47 Ω and 22 nF are usual (trade data, from memory).

    Raises
    ------
    ValueError
        If the frequency or the capacitance is not above zero, or the resistance is negative.

    References
    ----------
    R + 1/(jωC).

    Examples
    --------
    >>> round(abs(snubber_ohms(60.0)))
    120572
    """
    require_positive(hertz=hertz, farads=farads)
    require_not_negative(resistance_ohms=resistance_ohms)
    return resistance_ohms + 1 / (2j * math.pi * hertz * farads)


def leakage_amperes(volts: float, hertz: float, resistance_ohms: float = 47.0, farads: float = 22e-9) -> float:
    """Return the current through the snubber with full voltage across the relay.

    Raises
    ------
    ValueError
        As `snubber_ohms`, and if the voltage is negative.

    References
    ----------
    Ohm's law on the impedance.

    Examples
    --------
    >>> round(leakage_amperes(240.0, 60.0) * 1000, 2)
    1.99
    """
    require_not_negative(volts=volts)
    return volts / abs(snubber_ohms(hertz, resistance_ohms, farads))


def volts_behind_off_relay(volts: float, snubber: complex, load_ohms: float, meter_ohms: float = 1e7) -> float:
    """Return what a meter shows across a load that an off relay should have cut.

    Parameters
    ----------
    volts : float
        Of the supply across relay and load.
    snubber : complex
        From `snubber_ohms`.
    load_ohms : float
        Infinity with nothing plugged in.
    meter_ohms : float
        Input of the meter: about 10 MΩ, or about 3 kΩ in a low-impedance mode (trade data).

    Raises
    ------
    ValueError
        If the voltage is negative, or a resistance is not above zero.

    References
    ----------
    Voltage divider in complex numbers.

    Examples
    --------
    >>> round(volts_behind_off_relay(120.0, snubber_ohms(60.0), math.inf), 2)
    119.99
    """
    require_not_negative(volts=volts)
    require_positive(meter_ohms=meter_ohms)
    if not load_ohms > 0:
        raise ValueError(f"load_ohms is {load_ohms}, expected a number above 0")
    load = 1 / (1 / meter_ohms + 1 / load_ohms)
    return abs(volts * load / (load + snubber))


def control_state(volts: float) -> State:
    """Say what a DC control input of 3–32 V does at a voltage; a reversed one does nothing.

    Raises
    ------
    ValueError
        If the voltage is not finite.

    References
    ----------
    Trade data: surely on at 3 V, surely off at 1 V.

    Examples
    --------
    >>> control_state(12.0), control_state(2.0), control_state(-12.0)
    ('on', 'uncertain', 'off')
    """
    if not math.isfinite(volts):
        raise ValueError(f"volts is {volts}, expected a finite number")
    if volts >= CONTROL_ON_VOLTS:
        return "on"
    return "off" if volts <= CONTROL_OFF_VOLTS else "uncertain"


def loaded_output_volts(open_volts: float, output_ohms: float, inputs_amperes: float) -> float:
    """Return what a controller's output still gives when it feeds relay inputs.

    Raises
    ------
    ValueError
        If a value is negative.

    References
    ----------
    Ohm's law, the inputs taken as drawing a constant current.

    Examples
    --------
    >>> loaded_output_volts(12.0, 300.0, 0.02)
    6.0
    """
    require_not_negative(open_volts=open_volts, output_ohms=output_ohms, inputs_amperes=inputs_amperes)
    return max(0.0, open_volts - output_ohms * inputs_amperes)
