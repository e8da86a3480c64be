"""How far apart readings of each quantity are, on the instrument that shows them."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from diagnose.belief import Scale
from diagnose.meter import reader_of

SLIP = 0.005  # how often a reading is misread or mistyped and not noticed when it is asked for again: common practice


def scale_of(quantity: str) -> Scale:
    """The scale of a quantity. Raises KeyError for one that isn't read off an instrument."""
    return _ALL[quantity]


_OHMS_TOP, _INSULATION_TOP = reader_of("resistance").top, reader_of("insulation").top
_ALL: Mapping[str, Scale] = MappingProxyType(
    {
        # Alternating volts are told apart by ratio: half a volt from six as well as 120 from 240.
        "voltage_ac": Scale("logarithmic", 0.0, 1000.0, 0.1),
        "voltage_drop": Scale("linear", -300.0, 450.0, 0.5),
        "voltage_dc": Scale("linear", -30.0, 30.0, 0.05),
        "resistance": Scale("logarithmic", 0.1, _OHMS_TOP, 0.1, _OHMS_TOP),
        "insulation": Scale("logarithmic", 1e3, _INSULATION_TOP, 1e4, _INSULATION_TOP),
        # From a tenth of a milliamp on a leakage clamp to what a breaker lets through.
        "current_ac": Scale("logarithmic", 0.0, 600.0, 1e-4),
        # A controller that shows no number stands apart from all temperatures, as OL does.
        "temperature": Scale("linear", -60.0, 450.0, 0.5, 450.0),
        "surface_temperature": Scale("linear", -60.0, 600.0, 1.0),
        "temperature_error": Scale("linear", -450.0, 450.0, 0.5, 450.0),
        "millivolts": Scale("linear", -0.06, 0.06, 5e-5),
        "heat_rate": Scale("linear", 0.0, 20e3, 50.0),
        "boil_off": Scale("linear", 0.0, 20e3, 50.0),
    }
)
