"""What instruments make of a true value: ranges, counts, leads, OL, and the least that means anything."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from diagnose.meter import (
    INSTRUMENT_CHOICES,
    READERS,
    USUAL,
    Instrument,
    Range,
    accuracy_text,
    continuity,
    reader_of,
    shown_interval,
)

TWO_RANGES = Instrument("m", "m", (Range(10.0, 0.01, 0.01, 2), Range(100.0, 1.0, 0.01, 2)))


@pytest.mark.parametrize(
    ("quantity", "value", "low", "high"),
    [
        ("voltage_ac", 240.0, 237.3, 242.7),
        ("voltage_ac", 0.0, 0.0, 0.5),
        ("voltage_dc", 12.0, 11.896, 12.104),
        ("voltage_dc", -12.0, -12.104, -11.896),
        ("resistance", 10.47, 10.38624, 11.25376),
        ("resistance", 2_000.0, 1982.2, 2018.5),
        ("resistance", 30e6, 29.05e6, 30.95e6),
        ("current_ac", 22.9, 22.2775, 23.5225),
        ("insulation", 2e6, 1.895e6, 2.105e6),
        ("temperature", -3.0, -3.5, -2.5),
        ("heat_rate", 4500.0, 3910.0, 5090.0),
    ],
)
def test_share_and_counts_of_the_range_that_holds_the_value(
    quantity: str, value: float, low: float, high: float
) -> None:
    least, most = shown_interval(reader_of(quantity), value, value)
    assert float(least) == pytest.approx(low, rel=1e-5)
    assert float(most) == pytest.approx(high, rel=1e-5)


@pytest.mark.parametrize(
    ("ohms", "top", "step"),
    [(59.9, 600, 0.1), (600, 600, 0.1), (601, 6e3, 1), (5900, 6e3, 1), (7e7, 6e7, 1e4)],
)
def test_plain_meter_goes_up_a_range_by_itself(ohms: float, top: float, step: float) -> None:
    chosen = reader_of("resistance").range_for(ohms)
    assert (chosen.top, chosen.step) == pytest.approx((top, step))


def test_ranges_of_the_plain_meter() -> None:
    assert [each.top for each in reader_of("resistance").ranges] == [600, 6e3, 60e3, 600e3, 6e6, 60e6]
    assert [each.top for each in reader_of("voltage_ac").ranges] == [0.6, 6, 60, 600]


def test_a_value_may_be_shown_on_the_next_range_and_so_lower() -> None:
    least, most = shown_interval(TWO_RANGES, 9.99, 10.5)
    assert float(least) == pytest.approx(10.0 - 0.1 - 2.0)
    assert float(most) == pytest.approx(10.5 + 0.105 + 2.0)


@pytest.mark.parametrize(
    ("quantity", "value", "shown"),
    [("resistance", 64e6, math.inf), ("resistance", math.inf, math.inf), ("insulation", 1e9, math.inf)],
)
def test_over_the_top_range_is_ol(quantity: str, value: float, shown: float) -> None:
    assert float(shown_interval(reader_of(quantity), value, value)[0]) == shown


def test_near_the_top_the_reading_may_be_a_number_or_ol() -> None:
    least, most = shown_interval(reader_of("resistance"), 59.5e6, 59.5e6)
    assert math.isfinite(least)
    assert float(most) == math.inf


def test_a_watch_a_difference_and_what_shows_degrees_are_never_ol() -> None:
    assert {quantity for quantity in USUAL if reader_of(quantity).top == math.inf} == {
        "temperature",
        "temperature_error",
        "surface_temperature",
        "voltage_drop",
        "heat_rate",
        "boil_off",
    }


def test_nothing_known_stays_so() -> None:
    least, most = shown_interval(reader_of("voltage_ac"), [np.nan, 1.0], [np.nan, 1.0])
    assert np.isnan(least[0])
    assert np.isnan(most[0])
    assert np.isfinite(least[1])


def test_low_impedance_loads_a_circuit_three_thousand_times_more() -> None:
    """10 megohm against 3 kilohm."""
    plain, low = reader_of("voltage_ac"), reader_of("voltage_ac", "low_impedance")
    assert 1 / plain.siemens == pytest.approx(10e6)
    assert 1 / low.siemens == pytest.approx(3e3)


def test_leakage_clamp_tells_milliamps_where_a_plain_clamp_shows_nothing() -> None:
    plain = shown_interval(reader_of("current_ac"), 5e-3, 5e-3)
    fine = shown_interval(reader_of("current_ac", "leakage_clamp"), 5e-3, 5e-3)
    assert float(plain[0]) == 0
    assert float(fine[0]) == pytest.approx(4.9e-3)


def test_ohms_send_less_current_on_higher_ranges_and_never_more_than_a_few_volts() -> None:
    ranges = reader_of("resistance").ranges
    sent = [each.test_amperes for each in ranges]
    assert sent == sorted(sent, reverse=True)
    assert all(0 < each.test_amperes * each.top <= 3.0 for each in ranges)


@pytest.mark.parametrize(
    ("quantity", "value", "text"),
    [
        ("voltage_ac", 240.0, "1 % + 3 counts"),
        ("resistance", 30e6, "3 % + 5 counts"),
        ("heat_rate", 1.0, "12 % + 1 count"),
    ],
)
def test_accuracy_as_a_maker_prints_it(quantity: str, value: float, text: str) -> None:
    assert accuracy_text(reader_of(quantity), value) == text


@pytest.mark.parametrize(
    ("low", "high", "said"),
    [(0, 1, "beeps"), (0, 9.4, "beeps"), (0, 9.5, "either"), (20, 60, "either"), (51, 60, "silent")],
)
def test_continuity(low: float, high: float, said: str) -> None:
    assert continuity(low, high) == said


def test_every_usual_reader_exists_and_every_choice_reads_something() -> None:
    assert {(quantity, name) for quantity, name in USUAL.items()} <= set(READERS)
    assert {*INSTRUMENT_CHOICES, "none"} == {name for _, name in READERS}


READER = st.sampled_from(sorted(READERS))
VALUE = st.floats(0, 1e9)


@given(READER, VALUE, VALUE, st.floats(0, 1))
def test_the_interval_holds_whatever_the_instrument_may_show(
    key: tuple[str, str], one: float, other: float, share: float
) -> None:
    reader = READERS[key]
    low, high = min(one, other), max(one, other)
    true = low + share * (high - low)
    least, most = shown_interval(reader, low, high)
    its_least, its_most = shown_interval(reader, true, true)
    slack = 1e-9 * (1 + abs(true))
    assert float(least) - slack <= float(its_least)
    assert float(its_most) <= float(most) + slack
    assert float(least) <= float(most)
