"""What a description has to know of each voltage system and each kind of probe: kinds, terminals, sizes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class System:
    """A voltage system, as a panel on it is wired."""

    words: str
    lines: int  # conductors that are live to neutral
    heater_volts: int  # between the two ends of an element
    control_volts: int  # line to neutral
    between_lines: bool  # whether an element sits between two lines, not between line and neutral
    imperial: bool  # AWG
    standard: str  # of breakers
    breaker: str
    residual: tuple[str, ...]  # protection with a residual device, {amperes} filled in
    main_switch: str
    neutral_switched: bool
    cord: str
    plugged: tuple[str, ...]  # the feed's terminals, lines first, then neutral, earth
    wired: tuple[str, ...]


SYSTEMS: Mapping[str, System] = {
    "split_phase_240": System(
        "split-phase 120/240 V", 2, 240, 120, True, True, "ul489", "breaker_2",
        ("feed_breaker: feed_gfci, {amperes} A",), "main_switch", False, "feed_cord_4",
        ("l1", "l2", "n", "earth"), ("l1", "l2", "n", "earth"),
    ),
    "single_phase_120": System(
        "single-phase 120 V", 1, 120, 120, False, True, "ul489", "breaker_1",
        ("feed_breaker: feed_gfci_1, {amperes} A",), "main_switch_1", False, "feed_cord_3",
        ("l", "n", "earth"), ("a", "b", "earth"),
    ),
    "two_legs_208": System(
        "two legs of a three-phase 120/208 V service", 2, 208, 120, True, True, "ul489", "breaker_2",
        ("feed_breaker: feed_gfci, {amperes} A",), "main_switch", False, "feed_cord_4",
        ("l1", "l2", "n", "earth"), ("l1", "l2", "n", "earth"),
    ),
    "single_phase_230": System(
        "single-phase 230 V", 1, 230, 230, False, False, "iec60898_b", "breaker_1",
        ("feed_breaker: breaker_1, {amperes} A, iec60898_b", "feed_rcd: rcd, {device} A, 30 mA"), "main_switch", True,
        "feed_cord_3", ("l", "n", "earth"), ("a", "b", "earth"),
    ),
    "three_phase_400": System(
        "three-phase 230/400 V", 3, 230, 230, False, False, "iec60898_c", "breaker_3",
        ("feed_breaker: breaker_3, {amperes} A, iec60898_c", "feed_rcd: rcd_4, {device} A, 30 mA"), "main_switch_4",
        True, "feed_cord_5", ("l1", "l2", "l3", "n", "earth"), ("l1", "l2", "l3", "n", "earth"),
    ),
}  # fmt: skip
HERE: Mapping[str, tuple[str, ...]] = {
    "north_america": ("split_phase_240", "single_phase_120", "two_legs_208"),
    "europe": ("single_phase_230", "three_phase_400"),
    "united_kingdom": ("single_phase_230", "three_phase_400"),
    "australia": ("single_phase_230", "three_phase_400"),
}


def systems_of(answers: Mapping[str, str]) -> tuple[tuple[str, str], ...]:
    """The voltage systems of a region, each with its words."""
    return tuple((name, SYSTEMS[name].words) for name in HERE[answers["region"]])


@dataclass(frozen=True, slots=True)
class ProbeKind:
    """A kind of probe, the socket that it goes into, and what of the socket lands where on a controller."""

    words: str
    kind: str
    socket: str
    wires: tuple[tuple[str, str], ...]
    digital: bool = False


def _landed(*names: str) -> tuple[tuple[str, str], ...]:
    return tuple((name, f"probe_{name}") for name in names)


_OUT = (("out_a", "probe_a"), ("out_b", "probe_b"))
PROBES: Mapping[str, ProbeKind] = {
    "pt100_3": ProbeKind("a platinum probe, 100 ohm, three wires", "probe", "probe_socket", _landed("a", "b", "c")),
    "pt100_2": ProbeKind("a platinum probe, 100 ohm, two wires", "probe_pt100_2", "probe_socket_2", _landed("a", "b")),
    "pt100_4": ProbeKind(
        "a platinum probe, 100 ohm, four wires", "probe_pt100_4", "probe_socket_4", _landed("a", "b", "c", "d")
    ),
    "pt1000_3": ProbeKind(
        "a platinum probe, 1000 ohm, three wires", "probe_pt1000_3", "probe_socket_1000", _landed("a", "b", "c")
    ),
    "ntc": ProbeKind("a thermistor, 10 kohm", "probe_ntc", "probe_socket_ntc", _landed("a", "b")),
    "k": ProbeKind("a thermocouple, type K", "thermocouple_k", "thermocouple_socket_k", _OUT),
    "j": ProbeKind("a thermocouple, type J", "thermocouple_j", "thermocouple_socket_j", _OUT),
    "t": ProbeKind("a thermocouple, type T", "thermocouple_t", "thermocouple_socket_t", _OUT),
    "digital": ProbeKind(
        "a digital probe on three wires", "probe_digital", "probe_socket_digital", _landed("a", "b", "c"), True
    ),
}
# Amperes of a breaker and the least size of the copper behind it. AWG: NEC 240.4(D), table 310.16 at 60 C; mm2:
# IEC 60364-5-52, method B2; both from memory. `diagnose review` holds the file against its own tables.
AWG: tuple[tuple[int, str], ...] = (
    (15, "14 AWG"), (20, "12 AWG"), (30, "10 AWG"), (40, "8 AWG"), (55, "6 AWG"), (70, "4 AWG"), (85, "3 AWG"),
    (95, "2 AWG"), (125, "1 AWG"),
)  # fmt: skip
SQUARE_MM: tuple[tuple[int, str], ...] = (
    (10, "1.5 mm2"), (20, "2.5 mm2"), (25, "4 mm2"), (32, "6 mm2"), (45, "10 mm2"), (60, "16 mm2"), (80, "25 mm2"),
    (100, "35 mm2"), (125, "50 mm2"),
)  # fmt: skip
# Sizes in which the trade sells breakers, and residual devices: common practice.
BREAKERS: Mapping[bool, tuple[int, ...]] = {
    True: (15, 20, 25, 30, 35, 40, 50, 60, 70, 80, 90, 100, 125),
    False: (6, 10, 13, 16, 20, 25, 32, 40, 50, 63, 80, 100, 125),
}
RESIDUAL = (25, 40, 63, 80, 100, 125)
CONTINUOUS = 1.25  # of fixed heating under the NEC, 424.4(B) (from memory): a load of three hours and more


def size_for(system: System, amperes: float) -> str:
    """The least wire that suits a breaker of so many amperes."""
    table = AWG if system.imperial else SQUARE_MM
    return next((size for most, size in table if amperes <= most), table[-1][1])


def breaker_for(system: System, kilowatts: float, volts: int) -> int:
    """The smallest breaker that an element of that power does not trip."""
    amperes = kilowatts * 1000 / volts * (CONTINUOUS if system.imperial else 1.0)
    return next((size for size in BREAKERS[system.imperial] if amperes <= size), BREAKERS[system.imperial][-1])


def residual_for(amperes: float) -> int:
    """The smallest residual device that carries what the breaker before it lets through."""
    return next((size for size in RESIDUAL if amperes <= size), RESIDUAL[-1])
