"""Elements against published values."""

import pytest

from diagnose.physics import elements


def test_4500_watt_element_is_that_of_the_trade_page():
    """Trade page: 18.8 A and 12.8 Ω at 240 V, 1125 W at 120 V."""
    assert round(elements.element_amperes(4500.0, 240.0), 1) == 18.8
    assert elements.element_ohms(4500.0, 240.0) == pytest.approx(12.8)
    assert elements.element_watts(4500.0, 240.0, 120.0) == pytest.approx(1125.0)


def test_5500_watt_element_on_208_volts_is_that_of_the_trade_page():
    """Trade page: 75.1 %, 4131 W."""
    watts = elements.element_watts(5500.0, 240.0, 208.0)
    assert round(watts) == 4131
    assert round(watts / 5500 * 100, 1) == 75.1


def test_tolerance_of_power_is_that_of_iec_60335_1():
    """IEC 60335-1 table 1, from memory: +5 %, −10 %, so 12.19–14.22 Ω for 4500 W at 240 V."""
    low, high = elements.resistance_tolerance_ohms(4500.0, 240.0)
    assert (round(low, 2), round(high, 2)) == (12.19, 14.22)


def test_watt_density_is_that_of_the_worked_example():
    """Worked example: 500 W, 0.375 × 9 in: 47.1 W/in² (cut off, not rounded: 47.157)."""
    density = elements.watt_density(500.0, 0.375 * 0.0254, 9 * 0.0254)
    assert density * elements.SQUARE_METRES_PER_SQUARE_INCH == pytest.approx(47.1, abs=0.06)


def test_drying_of_damp_magnesia_is_trade_practice():
    """Trade practice pages: 110–177 °C for 4 h or more."""
    assert elements.MAGNESIA_DRYING_CELSIUS == (110.0, 177.0)
    assert elements.MAGNESIA_DRYING_HOURS == 4.0


def test_winding_rises_by_a_few_per_cent_when_hot():
    """Trade data of nickel–chromium wire, from memory."""
    assert elements.HOT_TO_COLD_FACTOR == (1.00, 1.06)
