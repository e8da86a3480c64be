"""The rules of design: a wire, breaker, fuse, relay or coil against the load that it serves.

Sources that were recalled rather than read say 'from memory'. Currents are of sound parts at nominal volts.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from diagnose.circuit.trips import AT_ONCE_SECONDS, CURVES
from diagnose.loading import CONTINUOUS, CONTINUOUS_SHARE, Device, Finding, Load, Study, amps, found, volts
from diagnose.panel.records import Panel, Wire, part_of
from diagnose.physics.ampacity import AMPACITY_AMPERES, CORD_LIMIT_AMPERES, OVERCURRENT_LIMIT_AMPERES
from diagnose.physics.conductors import copper_factor
from diagnose.physics.protection import trip_band
from diagnose.physics.relays import on_state_watts
from diagnose.topology import Step
from diagnose.units import show, show_range

TAP_METRES, TAP_SHARE = 3.0, 0.1
DROP_SHARE = 0.05
COPPER_CELSIUS = 75.0
_FOR_HOURS = {True: "NEC 210.20(A), 215.3; from memory", False: "IEC 60364-4-43 cl. 433.1; from memory"}
SINK_AMPERES = 5.0  # what a relay carries without a heat sink: trade data, from memory
BASE_CELSIUS, BOX_CELSIUS = 85.0, 50.0  # hottest base of a relay, warm air in a box: trade data, from memory
FUSE_AMPERES, FUSE_TIMES = 2.0, 10.0  # under this, or so many times its load, no fuse is 'too large'
ELEMENT_SHARES = (0.95, 1.07)  # of its voltage: 240 V on 230 V and the other way round are let pass
COIL_SHARES = (0.85, 1.10)
MOTOR_SHARES = (0.90, 1.10)
WEAK_POWER_SHARE = 0.8  # below this it is noticed: the complaint of slow heating
SMALLEST_CORD_AMPERES = 3.0  # 0.5 mm²: IEC 60335-1 table 11, from memory


# Wires ----------------------------------------------------------------------------------------------------


def wire_amperes(size: str, area_square_metres: float) -> tuple[float, str]:
    """The largest breaker for a wire, and where that stands; infinity for sizes beyond the tables.

    >>> wire_amperes("12 AWG", 3.309e-6)[0], wire_amperes("2.5 mm2", 2.5e-6)[0]
    (20.0, 25.0)
    """
    gauge = re.fullmatch(r"(\d{1,2})\s*awg", size.strip(), re.IGNORECASE)
    if gauge:
        number = int(gauge[1]) + int(gauge[1]) % 2  # an odd gauge counts as the next thinner even one
        if number in OVERCURRENT_LIMIT_AMPERES:
            memory = "; from memory" if number > 14 else ""
            return OVERCURRENT_LIMIT_AMPERES[number], f"NEC 240.4(D){memory}"
        if number in AMPACITY_AMPERES:
            memory = "; from memory" if number == 4 else ""
            return AMPACITY_AMPERES[number][75], f"NEC table 310.16, 75 °C{memory}"
    area = area_square_metres * 1e6 * (1 + 1e-9)
    if gauge or area > 1.6 * max(CORD_LIMIT_AMPERES):
        return np.inf, ""
    fitting = [amperes for least, amperes in CORD_LIMIT_AMPERES.items() if least <= area]
    limit = fitting[-1] if fitting else SMALLEST_CORD_AMPERES
    return limit, "IEC 60335-1 table 11, flexible copper; from memory"


@dataclass(frozen=True, slots=True)
class _Use:
    """A wire's place on the way to a load."""

    load: Load
    side: int
    at: int

    @property
    def before(self) -> tuple[Step, ...]:
        return self.load.ways[self.side][: self.at]

    @property
    def after(self) -> tuple[Step, ...]:
        return self.load.ways[self.side][self.at :]


def wires_too_small(of: Study) -> Iterator[Finding]:
    """Wires behind a breaker or fuse that lets more through than they may carry."""
    uses: dict[str, list[_Use]] = {}
    for load in of.loads:
        for side, way in enumerate(load.ways):
            for at, step in enumerate(way):
                uses.setdefault(step.part, []).append(_Use(load, side, at))
    grouped: dict[tuple[str, tuple[str, ...], float], list[Wire]] = {}
    for wire in of.panel.wires:
        limit, _ = wire_amperes(wire.size, wire.area_square_metres)
        behind, let_through = _protected_by(of, uses.get(wire.name, []))
        if limit < let_through and not _is_tap(of, wire, limit, let_through, uses[wire.name]):
            grouped.setdefault((wire.size, behind, let_through), []).append(wire)
    for (size, behind, let_through), wires in grouped.items():
        limit, source = wire_amperes(size, wires[0].area_square_metres)
        label = " and ".join(of.panel.label(name) for name in behind)
        which = ", ".join(of.panel.label(wire.name) for wire in wires)
        yield found(
            of.panel, "wire_too_small", (*(wire.name for wire in wires), *behind), "error",
            f"{size} may lie behind {amps(limit)} at most, but {label} lets {amps(let_through)} through: "
            f"{which}",
            f"wire for {amps(let_through)} or more, or a smaller breaker that still suits the load",
            source=source,
        )  # fmt: skip


def _protected_by(of: Study, uses: list[_Use]) -> tuple[tuple[str, ...], float]:
    """The devices that protect a wire and what they let through; nothing for wires ahead of the first one.

    A neutral has no device of its own: the devices on the live side limit it.
    """
    ahead: dict[str, Device] = {}
    across: dict[str, Device] = {}
    first = np.inf
    for use in uses:
        if of.on_way(use.load.ways[use.side]):
            ahead.update({device.name: device for device in of.on_way(use.before)[-1:]})
            continue
        others = [of.on_way(way) for side, way in enumerate(use.load.ways) if side != use.side]
        other = max(others, key=len)
        across.update({device.name: device for device in other[-1:]})
        first = min([first, *(device.rating for device in other[:1])])
    if ahead:
        largest = max(ahead.values(), key=lambda device: device.rating)
        return (largest.name,), largest.rating
    return tuple(across), min(first, sum(device.rating for device in across.values())) if across else 0.0


def _is_tap(of: Study, wire: Wire, limit: float, ahead: float, uses: list[_Use]) -> bool:
    """A short wire to a smaller device, which limits what it carries.

    NEC 240.21(B)(1): 10 ft, a tenth of the device ahead; IEC 60364-4-43 cl. 434.2.1: 3 m; from memory.
    """
    after: dict[str, float] = {}
    for use in uses:
        following = of.on_way(use.after)
        if not following:
            return False
        after[following[0].name] = following[0].rating
    return sum(after.values()) <= limit and wire.length_metres <= TAP_METRES and limit >= TAP_SHARE * ahead


# Breakers and fuses ---------------------------------------------------------------------------------------


def protection_missing(of: Study) -> Iterator[Finding]:
    """Elements and pumps without a breaker, or without a GFCI or RCD before them, or without any way to them."""
    reached = {load.part for load in of.loads}
    for name in of.panel.of_role("heater", "pump"):
        if name not in reached:
            yield found(of.panel, "not_supplied", (name,), "warning",
                        f"no way leads from the supply to both sides of {of.panel.label(name)}: it is not reviewed",
                        "wires, contacts or plugs all the way, but no transformer")  # fmt: skip
    for load in of.loads:
        if load.what not in ("element", "pump"):
            continue
        label = of.panel.label(load.part)
        roles = {of.panel.kind_of(step.part).role for way in load.ways for step in way}
        if not of.devices_of(load):
            yield found(of.panel, "no_breaker", (load.part,), "error",
                         f"no breaker or fuse lies before {label}", "a breaker in its circuit")  # fmt: skip
        if "residual" not in roles:
            yield found(
                of.panel, "no_residual_protection", (load.part,), "error",
                f"no GFCI or RCD lies before {label}",
                "a GFCI (6 mA) or an RCD of 30 mA at most before everything that touches liquid",
            )  # fmt: skip


def breakers_too_small(of: Study) -> Iterator[Finding]:
    """Breakers that an element alone is too much for, or all that the handles let be on together."""
    for device in of.devices.values():
        if device.fuse:
            continue
        own = [load for load in of.loads if load.what == "element" and device in of.devices_of(load)]
        largest = max(own, key=lambda load: load.amperes, default=None)
        alone = largest.amperes if largest is not None else 0.0
        if largest is not None and alone > device.allowed:
            yield _breaker_small(of.panel, device, largest)
        total = _through(of, device)
        # Said once: all together only matters where one alone does not already.
        limit = device.rating if alone > device.allowed else device.allowed
        if total > limit and alone <= device.rating:
            yield _feed_overloaded(of.panel, device, total, len(own))


def _through(of: Study, device: Device) -> float:
    trip = of.panel.parts[device.name].kind.trip
    return max((of.carried(device.name, branch) for branch in trip.through), default=0.0) if trip else 0.0


def _breaker_small(panel: Panel, device: Device, load: Load) -> Finding:
    label, its = panel.label(device.name), panel.label(load.part)
    over = load.amperes > device.rating
    says = f"{its} takes {amps(load.amperes)} and {label} is for {amps(device.rating)}"
    if over:
        message = f"{says}: with nothing broken it trips {_when(device, load.amperes)}"
    else:
        used = f"{100 * load.amperes / device.rating:.0f} % for hours"
        message = f"{says}, {used}: with nothing broken it may trip once warm"
    needed = load.amperes * device.rating / device.allowed
    return found(
        panel, "breaker_too_small", (device.name, load.part), "error" if over else "warning", message,
        f"a breaker of {amps(needed)} or more with wire to suit, or a smaller element",
        trip_complaints(device, load.amperes), _FOR_HOURS[device.standard in CONTINUOUS],
    )  # fmt: skip


def _feed_overloaded(panel: Panel, device: Device, total: float, elements: int) -> Finding:
    over = total > device.rating
    several = over and elements > 1
    what = "the handles let several elements heat at once: together" if several else "all that may be on at once:"
    message = f"{what} {amps(total)} through {panel.label(device.name)}, which is for {amps(device.rating)}"
    expected = f"{amps(device.allowed)} at most for hours{', such as by an either/or selector' * several}"
    return found(
        panel, "feed_overloaded", (device.name,), "error" if over else "warning",
        f"{message} ({100 * total / device.rating:.0f} %)", expected, trip_complaints(device, total),
        _FOR_HOURS[device.standard in CONTINUOUS],
    )  # fmt: skip


def trip_complaints(device: Device, amperes: float) -> tuple[str, ...]:
    """The complaints of a breaker that a sound load is too much for."""
    earliest, latest = _trip(device, amperes)
    at_once = ("breaker_trips",) if earliest <= AT_ONCE_SECONDS else ()
    return (*at_once, "breaker_trips_later") if latest > AT_ONCE_SECONDS else at_once


def _trip(device: Device, amperes: float) -> tuple[float, float]:
    standard, curve = CURVES.get(device.standard, CURVES["ul489"])
    band = trip_band(device.rating, standard, curve, amperes)
    return band.earliest_seconds, band.latest_seconds


def _when(device: Device, amperes: float) -> str:
    earliest, latest = _trip(device, amperes)
    if latest <= AT_ONCE_SECONDS:
        return "at once"
    if np.isinf(latest):
        return f"after {show(earliest, 'time', 2)} or more, if at all" if np.isfinite(earliest) else "now and then"
    return f"after {show_range(earliest, latest, 'time', 2)}"


def fuses_unfit(of: Study) -> Iterator[Finding]:
    """Fuses that blow with nothing broken, and those that would not blow for what they are there for."""
    for device in of.devices.values():
        if not device.fuse:
            continue
        behind = [load for load in of.loads if device in of.devices_of(load)]
        total = max([_through(of, device), *(load.amperes for load in behind)])
        label, parts = of.panel.label(device.name), (device.name, *(load.part for load in behind))
        if total > device.rating:
            yield found(
                of.panel, "fuse_too_small", parts, "error",
                f"{amps(total)} may flow through {label}, which is for {amps(device.rating)}: "
                "with nothing broken it blows",
                f"a fuse for more than {amps(total)}, with wire to suit",
                tuple(dict.fromkeys(_DEAD[load.what] for load in behind if load.what in _DEAD)),
            )  # fmt: skip
        elif device.rating > max(FUSE_AMPERES, FUSE_TIMES * total):
            yield found(
                of.panel, "fuse_too_large", parts, "warning",
                f"{label} is for {amps(device.rating)}, and what it feeds takes {amps(total)}",
                f"a fuse of {amps(max(1.0, FUSE_TIMES * total))} at most",
            )  # fmt: skip


# What a brewer says of a load that gets nothing, or too little.
_DEAD: Mapping[str, str] = {
    "controller": "controller_dead", "coil": "element_cold", "element": "element_cold", "pump": "pump_dead",
    "fan": "fan_quiet",
}  # fmt: skip


# What is rated for less than it carries -------------------------------------------------------------------


@dataclass(slots=True)
class _Loading:
    """What a rated part carries, what lies ahead of it, and whether an element is behind it."""

    amperes: float = 0.0
    ahead: float = 0.0
    heats: bool = False


RATED_ROLES = ("relay", "contactor", "isolator", "connector", "socket", "inlet")


def ratings_exceeded(of: Study) -> Iterator[Finding]:
    """Relays, contactors, switches, cords and outlets with a rating, against load and breaker."""
    for name, loading in _loadings(of).items():
        part = of.panel.parts[name]
        rating, amperes = part.ratings["current"], loading.amperes
        says = f"{part.label} is for {amps(rating)} and"
        relay = part.kind.role == "relay"
        if amperes > rating:
            yield found(of.panel, "overloaded", (name,), "error", f"{says} may carry {amps(amperes)}",
                         f"one for {amps(amperes)} or more")  # fmt: skip
        elif relay and amperes > CONTINUOUS_SHARE * rating:
            yield found(
                of.panel, "relay_near_its_rating", (name,), "warning", f"{says} carries {amps(amperes)}",
                f"{amps(CONTINUOUS_SHARE * rating)} at most in the warmth of a box",
            )  # fmt: skip
        elif part.kind.role in ("connector", "socket", "inlet", "isolator") and loading.ahead > rating:
            yield found(
                of.panel, "below_its_breaker", (name,), "warning" if loading.heats else "note",
                f"{says} lies behind {amps(loading.ahead)}; only what it feeds, {amps(amperes)}, "
                "keeps it from too much",
                f"a breaker of {amps(rating)} at most, or a part for {amps(loading.ahead)}",
            )  # fmt: skip
        if relay and amperes > SINK_AMPERES:
            watts = on_state_watts(amperes)
            yield found(
                of.panel, "relay_heat", (name,), "note",
                f"{part.label} turns {watts.low:.0f}–{watts.high:.0f} W into heat at {amps(amperes)}",
                f"a heat sink of {(BASE_CELSIUS - BOX_CELSIUS) / watts.high:.1f} K/W or better",
            )  # fmt: skip


def _loadings(of: Study) -> dict[str, _Loading]:
    loadings: dict[str, _Loading] = {}
    for load in of.loads:
        for way in load.ways:
            for at, step in enumerate(way):
                ahead = of.on_way(way[:at])
                for name in {step.part, part_of(step.tail), part_of(step.head)}:
                    part = of.panel.parts.get(name)
                    if part is None or part.kind.role not in RATED_ROLES or not part.ratings.get("current"):
                        continue
                    loading = loadings.setdefault(name, _Loading())
                    carried = of.carried(step.part, step.branch)
                    loading.amperes = max(loading.amperes, load.amperes, carried)
                    loading.ahead = max([loading.ahead, *(device.rating for device in ahead[-1:])])
                    loading.heats |= load.what == "element"
    return loadings


# Voltages -------------------------------------------------------------------------------------------------


def voltages_wrong(of: Study) -> Iterator[Finding]:
    """Elements, coils, motors and controllers that get another voltage than they are made for."""
    for load in of.loads:
        wrong = voltage_finding(of.panel, load)
        if wrong is not None:
            yield wrong


def voltage_finding(panel: Panel, load: Load) -> Finding | None:
    """What a load at another voltage than its own comes to; None where it suits."""
    share = load.volts / load.rated_volts
    name = panel.label(load.part)
    gets = f"is made for {volts(load.rated_volts)} and gets {volts(load.volts)}"
    fits = f"one for {volts(load.volts)}"
    if load.what == "element":
        if ELEMENT_SHARES[0] <= share <= ELEMENT_SHARES[1]:
            return None
        message = f"{name} {gets}: {100 * share**2:.0f} % of its power, {show(load.amperes * load.volts, 'power')}"
        explains = ("element_weak",) if share**2 < WEAK_POWER_SHARE else ()
        return found(panel, "element_voltage", (load.part,), "error" if share > 1 else "warning", message,
                      fits, explains)  # fmt: skip
    if load.what == "coil":
        if COIL_SHARES[0] <= share <= COIL_SHARES[1]:
            return None
        does = "it does not surely pull in" if share < 1 else "it burns"
        message = f"the coil of {name} {gets}: {does}"
        return found(panel, "coil_voltage", (load.part,), "error", message, fits, ("element_cold",))
    if MOTOR_SHARES[0] <= share <= MOTOR_SHARES[1]:
        return None
    explains = (_DEAD[load.what],) if load.what in _DEAD else ("lamp_dark",) if share < 1 else ()
    return found(panel, "rated_voltage", (load.part,), "error" if share > 1 else "warning", f"{name} {gets}",
                  fits, explains)  # fmt: skip


def drops_large(of: Study) -> Iterator[Finding]:
    """Elements that lose too much of their voltage in warm wires and cords, the building's feed included."""
    for load in of.loads:
        if load.what != "element":
            continue
        steps = [step for way in load.ways for step in way]
        lost = load.amperes * sum(_ohms(of, step) for step in steps) * copper_factor(COPPER_CELSIUS)
        if lost <= DROP_SHARE * load.volts:
            continue
        wires = [of.panel.wires_by_name[step.part] for step in steps if step.part in of.panel.wires_by_name]
        longest = max(wires, key=lambda wire: wire.resistance_ohms)
        yield found(
            of.panel, "voltage_drop", (longest.name, load.part), "warning",
            f"wires and cords on the way to {of.panel.label(load.part)} lose {volts(lost)} of "
            f"{volts(load.volts)}, {100 * lost / load.volts:.1f} %",
            f"{100 * DROP_SHARE:.0f} % at most: thicker wire or a shorter feed", ("element_weak",),
        )  # fmt: skip


def _ohms(of: Study, step: Step) -> float:
    wire = of.panel.wires_by_name.get(step.part)
    if wire is not None:
        return wire.resistance_ohms
    if of.panel.parts[step.part].kind.role not in ("connector", "feed") or step.branch.startswith("mate_"):
        return 0.0
    return float(1 / abs(of.netlist.alternating[of.netlist.branches_of(step.part, step.branch)[0]]))


RULES: tuple[Callable[[Study], Iterator[Finding]], ...] = (
    wires_too_small, protection_missing, breakers_too_small, fuses_unfit, ratings_exceeded, voltages_wrong,
    drops_large,
)  # fmt: skip
