"""Symbols of parts by their role, after IEC 60617 (Europe and most of the world) and IEEE 315 (North America).

Both standards' shapes are drawn from memory, each within 36 by 24 units about its middle, the current running
from left to right. A letter or a sign beside the lines belongs to the symbol.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

Standard = Literal["IEC 60617", "IEEE 315"]


@dataclass(frozen=True, slots=True)
class Symbol:
    """Lines, as one SVG path, and at most one text with the height of its type."""

    path: str
    text: str = ""
    size: float = 10.0
    filled: str = ""  # a path that is filled


def _circle(radius: float, x: float = 0.0, y: float = 0.0) -> str:
    arc = f"a{radius:g} {radius:g} 0 1 0"
    return f"M{x - radius:g} {y:g}{arc} {2 * radius:g} 0{arc} {-2 * radius:g} 0"


def _box(width: float, height: float) -> str:
    return f"M{-width / 2:g} {-height / 2:g}h{width:g}v{height:g}h{-width:g}z"


_BLADE = "M-18 0H-7L7 -9M7 0H18"
_ROUND = "M-18 0H-9" + _circle(2, -7) + _circle(2, 7) + "M9 0H18"
_COIL = _box(16, 12)
_MOTOR = _circle(11)
_ENDS = "M-18 0H-11M11 0H18"
_EARTH = "M0 -10V-2M-10 -2H10M-6 3H6M-2 8H2"

_IEC: Mapping[str, Symbol] = MappingProxyType(
    {
        "service": Symbol(_ENDS + _circle(11), "~", 16),
        "feed": Symbol("M-18 0H-4M4 0H18M-10 -6L-4 0L-10 6M-2 -6L4 0L-2 6"),
        "connector": Symbol("M-18 0H-4M4 0H18M-10 -6L-4 0L-10 6M-2 -6L4 0L-2 6"),
        "probe_socket": Symbol("M-18 0H-4M4 0H18M-10 -6L-4 0L-10 6M-2 -6L4 0L-2 6"),
        "socket": Symbol("M-18 0H-2M-2 -10V10M12 -10A10 10 0 0 0 12 10M2 0H18"),
        "inlet": Symbol("M18 0H2M2 -10V10M-12 -10A10 10 0 0 1 -12 10M-18 0H-2"),
        "breaker": Symbol(_BLADE + "M4 -3L10 3M10 -3L4 3"),
        "residual": Symbol(_BLADE + "M4 -3L10 3M10 -3L4 3M-13 -6a3 6 0 1 0 0.1 0"),
        "isolator": Symbol(_BLADE + "M7 -4V4"),
        "fuse": Symbol("M-18 0H18" + _box(22, 9)),
        "switch": Symbol(_BLADE + "M0 -5V-11M-4 -11H4"),
        "dial": Symbol("M-18 0H-11M11 0H18" + _box(22, 8) + "M-8 9L8 -9M8 -9L3 -8M8 -9L7 -4"),
        "exchanger": Symbol("M-18 6H-12V-8H-6V6H0V-8H6V6H12V-8H18"),
        "emergency_stop": Symbol(_BLADE + "M0 -5V-10M-6 -7A6 5 0 0 1 6 -7"),
        "contactor": Symbol(_COIL + "M-18 0H-8M8 0H18M-8 6L8 -6"),
        "control_relay": Symbol(_COIL + "M-18 0H-8M8 0H18"),
        "relay": Symbol(_box(28, 20) + "M-18 0H-7M7 0H18M-7 -7V7M7 -7V7M-7 -6L7 0L-7 6M7 -6", ""),
        "controller": Symbol(_box(32, 22), "θ →", 11),
        "heater": Symbol("M-18 0H-14M14 0H18" + _box(28, 10) + "M-7 -5V5M0 -5V5M7 -5V5"),
        "pump": Symbol(_ENDS + _MOTOR, "M", 12),
        "fan": Symbol(_ENDS + _MOTOR, "M", 12),
        "lamp": Symbol("M-18 0H-10M10 0H18" + _circle(10) + "M-7 -7L7 7M7 -7L-7 7"),
        "display": Symbol("M-18 0H-10M10 0H18" + _circle(10), "V", 11),
        "transformer": Symbol("M-18 0H-12M12 0H18" + _circle(8, -4) + _circle(8, 4)),
        "probe": Symbol("M-18 0H-11M11 0H18" + _box(22, 8) + "M-11 9H-7L9 -9", ""),
        "alarm": Symbol("M-18 0H-8M8 0H18M-8 6H8V0A8 8 0 0 0 -8 0z"),
        "enclosure": Symbol(_box(32, 20)),
        "bar": Symbol("", filled="M-18 -2.5h36v5h-36z"),
        "earth": Symbol(_EARTH),
    }
)
_IEEE: Mapping[str, Symbol] = MappingProxyType(
    {
        **_IEC,
        "breaker": Symbol("M-18 0H-9" + _circle(2, -7) + _circle(2, 7) + "M9 0H18M-8 -4A9 7 0 0 1 8 -4"),
        "residual": Symbol("M-18 0H-9" + _circle(2, -7) + _circle(2, 7) + "M9 0H18M-8 -4A9 7 0 0 1 8 -4", "", 8),
        "isolator": Symbol(_ROUND + "M-5 -1L7 -9"),
        "switch": Symbol(_ROUND + "M-5 -1L7 -9"),
        "emergency_stop": Symbol(_ROUND + "M-8 3H8M0 3V-8M-6 -6A6 4 0 0 1 6 -6"),
        "fuse": Symbol("M-18 0H-10C-5 -9 -5 -9 0 0S5 9 10 0H18"),
        "contactor": Symbol("M-18 0H-4M4 0H18M-4 -9V9M4 -9V9"),
        "control_relay": Symbol("M-18 0H-9M9 0H18" + _circle(9)),
        "heater": Symbol("M-18 0H-12L-10 -6L-6 6L-2 -6L2 6L6 -6L10 6L12 0H18"),
        "pump": Symbol(_ENDS + _MOTOR, "MOT", 7.5),
        "fan": Symbol(_ENDS + _MOTOR, "MOT", 7.5),
        "lamp": Symbol("M-18 0H-8M8 0H18" + _circle(8) + "M-8 -8L-12 -12M8 -8L12 -12M-8 8L-12 12M8 8L12 12", "P", 9),
        "transformer": Symbol(
            "M-18 -8H-10M-18 8H-10M-10 -8a4 4 0 0 1 0 5.3a4 4 0 0 1 0 5.3a4 4 0 0 1 0 5.3M-2 -9V9M2 -9V9"
            "M18 -8H10M18 8H10M10 -8a4 4 0 0 0 0 5.3a4 4 0 0 0 0 5.3a4 4 0 0 0 0 5.3"
        ),
        "socket": Symbol(_circle(10) + "M-4 -4V4M4 -4V4M-18 0H-10M10 0H18"),
        "inlet": Symbol(_circle(10) + "M-4 -4V4M4 -4V4M-18 0H-10M10 0H18"),
    }
)


def standard_of(region: str) -> Standard:
    """The standard that a region's schematics follow."""
    return "IEEE 315" if region == "north_america" else "IEC 60617"


def symbol_of(role: str, standard: Standard) -> Symbol | None:
    """The symbol of a role, or None for one that has none."""
    return (_IEEE if standard == "IEEE 315" else _IEC).get(role)
