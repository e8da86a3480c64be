"""What copper wires may carry, and the largest breaker or fuse in front of them."""

from __future__ import annotations

from diagnose.physics.number import require_positive

AMPACITY_AMPERES: dict[int, dict[int, float]] = {
    14: {60: 15.0, 75: 20.0, 90: 25.0},
    12: {60: 20.0, 75: 25.0, 90: 30.0},
    10: {60: 30.0, 75: 35.0, 90: 40.0},
    8: {60: 40.0, 75: 50.0, 90: 55.0},
    6: {60: 55.0, 75: 65.0, 90: 75.0},
    4: {60: 70.0, 75: 85.0, 90: 95.0},  # from memory
}
"""By gauge and insulation temperature, not more than three loaded wires, 30 °C around.

Source: NEC table 310.16 (2023). Older editions give 20 A for 14 AWG at 60 °C.
"""

OVERCURRENT_LIMIT_AMPERES: dict[int, float] = {18: 7.0, 16: 10.0, 14: 15.0, 12: 20.0, 10: 30.0}
"""The largest breaker or fuse on a small wire. Source: NEC 240.4(D); 18 and 16 AWG from memory."""

CORD_LIMIT_AMPERES: dict[float, float] = {
    0.75: 6.0, 1.0: 10.0, 1.5: 16.0, 2.5: 25.0, 4.0: 32.0, 6.0: 40.0, 10.0: 63.0,
}  # fmt: skip
"""The largest rated current of an appliance on a cord of so many mm².

Source: IEC 60335-1 table 11, without its relief for cords up to 2 m; from memory.
"""


def ampacity_amperes(gauge: int, insulation_celsius: int = 75) -> float:
    """Return what a copper wire of a gauge may carry all day.

    Parameters
    ----------
    gauge : int
        An even gauge from 14 to 4.
    insulation_celsius : int
        60, 75 or 90: the lower of the insulation's and the terminals' rating.

    Raises
    ------
    ValueError
        If the table lacks the gauge or the temperature.

    References
    ----------
    NEC table 310.16 (2023).

    Examples
    --------
    >>> ampacity_amperes(10, 60)
    30.0
    """
    try:
        return AMPACITY_AMPERES[gauge][insulation_celsius]
    except KeyError:
        found = f"no ampacity for {gauge} AWG at {insulation_celsius} °C"
        raise ValueError(f"{found}, expected 14, 12, 10, 8, 6 or 4 AWG at 60, 75 or 90 °C") from None


def wire_is_protected(gauge: int, breaker_amperes: float, insulation_celsius: int = 75) -> bool:
    """Say whether a breaker is small enough for a wire.

    A wire heavier than its breaker asks for is always fine.

    Raises
    ------
    ValueError
        If the gauge is none of 18, 16, 14, 12, 10, 8, 6 and 4.

    References
    ----------
    NEC 240.4(D) up to 10 AWG, the ampacity of table 310.16 from 8 AWG.

    Examples
    --------
    >>> wire_is_protected(10, 30.0), wire_is_protected(12, 30.0), wire_is_protected(8, 50.0)
    (True, False, True)
    """
    require_positive(breaker_amperes=breaker_amperes)
    if gauge in OVERCURRENT_LIMIT_AMPERES:
        return breaker_amperes <= OVERCURRENT_LIMIT_AMPERES[gauge]
    return breaker_amperes <= ampacity_amperes(gauge, insulation_celsius)
