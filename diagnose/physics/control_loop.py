"""A kettle under a temperature controller: dead time, swing and period, and the settings that follow from them."""

from __future__ import annotations

import math

from diagnose.physics.number import require_not_negative, require_positive


def overshoot_kelvin(slope_kelvin_per_minute: float, dead_minutes: float) -> float:
    """How far a temperature rises after the heat was switched off: the slope goes on for the dead time.

    Raises
    ------
    ValueError
        If a value is negative.

    References
    ----------
    Integrating process with dead time; any textbook of process control.

    Examples
    --------
    >>> overshoot_kelvin(2.0, 1.5)
    3.0
    """
    require_not_negative(slope_kelvin_per_minute=slope_kelvin_per_minute, dead_minutes=dead_minutes)
    return slope_kelvin_per_minute * dead_minutes


def on_off_swing(
    rise_kelvin_per_minute: float, fall_kelvin_per_minute: float, dead_minutes: float, band_kelvin: float = 0.0
) -> tuple[float, float]:
    """Peak to peak, K, and period, minutes, of on-off control of an integrating process with dead time.

    Parameters
    ----------
    rise_kelvin_per_minute, fall_kelvin_per_minute : float
        Slopes with the heat on and off, both above zero.
    dead_minutes : float
        From switching to the turn of the temperature.
    band_kelvin : float
        Between switching on and off.

    Raises
    ------
    ValueError
        If a slope is not above zero or another value is negative.

    References
    ----------
    Geometry of the sawtooth: beyond each end of the band the slope goes on for the dead time.

    Examples
    --------
    >>> on_off_swing(2.0, 0.2, 1.0)
    (2.2, 12.1)
    """
    require_positive(rise=rise_kelvin_per_minute, fall=fall_kelvin_per_minute)
    require_not_negative(dead_minutes=dead_minutes, band_kelvin=band_kelvin)
    swing = band_kelvin + (rise_kelvin_per_minute + fall_kelvin_per_minute) * dead_minutes
    return swing, swing / rise_kelvin_per_minute + swing / fall_kelvin_per_minute


def relay_ultimate_gain(swing_kelvin: float, output_share: float = 1.0, band_kelvin: float = 0.0) -> float:
    """The gain at which a loop would swing by itself, as share of full output for each kelvin.

    Parameters
    ----------
    swing_kelvin : float
        Peak to peak under on-off control.
    output_share : float
        Between off and on, as share of full output.
    band_kelvin : float
        Between switching on and off, less than the swing.

    Raises
    ------
    ValueError
        If the swing or the share is not above zero, or the band is as wide as the swing.

    References
    ----------
    Astrom and Hagglund 1984, Automatica 20, 645: Ku = 4 d / (pi a), with hysteresis sqrt(a² - e²) for a; d, a, e are
    half of what is given here. From memory.

    Examples
    --------
    >>> round(relay_ultimate_gain(2.0), 3)
    0.637
    """
    require_positive(swing_kelvin=swing_kelvin, output_share=output_share)
    require_not_negative(band_kelvin=band_kelvin)
    if band_kelvin >= swing_kelvin:
        raise ValueError(f"band_kelvin is {band_kelvin}, expected less than the swing of {swing_kelvin}")
    return 4 * output_share / (math.pi * math.sqrt(swing_kelvin**2 - band_kelvin**2))


def ultimate_cycle_settings(ultimate_gain: float, ultimate_minutes: float) -> tuple[float, float, float]:
    """Gain, integral time and derivative time of a three-term controller from a swing.

    Raises
    ------
    ValueError
        If a value is not above zero.

    References
    ----------
    Ziegler and Nichols 1942, Trans. ASME 64, 759: 0.6 Ku, Pu / 2, Pu / 8. From memory.

    Examples
    --------
    >>> [round(each, 4) for each in ultimate_cycle_settings(30.0, 2.8)]
    [18.0, 1.4, 0.35]
    """
    require_positive(ultimate_gain=ultimate_gain, ultimate_minutes=ultimate_minutes)
    return 0.6 * ultimate_gain, ultimate_minutes / 2, ultimate_minutes / 8


def reaction_curve_settings(slope_kelvin_per_minute: float, dead_minutes: float) -> tuple[float, float, float]:
    """Gain (share of output for each kelvin), integral and derivative time from the rise at full output.

    Raises
    ------
    ValueError
        If a value is not above zero.

    References
    ----------
    Ziegler and Nichols 1942: 1.2 / (R L), 2 L, L / 2. From memory.

    Examples
    --------
    >>> [round(each, 3) for each in reaction_curve_settings(2.0, 1.5)]
    [0.4, 3.0, 0.75]
    """
    require_positive(slope_kelvin_per_minute=slope_kelvin_per_minute, dead_minutes=dead_minutes)
    return 1.2 / (slope_kelvin_per_minute * dead_minutes), 2 * dead_minutes, dead_minutes / 2
