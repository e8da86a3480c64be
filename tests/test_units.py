"""Units: what a brewer types, what is refused and how, what a meter shows."""

from __future__ import annotations

import math
import subprocess
import sys

import pytest
from hypothesis import given
from hypothesis import strategies as st

from diagnose.errors import AnswerError
from diagnose.units import DIMENSIONS, awg_area, quantity, show, show_range, to_si


@pytest.mark.parametrize(
    ("text", "dimension", "value"),
    [
        ("120 V", "voltage", 120),
        ("120v", "voltage", 120),
        ("24 VAC", "voltage", 24),
        ("12 V DC", "voltage", 12),
        ("3 mV", "voltage", 0.003),
        ("1 kV", "voltage", 1000),
        ("16 A", "current", 16),
        ("30 mA", "current", 0.03),
        ("4 uA", "current", 4e-6),
        ("4 \u00b5A", "current", 4e-6),
        ("4 \u03bcA", "current", 4e-6),
        ("10.4 ohm", "resistance", 10.4),
        ("10 ohms", "resistance", 10),
        ("10,4 \u03a9", "resistance", 10.4),
        ("10.4\u2126", "resistance", 10.4),
        ("1.2 kΩ", "resistance", 1200),
        ("1.2k", "resistance", 1200),
        ("1.2 KOHM", "resistance", 1200),
        ("4k7", "resistance", 4700),
        ("4k7 Ω", "resistance", 4700),
        ("10R4", "resistance", 10.4),
        ("47R", "resistance", 47),
        ("1M5", "resistance", 1.5e6),
        ("2 MΩ", "resistance", 2e6),
        ("2 Mohm", "resistance", 2e6),
        ("2 megohm", "resistance", 2e6),
        ("2 meg", "resistance", 2e6),
        ("2 GΩ", "resistance", 2e9),
        ("2 mohm", "resistance", 0.002),
        ("5500w", "power", 5500),
        ("5.5 kW", "power", 5500),
        ("65 °C", "temperature", 65),
        ("65C", "temperature", 65),
        ("65 degC", "temperature", 65),
        ("65 degrees C", "temperature", 65),
        ("149 °F", "temperature", 65),
        ("149 F", "temperature", 65),
        ("149 degF", "temperature", 65),
        ("\u221210 °C", "temperature", -10),
        ("300 K", "temperature", 26.85),
        ("5 °C", "temperature_difference", 5),
        ("5 K", "temperature_difference", 5),
        ("9 °F", "temperature_difference", 5),
        ("9 F", "temperature_difference", 5),
        ("2 m", "length", 2),
        ("40 cm", "length", 0.4),
        ("3 mm", "length", 0.003),
        ("6 ft", "length", 1.8288),
        ("9 in", "length", 0.2286),
        ("2.5 mm²", "area", 2.5e-6),
        ("2.5mm2", "area", 2.5e-6),
        ("2.5 mm^2", "area", 2.5e-6),
        ("40 L", "volume", 0.04),
        ("40 l", "volume", 0.04),
        ("40 liter", "volume", 0.04),
        ("1 gal", "volume", 0.003785411784),
        ("4 qt", "volume", 0.003785411784),
        ("20 kg", "mass", 20),
        ("1 lb", "mass", 0.45359237),
        ("5 s", "time", 5),
        ("5 min", "time", 300),
        ("5 minutes", "time", 300),
        ("2 h", "time", 7200),
        ("60 Hz", "frequency", 60),
        ("22 nF", "capacitance", 22e-9),
        ("2 µF", "capacitance", 2e-6),
        ("2 uF", "capacitance", 2e-6),
        ("1 F", "capacitance", 1),
        ("10 mH", "inductance", 0.01),
        ("1 H", "inductance", 1),
        ("101.325 kPa", "pressure", 101325),
        ("1013.25 hPa", "pressure", 101325),
        ("1013.25 mbar", "pressure", 101325),
        ("1 bar", "pressure", 1e5),
        ("1 psi", "pressure", 6894.757293168361),
        ("5 %", "ratio", 0.05),
        ("0.05", "ratio", 0.05),
        ("5 J", "energy", 5),
        ("1 kWh", "energy", 3.6e6),
    ],
)
def test_takes_what_a_brewer_types(text: str, dimension: str, value: float) -> None:
    assert to_si(text, dimension) == pytest.approx(value, rel=1e-12, abs=1e-12 if dimension == "temperature" else 0)


@pytest.mark.parametrize(
    ("text", "dimension", "message"),
    [
        ("24 W", "voltage", "'24 W' is power; expected voltage (such as 120 V)"),
        ("24", "voltage", "'24' has no unit; expected voltage (such as 120 V)"),
        ("24 Q", "voltage", "'24 Q' has an unknown unit 'Q'; expected voltage (such as 120 V)"),
        ("ten", "voltage", "'ten' is not a number; expected voltage (such as 120 V)"),
        ("", "voltage", "'' is not a number; expected voltage (such as 120 V)"),
        ("nan V", "voltage", "'nan V' is not a number; expected voltage (such as 120 V)"),
        ("inf V", "voltage", "'inf V' is not a number; expected voltage (such as 120 V)"),
        ("1.2.3 V", "voltage", "'1.2.3 V' is not a number; expected voltage (such as 120 V)"),
        ("1e999 V", "voltage", "'1e999 V' is too large; expected voltage (such as 120 V)"),
        ("2e9 kV", "voltage", "'2e9 kV' is too large; expected voltage (such as 120 V)"),
        ("5 %", "voltage", "'5 %' is a ratio; expected voltage (such as 120 V)"),
        ("5 C", "voltage", "'5 C' is temperature; expected voltage (such as 120 V)"),
        ("1,200 W", "power", "'1,200 W' can be read as 1200 or as 1.200; expected power (such as 4500 W)"),
        ("4k7", "voltage", "'4k7' has an unknown unit 'k7'; expected voltage (such as 120 V)"),
        ("10² V", "voltage", "'10² V' has an unknown unit '² V'; expected voltage (such as 120 V)"),
        ("9 V**9", "voltage", "'9 V**9' has an unknown unit 'V**9'; expected voltage (such as 120 V)"),
        ("5 kC", "temperature", "'5 kC' has an unknown unit 'kC'; expected temperature (such as 65 °C)"),
        ("1\x1b[2J V", "voltage", "'1?[2J V' is not a number with a unit; expected voltage (such as 120 V)"),
        ("5", "temperature_difference", "'5' has no unit; expected temperature difference (such as 5 K)"),
    ],
)
def test_says_what_it_found_and_what_it_expected(text: str, dimension: str, message: str) -> None:
    with pytest.raises(AnswerError) as caught:
        to_si(text, dimension)
    assert str(caught.value) == message


@pytest.mark.parametrize("dimension", DIMENSIONS)
def test_a_plain_number_is_si_only_when_assumed(dimension: str) -> None:
    assert to_si("24", dimension, assume=True) == 24
    if dimension != "ratio":
        with pytest.raises(AnswerError, match="'24' has no unit"):
            to_si("24", dimension)


def test_a_unit_is_taken_before_what_is_assumed() -> None:
    assert to_si("24 kV", "voltage", assume=True) == 24000


def test_a_quantity_keeps_the_unit_it_was_written_in() -> None:
    written = quantity("1.2 kΩ", "resistance")
    assert (written.magnitude, str(written.units)) == (1.2, "kiloohm")


def test_an_unknown_dimension_is_a_programming_error() -> None:
    with pytest.raises(ValueError, match="'volts' is no dimension, expected one of voltage, current"):
        to_si("1 V", "volts")


@pytest.mark.parametrize(
    ("text", "square_millimetres"),
    [("18 AWG", 0.823), ("10 AWG", 5.261), ("10awg", 5.261), ("2 AWG", 33.62), ("1/0 AWG", 53.48),
     ("4/0 AWG", 107.2), ("2.5 mm²", 2.5), ("1.5mm2", 1.5)],
)  # fmt: skip
def test_conductor_sizes(text: str, square_millimetres: float) -> None:
    assert awg_area(text) * 1e6 == pytest.approx(square_millimetres, rel=5e-4)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("19 AWG", "'19 AWG' is no size of wire; expected a conductor size (such as 10 AWG or 2.5 mm²), "
                   "18 to 1 or 1/0 to 4/0 AWG"),
        ("5/0 AWG", "'5/0 AWG' is no size of wire; expected a conductor size (such as 10 AWG or 2.5 mm²), "
                    "18 to 1 or 1/0 to 4/0 AWG"),
        ("500 mm²", "'500 mm²' is no size of wire; expected a conductor size (such as 10 AWG or 2.5 mm²), "
                    "0.1 to 120 mm²"),
        ("10", "'10' has no unit; expected a conductor size (such as 10 AWG or 2.5 mm²)"),
        ("2 m", "'2 m' is length; expected a conductor size (such as 10 AWG or 2.5 mm²)"),
    ],
)  # fmt: skip
def test_refused_conductor_sizes(text: str, message: str) -> None:
    with pytest.raises(AnswerError) as caught:
        awg_area(text)
    assert str(caught.value) == message


@pytest.mark.parametrize(
    ("value", "dimension", "shown"),
    [
        (10.4, "resistance", "10.4 Ω"),
        (0.3, "resistance", "0.30 Ω"),
        (0.0, "resistance", "0.00 Ω"),
        (1200, "resistance", "1.20 kΩ"),
        (999.6, "resistance", "1.00 kΩ"),
        (2e6, "resistance", "2.00 MΩ"),
        (math.inf, "resistance", "OL"),
        (0.0042, "current", "4.20 mA"),
        (22.879, "current", "22.9 A"),
        (118, "voltage", "118 V"),
        (239.54, "voltage", "240 V"),
        (0.0208, "voltage", "20.8 mV"),
        (-0.3, "voltage", "-300 mV"),
        (-1e-9, "voltage", "0.00 V"),
        (65, "temperature", "65.0 °C"),
        (5, "temperature", "5.0 °C"),
        (100, "temperature", "100 °C"),
        (-0.01, "temperature", "0.0 °C"),
        (4500, "power", "4.50 kW"),
        (2.5e-6, "area", "2.50 mm²"),
        (22e-9, "capacitance", "22.0 nF"),
        (0.05, "ratio", "5.00 %"),
        (90, "time", "1.50 min"),
    ],
)
def test_shows_what_a_meter_shows(value: float, dimension: str, shown: str) -> None:
    assert show(value, dimension) == shown


@pytest.mark.parametrize(
    ("low", "high", "dimension", "shown", "plain"),
    [
        (9.9, 11.0, "resistance", "9.9–11.0 Ω", "9.9-11.0 ohm"),
        (11.0, 9.9, "resistance", "9.9–11.0 Ω", "9.9-11.0 ohm"),
        (900, 1500, "resistance", "0.90–1.50 kΩ", "0.90-1.50 kohm"),
        (0, 126, "voltage", "0–126 V", "0-126 V"),
        (118, 118.2, "voltage", "118 V", "118 V"),
        (-5, 3, "temperature", "-5.0 to 3.0 °C", "-5.0 to 3.0 C"),
        (12e6, math.inf, "resistance", "12.0 MΩ–OL", "12.0 Mohm-OL"),
        (math.inf, math.inf, "resistance", "OL", "OL"),
        (1e-6, 2e-6, "capacitance", "1.00–2.00 µF", "1.00-2.00 uF"),
    ],
)
def test_a_range_has_one_prefix(low: float, high: float, dimension: str, shown: str, plain: str) -> None:
    assert show_range(low, high, dimension) == shown
    assert show_range(low, high, dimension, ascii=True) == plain


def test_no_number_is_not_shown() -> None:
    with pytest.raises(ValueError, match="nan to nan is no range"):
        show(math.nan, "voltage")


@given(st.sampled_from([d for d in DIMENSIONS if d != "temperature"]), st.floats(1e-9, 1e5), st.integers(3, 6))
def test_what_is_shown_reads_back(dimension: str, value: float, digits: int) -> None:
    shown = show(value, dimension, digits)
    read = to_si(shown, dimension)
    number, unit = shown.split()
    whole, _, places = number.partition(".")
    # Half of the last of `digits` significant digits, or of the last place that the display has.
    step = max(10.0 ** -len(places), 10.0 ** (len(whole) - digits)) * to_si(f"1 {unit}", dimension)
    assert abs(read - value) <= 0.5 * step * (1 + 1e-6)


def test_ascii_has_nothing_else() -> None:
    for dimension in DIMENSIONS:
        for power in range(-9, 10):
            assert show(10.0**power, dimension, ascii=True).isascii()


@given(st.text(max_size=80), st.sampled_from(DIMENSIONS))
def test_any_text_is_a_number_or_an_answer_error(text: str, dimension: str) -> None:
    try:
        assert math.isfinite(to_si(text, dimension))
    except AnswerError as error:
        assert len(error.problems) == 1 and error.problems[0].expected


def test_the_import_is_cheap() -> None:
    code = (
        "import sys, diagnose.units, diagnose.readings\n"
        "assert not {'pint', 'numpy'} & set(sys.modules), sorted(sys.modules)"
    )
    subprocess.run([sys.executable, "-c", code], check=True)
