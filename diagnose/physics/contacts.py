"""Heat in contacts and joints, and when their temperature is a reason to act."""

from __future__ import annotations

from typing import Literal

from diagnose.physics.number import require_not_negative, require_positive

RECEPTACLE_RISE_KELVIN = 30.0
"""Allowed at the contacts of a receptacle. Source: UL 498, from memory."""

GLOWING_JOINT_WATTS: tuple[tuple[float, float], ...] = ((15.0, 35.0), (0.8, 5.0))
"""(amperes, up to watts) of a glowing joint. Source: NBSIR 76-1011, abstract."""

GLOWING_JOINT_CELSIUS = 400.0
"""Exceeded by a glowing joint, which trips neither breaker nor GFCI. Source: NBSIR 76-1011, abstract."""

Urgency = Literal["none", "watch", "mend soon", "mend now"]


def joint_watts(amperes: float, ohms: float) -> float:
    """Return the heat of a current in a joint: I²R.

    Raises
    ------
    ValueError
        If a value is negative.

    References
    ----------
    Ohm's law.

    Examples
    --------
    >>> round(joint_watts(23.0, 0.010), 2)
    5.29
    """
    require_not_negative(amperes=amperes, ohms=ohms)
    return amperes**2 * ohms


def joint_ohms(watts: float, amperes: float) -> float:
    """Return the resistance of a joint that a current heats with so much.

    Raises
    ------
    ValueError
        If the heat is negative, or the current is not above zero.

    References
    ----------
    Ohm's law.

    Examples
    --------
    >>> round(joint_ohms(35.0, 15.0), 3)
    0.156
    """
    require_not_negative(watts=watts)
    require_positive(amperes=amperes)
    return watts / amperes**2


def joint_ohms_from_drop(volts: float, amperes: float) -> float:
    """Return the resistance of a joint from the drop across it under load.

    Raises
    ------
    ValueError
        If the drop is negative, or the current is not above zero.

    References
    ----------
    Ohm's law.

    Examples
    --------
    >>> joint_ohms_from_drop(0.2, 20.0)
    0.01
    """
    require_not_negative(volts=volts)
    require_positive(amperes=amperes)
    return volts / amperes


def urgency_of_rise(rise_kelvin: float) -> Urgency:
    """Say how urgent it is that a part is warmer than its like under like load.

    Parameters
    ----------
    rise_kelvin : float
        Above the like part; a part that is colder asks for nothing.

    Raises
    ------
    ValueError
        If the rise is not a number.

    Notes
    -----
    The standard's classes leave gaps (1–3, 4–15, over 15 K); from 3 to 4 K counts as the lower class.

    References
    ----------
    NETA MTS.

    Examples
    --------
    >>> urgency_of_rise(2.0), urgency_of_rise(10.0), urgency_of_rise(16.0)
    ('watch', 'mend soon', 'mend now')
    """
    if rise_kelvin != rise_kelvin:
        raise ValueError("rise_kelvin is nan, expected a number")
    if rise_kelvin > 15.0:
        return "mend now"
    if rise_kelvin >= 4.0:
        return "mend soon"
    return "watch" if rise_kelvin >= 1.0 else "none"


def rise_at_load_kelvin(rise_kelvin: float, at_amperes: float, full_amperes: float) -> float:
    """Return the rise that a joint would have at full load, from the one measured at part load.

    Raises
    ------
    ValueError
        If the rise is negative, or a current is not above zero.

    References
    ----------
    Heat goes with the square of the current; the loss of heat is taken as in proportion to the rise.

    Examples
    --------
    >>> rise_at_load_kelvin(5.0, 10.0, 20.0)
    20.0
    """
    require_not_negative(rise_kelvin=rise_kelvin)
    require_positive(at_amperes=at_amperes, full_amperes=full_amperes)
    return rise_kelvin * (full_amperes / at_amperes) ** 2
