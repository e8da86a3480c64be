"""Like for like: which parts of a panel may change places to see whether a fault follows them.

An exchange is a set of pairs. A pair of plugs (`hlt_probe`, `boil_probe`) means that each sits in the other's socket; a
pair of terminals (`hlt_relay.plus`, `boil_relay.plus`) that the wires at the one land on the other.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations
from math import inf

from diagnose.panel.records import Panel, Part, part_of
from diagnose.topology import sensing_probe, upstream

Pair = tuple[str, str]
Exchange = frozenset[Pair]
SWAPPED_LOADS = ("heater", "pump")
MOTOR_POWER_FACTOR = 0.6
# NEC 210.20(A), from memory: what runs for three hours or more takes four fifths of such a breaker at most.
CONTINUOUS_SHARE, CONTINUOUS = 0.8, {"ul489", "ul943"}
PROTECTIVE = ("breaker", "residual", "isolator", "fuse", "emergency_stop")


def alike(panel: Panel, one: str, other: str) -> bool:
    """Whether two parts are of one kind with the same ratings, and neither protects anything nor feeds the panel."""
    a, b = panel.parts[one], panel.parts[other]
    protects = a.kind.role in PROTECTIVE or panel.supply.isolator in (one, other)
    same = a.kind.name == b.kind.name and dict(a.ratings) == dict(b.ratings) and dict(a.choices) == dict(b.choices)
    return same and not protects and not any(panel.at_the_service(name) for name in (one, other))


def probe_exchange(panel: Panel, one: str, other: str) -> Exchange:
    """Two probes, each in the other's socket; empty where probes or sockets are not alike."""
    sockets = [panel.plugs.get(name) for name in (one, other)]
    if not all(sockets) or not alike(panel, one, other) or not alike(panel, str(sockets[0]), str(sockets[1])):
        return frozenset()
    return frozenset({_pair(one, other)})


def control_exchange(panel: Panel, one: str, other: str) -> Exchange:
    """The wires at the control inputs of two relays, each landed on the other; empty where the relays are not alike.

    A newly built panel has none: where wires may already be on the wrong terminals, moving more of them tells nothing.
    """
    control = panel.parts[one].kind.control
    if control is None or panel.built == "new" or not alike(panel, one, other):
        return frozenset()
    branch = panel.parts[one].kind.branches[control.branch]
    return frozenset(_pair(f"{one}.{end}", f"{other}.{end}") for end in (branch.tail, branch.head))


def load_on(panel: Panel, plug: str) -> str | None:
    """The element or pump that hangs on a plug's cord, if one does."""
    for wire in panel.wires:
        ends = [part_of(end) for end in (wire.a, wire.b)]
        for mine, other in (ends, ends[::-1]):
            if mine == plug and panel.parts[other].kind.role in SWAPPED_LOADS:
                return other
    return None


def load_exchange(panel: Panel, one: str, other: str) -> Exchange:
    """Two cords, each with its load in the other's outlet; empty where any rating forbids either way round.

    Cords and outlets have to be for the same current, the loads for the same voltage, and everything on both ways that
    has a rating for what either load takes, for hours: an element of 50 A never comes to an outlet of 30 A.
    """
    a, b = panel.parts[one], panel.parts[other]
    sockets, loads = [panel.plugs.get(cord) for cord in (one, other)], [load_on(panel, cord) for cord in (one, other)]
    if a.kind.name != b.kind.name or a.ratings.get("current") != b.ratings.get("current"):
        return frozenset()
    if not all(sockets) or not alike(panel, str(sockets[0]), str(sockets[1])) or not all(loads):
        return frozenset()
    first, second = (panel.parts[str(load)] for load in loads)
    if first.kind.name != second.kind.name or first.ratings.get("voltage") != second.ratings.get("voltage"):
        return frozenset()
    most = max(_amperes(first), _amperes(second))
    ways = {name for load in loads for name in upstream(panel, str(load)) if name in panel.parts}
    allowed = all(most <= _allowed(panel.parts[name]) for name in ways)
    return frozenset({_pair(one, other)}) if allowed else frozenset()


def _amperes(load: Part) -> float:
    """What a load takes at its own voltage; a motor's power factor is about 0.6: common practice."""
    factor = 1.0 if load.kind.role == "heater" else MOTOR_POWER_FACTOR
    return load.ratings["power"] / load.ratings["voltage"] / factor


def _allowed(part: Part) -> float:
    """What a part may carry for hours; without a rating in amperes it sets no limit."""
    rating = part.ratings.get("current", inf)
    return rating * (CONTINUOUS_SHARE if part.kind.trip and CONTINUOUS & {*part.choices.values()} else 1.0)


def exchanges(panel: Panel) -> Iterator[Exchange]:
    """All exchanges that the circuit has to be ready for."""
    for one, other in combinations(panel.of_role("probe"), 2):
        if found := probe_exchange(panel, one, other):
            yield found
    for one, other in combinations(panel.of_role("relay"), 2):
        if found := control_exchange(panel, one, other):
            yield found
    for one, other in combinations(panel.of_role("connector"), 2):
        if found := load_exchange(panel, one, other):
            yield found


def partners(panel: Panel, part: str) -> tuple[tuple[str, Exchange], ...]:
    """The parts that a probe, a relay or a load's cord may be exchanged with, each with what that takes."""
    role = panel.parts[part].kind.role
    making = {"probe": probe_exchange, "relay": control_exchange, "connector": load_exchange}.get(role)
    if making is None:
        return ()
    found = ((other, making(panel, part, other)) for other in panel.of_role(role) if other != part)
    return tuple((other, exchange) for other, exchange in found if exchange)


def moved(name: str, swapped: Exchange) -> str:
    """What stands where a plug or a terminal was; itself where it did not move."""
    return next((b if a == name else a for a, b in swapped if name in (a, b)), name)


def probe_seen(panel: Panel, controller: str, swapped: Exchange) -> str | None:
    """The probe that a controller reads after an exchange, if it has one."""
    probe = sensing_probe(panel, controller)
    return None if probe is None else moved(probe, swapped)


def _pair(one: str, other: str) -> Pair:
    return (one, other) if one < other else (other, one)
