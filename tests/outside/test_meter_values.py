"""Instruments against published examples and limits."""

import pytest

from diagnose.circuit.netlist import LEAK_SIEMENS
from diagnose.meter import (
    CONTINUITY_OHMS,
    INPUT_SIEMENS,
    INSULATION_TEST_VOLTS,
    LEAD_OHMS,
    LOW_IMPEDANCE_SIEMENS,
    Instrument,
    Range,
    reader_of,
    shown_interval,
)
from diagnose.physics import insulation


@pytest.mark.parametrize(
    ("share", "counts", "top", "step", "value", "low", "high"),
    [
        (0.01, 2, 600.0, 0.1, 100.0, 98.8, 101.2),
        (0.007, 2, 600.0, 0.1, 120.0, 118.96, 121.04),
        (0.0008, 2, 6.0, 0.001, 2.0, 1.9964, 2.0036),
    ],
)
def test_accuracy_is_that_of_the_worked_examples(
    share: float, counts: int, top: float, step: float, value: float, low: float, high: float
) -> None:
    """Worked examples: ±(1 % + 2) of 100.0 V, ±(0.7 % + 2) of 120.0 V, ±(0.08 % + 2) of 2.000 V."""
    meter = Instrument("meter", "meter", (Range(top, step, share, counts),))
    least, most = shown_interval(meter, value, value)
    assert (float(least), float(most)) == pytest.approx((low, high), abs=1e-9)


def test_plain_meter_has_the_counts_of_the_worked_examples() -> None:
    """Worked examples: 120.0 V has a count of 0.1 V, and the percentages lie from 0.08 to 1 %."""
    reader = reader_of("voltage_ac")
    assert reader.range_for(120.0).step == pytest.approx(0.1)
    assert all(0.0008 <= each.share <= 0.01 for each in reader.ranges)


def test_leads_are_those_of_the_worked_examples() -> None:
    """Worked examples: 0.2–0.5 Ω."""
    assert LEAD_OHMS == (0.2, 0.5)
    least, most = shown_interval(reader_of("resistance"), 0.0, 0.0)
    # Two counts of 0.1 Ω on top.
    assert (float(least), float(most)) == pytest.approx((0.0, 0.7))


def test_inputs_are_trade_data() -> None:
    """Trade data: about 10 MΩ; in low-impedance mode about 3 kΩ."""
    inputs = [1 / INPUT_SIEMENS, 1 / LOW_IMPEDANCE_SIEMENS]
    assert inputs == pytest.approx([10e6, 3e3])
    # What holds up the circuit's loose ends must not hold up a meter.
    assert LEAK_SIEMENS < INPUT_SIEMENS / 1000


@pytest.mark.parametrize("ohms", [100.0, 138.51, 12.8, 10.47])
def test_probes_and_elements_are_read_on_the_lowest_range(ohms: float) -> None:
    """IEC 60751: a Pt100 has 138.51 Ω at 100 °C; trade page: 12.8 Ω for 4500 W at 240 V."""
    assert reader_of("resistance").range_for(ohms).step == pytest.approx(0.1)


def test_insulation_tester_has_the_voltages_of_iec_60364_6() -> None:
    """IEC 60364-6: 250 V for extra-low voltage, 500 V for circuits up to 500 V."""
    limits = [insulation.insulation_limit(each) for each in ("extra-low voltage", "circuit up to 500 V")]
    assert tuple(limit.test_volts for limit in limits) == INSULATION_TEST_VOLTS


@pytest.mark.parametrize("megohms", [0.3, 0.5, 1.0, 20.0])
def test_insulation_tester_tells_the_limits_from_their_halves(megohms: float) -> None:
    """IEC 60364-6: 0.5 and 1 MΩ; UK in-service practice: 0.3 MΩ; trade practice: 20 MΩ for a new element."""
    reader = reader_of("insulation")
    half, whole = megohms * 0.5e6, megohms * 1e6
    assert float(shown_interval(reader, half, half)[1]) < float(shown_interval(reader, whole, whole)[0])


@pytest.mark.parametrize("milliamperes", [0.75, 3.5, 5.0, 6.0, 15.0, 30.0])
def test_leakage_clamp_reads_the_limits_of_leakage_to_a_sixth(milliamperes: float) -> None:
    """IEC 60335-1 clause 13.2: 0.75 to 5 mA; UL 943: 6 mA; IEC 61008-1: 15 to 30 mA."""
    amperes = milliamperes / 1000
    least, most = shown_interval(reader_of("current_ac", "leakage_clamp"), amperes, amperes)
    assert float(least) > amperes * 5 / 6
    assert float(most) < amperes * 7 / 6


def test_plain_clamp_reads_an_element_to_a_few_per_cent() -> None:
    """Trade page: 4500 W at 240 V draws 18.8 A. Clamp meters of 2–3 %: common practice."""
    least, most = shown_interval(reader_of("current_ac"), 18.8, 18.8)
    assert (float(least), float(most)) == pytest.approx((18.28, 19.32))


def test_continuity_tester_sounds_over_an_earth_of_en_50106_and_not_over_an_element() -> None:
    """EN 50106: 0.1 Ω; an element of 12.8 Ω may sound, which is why ohms are read. Common practice."""
    assert insulation.earth_limit_ohms() < CONTINUITY_OHMS[0] < 12.8 < CONTINUITY_OHMS[1]
