"""Supply ranges against their standards."""

import pytest

from diagnose.physics import supply


@pytest.mark.parametrize(
    ("nominal", "low", "high", "source"),
    [
        (120.0, 114.0, 126.0, "ANSI C84.1 range A"),
        (240.0, 228.0, 252.0, "ANSI C84.1 range A"),
        (230.0, 207.0, 253.0, "IEC 60038"),
    ],
)
def test_service_range_is_that_of_the_standard(nominal, low, high, source):
    found = supply.supply_range(nominal)
    assert (found.volts, found.source) == ((low, high), source)


@pytest.mark.parametrize(
    ("ranges", "low_end", "high_end"),
    [
        (supply.UNUSUAL_SERVICE_RANGES, (110, 127), (220, 254)),
        (supply.UTILIZATION_RANGES, (108, 126), (216, 252)),
        (supply.UNUSUAL_UTILIZATION_RANGES, (104, 127), (208, 254)),
    ],
)
def test_other_ranges_are_those_of_ansi_c84_1(ranges, low_end, high_end):
    """ANSI C84.1, from memory."""
    assert supply.supply_range(120.0, ranges).volts == low_end
    assert supply.supply_range(240.0, ranges).volts == high_end
    assert all("from memory" in each.source for each in ranges)
