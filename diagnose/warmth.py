"""How warm the surfaces of a panel get: the heat of each branch, the box around it, what is felt and what is read."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from diagnose.circuit.netlist import FloatArray
from diagnose.circuit.settle import Settled
from diagnose.knowledge.records import Surface
from diagnose.panel.records import Panel, part_of
from diagnose.physics.heat import enclosure_rise_kelvin, free_area_square_metres
from diagnose.physics.number import Interval
from diagnose.physics.warmth import (
    OPENED_MINUTES,
    ROOM_CELSIUS,
    SWITCHED_OFF_MINUTES,
    cooled_share,
    heated_share,
    surface_celsius,
)

LOAD_MINUTES = 10.0  # on load before a surface is felt or read
BOX_METRES = (0.4, 0.5, 0.2)  # of a panel that says nothing of its box: common practice
BOX_MATERIAL = "steel"
BOX_MINUTES = (10.0, 30.0)  # time constant of the air and the metal of a box: common practice
FAN_RUNS = 0.6  # a fan with less than this share of its voltage moves no air: as its sign is graded
BOX_WATTS = "watts in the box"
HOTTEST_CELSIUS = 500.0  # what an infrared thermometer shows at most; a joint beyond it has burnt
IN_THE_BOX = ("heater", "pump", "connector", "feed", "service", "probe", "wire")  # roles that are not


@dataclass(frozen=True, eq=False, slots=True)
class Warmth:
    """Degrees Celsius, or kelvin above a sound twin: (H,) the least, the likeliest and the most."""

    low: FloatArray
    middle: FloatArray
    high: FloatArray


def surface_of(panel: Panel, part: str, surface: str) -> Surface:
    """The surface of a part or wire. Raises KeyError if it has no such surface."""
    return panel.kind_of(part).surfaces[surface]


def surface_warmth(settled: Settled, part: str, surface: str, *, off: bool = False, opened: bool = False) -> Warmth:
    """Degrees Celsius of a surface after ten minutes on load; cooled since where it is `off`, and more if `opened`."""
    ends = _ends(settled, part, surface, off, opened)
    return Warmth(*(np.minimum(end(False), HOTTEST_CELSIUS) for end in ends))


def excess_kelvin(settled: Settled, part: str, surface: str, *, off: bool = False, opened: bool = False) -> Warmth:
    """Kelvin that a surface is above a sound one of its kind in the same place with the same current."""
    one, two, three = (end(False) - end(True) for end in _ends(settled, part, surface, off, opened))
    return Warmth(np.minimum(one, three), two, np.maximum(one, three))


def _ends(
    settled: Settled, part: str, surface: str, off: bool, opened: bool
) -> tuple[Callable[[bool], FloatArray], ...]:
    """The least, likeliest and most warmth, each as a function of whether all is taken for sound."""
    waited = (OPENED_MINUTES if opened else SWITCHED_OFF_MINUTES) if off else Interval(0.0, 0.0)

    def end(side: int) -> Callable[[bool], FloatArray]:
        room = (ROOM_CELSIUS.low, sum(ROOM_CELSIUS) / 2, ROOM_CELSIUS.high)[side + 1]
        chain = _Chain(settled, part, side, waited)
        return lambda sound: room + chain.rise(surface, sound)

    return end(-1), end(0), end(1)


@dataclass(frozen=True, slots=True)
class _Chain:
    """The surfaces of one part at the least (-1), the likeliest (0) or the most (1) of everything uncertain."""

    settled: Settled
    part: str
    side: int
    waited: Interval

    def rise(self, surface: str, sound: bool) -> FloatArray:
        """(H,) kelvin above the room."""
        of = surface_of(self.settled.netlist.panel, self.part, surface)
        if of.base == "room" or (of.base == "inside" and not self._in_box()):
            base: FloatArray = np.zeros(len(self.settled.rows))
        elif of.base == "inside":
            base = self._inside(sound) * self._lasting(BOX_MINUTES)
        else:
            base = self.rise(of.base, sound) * self._between(*of.share)
        ratings = self.settled.netlist.panel.parts[self.part].ratings if self._is_part() else {}
        own = of.kelvin_per_watt.value(ratings) * self._between(of.low, of.high)
        scale = 1.0 if sound else _scaled(self.settled, self.part, surface)
        watts = self._watts(of, sound) * self._lasting(of.minutes)
        return base + surface_celsius(np.zeros(len(watts)), watts * scale, own)

    def _is_part(self) -> bool:
        return self.part in self.settled.netlist.panel.parts

    def _in_box(self) -> bool:
        return in_the_box(self.settled.netlist.panel, self.part)

    def _between(self, low: float, high: float) -> float:
        return (low, (low + high) / 2, high)[self.side + 1]

    def _lasting(self, minutes: tuple[float, float]) -> float:
        """The share of its final rise that a body has: heated for ten minutes or longer, and cooled since."""
        slow, middle, quick = minutes[1], sum(minutes) / 2, minutes[0]
        heated = (heated_share(LOAD_MINUTES, slow), heated_share(LOAD_MINUTES, middle), 1.0)[self.side + 1]
        cooled = (
            cooled_share(self.waited.high, quick),
            cooled_share(sum(self.waited) / 2, middle),
            cooled_share(self.waited.low, slow),
        )[self.side + 1]
        return heated * cooled

    def _watts(self, of: Surface, sound: bool) -> FloatArray:
        netlist = self.settled.netlist
        watts = np.zeros(len(self.settled.rows))
        for name in of.of:
            for number in netlist.branches_of(self.part, name):
                watts += _branch_watts(self.settled, number, sound) * self._spread(number)
        if of.joints:
            watts += self._joints(sound)
        return watts

    def _spread(self, number: int) -> float:
        place = self.settled.netlist.places[number]
        return (place.low, 1.0, place.high)[self.side + 1]

    def _joints(self, sound: bool) -> FloatArray:
        """Heat of the wires behind the outlet that this plug is in: a bad joint is at one of their two ends."""
        panel, netlist = self.settled.netlist.panel, self.settled.netlist
        socket = panel.plugs.get(self.part, "")
        watts = np.zeros(len(self.settled.rows))
        for wire in panel.wires:
            if socket and socket in (part_of(wire.a), part_of(wire.b)):
                for number in netlist.branches_of(wire.name, "run"):
                    more = _branch_watts(self.settled, number, sound) - _branch_watts(self.settled, number, True)
                    watts += more * self._between(0.0, 1.0)
        return watts

    def _inside(self, sound: bool) -> FloatArray:
        """(H,) how much warmer than the room it is in the box."""
        watts = _box_watts(self.settled)
        flow = _airflow(self.settled, sound)
        per_watt = np.zeros(len(flow))
        for each in np.unique(flow):
            ends = _box_kelvin_per_watt(self.settled.netlist.panel, float(each))
            per_watt[flow == each] = self._between(*ends)
        return watts * per_watt


def in_the_box(panel: Panel, name: str) -> bool:
    """Whether a part or a wire is in the panel's box: not the building's, not a cord, not what hangs on one."""
    if name in panel.wires_by_name:
        wire = panel.wires_by_name[name]
        return all(in_the_box(panel, part_of(end)) or _enters(panel, end) for end in (wire.a, wire.b))
    return not panel.at_the_service(name) and panel.parts[name].kind.role not in IN_THE_BOX and name != "wall_point"


def _enters(panel: Panel, terminal: str) -> bool:
    """Whether a terminal is the end of the feed in the box."""
    part, _, name = terminal.partition(".")
    return part == panel.supply.isolator and name not in panel.parts[part].kind.plug


@lru_cache(maxsize=64)
def _box_kelvin_per_watt(panel: Panel, flow: float) -> Interval:
    box = next((panel.parts[name] for name in panel.of_role("enclosure")), None)
    ratings, choices = (box.ratings, box.choices) if box else ({}, {})
    width, height, depth = (
        ratings.get(side, usual) for side, usual in zip(("width", "height", "depth"), BOX_METRES, strict=True)
    )
    area = free_area_square_metres(width, height, depth)
    return enclosure_rise_kelvin(Interval(1.0, 1.0), area, choices.get("material", BOX_MATERIAL), flow)  # type: ignore[arg-type]


def _airflow(settled: Settled, sound: bool) -> FloatArray:
    """(H,) cubic metres an hour that the panel's fans move through it."""
    panel, netlist = settled.netlist.panel, settled.netlist
    total = np.zeros(len(settled.rows))
    for name in panel.of_role("fan"):
        part = panel.parts[name]
        if part.kind.airflow is None:
            continue
        flow = part.kind.airflow.value(part.ratings)
        if sound:
            total += flow
            continue
        runs = np.ones(len(settled.rows), dtype=bool)
        for branch in ("winding",):
            number = netlist.branches_of(name, branch)[0]
            rated = part.ratings.get("voltage", 0.0)
            runs &= (settled.volts(name, branch) >= FAN_RUNS * rated) & (settled.y_alternating[:, number] != 0)
        total += flow * runs * _scaled(settled, name, "airflow")
    return total


def _scaled(settled: Settled, part: str, target: str) -> FloatArray:
    """(H,) by how much each row's fault scales a surface's thermal resistance, or a fan's airflow."""
    panel = settled.netlist.panel
    scale = np.ones(len(settled.rows))
    for number, row in enumerate(settled.rows):
        for cause, level in row.members:
            effects = panel.kind_of(part).faults[cause.fault].effects if cause.part == part else ()
            for effect in effects:
                if effect.target == target and effect.change == "scale":
                    value = effect.value if effect.value is not None else level
                    scale[number] *= 1.0 if value is None else value
    return scale


def _across(settled: Settled, number: int) -> FloatArray:
    network = settled.netlist.network
    return np.abs(settled.alternating.between(int(network.tail[number]), int(network.head[number])))


def _branch_watts(settled: Settled, number: int, sound: bool) -> FloatArray:
    """(H,) heat of a branch as it is, or as a sound one would have with the same current."""
    netlist, y = settled.netlist, settled.y_alternating[:, number]
    across = _across(settled, number)
    if not sound:
        return np.asarray(across**2 * y.real)
    amperes = across * np.abs(y)
    if netlist.drops[number] > 0:
        return np.asarray(amperes * netlist.drops[number])
    admittance = netlist.alternating[number]
    return np.asarray(amperes**2 * (1 / admittance).real) if admittance != 0 else np.zeros_like(amperes)


def _box_watts(settled: Settled) -> FloatArray:
    """(H,) heat of all that is in the box."""
    if BOX_WATTS not in settled.worked_out:
        settled.worked_out[BOX_WATTS] = _sum_of_box(settled)
    return settled.worked_out[BOX_WATTS]


def _sum_of_box(settled: Settled) -> FloatArray:
    panel, network = settled.netlist.panel, settled.netlist.network
    parts = {place.part for place in settled.netlist.places}
    inside = {name for name in parts if in_the_box(panel, name)}
    numbers = np.flatnonzero(
        np.array([place.part in inside for place in settled.netlist.places]) & (settled.netlist.emf_alternating == 0)
    )
    volts = settled.alternating.voltages
    across = np.abs(volts[:, network.tail[numbers]] - volts[:, network.head[numbers]])
    return np.asarray((across**2 * settled.y_alternating[:, numbers].real).sum(axis=1))
