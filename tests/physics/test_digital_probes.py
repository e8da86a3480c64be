import math

import pytest

from diagnose.physics import digital_probes


@pytest.mark.parametrize(
    ("shown", "meaning"),
    [
        (85.0, "maybe power-on value"),
        (84.9375, "temperature"),
        (-127.0, "disconnected"),
        (-55.0, "temperature"),
        (125.1, "impossible"),
        (math.nan, "impossible"),
    ],
)
def test_fixed_values_are_told_from_temperatures(shown, meaning):
    assert digital_probes.meaning_of(shown) == meaning


@pytest.mark.parametrize(("true", "shown"), [(66.7, 66.6875), (130.0, 125.0), (-60.0, -55.0), (20.0, 20.0)])
def test_sensor_shows_steps_within_its_range(true, shown):
    assert digital_probes.shown_celsius(true) == shown


def test_no_number_is_refused():
    with pytest.raises(ValueError, match=r"^true_celsius is nan, expected a temperature$"):
        digital_probes.shown_celsius(math.nan)


def test_dry_data_line_idles_at_its_supply_and_a_shorted_one_at_zero():
    assert digital_probes.idle_data_volts(3.3, math.inf) == 3.3
    assert digital_probes.idle_data_volts(3.3, 0.0) == 0.0
