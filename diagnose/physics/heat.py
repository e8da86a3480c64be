"""How warm an enclosure gets inside, with its fan and without: a rough model."""

from __future__ import annotations

from typing import Literal

from diagnose.physics.number import Interval, require_not_negative, require_positive

SURFACE_WATTS_PER_SQUARE_METRE_KELVIN: dict[str, Interval] = {
    "steel": Interval(4.5, 6.5),
    "aluminium": Interval(4.5, 12.0),
    "plastic": Interval(3.0, 4.5),
}
"""From the air inside to the air around, through a closed wall. Source: trade data, from memory."""

AIR_JOULES_PER_CUBIC_METRE_KELVIN = Interval(1098.0, 1210.0)
"""Heat that air carries, 50 to 20 °C at sea level: density times 1005 J/(kg K). Source: ideal gas law."""

Material = Literal["steel", "aluminium", "plastic"]


def free_area_square_metres(
    width_metres: float, height_metres: float, depth_metres: float, *, on_wall: bool = True
) -> float:
    """Return the surface of a box that gives off heat: without its bottom, and without its back on a wall.

    Raises
    ------
    ValueError
        If a side is not above zero.

    References
    ----------
    Geometry; that bottom and back do not count is common practice.

    Examples
    --------
    >>> round(free_area_square_metres(0.4, 0.5, 0.2), 2)
    0.48
    """
    require_positive(width_metres=width_metres, height_metres=height_metres, depth_metres=depth_metres)
    front = width_metres * height_metres
    sides_and_top = depth_metres * (2 * height_metres + width_metres)
    return front * (1 if on_wall else 2) + sides_and_top


def enclosure_rise_kelvin(
    watts: Interval,
    area_square_metres: float,
    material: Material = "steel",
    flow_cubic_metres_per_hour: float = 0.0,
) -> Interval:
    """Return how much warmer than around it is inside an enclosure, in the end and on average.

    Parameters
    ----------
    watts : Interval
        Heat of all that is inside.
    area_square_metres : float
        From `free_area_square_metres`.
    material : str
        "steel", "aluminium" or "plastic".
    flow_cubic_metres_per_hour : float
        Air that a fan really moves through its filters; 0 with none, or with a dead one.

    Raises
    ------
    ValueError
        If the heat or the flow is negative, the area is not above zero, or the material is unknown.

    Notes
    -----
    Rough: the air near the top and near a heat sink is warmer than this average.

    References
    ----------
    Heat over conductance, the walls' (trade data, from memory) and the moved air's added.

    Examples
    --------
    >>> dead = enclosure_rise_kelvin(Interval(60.0, 60.0), 0.48)
    >>> fan = enclosure_rise_kelvin(Interval(60.0, 60.0), 0.48, flow_cubic_metres_per_hour=50.0)
    >>> round(dead.low), round(dead.high), round(fan.high)
    (19, 28, 3)
    """
    require_not_negative(watts=watts.low, flow_cubic_metres_per_hour=flow_cubic_metres_per_hour)
    require_positive(area_square_metres=area_square_metres)
    if material not in SURFACE_WATTS_PER_SQUARE_METRE_KELVIN:
        expected = ", ".join(SURFACE_WATTS_PER_SQUARE_METRE_KELVIN)
        raise ValueError(f"material is {material!r}, expected one of {expected}")
    walls = SURFACE_WATTS_PER_SQUARE_METRE_KELVIN[material].scaled(area_square_metres)
    air = AIR_JOULES_PER_CUBIC_METRE_KELVIN.scaled(flow_cubic_metres_per_hour / 3600)
    return Interval(watts.low / (walls.high + air.high), watts.high / (walls.low + air.low))


def inside_celsius(ambient_celsius: Interval, rise_kelvin: Interval) -> Interval:
    """Return the air temperature inside from that around and the rise.

    Examples
    --------
    >>> inside_celsius(Interval(20.0, 25.0), Interval(10.0, 15.0))
    Interval(low=30.0, high=40.0)
    """
    return Interval(ambient_celsius.low + rise_kelvin.low, ambient_celsius.high + rise_kelvin.high)
