"""What to buy: each part with the ratings that it must have on this panel, worked out from its file and its loads."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from types import MappingProxyType

from diagnose.circuit.trips import CURVES
from diagnose.design_rules import BASE_CELSIUS, BOX_CELSIUS, SINK_AMPERES, wire_amperes
from diagnose.knowledge.curves import load_curves
from diagnose.knowledge.records import Kind, Remedy
from diagnose.loading import CONTINUOUS_SHARE, Load, Study
from diagnose.panel.records import Panel, Part, Wire, part_of
from diagnose.physics.relays import on_state_watts
from diagnose.report.records import Purchase
from diagnose.texts import ELEMENT_OHMS_SHARE
from diagnose.topology import Step, sensing_probe
from diagnose.units import show, show_range

Rating = tuple[str, str]
REPLACES = re.compile(r"\b(replace[ds]?|renew|fit|new)\b", re.IGNORECASE)
FUSE_TOO = re.compile(r"\bits fuse\b|\bthe fuse with\b", re.IGNORECASE)
OUTLET_TOO = re.compile(r"\bplug and outlet\b|\bplug, an outlet\b", re.IGNORECASE)
WORDS = {"impedance": "", "run_ohms": "", "lead": "", "sink": ""}  # of the model, not on a part's label


def replaces(remedy: Remedy) -> bool:
    """Whether a remedy may need a new part, by its words."""
    return bool(REPLACES.search(remedy.text))


def purchases(of: Study, part: str, remedy: str) -> tuple[Purchase, ...]:
    """A part, and what its remedy says goes with it: its fuse, or the outlet of a plug."""
    panel = of.panel
    if panel.at_the_service(part):
        return ()
    names = [part]
    if FUSE_TOO.search(remedy):
        names += [device.name for load in of.loads if load.part == part for device in of.devices_of(load)
                  if device.fuse]  # fmt: skip
    if OUTLET_TOO.search(remedy):
        names += [panel.plugs[part]] if part in panel.plugs else [p for p, s in panel.plugs.items() if s == part]
    return tuple(purchase(of, name) for name in dict.fromkeys(names) if not panel.at_the_service(name))


def purchase(of: Study, name: str) -> Purchase:
    """One part with what it must be rated for."""
    panel = of.panel
    if name in panel.wires_by_name:
        return _wire(of, panel.wires_by_name[name])
    part = panel.parts[name]
    make = _BY_ROLE.get(part.kind.role, _as_written)
    return Purchase(part.label, part.kind.title, tuple(make(of, part)))


def _amps(value: float) -> str:
    return show(value, "current")


def _poles(kind: Kind) -> int:
    return sum(branch.form == "contact" and branch.path == "power" for branch in kind.branches.values())


def _carried(of: Study, part: Part) -> float:
    """The most that any of a part's contacts, cores or triacs carries with all on that may be on together."""
    names = [name for name, branch in part.kind.branches.items() if branch.form in ("contact", "triac", "resistance")]
    return max((of.carried(part.name, name) for name in names), default=0.0)


def _load_of(of: Study, name: str) -> Load | None:
    """The load that a part is, or the largest one that it stands on the way to."""
    own = [load for load in of.loads if load.part == name and load.what != "coil"]
    behind = [load for load in of.loads if any(name in _passed(step) for way in load.ways for step in way)]
    return max(own or behind, key=lambda load: load.amperes, default=None)


def _passed(step: Step) -> set[str]:
    """The parts that a step of a way goes through or lands on: an outlet is only landed on."""
    return {step.part, part_of(step.tail), part_of(step.head)}


def _line_volts(of: Study, part: Part) -> Iterator[Rating]:
    load = _load_of(of, part.name)
    if load is not None:
        yield "volts", f"{show(load.volts, 'voltage')} AC or more"


def _ahead(of: Study, part: Part) -> float:
    """What the nearest device ahead of a part lets through; 0 without one."""
    least = []
    for load in of.loads:
        for way in load.ways:
            at = next((n for n, step in enumerate(way) if part.name in _passed(step)), None)
            devices = of.on_way(way[:at]) if at is not None else []
            least += [devices[-1].rating] if devices else []
    return max(least, default=0.0)


# By role ----------------------------------------------------------------------------------------------------


def _element(of: Study, part: Part) -> Iterator[Rating]:
    volts, watts = part.ratings["voltage"], part.ratings["power"]
    yield "volts", show(volts, "voltage")
    yield "watts", show(watts, "power")
    poles = [each for each in part.kind.terminals.values() if each.path != "earth"]
    if len(poles) == 2:
        low, high = (volts**2 / watts * share for share in ELEMENT_OHMS_SHARE)
        yield "ohms, cold", f"{show_range(low, high, 'resistance')} between its poles"
    load = _load_of(of, part.name)
    if load is not None:
        yield "takes", f"{_amps(load.amperes)} at the {show(load.volts, 'voltage')} that it gets here"


def _relay(of: Study, part: Part) -> Iterator[Rating]:
    yield from _line_volts(of, part)
    amperes = _carried(of, part)
    if amperes > 0:
        yield (
            "amperes",
            (
                f"{_amps(amperes / CONTINUOUS_SHARE)} or more: it carries {_amps(amperes)}, "
                f"{100 * CONTINUOUS_SHARE:.0f} % of its rating at most in a warm box"
            ),
        )
    yield "in the panel file", _amps(part.ratings["current"])
    if amperes > SINK_AMPERES:
        watts = on_state_watts(amperes)
        sink = (BASE_CELSIUS - BOX_CELSIUS) / watts.high
        yield "heat sink", f"{sink:.1f} K/W or better, for {watts.low:.0f}–{watts.high:.0f} W, with compound"
    if part.kind.control is not None:
        yield "input", f"{'DC' if part.kind.control.domain == 'dc' else 'AC'}, as the controller gives"


def _contactor(of: Study, part: Part) -> Iterator[Rating]:
    coil = part.kind.coil
    if coil is not None:
        hertz = f", {of.panel.supply.frequency_hertz:.0f} Hz" if coil.domain == "ac" else ""
        volts = part.ratings.get("coil_voltage")
        if volts is not None:
            yield "coil", f"{show(volts, 'voltage')} {coil.domain.upper()}{hertz}"
    if poles := _poles(part.kind):
        yield "poles", str(poles)
        yield from _line_volts(of, part)
    amperes = _carried(of, part)
    if amperes > 0.005:
        yield "amperes", f"{_amps(amperes)} or more of resistive load, for each pole"
    if "current" in part.ratings:
        yield "in the panel file", _amps(part.ratings["current"])


def _device(of: Study, part: Part) -> Iterator[Rating]:
    trip = part.kind.trip
    yield "rating", f"{_amps(part.ratings['current'])}, never a larger one"
    if trip is not None:
        standard = part.choices.get(trip.standard, trip.standard)
        yield "type", device_words(standard)
    if "residual" in part.ratings:
        yield "trips at", show(part.ratings["residual"], "current")
    if part.kind.role != "fuse":
        yield "poles", str(_poles(part.kind))
    yield from _line_volts(of, part)
    amperes = _carried(of, part)
    if amperes > 0:
        yield "carries", _amps(amperes)


_CLASSES = {"T": "time-lag (T)", "F": "quick-acting (F)"}


def device_words(standard: str) -> str:
    """A protective device's standard and class in words.

    >>> device_words("iec60127_time_lag"), device_words("iec60898_b"), device_words("ul943")
    ('time-lag (T), IEC 60127', 'curve B, IEC 60898-1', 'UL 943')
    """
    if standard in CURVES:
        name, letter = CURVES[standard]
        words = _CLASSES.get(letter, f"curve {letter}") if letter else ""
        return f"{words}, {name}" if words else str(name)
    match = re.fullmatch(r"(ul|iec)(\d+)", standard)
    return f"{match[1].upper()} {match[2]}" if match else standard.replace("_", " ")


def _carrier(of: Study, part: Part) -> Iterator[Rating]:
    """A switch, a cord, an outlet: what it carries, and what lies ahead of it."""
    amperes, ahead = _carried(of, part), _ahead(of, part)
    load = _load_of(of, part.name)
    if amperes <= 0 and load is not None:
        amperes = load.amperes
    if amperes > 0.005:
        behind = f", behind {_amps(ahead)}" if ahead else ""
        yield "amperes", f"{_amps(max(amperes, ahead))} or more: it carries {_amps(amperes)}{behind}"
    yield from _line_volts(of, part)
    if "current" in part.ratings:
        yield "in the panel file", _amps(part.ratings["current"])
    if "length" in part.ratings:
        yield "length", show(part.ratings["length"], "length")
    if part.kind.positions:
        yield "positions", ", ".join(part.kind.positions)
    sizes = list(dict.fromkeys(wire.size for wire in _wires_at(of.panel, part.name)))
    if sizes:
        yield "conductors that land on it", ", ".join(sizes)


def _wires_at(panel: Panel, name: str) -> Iterator[Wire]:
    ends = {f"{name}.{terminal}" for terminal in panel.parts[name].kind.terminals}
    yield from (wire for wire in panel.wires if {wire.a, wire.b} & ends)


def _probe(of: Study, part: Part) -> Iterator[Rating]:
    curves = dict.fromkeys(branch.curve for branch in part.kind.branches.values() if branch.curve)
    titles = [load_curves()[name].title for name in curves if name in load_curves()]
    if titles:
        yield "sensor", ", ".join(dict.fromkeys(titles))
    outside = sum(terminal.path == "sensing" for terminal in part.kind.terminals.values())
    yield "wires", str(outside)


def _controller(of: Study, part: Part) -> Iterator[Rating]:
    domain = part.kind.powered.domain.upper() if part.kind.powered is not None else "AC"
    yield "supply", f"{show(part.ratings['voltage'], 'voltage')} {domain}"
    outputs = [t for t in part.kind.terminals.values() if t.path == "control" and t.name in ("plus", "minus")]
    yield "output", "volts for a solid-state relay" if outputs else "a contact of its own"
    probe = sensing_probe(of.panel, part.name)
    if probe is not None:
        yield "input", of.panel.kind_of(probe).title


def _as_written(of: Study, part: Part) -> Iterator[Rating]:
    """Any other part: what its file says, as it would stand on its label."""
    for rating in part.kind.ratings.values():
        if rating.name in WORDS:
            continue
        if rating.name in part.choices:
            yield rating.name.replace("_", " "), part.choices[rating.name]
        elif rating.name in part.ratings:
            yield rating.name.replace("_", " "), show(part.ratings[rating.name], rating.dimension)
    load = next((load for load in of.loads if load.part == part.name and load.what != "coil"), None)
    if load is not None:
        yield "takes", f"{_amps(load.amperes)} at the {show(load.volts, 'voltage')} that it gets here"


def _wire(of: Study, wire: Wire) -> Purchase:
    ratings: list[Rating] = [("size", wire.size), ("length", show(wire.length_metres, "length"))]
    limit, source = wire_amperes(wire.size, wire.area_square_metres)
    if source:
        ratings.append(("may lie behind", f"{_amps(limit)} at most ({source})"))
    ratings.append(("terminals", f"crimped, for {wire.size}"))
    return Purchase(of.panel.label(wire.name), of.panel.kind_of(wire.name).title, tuple(ratings))


Maker = Callable[[Study, Part], Iterator[Rating]]
_BY_ROLE: Mapping[str, Maker] = MappingProxyType(
    {
        "heater": _element, "relay": _relay, "contactor": _contactor, "control_relay": _contactor, "fuse": _device,
        "breaker": _device, "residual": _device, "isolator": _carrier, "connector": _carrier, "socket": _carrier,
        "inlet": _carrier, "switch": _carrier, "emergency_stop": _carrier, "feed": _carrier, "probe": _probe,
        "probe_socket": _probe, "controller": _controller,
    }
)  # fmt: skip


def all_of(of: Study, parts: Sequence[tuple[str, str]]) -> tuple[Purchase, ...]:
    """What to buy for several parts with their remedies, each once."""
    found = [each for part, remedy in parts for each in purchases(of, part, remedy)]
    return tuple({each.part: each for each in found}.values())
