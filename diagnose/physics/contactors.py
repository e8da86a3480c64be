"""Contactor coils: the voltages at which they pull in, hold and let go."""

from __future__ import annotations

from typing import Literal, NamedTuple

from diagnose.physics.number import Interval, require_positive, require_range

State = Literal["on", "off", "uncertain"]


class CoilBands(NamedTuple):
    """Coil voltages of a contactor: where it must pull in and work, and where it must let go."""

    works: Interval
    drops_out: Interval


def coil_bands(rated_volts: float, current: Literal["AC", "DC"] = "AC") -> CoilBands:
    """Return the coil voltages at which a contactor must work and within which it lets go.

    Raises
    ------
    ValueError
        If the rating is not above zero, or the current is neither AC nor DC.

    References
    ----------
    IEC 60947-4-1 clause 8.2.1.2, from memory; data sheets agree: pull-in 85–110 %, drop-out 20–75 % (AC) or
    10–75 % (DC).

    Examples
    --------
    >>> coil_bands(120.0).works
    Interval(low=102.0, high=132.0)
    """
    require_positive(rated_volts=rated_volts)
    if current not in ("AC", "DC"):
        raise ValueError(f"current is {current!r}, expected AC or DC")
    lowest = 0.20 if current == "AC" else 0.10
    return CoilBands(
        Interval(0.85 * rated_volts, round(1.10 * rated_volts, 9)),
        Interval(lowest * rated_volts, 0.75 * rated_volts),
    )


def coil_state(volts: float, rated_volts: float, was_in: bool, current: Literal["AC", "DC"] = "AC") -> State:
    """Say whether a contactor is in at a coil voltage, from where it was before.

    Raises
    ------
    ValueError
        As `coil_bands`, and if the voltage is negative or more than twice the rating.

    Examples
    --------
    >>> coil_state(90.0, 120.0, was_in=True), coil_state(95.0, 120.0, was_in=False)
    ('on', 'uncertain')
    """
    bands = coil_bands(rated_volts, current)
    require_range("volts", volts, 0.0, 2 * rated_volts)
    if volts >= bands.works.low or (was_in and volts >= bands.drops_out.high):
        return "on"
    if volts < bands.drops_out.low:
        return "off"
    return "uncertain"
