"""Instruments: what they load the circuit with, how well they read, where they show OL."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import inf, isfinite
from types import MappingProxyType


@dataclass(frozen=True, slots=True)
class Instrument:
    """How one quantity is read. Values in the quantity's SI unit."""

    name: str
    title: str
    share: float  # accuracy, share of the reading
    least: float  # accuracy, counts as a value
    over: float  # shows OL above this; inf where it does not
    siemens: float = 0.0  # load on the circuit
    lead_ohms: tuple[float, float] = (0.0, 0.0)  # added to a resistance by the leads


# Accuracies of a plain digital multimeter: worked examples of (1 % + counts) style specifications, common practice.
# Input of 10 megohm and leads of 0.2 to 0.5 ohm: trade data.
INSTRUMENTS: Mapping[str, Instrument] = MappingProxyType(
    {
        "voltage_ac": Instrument("multimeter", "multimeter, AC volts", 0.012, 0.5, inf, 1e-7),
        "voltage_dc": Instrument("multimeter", "multimeter, DC volts", 0.008, 0.05, inf, 1e-7),
        "resistance": Instrument("multimeter", "multimeter, ohms", 0.01, 0.1, 40e6, 0.0, (0.1, 0.5)),
        "current_ac": Instrument("clamp", "clamp meter, AC amps", 0.03, 0.1, inf),
        "insulation": Instrument("insulation_tester", "insulation tester, 500 V", 0.1, 2e4, 500e6),
        "temperature": Instrument("thermometer", "thermometer", 0.0, 0.5, inf),
        "heat_rate": Instrument("watch", "watch and thermometer", 0.12, 50.0, inf),
    }
)
INSTRUMENT_CHOICES = ("multimeter", "clamp", "insulation_tester")


def shown_interval(quantity: str, low: float, high: float) -> tuple[float, float]:
    """The readings that may come of a true value between `low` and `high`; inf for OL.

    >>> shown_interval("voltage_ac", 240.0, 240.0)
    (236.62, 243.38)
    """
    instrument = INSTRUMENTS[quantity]
    return _shown(instrument, quantity, low, -1), _shown(instrument, quantity, high, 1)


def _shown(instrument: Instrument, quantity: str, value: float, side: int) -> float:
    if not isfinite(value):
        return value
    lead = instrument.lead_ohms[0] if side < 0 else instrument.lead_ohms[1]
    shown = value + side * (instrument.share * abs(value) + instrument.least) + lead
    if quantity not in ("voltage_dc", "temperature"):
        shown = max(shown, 0.0)
    return inf if shown > instrument.over else shown
