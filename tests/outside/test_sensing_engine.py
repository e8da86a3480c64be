"""Published values of sensors, met at the pins and the display of whole panels, not by a formula alone."""

from __future__ import annotations

import pytest

from diagnose.knowledge.curves import load_curves
from diagnose.opening import open_model, open_panel
from diagnose.physics.water import boiling_celsius_at_altitude
from diagnose.site import boiling_at_pressure, boiling_interval
from tests.sensing_panels import bath, dead_bath, netlist_with, pin_ohms, pin_volts, shown

# IEC 60751, table of Pt100.
PT100 = {0: 100.00, 10: 103.90, 20: 107.79, 50: 119.40, 70: 127.08, 80: 130.90, 100: 138.51}
# Component table of a 10 kΩ NTC, B25/85 = 3977 K: resistance over that at 25 °C.
NTC = {0: 3.264, 10: 1.990, 25: 1.0, 50: 0.3601, 65: 0.2082, 70: 0.1751, 75: 0.1480, 80: 0.1256, 100: 0.06781}
# ITS-90, NIST Monograph 175: millivolts with the cold end at 0 °C, derived from its coefficients; T from memory.
COUPLES = {
    "k": {25: 1.000, 65: 2.644, 100: 4.096},
    "j": {25: 1.277, 65: 3.382, 100: 5.269},
    "t": {25: 0.992, 65: 2.687, 100: 4.279},
}
AT_ROOM = {"k": 0.798, "j": 1.019, "t": 0.790}  # at 20 °C: ITS-90 tables, from memory


@pytest.mark.parametrize(("celsius", "ohms"), PT100.items())
def test_the_pins_of_a_pt100_have_the_ohms_of_iec_60751_and_its_leads(celsius: float, ohms: float) -> None:
    netlist = netlist_with("probe")
    assert pin_ohms(netlist, dead_bath(netlist, celsius)) == pytest.approx(ohms + 2 * 0.3, abs=0.0051)
    assert shown(netlist, bath(netlist, celsius)) == pytest.approx(celsius, abs=0.01)


@pytest.mark.parametrize(("celsius", "ohms"), PT100.items())
@pytest.mark.parametrize("wires", [2, 3, 4])
def test_the_pins_of_a_pt1000_have_ten_times_the_ohms(celsius: float, ohms: float, wires: int) -> None:
    netlist = netlist_with(f"probe_pt1000_{wires}")
    assert pin_ohms(netlist, dead_bath(netlist, celsius)) == pytest.approx(10 * ohms + 0.6, abs=0.051)


@pytest.mark.parametrize(("celsius", "ratio"), NTC.items())
def test_the_pins_of_a_thermistor_have_the_ohms_of_its_table(celsius: float, ratio: float) -> None:
    """Within 0.2 %: a twentieth of a kelvin."""
    netlist = netlist_with("probe_ntc")
    assert pin_ohms(netlist, dead_bath(netlist, celsius)) == pytest.approx(10_000 * ratio + 0.6, rel=2e-3)
    assert shown(netlist, bath(netlist, celsius)) == pytest.approx(celsius, abs=0.1)


@pytest.mark.parametrize(("metal", "celsius"), [(metal, at) for metal, table in COUPLES.items() for at in table])
def test_the_pins_of_a_thermocouple_have_the_volts_of_its_90_less_those_of_the_room(metal: str, celsius: int) -> None:
    """Law of intermediate temperatures, with the connector at 20 °C."""
    netlist = netlist_with(f"thermocouple_{metal}")
    millivolts = 1e3 * pin_volts(netlist, dead_bath(netlist, celsius))
    assert millivolts == pytest.approx(COUPLES[metal][celsius] - AT_ROOM[metal], abs=1.5e-3)
    assert shown(netlist, bath(netlist, celsius)) == pytest.approx(celsius, abs=0.05)


@pytest.mark.parametrize("metal", ["K", "J", "T"])
def test_the_pins_of_a_thermocouple_agree_with_the_reference_package(metal: str) -> None:
    reference = pytest.importorskip(
        "thermocouples", reason="reference package thermocouples not installed: pip install -e .[reference]"
    ).get_thermocouple(metal)
    netlist = netlist_with(f"thermocouple_{metal.lower()}")
    for celsius in (0.0, 15.0, 37.0, 66.7, 98.6, 150.0):
        volts = pin_volts(netlist, dead_bath(netlist, celsius))
        assert volts == pytest.approx(reference.temp_to_volt(celsius) - reference.temp_to_volt(20.0), abs=2e-8)


@pytest.mark.parametrize(
    ("curve", "celsius", "kelvin"),
    [("pt100", 0, 0.30), ("pt100", 100, 0.80), ("pt1000", 100, 0.80)],
)
def test_probes_are_expected_within_class_b_of_iec_60751(curve: str, celsius: float, kelvin: float) -> None:
    """B ±(0.3 + 0.005·|t|) °C."""
    assert load_curves()[curve].tolerance_kelvin(celsius) == pytest.approx(kelvin)


def test_ice_water_is_expected_on_a_display_within_the_probe_and_its_last_digit() -> None:
    model = open_model("shed_single_kettle", "probe_reads_off", "controller")
    check = model.checks_by_id["bathed:temperature:controller"]
    prediction = model.predict(check)
    # IEC 60751 class B at 0 °C, and half a degree of display.
    assert prediction.low[0] == pytest.approx(-0.8, abs=0.01)
    assert prediction.high[0] == pytest.approx(0.8, abs=0.01)


@pytest.mark.parametrize(
    ("metres", "celsius"),
    # Altitude tables of cookery and of the US Department of Agriculture, by rule 1 °C each 285 to 300 m: from memory.
    [(0, 100.0), (300, 99.0), (600, 98.0), (1500, 95.0), (2000, 93.3), (3000, 90.0)],
)
def test_water_boils_as_altitude_tables_have_it(metres: float, celsius: float) -> None:
    assert boiling_celsius_at_altitude(metres) == pytest.approx(celsius, abs=0.2)
    low, high = boiling_interval(open_panel("shed_single_kettle"), metres)
    assert low - 0.2 <= celsius <= high + 0.2
    assert high - low < 2.0


def test_water_boils_at_a_measured_pressure_as_steam_tables_have_it() -> None:
    """IAPWS steam tables: 99.63 °C at 1000 hPa, 96.71 °C at 900 hPa (from memory)."""
    for hectopascals, celsius in ((1000, 99.63), (900, 96.71)):
        low, high = boiling_at_pressure(100.0 * hectopascals)
        assert low < celsius < high
        assert high - low < 0.1


def test_a_panel_that_says_how_high_it_stands_expects_its_own_boiling_point() -> None:
    """420 m: 98.6 °C by the tables' 1 °C each 300 m; anywhere usual spans five degrees."""
    low, high = boiling_interval(open_panel("pantry_thermistor"))
    assert low < 98.6 < high
    assert high - low < 1.8
    low, high = boiling_interval(open_panel("shed_single_kettle"))
    assert (low, high) == pytest.approx((94.3, 100.7), abs=0.3)


@pytest.mark.parametrize(("ohms", "kelvin"), [(1.0, 2.6), (3.0, 7.7)])
def test_one_stray_ohm_is_two_and_a_half_degrees_of_a_pt100(ohms: float, kelvin: float) -> None:
    """IEC 60751's slope at 0 °C, 0.3908 Ω a kelvin: 1 Ω in the two leads of two wires is 2.6 K."""
    netlist = netlist_with("probe_pt100_2", f"{ohms / 2} ohm")
    assert shown(netlist, bath(netlist, 0.0)) == pytest.approx(kelvin, abs=0.1)


def test_a_type_j_on_a_type_k_input_shows_what_the_tables_of_both_give() -> None:
    """5.269 - 1.537 mV of J from 100 °C to 30, and 1.203 of K: 4.935 mV are 120.4 °C of type K (ITS-90 tables)."""
    netlist = netlist_with("thermocouple_j")
    assert shown(netlist, bath(netlist, 100.0), "controller:wrong_probe_set") == pytest.approx(120.4, abs=0.3)
