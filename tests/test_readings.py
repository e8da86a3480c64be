"""Readings as a person types them."""

from __future__ import annotations

import math
from typing import get_args

import pytest
from hypothesis import given
from hypothesis import strategies as st

from diagnose.errors import AnswerError
from diagnose.readings import QuantityName, Reading, parse_reading, show_reading

QUANTITIES: tuple[QuantityName, ...] = get_args(QuantityName)


@pytest.mark.parametrize(
    ("text", "quantity", "value"),
    [
        ("10.4", "resistance", 10.4),
        ("10,4", "resistance", 10.4),
        ("10.4 ohm", "resistance", 10.4),
        ("10.4Ω", "resistance", 10.4),
        ("10R4", "resistance", 10.4),
        ("4k7", "resistance", 4700),
        ("4k7 ohm", "resistance", 4700),
        ("1M5", "resistance", 1.5e6),
        ("1.2k", "resistance", 1200),
        ("1.2 Mohm", "resistance", 1.2e6),
        ("0", "resistance", 0),
        ("-0.0", "resistance", 0),
        ("118", "voltage_ac", 118),
        ("118 V", "voltage_ac", 118),
        ("118VAC", "voltage_ac", 118),
        ("120 vac", "voltage_ac", 120),
        ("118 V AC", "voltage_ac", 118),
        ("118 ac", "voltage_ac", 118),
        ("118 V rms", "voltage_ac", 118),
        ("~118", "voltage_ac", 118),
        ("about 118", "voltage_ac", 118),
        (" 118 V. ", "voltage_ac", 118),
        ("1 kV", "voltage_ac", 1000),
        ("12.6 VDC", "voltage_dc", 12.6),
        ("-0.3", "voltage_dc", -0.3),
        ("3 mV", "voltage_dc", 0.003),
        ("22.9", "current_ac", 22.9),
        ("4.2mA", "current_ac", 0.0042),
        ("4.2 mA", "current_ac", 0.0042),
        ("22.9 A AC", "current_ac", 22.9),
        ("20", "insulation", 20e6),
        ("0.3", "insulation", 0.3e6),
        ("300k", "insulation", 0.3e6),
        ("1.2 Mohm", "insulation", 1.2e6),
        ("65", "temperature", 65),
        ("65C", "temperature", 65),
        ("65 °C", "temperature", 65),
        ("65°", "temperature", 65),
        ("65 degrees", "temperature", 65),
        ("149 F", "temperature", 65),
        ("149°F", "temperature", 65),
        ("-3", "temperature", -3),
        ("4.5", "heat_rate", 4500),
        ("1.8 kW", "heat_rate", 1800),
        ("1800 W", "heat_rate", 1800),
    ],
)
def test_takes_any_usual_writing(text: str, quantity: QuantityName, value: float) -> None:
    reading = parse_reading(text, quantity)
    assert reading == Reading(quantity, pytest.approx(value, rel=1e-12), False, text.strip())
    assert math.copysign(1, reading.value) == math.copysign(1, value)


def test_a_thermometer_may_show_fahrenheit() -> None:
    assert parse_reading("149", "temperature", "F").value == pytest.approx(65)
    assert parse_reading("149°", "temperature", "F").value == pytest.approx(65)
    assert parse_reading("65 °C", "temperature", "F").value == pytest.approx(65)


@pytest.mark.parametrize("quantity", ["resistance", "insulation"])
@pytest.mark.parametrize(
    "text",
    ["OL", "ol", "O.L", "0L", "0.L", "O L", "OL MΩ", "OL kohm", "open", "inf", "∞", "overload", ">200M",
     "> 500 MΩ", "over 500 MΩ"],
)  # fmt: skip
def test_over_range_is_a_reading_on_ohms(text: str, quantity: QuantityName) -> None:
    assert parse_reading(text, quantity) == Reading(quantity, math.inf, True, text)


VOLTS, OHMS = "voltage (such as 118 V)", "resistance (such as 10.4 Ω, or OL)"


@pytest.mark.parametrize(
    ("text", "quantity", "message"),
    [
        ("", "resistance", f"nothing was typed; expected {OHMS}"),
        ("  ", "resistance", f"nothing was typed; expected {OHMS}"),
        ("ten", "resistance", f"'ten' is not a number; expected {OHMS}"),
        ("12 kg", "resistance", f"'12 kg' is mass; expected {OHMS}"),
        ("-5 ohm", "resistance", f"'-5 ohm' is below zero; expected {OHMS}"),
        ("-0.03", "resistance", f"'-0.03' is below zero; expected {OHMS}"),
        ("-0.01", "voltage_ac", f"'-0.01' is below zero; expected {VOLTS}"),
        ("1.2.3", "resistance", f"'1.2.3' is not a number; expected {OHMS}"),
        ("1e999", "resistance", f"'1e999' is too large; expected {OHMS}"),
        ("nan", "resistance", f"'nan' is not a number; expected {OHMS}"),
        ("5 A", "voltage_ac", f"'5 A' is current; expected {VOLTS}"),
        ("12.6 VDC", "voltage_ac", f"'12.6 VDC' is DC; expected AC {VOLTS}"),
        ("118 V AC", "voltage_dc", "'118 V AC' is AC; expected DC voltage (such as 12.6 V)"),
        ("1001", "voltage_ac", f"'1001' is outside what such a meter shows; expected {VOLTS}, 0 to 1000 V"),
        ("-1001", "voltage_dc",
         "'-1001' is outside what such a meter shows; expected voltage (such as 12.6 V), -1000 to 1000 V"),
        ("401", "current_ac",
         "'401' is outside what such a meter shows; expected current (such as 22.9 A), 0 to 400 A"),
        ("451", "temperature",
         "'451' is outside what such a meter shows; expected temperature (such as 65 °C), -60 to 450 °C"),
        ("-61", "temperature",
         "'-61' is outside what such a meter shows; expected temperature (such as 65 °C), -60 to 450 °C"),
        ("101", "heat_rate",
         "'101' is outside what such a meter shows; expected heating power (such as 4.5 kW), 0 to 100 kW"),
        ("2e6 M", "insulation", "'2e6 M' is too large; expected insulation (such as 20 MΩ, or OL)"),
        ("OL", "voltage_ac",
         f"'OL' means that the meter is over range; expected a higher range on the meter, then {VOLTS}"),
        ("OL A", "current_ac", "'OL A' means that the meter is over range; "
         "expected a higher range on the meter, then current (such as 22.9 A)"),
        ("OL", "temperature",
         "'OL' is no temperature: the thermometer sees no probe; expected temperature (such as 65 °C)"),
        (">100", "voltage_ac",
         f"'>100' is not one number; expected the number that the meter shows, {VOLTS}"),
        ("<0.1", "resistance", f"'<0.1' is not one number; expected the number that the meter shows, {OHMS}"),
        (">5", "resistance",
         "'>5' is not one number; expected the number that the meter shows on a higher range, or OL"),
        ("1.2 mohm", "insulation", "'1.2 mohm' is in milliohms (a small m); "
         "expected insulation (such as 20 MΩ, or OL); a capital M for megohms"),
        ("1,200", "voltage_ac", f"'1,200' can be read as 1200 or as 1.200; expected {VOLTS}"),
        ("1\x00", "resistance", f"'1?' has a control character in it; expected {OHMS}"),
        ("1" * 61, "resistance", f"'{'1' * 57}…' is longer than 60 characters; expected {OHMS}"),
    ],
)  # fmt: skip
def test_says_why_a_reading_is_refused(text: str, quantity: QuantityName, message: str) -> None:
    with pytest.raises(AnswerError) as caught:
        parse_reading(text, quantity)
    assert str(caught.value) == message


@pytest.mark.parametrize(
    ("text", "quantity", "shown"),
    [
        ("118", "voltage_ac", "118 V AC"),
        ("118.4", "voltage_ac", "118.4 V AC"),
        ("-0.3", "voltage_dc", "-300 mV DC"),
        ("10R40", "resistance", "10.4 Ω"),
        ("100", "resistance", "100 Ω"),
        ("0", "resistance", "0 Ω"),
        ("20", "insulation", "20 MΩ"),
        ("OL", "insulation", "OL"),
        ("149 F", "temperature", "65 °C"),
        ("1800 W", "heat_rate", "1.8 kW"),
        ("22.9", "current_ac", "22.9 A AC"),
    ],
)
def test_shows_no_more_digits_than_were_typed(text: str, quantity: QuantityName, shown: str) -> None:
    assert show_reading(parse_reading(text, quantity)) == shown


CHARACTERS = st.text(max_size=80) | st.text("0123456789.,-+eEkKmMRVAWΩCF°OL >~<acdACD \t", max_size=80)


@given(CHARACTERS, st.sampled_from(QUANTITIES), st.sampled_from(("C", "F")))
def test_any_text_is_a_reading_or_an_answer_error(text: str, quantity: QuantityName, unit: str) -> None:
    try:
        reading = parse_reading(text, quantity, unit)  # type: ignore[arg-type]
    except AnswerError as error:
        assert len(error.problems) == 1 and error.problems[0].expected
    else:
        assert math.isfinite(reading.value) != reading.over_range
        assert reading.value >= 0 or quantity in ("voltage_dc", "temperature")


TOP = {"voltage_ac": 1000, "voltage_dc": 1000, "resistance": 1e12, "insulation": 1e12, "current_ac": 400,
       "surface_temperature": 600.0, "temperature": 450, "temperature_error": 450,
       "millivolts": 0.6, "heat_rate": 1e5, "boil_off": 1e5}  # fmt: skip


@given(st.sampled_from(QUANTITIES), st.floats(0, 1))
def test_what_is_shown_reads_back(quantity: QuantityName, share: float) -> None:
    value = share**6 * TOP[quantity]
    read = parse_reading(show_reading(Reading(quantity, value, False, "")), quantity).value
    # Four digits, and no more than three decimals of the smallest prefix.
    smallest = 0.06 if "temperature" in quantity else 6e-7 if quantity == "millivolts" else 6e-4
    assert read == pytest.approx(value, rel=6e-4, abs=smallest)
