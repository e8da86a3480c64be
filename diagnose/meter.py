"""Instruments: what they load the circuit with, how well each range reads, where they show OL."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import inf
from types import MappingProxyType

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Range:
    """One range: what it shows at most, one count, and its accuracy: a share of the reading, and counts."""

    top: float
    step: float
    share: float
    counts: int
    test_amperes: float = 0.0  # what an ohms range sends through what it measures

    def error(self, value: float) -> float:
        """By how much a reading may be off.

        >>> round(Range(600.0, 0.1, 0.01, 2).error(100.0), 3)
        1.2
        """
        return self.share * abs(value) + self.counts * self.step


@dataclass(frozen=True, slots=True)
class Instrument:
    """How one quantity is read with one instrument; values in the quantity's SI unit, ranges rising.

    `siemens` loads the circuit; `lead_ohms` is what the leads add to a resistance, least and most; `stray` is
    what it shows of nothing at all: no smaller reading means anything. `over` says whether it shows OL above
    its top range.
    """

    name: str  # as a person tells which are at hand
    title: str
    ranges: tuple[Range, ...]
    siemens: float = 0.0
    lead_ohms: tuple[float, float] = (0.0, 0.0)
    stray: float = 0.0
    over: bool = True
    signed: bool = False

    @property
    def top(self) -> float:
        """Shows OL above this; inf where it does not."""
        return self.ranges[-1].top if self.over else inf

    def range_for(self, value: float) -> Range:
        """The range that it chooses by itself: the lowest that holds the value."""
        return next((each for each in self.ranges if abs(value) <= each.top), self.ranges[-1])

    def error(self, value: float) -> float:
        """By how much it may be off at a value, its leads aside."""
        return max(self.range_for(value).error(value), self.stray)


def _ranges(counts: int, share: float, off: int, *tops: float, amperes: tuple[float, ...] = ()) -> tuple[Range, ...]:
    sent = amperes or (0.0,) * len(tops)
    return tuple(Range(top, top / counts, share, off, each) for top, each in zip(tops, sent, strict=True))


INPUT_SIEMENS = 1 / 10e6  # about 10 megohm: trade data
LOW_IMPEDANCE_SIEMENS = 1 / 3e3  # about 3 kilohm in low-impedance mode: trade data
LEAD_OHMS = (0.2, 0.5)  # worked examples
CONTINUITY_OHMS = (10.0, 50.0)  # surely beeps below, surely silent above: common practice
INSULATION_TEST_VOLTS = (250.0, 500.0)  # IEC 60364-6: extra-low voltage, and circuits up to 500 V

# A plain meter of 6000 counts; its accuracies and the currents that its ohms ranges send are common practice,
# of the style of the worked examples (0.7 % + 2 counts). Open leads pick up half a volt near mains: common
# practice.
_VOLTS = (0.6, 6.0, 60.0, 600.0)
_OHMS = (
    *_ranges(6000, 0.008, 2, 600.0, 6e3, 60e3, 600e3, amperes=(3e-4, 1e-4, 1e-5, 1e-6)),
    *_ranges(6000, 0.015, 3, 6e6, amperes=(2e-7,)),
    *_ranges(6000, 0.03, 5, 60e6, amperes=(5e-8,)),
)
READERS: Mapping[tuple[str, str], Instrument] = MappingProxyType(
    {
        ("voltage_ac", "multimeter"): Instrument(
            "multimeter", "multimeter, AC volts", _ranges(6000, 0.01, 3, *_VOLTS), INPUT_SIEMENS, stray=0.5
        ),
        ("voltage_ac", "low_impedance"): Instrument(
            "low_impedance", "multimeter, AC volts in low-impedance mode", _ranges(6000, 0.02, 3, 600.0),
            LOW_IMPEDANCE_SIEMENS, stray=0.5,
        ),
        # Two readings, one less the other: the digits of both, and the share of what is left between them.
        ("voltage_drop", "multimeter"): Instrument(
            "multimeter", "multimeter, AC volts, twice", (Range(600.0, 0.1, 0.01, 6),), INPUT_SIEMENS,
            over=False, signed=True,
        ),
        ("voltage_dc", "multimeter"): Instrument(
            "multimeter", "multimeter, DC volts", _ranges(6000, 0.007, 2, *_VOLTS), INPUT_SIEMENS,
            stray=0.05, signed=True,
        ),
        ("resistance", "multimeter"): Instrument(
            "multimeter", "multimeter, ohms", _OHMS, lead_ohms=LEAD_OHMS
        ),
        ("current_ac", "clamp"): Instrument(
            "clamp", "clamp meter, AC amps", _ranges(6000, 0.025, 5, 60.0, 600.0), stray=0.1
        ),
        # The field of the load current that the jaws do not quite cancel: common practice.
        ("current_ac", "leakage_clamp"): Instrument(
            "leakage_clamp", "leakage clamp, AC milliamps",
            _ranges(6000, 0.015, 5, 6e-3, 60e-3, 0.6, 6.0, 60.0), stray=1e-4,
        ),
        ("insulation", "insulation_tester"): Instrument(
            "insulation_tester", "insulation tester, 500 V",
            _ranges(5000, 0.05, 5, 5e6, 50e6, 500e6), stray=2e4,
        ),
        # Down to a hundredth of a millivolt: common practice.
        ("millivolts", "multimeter"): Instrument(
            "multimeter", "multimeter, DC millivolts", _ranges(6000, 0.007, 3, 0.06, 0.6), INPUT_SIEMENS, signed=True
        ),
        # The known thermometer is good for a degree: common practice.
        ("temperature_error", "none"): Instrument(
            "none", "the display and a known thermometer", (Range(450.0, 0.5, 0.0, 2),), over=False, signed=True
        ),
        ("temperature", "none"): Instrument(
            "none", "the display", (Range(450.0, 0.5, 0.0, 1),), over=False, signed=True
        ),
        # 2 % or 2 K, and as much again for the emissivity of plastic and painted metal: trade data, common practice.
        ("surface_temperature", "infrared_thermometer"): Instrument(
            "infrared_thermometer", "infrared thermometer", (Range(550.0, 0.1, 0.04, 20),), over=False, signed=True
        ),
        # Volume, losses and the two temperatures: common practice.
        ("heat_rate", "none"): Instrument(
            "none", "watch and thermometer", (Range(100e3, 50.0, 0.12, 1),), over=False
        ),
        # Three litres lost, read off a mark twice: common practice.
        ("boil_off", "none"): Instrument("none", "watch and mark", (Range(100e3, 50.0, 0.2, 1),), over=False),
    }
)  # fmt: skip
USUAL: Mapping[str, str] = MappingProxyType(
    {
        "voltage_ac": "multimeter",
        "voltage_dc": "multimeter",
        "voltage_drop": "multimeter",
        "resistance": "multimeter",
        "current_ac": "clamp",
        "insulation": "insulation_tester",
        "temperature": "none",
        "temperature_error": "none",
        "millivolts": "multimeter",
        "heat_rate": "none",
        "boil_off": "none",
        "surface_temperature": "infrared_thermometer",
    }
)
INSTRUMENT_CHOICES = (
    "multimeter",
    "clamp",
    "insulation_tester",
    "leakage_clamp",
    "low_impedance",
    "infrared_thermometer",
)


def reader_of(quantity: str, instrument: str = "") -> Instrument:
    """What reads a quantity, with the usual instrument if none is named. Raises KeyError if nothing does."""
    return READERS[quantity, instrument or USUAL[quantity]]


def shown_interval(reader: Instrument, low: ArrayLike, high: ArrayLike) -> tuple[FloatArray, FloatArray]:
    """The readings that may come of true values between `low` and `high` (...,); inf for OL, nan for nan.

    An instrument that goes up a range between the two is less sure from there on, so that the least reading
    may come of a value above `low`.

    >>> [round(float(end), 2) for end in shown_interval(reader_of("voltage_ac"), 240.0, 240.0)]
    [237.3, 242.7]
    """
    low, high = np.asarray(low, dtype=np.float64), np.asarray(high, dtype=np.float64)
    least, most = _shown(reader, low, -1, 0), _shown(reader, high, 1, 0)
    for number, below in enumerate(reader.ranges[:-1], start=1):
        within = (low <= below.top) & (high > below.top)
        above = _shown(reader, np.full_like(low, below.top), -1, number)
        least = np.where(within, np.minimum(least, above), least)
    return least, most


def accuracy_text(reader: Instrument, value: float) -> str:
    """The accuracy at a value, as its maker would print it.

    >>> accuracy_text(reader_of("voltage_ac"), 240.0)
    '1 % + 3 counts'
    """
    at = reader.range_for(value)
    return f"{100 * at.share:g} % + {at.counts} count{'s' * (at.counts != 1)}"


def continuity(low: float, high: float) -> str:
    """What a continuity tester does over a resistance between `low` and `high`: 'beeps', 'silent', 'either'.

    >>> continuity(0.0, 2.0), continuity(11.0, 12.0), continuity(1e3, float("inf"))
    ('beeps', 'either', 'silent')
    """
    if high + LEAD_OHMS[1] < CONTINUITY_OHMS[0]:
        return "beeps"
    return "silent" if low > CONTINUITY_OHMS[1] else "either"


def _shown(reader: Instrument, values: FloatArray, side: int, least_range: int) -> FloatArray:
    """The furthest reading to one side, of values that none of the ranges before `least_range` holds."""
    tops = np.array([each.top for each in reader.ranges])
    place = np.clip(np.searchsorted(tops, np.abs(values)), least_range, len(tops) - 1)
    share = np.array([each.share for each in reader.ranges])[place]
    counts = np.array([each.counts * each.step for each in reader.ranges])[place]
    finite = np.isfinite(values)
    safe = np.where(finite, values, 0)
    error = np.maximum(share * np.abs(safe) + counts, reader.stray)
    shown = safe + side * error + reader.lead_ohms[0 if side < 0 else 1]
    if not reader.signed:
        shown = np.maximum(shown, 0)
    shown = np.where(shown > reader.top, np.inf, shown)
    return np.asarray(np.where(finite, shown, values))
