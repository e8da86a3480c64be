"""A kettle as a calorimeter: what it takes up, what it loses, and which power a rise or a boil-off proves."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from diagnose.physics.heating import (
    ALUMINIUM_SPECIFIC_HEAT,
    COPPER_SPECIFIC_HEAT,
    STEEL_SPECIFIC_HEAT,
    boil_off_watts,
    proved_watts,
    vessel_joules,
)
from diagnose.physics.number import Interval, require_not_negative, require_positive, require_range
from diagnose.physics.water import boiling_celsius_at_altitude, saturation_pascals, water_density

METALS: Mapping[str, float] = MappingProxyType(
    {"steel": STEEL_SPECIFIC_HEAT, "aluminium": ALUMINIUM_SPECIFIC_HEAT, "copper": COPPER_SPECIFIC_HEAT}
)
"""What kettles are made of, with its specific heat in J/(kg K)."""

ROOM_CELSIUS = Interval(10.0, 25.0)
"""Air around a brewing kettle: common practice."""

# From a wall to still air by convection and radiation, W/(m² K): common practice for bare steel and for a jacket.
BARE_WALL, JACKETED_WALL = Interval(8.0, 14.0), Interval(1.5, 4.0)
# What an open surface evaporates, as a share of what the formula for pools in still air gives: it is known to be
# up to twice too much for a quiet surface, and stirring adds: common practice.
OPEN_SHARE = Interval(0.5, 1.5)
# What of that gets out under a lid that lies loosely: common practice.
LID_SHARE = Interval(0.02, 0.25)
EVAPORATION_WATTS_PER_SQUARE_METRE_PASCAL = 0.089
"""Into still air. Source: Carrier's pool formula, 0.089 kW/m² for each kPa of vapour pressure, from memory."""
AIR_HUMIDITY = 0.5

USUAL_KILOGRAMS_PER_LITRE = Interval(0.08, 0.25)
"""A steel kettle with its element, for each litre in it: 5 to 12 kg for 50 L. Source: common practice."""
USUAL_LITRES = Interval(15.0, 80.0)
"""Home brewing kettles: common practice."""

# How well a brewer measures: kettle marks within 4 %, but not better than 0.3 L; each of two readings of one
# thermometer in stirred water within 0.5 °C; a watch within a quarter of a minute; each of two hot readings of a mark
# within a quarter of a litre. Common practice.
VOLUME_SHARE, VOLUME_LITRES = 0.04, 0.3
THERMOMETER_KELVIN = 0.5
WATCH_MINUTES = 0.25
MARK_LITRES = 0.25
STEPS = 40


@dataclass(frozen=True, slots=True)
class Kettle:
    """What is known of a kettle; `litres` is what it holds.

    `loss_watts`, where given, stands for all of its losses at any temperature instead of what is worked out.
    """

    litres: float
    kilograms: Interval
    specific_heat: float = STEEL_SPECIFIC_HEAT
    lid: bool = True
    insulated: bool = False
    altitude_metres: float = 0.0
    loss_watts: Interval | None = None
    surface_square_metres: float | None = None  # of what heats in it


@dataclass(frozen=True, slots=True)
class Measured:
    """A power as measured, with the interval that its own uncertainties give it; watts."""

    watts: float
    low: float
    high: float


def usual_kettle(litres: float) -> Kettle:
    """A kettle that nothing is known of but what is in it: steel, a lid on, no jacket.

    Raises ValueError if the volume is not above zero.

    >>> [round(end) for end in usual_kettle(50.0).kilograms]
    [4, 12]
    """
    require_positive(litres=litres)
    share = USUAL_KILOGRAMS_PER_LITRE
    return Kettle(litres, Interval(share.low * litres, share.high * litres))


def diameter_metres(litres: float) -> float:
    """The diameter of a cylinder as high as wide that holds so much.

    Raises ValueError if the volume is not above zero.

    >>> round(diameter_metres(50.0), 2)
    0.4
    """
    require_positive(litres=litres)
    return float((4 * litres / 1000 / math.pi) ** (1 / 3))


def dry_loss_watts(kettle: Kettle, litres: float, celsius: float, room: Interval = ROOM_CELSIUS) -> Interval:
    """What the walls and the bottom lose to the air, W.

    Parameters
    ----------
    litres, celsius : float
        What is in the kettle, and how warm it is.
    room : Interval
        Air around it, °C.

    Raises
    ------
    ValueError
        If a volume is not above zero.

    References
    ----------
    Surface times coefficient times difference; coefficients from common practice.

    Examples
    --------
    >>> [round(end, -1) for end in dry_loss_watts(usual_kettle(50.0), 50.0, 66.0)]
    [210.0, 490.0]
    """
    if kettle.loss_watts is not None:
        return kettle.loss_watts
    across = diameter_metres(max(kettle.litres, litres))
    height = litres / 1000 / (math.pi / 4 * across**2)
    area = math.pi * across * height + math.pi / 4 * across**2
    wall = JACKETED_WALL if kettle.insulated else BARE_WALL
    low, high = max(celsius - room.high, 0.0), max(celsius - room.low, 0.0)
    return Interval(wall.low * area * low, wall.high * area * high)


def loss_watts(kettle: Kettle, litres: float, celsius: float, room: Interval = ROOM_CELSIUS) -> Interval:
    """What a kettle loses below its boil, W: walls, and the surface that is open or under a lid.

    Raises
    ------
    ValueError
        If a volume is not above zero, or the temperature is outside 0 to 100 °C.

    References
    ----------
    Walls as `dry_loss_watts`; the surface by Carrier's pool formula, from memory.

    Examples
    --------
    >>> kettle = usual_kettle(50.0)
    >>> [round(end, -1) for end in loss_watts(kettle, 50.0, 66.0)]
    [250.0, 660.0]
    """
    if kettle.loss_watts is not None:
        return kettle.loss_watts
    require_range("celsius", celsius, 0.0, 100.0)
    dry = dry_loss_watts(kettle, litres, celsius, room)
    surface = math.pi / 4 * diameter_metres(max(kettle.litres, litres)) ** 2
    share = LID_SHARE if kettle.lid else OPEN_SHARE
    ends = []
    for end, wall, air, escaping in (
        (dry.low, BARE_WALL.low, room.high, share.low),
        (dry.high, BARE_WALL.high, room.low, share.high),
    ):
        vapour = max(saturation_pascals(celsius) - AIR_HUMIDITY * saturation_pascals(air), 0.0)
        steam = EVAPORATION_WATTS_PER_SQUARE_METRE_PASCAL * escaping * vapour
        ends.append(end + surface * (wall * max(celsius - air, 0.0) + steam))
    return Interval(ends[0], ends[1])


def measured_rise(
    kettle: Kettle, litres: float, from_celsius: float, to_celsius: float, minutes: float, *, plato: float = 0.0
) -> Measured:
    """The power that an element must have given for a rise that a brewer measured.

    The interval is that of the measuring: volume, two temperatures and time, each by itself, so as a root sum square;
    what the kettle weighs and what it loses is added to it.

    Parameters
    ----------
    litres : float
        Of water or wort, at the first temperature.
    from_celsius, to_celsius : float
        °C, below the boil.
    minutes : float
        How long it took.
    plato : float
        Extract of the wort in per cent; 0 for water.

    Raises
    ------
    ValueError
        If a value lies outside its range.

    Examples
    --------
    >>> found = measured_rise(usual_kettle(40.0), 40.0, 20.0, 31.0, 15.0)
    >>> round(found.watts, -1), round(found.low, -1), round(found.high, -1)
    (2160.0, 1900.0, 2410.0)
    """
    require_positive(litres=litres, minutes=minutes)
    rise = to_celsius - from_celsius
    seconds = 60 * minutes

    def watts(kilograms: float, loss: float) -> float:
        joules = vessel_joules(
            litres, from_celsius, to_celsius,
            vessel_kilograms=kilograms, vessel_specific_heat=kettle.specific_heat, plato=plato,
        )  # fmt: skip
        if joules <= 0:
            return max(joules / seconds + loss, 0.0)
        return proved_watts(joules, Interval(seconds, seconds), Interval(loss, loss)).low

    losses = [loss_watts(kettle, litres, from_celsius + share * rise) for share in (0.0, 0.5, 1.0)]
    low = (losses[0].low + 4 * losses[1].low + losses[2].low) / 6
    high = (losses[0].high + 4 * losses[1].high + losses[2].high) / 6
    middle = watts(sum(kettle.kilograms) / 2, (low + high) / 2)
    bare = watts(sum(kettle.kilograms) / 2, 0.0)
    volume = max(VOLUME_SHARE, VOLUME_LITRES / litres) * bare
    clock = WATCH_MINUTES / minutes * bare
    per_kelvin = vessel_joules(
        litres, 20.0, 21.0, vessel_kilograms=kettle.kilograms.high, vessel_specific_heat=kettle.specific_heat
    )
    degrees = math.sqrt(2) * THERMOMETER_KELVIN * per_kelvin / seconds
    spread = math.sqrt(volume**2 + clock**2 + degrees**2)
    return Measured(
        middle,
        max(watts(kettle.kilograms.low, low) - spread, 0.0),
        watts(kettle.kilograms.high, high) + spread,
    )


def measured_boil_off(kettle: Kettle | None, litres_lost: float, minutes: float) -> Measured:
    """The power that an element must have given for what boiled off an open kettle.

    Parameters
    ----------
    kettle : Kettle or None
        Its walls lose heat beside the steam; where nothing is known of it, those of any usual size.
    litres_lost : float
        By two readings of the volume at the boil.
    minutes : float
        Between the two.

    Raises
    ------
    ValueError
        If the volume is negative or the time is not above zero.

    Examples
    --------
    >>> found = measured_boil_off(usual_kettle(40.0), 4.0, 60.0)
    >>> round(found.watts, -2), found.low < 2700 < found.high
    (2900.0, True)
    """
    require_not_negative(litres_lost=litres_lost)
    require_positive(minutes=minutes)
    boiling = boiling_celsius_at_altitude(kettle.altitude_metres if kettle else 0.0)
    kettles = [kettle] if kettle else [usual_kettle(size) for size in USUAL_LITRES]
    losses = [dry_loss_watts(each, each.litres, boiling) for each in kettles]
    loss = Interval(min(each.low for each in losses), max(each.high for each in losses))
    steam = boil_off_watts(litres_lost * 60 / minutes, boiling)
    marks = boil_off_watts(math.sqrt(2) * MARK_LITRES * 60 / minutes, boiling)
    spread = math.hypot(marks, WATCH_MINUTES / minutes * steam)
    return Measured(
        steam + sum(loss) / 2, max(steam - spread, 0.0) + loss.low, steam + spread + loss.high
    )  # fmt: skip


def minutes_to_heat(
    kettle: Kettle, litres: float, from_celsius: float, to_celsius: float, watts: Interval, *, plato: float = 0.0
) -> Interval:
    """How long a power takes from one temperature to another, minutes; inf where the losses eat it up on the way.

    Raises
    ------
    ValueError
        If a value lies outside its range, or the second temperature is below the first.

    Examples
    --------
    >>> found = minutes_to_heat(usual_kettle(40.0), 40.0, 20.0, 66.0, Interval(5300.0, 5500.0))
    >>> [round(end) for end in found]
    [24, 27]
    """
    require_positive(litres=litres)
    require_range("to_celsius", to_celsius, from_celsius, 100.0)
    ends = []
    for power, side in ((watts.high, 0), (watts.low, 1)):
        total, step = 0.0, (to_celsius - from_celsius) / STEPS
        for number in range(STEPS if step > 0 else 0):
            start = from_celsius + number * step
            swollen = litres * water_density(from_celsius) / water_density(start)
            joules = vessel_joules(
                swollen, start, min(start + step, 100.0),
                vessel_kilograms=kettle.kilograms[side], vessel_specific_heat=kettle.specific_heat, plato=plato,
            )  # fmt: skip
            net = power - loss_watts(kettle, litres, start + step / 2)[side]
            total += joules / net if net > 0 else math.inf
        ends.append(total / 60)
    return Interval(ends[0], ends[1])


def boil_off_litres_per_hour(kettle: Kettle, litres: float, watts: Interval) -> Interval:
    """How much an open kettle boils off under a power, L/h; 0 where it does not hold a boil.

    Raises ValueError if a volume is not above zero.

    >>> found = boil_off_litres_per_hour(usual_kettle(40.0), 40.0, Interval(2900.0, 2900.0))
    >>> [round(end, 1) for end in found]
    [3.7, 4.3]
    """
    boiling = boiling_celsius_at_altitude(kettle.altitude_metres)
    dry = dry_loss_watts(kettle, litres, boiling)
    per_litre = boil_off_watts(1.0, boiling)
    return Interval(max(watts.low - dry.high, 0.0) / per_litre, max(watts.high - dry.low, 0.0) / per_litre)


def highest_celsius(kettle: Kettle, litres: float, watts: float, *, pessimistic: bool = True) -> float:
    """The temperature that a power can hold, °C; at most that of the boil.

    Raises ValueError if a volume is not above zero or the power is negative.

    >>> round(highest_celsius(usual_kettle(40.0), 40.0, 400.0))
    51
    """
    require_not_negative(watts=watts)
    boiling = boiling_celsius_at_altitude(kettle.altitude_metres)
    low, high = ROOM_CELSIUS.low, boiling
    for _ in range(STEPS):
        middle = (low + high) / 2
        if loss_watts(kettle, litres, middle)[1 if pessimistic else 0] <= watts:
            low = middle
        else:
            high = middle
    return low
