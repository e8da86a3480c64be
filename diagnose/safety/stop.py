"""What ends a session at once: words that say it, and answers that mean it."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

PLAIN_STOP = "stopped"  # the person went away; nothing dangerous was said
REFERRED = "referred"  # the person would rather have an electrician do it
# What ends a session with the supply off: seen, smelt or felt.
DANGERS = (
    "danger", "smoke", "fire", "sparks", "heat", "burning", "burning smell", "burnt smell", "smell",
    "water", "water inside", "black marks", "scorched", "scorch marks", "shock", "tingle", "hot plug", "not dead",
    "no earth", "won't reset", "trips again",
)  # fmt: skip
STOP_KEY = "!"  # the one key that says so at any prompt
# Words that say it in a sentence, unless it denies them: 'I got a shock', 'smoke from the box', but 'no smoke'.
_SAID: Mapping[str, str] = MappingProxyType(
    {
        **dict.fromkeys(("smoke", "smokes", "smoking"), "smoke"),
        **dict.fromkeys(("fire", "flame", "flames"), "fire"),
        **dict.fromkeys(("spark", "sparks", "sparked", "sparking", "arcing"), "sparks"),
        **dict.fromkeys(("shock", "shocked", "electrocuted"), "shock"),
        **dict.fromkeys(("tingle", "tingles", "tingled", "tingling"), "tingle"),
        "burning": "burning smell",
    }
)
_DENIES = frozenset({"no", "not", "nothing", "never", "without", "none", "nobody"})
# Outcomes of a sign that are a danger in themselves, whatever they are asked for.
DANGEROUS_OUTCOMES: Mapping[str, str] = MappingProxyType(
    {
        "burnt": "scorch marks", "scorched": "scorch marks", "browned": "scorch marks", "smoking": "smoke",
        "wet": "water inside", "water": "water inside", "hot": "hot plug", "too hot to touch": "hot plug",
        "smells burnt": "burnt smell", "acrid": "burning smell",
        "sparks": "sparks", "stays off": "won't reset", "won't reset": "won't reset",
    }
)  # fmt: skip
TRIPS_AT_ONCE = "trips at once"
MOST_TRIPS = 2  # a device that tripped at once twice is not set again: common practice
# An earth path of more is none to rely on: 0.1 ohm and the cord is the standard's figure (EN 50106), a meter's leads
# add up to 0.5, and a fault must draw enough to trip. Twenty times the standard: common practice.
EARTH_OHMS = 2.0


def danger_said(text: str) -> str:
    """The danger that a typed text says, by a word of its own, the key for it or in a sentence; or nothing."""
    word = " ".join(text.lower().split())
    if STOP_KEY in word and not word.strip(f"{STOP_KEY} "):
        return DANGERS[0]
    bare = word.strip(".,;:!? ").replace("ground", "earth")
    if bare in DANGERS:
        return bare
    spoken = [piece.strip(".,;:!?") for piece in word.split()]
    if _DENIES.intersection(spoken) or any(piece.endswith(("n't", "n’t")) for piece in spoken):
        return ""
    return next((_SAID[piece] for piece in spoken if piece in _SAID), "")


def dangerous_outcome(outcome: str) -> str:
    """The danger that an outcome of a sign stands for, or nothing."""
    return DANGEROUS_OUTCOMES.get(outcome, "")


def dangerous_earth(ohms: float) -> str:
    """The danger that a reading along an earth path stands for, or nothing."""
    return "no earth" if ohms > EARTH_OHMS else ""


def dangerous_trips(at_once: int) -> str:
    """The danger in how often one device tripped at once in a session, or nothing."""
    return "trips again" if at_once >= MOST_TRIPS else ""
