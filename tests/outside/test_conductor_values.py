"""Wires against published tables and worked examples."""

import pytest

from diagnose.physics import ampacity, conductors

# NEC chapter 9, table 8: ohms per 1000 ft, uncoated copper at 75 °C.
STRANDED = {18: 7.95, 16: 4.99, 14: 3.14, 12: 1.98, 10: 1.24, 8: 0.778, 6: 0.491, 4: 0.308}
SOLID = {18: 7.77, 16: 4.89, 14: 3.07, 12: 1.93, 10: 1.21, 8: 0.764}


@pytest.mark.parametrize(("gauge", "ohms"), STRANDED.items())
def test_stranded_wire_has_the_resistance_of_nec_chapter_9_table_8(gauge, ohms):
    assert conductors.awg_ohms_per_metre(gauge, 75.0) * 304.8 == pytest.approx(ohms, rel=1e-12)


@pytest.mark.parametrize(("gauge", "ohms"), SOLID.items())
def test_solid_wire_has_the_resistance_of_nec_chapter_9_table_8(gauge, ohms):
    assert conductors.awg_ohms_per_metre(gauge, 75.0, stranded=False) * 304.8 == pytest.approx(ohms, rel=1e-12)


@pytest.mark.parametrize(("gauge", "ohms"), SOLID.items())
def test_resistivity_and_area_agree_with_nec_chapter_9_table_8(gauge, ohms):
    """NBS Handbook 100 resistivity and coefficient over the area of ASTM B258: an independent way there."""
    area = conductors.awg_area_square_millimetres(gauge)
    # 0.6 %: the table rounds to three digits and so does the area behind it.
    assert conductors.copper_ohms_per_metre(area, 75.0) * 304.8 == pytest.approx(ohms, rel=0.006)


@pytest.mark.parametrize(
    ("gauge", "square_millimetres"),
    [(18, 0.823), (14, 2.081), (12, 3.309), (10, 5.261), (8, 8.366), (6, 13.30), (4, 21.15)],
)
def test_area_of_a_gauge_is_that_of_astm_b258(gauge, square_millimetres):
    """Derived from the formula of ASTM B258."""
    assert conductors.awg_area_square_millimetres(gauge) == pytest.approx(square_millimetres, rel=4e-4)


def test_diameter_of_36_gauge_is_the_anchor_of_astm_b258():
    assert conductors.awg_diameter_metres(36) == pytest.approx(0.127e-3, rel=1e-12)


def test_diameter_of_4_0_gauge_is_the_other_anchor_of_astm_b258():
    assert conductors.awg_diameter_metres(-3) == pytest.approx(0.46 * 0.0254, rel=1e-12)


def test_copper_is_that_of_nbs_handbook_100():
    assert conductors.COPPER_RESISTIVITY_20C == 0.017241e-6
    assert conductors.COPPER_COEFFICIENT_20C == 3.93e-3


@pytest.mark.parametrize(
    ("square_millimetres", "ohms_per_kilometre"),
    [
        (0.75, 26.0),
        (1.0, 19.5),
        (1.5, 13.3),
        (2.5, 7.98),
        (4.0, 4.95),
        (6.0, 3.30),
        (10.0, 1.91),
        (16.0, 1.21),
    ],
)
def test_flexible_wire_has_the_resistance_of_iec_60228_table_3(square_millimetres, ohms_per_kilometre):
    assert conductors.metric_ohms_per_metre(square_millimetres) * 1000 == pytest.approx(ohms_per_kilometre, rel=1e-12)


@pytest.mark.parametrize(
    ("gauge", "amperes"),
    [(14, (15, 20, 25)), (12, (20, 25, 30)), (10, (30, 35, 40)), (8, (40, 50, 55)), (6, (55, 65, 75))],
)
def test_ampacity_is_that_of_nec_table_310_16_of_2023(gauge, amperes):
    assert tuple(ampacity.ampacity_amperes(gauge, celsius) for celsius in (60, 75, 90)) == amperes


@pytest.mark.parametrize(("gauge", "limit"), [(14, 15.0), (12, 20.0), (10, 30.0)])
def test_small_wires_have_the_limit_of_nec_240_4_d(gauge, limit):
    assert ampacity.wire_is_protected(gauge, limit)
    assert not ampacity.wire_is_protected(gauge, limit + 5.0)


@pytest.mark.parametrize(("gauge", "breaker"), [(10, 30.0), (14, 10.0), (8, 50.0), (6, 50.0), (6, 30.0)])
def test_wiring_that_is_common_practice_is_accepted(gauge, breaker):
    """Common practice: 30 A on 10 AWG, 10 A on 14 AWG, 50 A on 8 AWG or heavier; heavier is always fine."""
    assert ampacity.wire_is_protected(gauge, breaker)


@pytest.mark.parametrize(
    ("gauge", "amperes", "volts", "source"),
    [
        (16, 4.0, 4.0, "worked example, electrician2.com"),
        (12, 20.0, 7.9, "worked example, tradelicenseprep.com (K = 12.9)"),
        (8, 20.0, 3.1, "worked example, tradelicenseprep.com (K = 12.9)"),
    ],
)
def test_drop_over_100_feet_one_way_is_that_of_the_worked_example(gauge, amperes, volts, source):
    drop = conductors.drop_volts(amperes, conductors.awg_ohms_per_metre(gauge, 75.0), 30.48)
    assert drop == pytest.approx(volts, abs=0.05), source


def test_drop_of_12_gauge_in_per_cent_is_that_of_the_worked_example():
    """Worked example, tradelicenseprep.com: 6.6 % of 120 V."""
    drop = conductors.drop_volts(20.0, conductors.awg_ohms_per_metre(12, 75.0), 30.48)
    assert drop / 120.0 * 100 == pytest.approx(6.6, abs=0.05)


def test_ampacity_of_4_gauge_is_that_of_nec_table_310_16():
    """NEC table 310.16, from memory."""
    assert [ampacity.ampacity_amperes(4, celsius) for celsius in (60, 75, 90)] == [70.0, 85.0, 95.0]


@pytest.mark.parametrize(("gauge", "limit"), [(18, 7.0), (16, 10.0)])
def test_thinnest_wires_have_the_limit_of_nec_240_4_d(gauge, limit):
    """NEC 240.4(D)(1) and (2), from memory."""
    assert ampacity.wire_is_protected(gauge, limit)
    assert not ampacity.wire_is_protected(gauge, limit + 0.1)


@pytest.mark.parametrize(
    ("square_millimetres", "amperes"),
    [(0.75, 6.0), (1.0, 10.0), (1.5, 16.0), (2.5, 25.0), (4.0, 32.0), (6.0, 40.0), (10.0, 63.0)],
)
def test_cord_limit_is_that_of_iec_60335_1_table_11(square_millimetres, amperes):
    """IEC 60335-1 table 11, from memory."""
    assert ampacity.CORD_LIMIT_AMPERES[square_millimetres] == amperes


@pytest.mark.parametrize(("square_millimetres", "ohms_per_kilometre"), [(0.5, 39.0), (25.0, 0.780), (35.0, 0.554)])
def test_other_flexible_wire_has_the_resistance_of_iec_60228_table_3(square_millimetres, ohms_per_kilometre):
    """IEC 60228 table 3, from memory."""
    assert conductors.metric_ohms_per_metre(square_millimetres) * 1000 == pytest.approx(ohms_per_kilometre, rel=1e-12)
