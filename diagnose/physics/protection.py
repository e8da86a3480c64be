"""Breakers and control fuses: how soon and how late they may trip at a current."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal, NamedTuple

from diagnose.physics.number import require_not_negative, require_positive

Standard = Literal["UL 489", "IEC 60898-1", "IEC 60127", "UL 248-14", "BS 1362"]

NEVER = math.inf


class TripBand(NamedTuple):
    """From the earliest to the latest moment of a trip, in seconds; infinity is never."""

    earliest_seconds: float
    latest_seconds: float


class Point(NamedTuple):
    """A point of a time–current curve: current over rating, and a time."""

    multiple: float
    seconds: float


@dataclass(frozen=True, slots=True)
class Curve:
    """What a standard says of a device of one rating, as points with rising current.

    Attributes
    ----------
    holds_multiple : float
        Carried for ever, or for as long as nobody waits.
    earliest : tuple of Point
        No trip sooner; beyond the last of them it may be at once.
    latest : tuple of Point
        Tripped by then; below the first of them perhaps never.
    at_once_multiple : float
        From here on tripped within `at_once_seconds`.
    at_once_seconds : float
        What "instantaneous" means to the standard.
    """

    holds_multiple: float
    earliest: tuple[Point, ...]
    latest: tuple[Point, ...]
    at_once_multiple: float = math.inf
    at_once_seconds: float = 0.1


def trip_band(rating_amperes: float, standard: Standard, curve: str, current_amperes: float) -> TripBand:
    """Return how soon and how late a breaker or fuse may open at a steady current, starting cold.

    Parameters
    ----------
    rating_amperes : float
        Rated current.
    standard : str
        "UL 489" or "IEC 60898-1" for breakers, "IEC 60127" or "UL 248-14" for small fuses,
        "BS 1362" for the fuse in a British plug.
    curve : str
        "" for UL 489 and BS 1362; "B", "C" or "D" for IEC 60898-1; "F" (fast) or "T" (time-lag) for fuses.
    current_amperes : float
        Effective current.

    Returns
    -------
    TripBand
        Infinity is never: (inf, inf) surely holds, (5.0, inf) may trip after 5 s or hold.

    Raises
    ------
    ValueError
        If the rating is not above zero, the current is negative, or the standard lacks the curve.

    Notes
    -----
    Between two points of the standard both times are interpolated on logarithmic scales, and beyond the last
    point of the latest times the heat I²t is taken as constant until the instantaneous trip is due: both are
    ours, not the standard's. So are the earliest times of UL 489, which sets none.

    References
    ----------
    The tables of this module, each with its source.

    Examples
    --------
    >>> trip_band(30.0, "UL 489", "", 60.0).latest_seconds
    120.0
    >>> trip_band(16.0, "IEC 60898-1", "B", 16.0)
    TripBand(earliest_seconds=inf, latest_seconds=inf)
    """
    require_positive(rating_amperes=rating_amperes)
    require_not_negative(current_amperes=current_amperes)
    makers = CURVES.get(standard)
    if makers is None:
        raise ValueError(f"standard is {standard!r}, expected one of {', '.join(CURVES)}")
    if curve not in makers:
        raise ValueError(f"{standard} has no curve {curve!r}, expected one of {', '.join(map(repr, makers))}")
    return _band(makers[curve](rating_amperes), current_amperes / rating_amperes)


def _band(curve: Curve, multiple: float) -> TripBand:
    # A hair's breadth, so that 1.45 × 16 A is at the point of 1.45 and not next to it.
    multiple = round(multiple, 9)
    if multiple <= curve.holds_multiple:
        return TripBand(NEVER, NEVER)
    return TripBand(_earliest(curve, multiple), _latest(curve, multiple))


def _earliest(curve: Curve, multiple: float) -> float:
    if not curve.earliest or multiple > curve.earliest[-1].multiple:
        return 0.0
    if multiple <= curve.earliest[0].multiple:
        return curve.earliest[0].seconds
    return _between(curve.earliest, multiple)


def _latest(curve: Curve, multiple: float) -> float:
    if multiple >= curve.at_once_multiple:
        return curve.at_once_seconds
    if multiple < curve.latest[0].multiple:
        return NEVER
    last = curve.latest[-1]
    if multiple > last.multiple:
        return max(last.seconds * (last.multiple / multiple) ** 2, min(last.seconds, curve.at_once_seconds))
    return _between(curve.latest, multiple)


def _between(points: tuple[Point, ...], multiple: float) -> float:
    for left, right in itertools.pairwise(points):
        if multiple < right.multiple:
            along = math.log(multiple / left.multiple) / math.log(right.multiple / left.multiple)
            return left.seconds * math.exp(along * math.log(right.seconds / left.seconds))
    return points[-1].seconds


def _ul_489(rating: float) -> Curve:
    """Return the curve of a North American moulded-case breaker.

    UL 489: holds 100 %; trips at 135 % within 1 h up to 50 A (2 h above: from memory) and at 200 % within 2,
    4 or 6 min up to 30, 50 or 100 A (8 min above: from memory). It sets no earliest times and no current for
    the instantaneous trip: those here are of usual published curves, from memory.
    """
    at_double = next(seconds for limit, seconds in _UL_489_AT_DOUBLE if rating <= limit)
    return Curve(
        holds_multiple=1.0,
        earliest=(Point(1.0, 600.0), Point(1.35, 60.0), Point(2.0, 10.0), Point(5.0, 1.0)),
        latest=(Point(1.35, 3600.0 if rating <= 50 else 7200.0), Point(2.0, at_double)),
        at_once_multiple=20.0,
    )


_UL_489_AT_DOUBLE = ((30.0, 120.0), (50.0, 240.0), (100.0, 360.0), (math.inf, 480.0))

# Multiples between which the instantaneous trip lies, and the latest time at the lower of them up to 32 A and
# above. IEC 60898-1 table 7; the times from memory.
_IEC_INSTANTANEOUS: dict[str, tuple[float, float, float, float]] = {
    "B": (3.0, 5.0, 45.0, 90.0),
    "C": (5.0, 10.0, 15.0, 30.0),
    "D": (10.0, 20.0, 4.0, 8.0),
}


def _iec_60898(letter: str) -> Callable[[float], Curve]:
    """Return the maker of a curve of IEC 60898-1.

    IEC 60898-1: no trip within 1 h at 1.13, trip within 1 h at 1.45 (2 h above 63 A: from memory); 1 to 60 s
    at 2.55 up to 32 A, 1 to 120 s above; instantaneous, under 0.1 s, B 3 to 5, C 5 to 10, D 10 to 20 times.
    That the rated current is carried for ever is what rating means.
    """
    may, must, small_seconds, large_seconds = _IEC_INSTANTANEOUS[letter]

    def make(rating: float) -> Curve:
        hour = 3600.0 if rating <= 63 else 7200.0
        small = rating <= 32
        return Curve(
            holds_multiple=1.0,
            earliest=(Point(1.13, hour), Point(2.55, 1.0), Point(may, 0.1)),
            latest=(
                Point(1.45, hour),
                Point(2.55, 60.0 if small else 120.0),
                Point(may, small_seconds if small else large_seconds),
            ),
            at_once_multiple=must,
        )

    return make


def _iec_60127_fast(rating: float) -> Curve:
    """IEC 60127-2, 5 × 20 mm, F, from memory: 1.5 holds 1 h; 2.1 ≤ 30 min; 2.75, 4 and 10 times."""
    least = 0.05 if rating > 0.1 else 0.01
    return Curve(
        holds_multiple=1.0,
        earliest=(Point(1.5, 3600.0), Point(2.75, least), Point(4.0, 0.01)),
        latest=(Point(2.1, 1800.0), Point(2.75, 2.0), Point(4.0, 0.3)),
        at_once_multiple=10.0,
        at_once_seconds=0.02,
    )


def _iec_60127_time_lag(rating: float) -> Curve:
    """IEC 60127-2, 5 × 20 mm, T, from memory: 1.5 holds 1 h; 2.1 ≤ 2 min; 2.75, 4 and 10 times."""
    least = 0.6 if rating > 0.1 else 0.2
    return Curve(
        holds_multiple=1.0,
        earliest=(Point(1.5, 3600.0), Point(2.75, least), Point(4.0, 0.15), Point(10.0, 0.02)),
        latest=(Point(2.1, 120.0), Point(2.75, 10.0), Point(4.0, 3.0)),
        at_once_multiple=10.0,
        at_once_seconds=0.3,
    )


def _ul_248_fast(rating: float) -> Curve:
    """UL 248-14, fast, from memory: holds 110 %; 135 % within 1 h, 200 % within 2 min."""
    del rating  # the same for all ratings
    return Curve(holds_multiple=1.1, earliest=(), latest=(Point(1.35, 3600.0), Point(2.0, 120.0)))


def _ul_248_time_lag(rating: float) -> Curve:
    """UL 248-14, time-delay, from memory: as fast, but at 200 % not within 5 s, above 3 A not within 12 s."""
    least = 5.0 if rating <= 3 else 12.0
    return Curve(holds_multiple=1.1, earliest=(Point(2.0, least),), latest=(Point(1.35, 3600.0), Point(2.0, 120.0)))


def _bs_1362(rating: float) -> Curve:
    """BS 1362, the cartridge in a 13 A plug, from memory: 1.6 times holds 30 min, 1.9 times blows within 30 min."""
    del rating  # the same for all ratings
    return Curve(holds_multiple=1.0, earliest=(Point(1.6, 1800.0), Point(1.9, 1.0)), latest=(Point(1.9, 1800.0),))


CURVES: dict[str, dict[str, Callable[[float], Curve]]] = {
    "UL 489": {"": _ul_489},
    "IEC 60898-1": {letter: _iec_60898(letter) for letter in _IEC_INSTANTANEOUS},
    "IEC 60127": {"F": _iec_60127_fast, "T": _iec_60127_time_lag},
    "UL 248-14": {"F": _ul_248_fast, "T": _ul_248_time_lag},
    "BS 1362": {"": _bs_1362},
}
"""The maker of a curve from the rating, by standard and curve."""
