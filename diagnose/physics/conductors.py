"""Copper wires: size, resistance at temperature, what they lose, and what a short draws."""

from __future__ import annotations

import math

from diagnose.physics.number import Number, require_not_negative, require_positive, require_range

COPPER_RESISTIVITY_20C = 1.7241e-8
"""Resistivity of annealed copper at 20 °C, Ω·m. Source: NBS Handbook 100 (100 % IACS)."""

COPPER_COEFFICIENT_20C = 3.93e-3
"""Temperature coefficient of annealed copper's resistance at 20 °C, 1/K. Source: NBS Handbook 100."""

STRANDING_FACTOR = 1.02
"""What the lay of the strands adds to the resistance of a wire. Source: ASTM B8, from memory."""

METRES_PER_1000_FEET = 304.8

AWG_STRANDED_OHMS_PER_1000_FEET_75C: dict[int, float] = {
    18: 7.95, 16: 4.99, 14: 3.14, 12: 1.98, 10: 1.24, 8: 0.778, 6: 0.491, 4: 0.308,
}  # fmt: skip
"""Uncoated stranded copper at 75 °C, DC. Source: NEC chapter 9, table 8."""

AWG_SOLID_OHMS_PER_1000_FEET_75C: dict[int, float] = {
    18: 7.77, 16: 4.89, 14: 3.07, 12: 1.93, 10: 1.21, 8: 0.764,
}  # fmt: skip
"""Uncoated solid copper at 75 °C, DC. Source: NEC chapter 9, table 8."""

CLASS_5_OHMS_PER_KILOMETRE_20C: dict[float, float] = {
    0.5: 39.0, 0.75: 26.0, 1.0: 19.5, 1.5: 13.3, 2.5: 7.98, 4.0: 4.95, 6.0: 3.30, 10.0: 1.91, 16.0: 1.21,
    25.0: 0.780, 35.0: 0.554,
}  # fmt: skip
"""Plain copper, flexible (class 5), by mm². Source: IEC 60228 table 3; 0.5, 25 and 35 mm² from memory."""


def awg_diameter_metres(gauge: int) -> float:
    """Return the diameter of a solid wire of an American gauge.

    Parameters
    ----------
    gauge : int
        From -3 (4/0) over 0 (1/0) to 40.

    Raises
    ------
    ValueError
        If the gauge lies outside.

    References
    ----------
    ASTM B258: 0.127 mm · 92^((36 − n)/39).

    Examples
    --------
    >>> round(awg_diameter_metres(10) * 1000, 3)
    2.588
    """
    require_range("gauge", gauge, -3, 40)
    return float(0.127e-3 * 92 ** ((36 - gauge) / 39))


def awg_area_square_millimetres(gauge: int) -> float:
    """Return the cross-section of the copper of an American gauge (ASTM B258).

    Raises
    ------
    ValueError
        If the gauge lies outside -3 to 40.

    Examples
    --------
    >>> round(awg_area_square_millimetres(14), 3)
    2.081
    """
    return math.pi / 4 * (awg_diameter_metres(gauge) * 1000) ** 2


def copper_factor(temperature_celsius: Number, reference_celsius: float = 20.0) -> Number:
    """Return the resistance of copper at a temperature over that at a reference temperature.

    Parameters
    ----------
    temperature_celsius : float or array
        From -100 to 250 °C, where the straight line holds.
    reference_celsius : float
        Where the factor is 1.

    Raises
    ------
    ValueError
        If a temperature lies outside.

    References
    ----------
    NBS Handbook 100: R(t) = R20 · (1 + 3.93e-3 · (t − 20)).

    Examples
    --------
    >>> round(copper_factor(75.0), 4)
    1.2162
    """
    require_range("temperature_celsius", temperature_celsius, -100.0, 250.0)
    require_range("reference_celsius", reference_celsius, -100.0, 250.0)
    at_reference = 1.0 + COPPER_COEFFICIENT_20C * (reference_celsius - 20.0)
    return (1.0 + COPPER_COEFFICIENT_20C * (temperature_celsius - 20.0)) / at_reference


def copper_ohms_per_metre(area_square_millimetres: float, temperature_celsius: float = 20.0) -> float:
    """Return the resistance per metre of a solid copper conductor of a given cross-section.

    Raises
    ------
    ValueError
        If the area is not above zero, or the temperature lies outside -100 to 250 °C.

    References
    ----------
    Resistivity of NBS Handbook 100 over the area.

    Examples
    --------
    >>> round(copper_ohms_per_metre(2.5) * 1000, 2)
    6.9
    """
    require_positive(area_square_millimetres=area_square_millimetres)
    at_20 = COPPER_RESISTIVITY_20C / (area_square_millimetres * 1e-6)
    return at_20 * copper_factor(temperature_celsius)


def awg_ohms_per_metre(gauge: int, temperature_celsius: float = 20.0, *, stranded: bool = True) -> float:
    """Return the resistance per metre of a copper wire of an American gauge.

    Parameters
    ----------
    gauge : int
        From -3 (4/0) to 40.
    temperature_celsius : float
        Of the copper.
    stranded : bool
        Stranded, as in cords and panel wiring, or solid.

    Raises
    ------
    ValueError
        If the gauge or the temperature lies outside.

    Notes
    -----
    A gauge that the table lacks is computed from its area, stranded wire with 2 % more.

    References
    ----------
    NEC chapter 9 table 8 at 75 °C, with the temperature coefficient of NBS Handbook 100.

    Examples
    --------
    >>> round(awg_ohms_per_metre(10, 75.0) * 304.8, 3)
    1.24
    """
    table = AWG_STRANDED_OHMS_PER_1000_FEET_75C if stranded else AWG_SOLID_OHMS_PER_1000_FEET_75C
    if gauge in table:
        return table[gauge] / METRES_PER_1000_FEET * copper_factor(temperature_celsius, 75.0)
    solid = copper_ohms_per_metre(awg_area_square_millimetres(gauge), temperature_celsius)
    return solid * STRANDING_FACTOR if stranded else solid


def metric_ohms_per_metre(area_square_millimetres: float, temperature_celsius: float = 20.0) -> float:
    """Return the resistance per metre of a flexible (class 5) copper conductor.

    Raises
    ------
    ValueError
        If the size is not one of the standard's, or the temperature lies outside -100 to 250 °C.

    References
    ----------
    IEC 60228 table 3 at 20 °C: the most a conductor of this size may have.

    Examples
    --------
    >>> round(metric_ohms_per_metre(2.5), 6)
    0.00798
    """
    if area_square_millimetres not in CLASS_5_OHMS_PER_KILOMETRE_20C:
        sizes = ", ".join(f"{size:g}" for size in CLASS_5_OHMS_PER_KILOMETRE_20C)
        raise ValueError(f"area_square_millimetres is {area_square_millimetres}, expected one of {sizes}")
    return CLASS_5_OHMS_PER_KILOMETRE_20C[area_square_millimetres] / 1000 * copper_factor(temperature_celsius)


def flexible_ohms_per_metre(size: str, area_square_metres: float) -> float:
    """Return the resistance per metre at 20 °C of a wire by its size as written, '2.5 mm2' or '10 AWG', and its area.

    A metric wire of a size in IEC 60228 has the resistance given there for class 5; any other is plain copper.

    >>> round(1000 * flexible_ohms_per_metre("2.5 mm2", 2.5e-6), 2)  # ohms per kilometre
    7.98
    """
    millimetres = round(area_square_metres * 1e6, 6)
    if "mm" in size.lower() and millimetres in CLASS_5_OHMS_PER_KILOMETRE_20C:
        return metric_ohms_per_metre(millimetres)
    return copper_ohms_per_metre(millimetres)


def run_ohms(ohms_per_metre: float, length_metres: float, parallel: int = 1) -> float:
    """Return the resistance of one run of wire, or of several equal ones in parallel.

    Raises
    ------
    ValueError
        If a value is negative, or `parallel` is less than one.

    Examples
    --------
    >>> round(run_ohms(0.00798, 3.0), 5)
    0.02394
    """
    require_not_negative(ohms_per_metre=ohms_per_metre, length_metres=length_metres)
    require_range("parallel", parallel, 1, 100)
    return ohms_per_metre * length_metres / parallel


def drop_volts(amperes: float, ohms_per_metre: float, one_way_metres: float) -> float:
    """Return the voltage lost out and back along a two-wire cable.

    Raises
    ------
    ValueError
        If a value is negative.

    References
    ----------
    Ohm's law, twice the length.

    Examples
    --------
    >>> round(drop_volts(4.0, awg_ohms_per_metre(16, 75.0), 30.48), 2)
    3.99
    """
    require_not_negative(amperes=amperes)
    return 2 * amperes * run_ohms(ohms_per_metre, one_way_metres)


def fault_amperes(volts: float, source_ohms: complex, loop_ohms: float) -> float:
    """Return the current of a dead short at the end of a loop of wire.

    Parameters
    ----------
    volts : float
        Open-circuit voltage of the supply.
    source_ohms : complex
        Impedance of the supply up to where the loop begins.
    loop_ohms : float
        Resistance of the wire out and back.

    Raises
    ------
    ValueError
        If there is no impedance at all, or a value is negative.

    References
    ----------
    Ohm's law on the magnitude of the sum.

    Examples
    --------
    >>> round(fault_amperes(120.0, 0.04 + 0.02j, 0.06))
    1177
    """
    require_not_negative(volts=volts, source_resistance_ohms=complex(source_ohms).real, loop_ohms=loop_ohms)
    magnitude = abs(source_ohms + loop_ohms)
    require_positive(source_and_loop_ohms=magnitude)
    return volts / magnitude
