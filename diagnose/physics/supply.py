"""What the mains should deliver, and what a lost conductor makes of it."""

from __future__ import annotations

from typing import NamedTuple

from diagnose.physics.number import Interval, require_not_negative, require_positive


class SupplyRange(NamedTuple):
    """The voltages that a source allows at one nominal voltage."""

    nominal_volts: float
    volts: Interval
    source: str


ANSI_A = "ANSI C84.1 range A"
ANSI_B = "ANSI C84.1 range B, from memory"

SERVICE_RANGES: tuple[SupplyRange, ...] = (
    SupplyRange(120.0, Interval(114.0, 126.0), ANSI_A),
    SupplyRange(240.0, Interval(228.0, 252.0), ANSI_A),
    SupplyRange(230.0, Interval(207.0, 253.0), "IEC 60038"),
    SupplyRange(400.0, Interval(360.0, 440.0), "IEC 60038, from memory"),
)
"""At the service, where the utility hands over."""

UNUSUAL_SERVICE_RANGES: tuple[SupplyRange, ...] = (
    SupplyRange(120.0, Interval(110.0, 127.0), ANSI_B),
    SupplyRange(240.0, Interval(220.0, 254.0), ANSI_B),
)
"""At the service, now and then; to be corrected by the utility."""

UTILIZATION_RANGES: tuple[SupplyRange, ...] = (
    SupplyRange(120.0, Interval(108.0, 126.0), "ANSI C84.1 range A utilization, from memory"),
    SupplyRange(240.0, Interval(216.0, 252.0), "ANSI C84.1 range A utilization, from memory"),
)
"""At the load, with the drop of the house wiring."""

UNUSUAL_UTILIZATION_RANGES: tuple[SupplyRange, ...] = (
    SupplyRange(120.0, Interval(104.0, 127.0), "ANSI C84.1 range B utilization, from memory"),
    SupplyRange(240.0, Interval(208.0, 254.0), "ANSI C84.1 range B utilization, from memory"),
)
"""At the load, now and then."""


def supply_range(nominal_volts: float, ranges: tuple[SupplyRange, ...] = SERVICE_RANGES) -> SupplyRange:
    """Return the range for a nominal voltage.

    Parameters
    ----------
    nominal_volts : float
        One of those in `ranges`.
    ranges : tuple of SupplyRange
        One of this module's tables.

    Raises
    ------
    ValueError
        If the table has no such nominal voltage.

    Examples
    --------
    >>> supply_range(240.0).volts
    Interval(low=228.0, high=252.0)
    """
    for known in ranges:
        if known.nominal_volts == nominal_volts:
            return known
    expected = ", ".join(f"{known.nominal_volts:g}" for known in ranges)
    raise ValueError(f"no supply range for {nominal_volts:g} V, expected one of {expected}")


def lost_neutral_volts(line_to_line_volts: float, first_ohms: float, second_ohms: float) -> Interval:
    """Return how two loads in series divide the full voltage when their common neutral is open.

    Returns
    -------
    Interval
        The lower and the higher of the two voltages; the higher is on the load with more ohms.

    Raises
    ------
    ValueError
        If a value is not above zero.

    References
    ----------
    Voltage divider.

    Examples
    --------
    >>> lost_neutral_volts(240.0, 100.0, 300.0)
    Interval(low=60.0, high=180.0)
    """
    require_positive(line_to_line_volts=line_to_line_volts, first_ohms=first_ohms, second_ohms=second_ohms)
    first = line_to_line_volts * first_ohms / (first_ohms + second_ohms)
    other = line_to_line_volts - first
    return Interval(min(first, other), max(first, other))


def sagged_volts(open_volts: float, amperes: float, source_ohms: float) -> float:
    """Return the voltage left at a load of a given current behind a resistive source.

    Raises
    ------
    ValueError
        If a value is negative.

    References
    ----------
    Ohm's law.

    Examples
    --------
    >>> sagged_volts(240.0, 20.0, 0.1)
    238.0
    """
    require_not_negative(open_volts=open_volts, amperes=amperes, source_ohms=source_ohms)
    return max(0.0, open_volts - amperes * source_ohms)
