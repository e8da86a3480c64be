"""Wire, breaker, element and voltage of every bundled panel against the tables of the codes.

The tables stand here as they are printed, apart from the program's own; each names its source. The panels are read,
but nothing of the review of a design is used to judge them: it is judged in turn.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import lru_cache
from itertools import chain

import pytest

from diagnose.circuit.netlist import build
from diagnose.design_rules import voltage_finding, wire_amperes
from diagnose.findings import design_findings
from diagnose.loading import Load, study
from diagnose.opening import bundled_panels, open_panel
from diagnose.panel.records import Panel, Part, Wire
from diagnose.physics.relays import on_state_watts
from diagnose.topology import Step

# NEC 240.4(D): the largest breaker on small copper wires. 18 and 16 AWG from memory.
SMALL_WIRES = {18: 7.0, 16: 10.0, 14: 15.0, 12: 20.0, 10: 30.0}
# NEC table 310.16 (2023), copper at 75 °C; 4 AWG from memory.
LARGE_WIRES = {8: 50.0, 6: 65.0, 4: 85.0}
# IEC 60335-1 table 11, flexible cords, mm² by rated current; from memory.
CORDS = {0.5: 3.0, 0.75: 6.0, 1.0: 10.0, 1.5: 16.0, 2.5: 25.0, 4.0: 32.0, 6.0: 40.0, 10.0: 63.0}
# NEC 210.20(A), from memory: a load of three hours or more takes at most four fifths of a North American breaker.
CONTINUOUS = {"ul489": 0.8, "ul943": 0.8}
# NEC 210.19(A), informational note, from memory: five per cent of the voltage, feeder and branch together.
DROP = 0.05
# NBS Handbook 100: copper at 75 °C over copper at 20 °C.
WARM = 1 + 3.93e-3 * 55
# Common practice: what a heater circuit of a brewing panel is protected by besides its breaker.
RESIDUAL_AMPERES = 0.030  # IEC 60364-4-41 cl. 411.3.3; a class A GFCI is 6 mA: NEC article 100, UL 943

PANELS = [entry.name for entry in bundled_panels()]


@lru_cache(maxsize=16)
def panel_named(name: str) -> Panel:
    """A bundled panel."""
    return open_panel(name)


Ways = tuple[tuple[Step, ...], ...]


def heaters(panel: Panel) -> list[tuple[Part, Ways]]:
    """The elements and the ways to their poles."""
    found = [(panel.parts[load.part], load.ways) for load in study(panel).loads if load.what == "element"]
    assert {part.name for part, _ in found} == set(panel.of_role("heater"))
    return found


def line_amperes(part: Part) -> float:
    """Rated power over rated voltage; over the square root of three more where it has three lines."""
    lines = [each for each in part.kind.terminals.values() if each.path not in ("earth", "sensing")]
    legs = [branch for branch in part.kind.branches.values() if branch.heats]
    amperes = part.ratings["power"] / part.ratings["voltage"]
    return amperes / 3**0.5 if len(lines) > 2 and len(legs) == 3 else amperes


def largest_breaker(wire: Wire) -> float:
    """What may lie before a wire by the tables above."""
    gauge = re.fullmatch(r"(\d+)\s*AWG", wire.size)
    if gauge:
        return {**SMALL_WIRES, **LARGE_WIRES}[int(gauge[1])]
    area = wire.area_square_metres * 1e6
    return max(amperes for least, amperes in CORDS.items() if least <= area + 1e-6)


def breakers(panel: Panel, ways: Ways) -> Iterator[Part]:
    """Breakers on a way, GFCI breakers among them: those of UL 943 are breakers as well, an RCD is not."""
    names = dict.fromkeys(step.part for way in ways for step in way if step.part in panel.parts)
    for name in names:
        trip = panel.parts[name].kind.trip
        if trip is not None and (trip.form == "overcurrent" or trip.standard == "ul943"):
            yield panel.parts[name]


@pytest.mark.parametrize("name", PANELS)
def test_wire_behind_a_breaker(name: str) -> None:
    """Each wire on the way to an element suits the breaker before it: NEC 240.4(D), 310.16; IEC 60335-1."""
    panel = panel_named(name)
    checked = 0
    for _, ways in heaters(panel):
        for way in ways:
            rating = 0.0
            own = {part.name for part in breakers(panel, ways)}
            for step in way:
                if step.part in own and panel.parts[step.part].kind.branches[step.branch].closed:
                    rating = panel.parts[step.part].ratings["current"]
                elif step.part in panel.wires_by_name and rating:
                    checked += 1
                    assert largest_breaker(panel.wires_by_name[step.part]) >= rating, step.part
    assert checked > 5


@pytest.mark.parametrize("name", PANELS)
def test_breaker_before_an_element(name: str) -> None:
    """Each breaker carries the element for hours: NEC 210.20(A), from memory; IEC breakers their full rating."""
    panel = panel_named(name)
    for part, ways in heaters(panel):
        found = list(breakers(panel, ways))
        assert found, f"{part.name} has no breaker"
        for breaker in found:
            trip = breaker.kind.trip
            assert trip is not None
            standard = breaker.choices.get(trip.standard, trip.standard)
            assert line_amperes(part) <= breaker.ratings["current"] * CONTINUOUS.get(standard, 1.0), breaker.name


@pytest.mark.parametrize("name", PANELS)
def test_element_at_its_voltage(name: str) -> None:
    """The element gets the voltage that it is made for, within 5 % (IEC 60038: 230 for 240 V)."""
    panel = panel_named(name)
    service = panel.parts[panel.supply.service]
    sources = {each.head: each for each in service.kind.branches.values() if each.form == "source"}
    for part, ways in heaters(panel):
        volts = 0j
        for side, way in zip((1, -1), ways[:2], strict=True):
            source = sources.get(way[0].tail.partition(".")[2])
            if source is not None:
                angle = source.values["degrees"].value(service.ratings) / 180
                volts += side * source.values["volts"].value(service.ratings) * (-1 + 0j) ** angle
        assert abs(volts) == pytest.approx(part.ratings["voltage"], rel=0.05)


@pytest.mark.parametrize("name", PANELS)
def test_what_the_current_passes_is_rated_for_it(name: str) -> None:
    """Relay, contactor, switch, plug and cord carry the element's current by their own ratings: what a rating means."""
    panel = panel_named(name)
    for part, ways in heaters(panel):
        for step in chain(*ways):
            passed = panel.parts.get(step.part)
            if passed is not None and passed.kind.role in ("relay", "contactor", "isolator", "connector"):
                assert passed.ratings["current"] >= line_amperes(part), passed.name


@pytest.mark.parametrize("name", PANELS)
def test_residual_protection_before_every_element(name: str) -> None:
    """A GFCI of 6 mA or an RCD of 30 mA at most: UL 943; IEC 60364-4-41 cl. 411.3.3, from memory."""
    panel = panel_named(name)
    for part, ways in heaters(panel):
        passed = {step.part for step in chain(*ways)} & set(panel.of_role("residual"))
        assert passed, f"{part.name} has none"
        assert min(panel.parts[each].ratings["residual"] for each in passed) <= RESIDUAL_AMPERES


@pytest.mark.parametrize("name", PANELS)
def test_drop_of_the_feed(name: str) -> None:
    """Warm wires on the way to an element lose 5 % at most: NEC 210.19(A), informational note, from memory."""
    panel = panel_named(name)
    for part, ways in heaters(panel):
        wires = [panel.wires_by_name.get(step.part) for step in chain(*ways)]
        ohms = WARM * sum(wire.resistance_ohms for wire in wires if wire is not None)
        assert 0 < line_amperes(part) * ohms < DROP * part.ratings["voltage"]


@pytest.mark.parametrize("name", PANELS)
def test_control_fuse(name: str) -> None:
    """Control wiring lies behind small fuses, about 1 A: common practice."""
    panel = panel_named(name)
    fuses = [panel.parts[each].ratings["current"] for each in panel.of_role("fuse")]
    assert all(0.5 <= rating <= 5 for rating in fuses)


@pytest.mark.parametrize("name", PANELS)
def test_the_review_of_a_bundled_panel_has_no_error(name: str) -> None:
    """The panels that come along are examples, so that nothing in them is dangerous or can't work."""
    found = [each for each in design_findings(panel_named(name)) if each.severity == "error"]
    assert found == []


@pytest.mark.parametrize(("gauge", "amperes"), [*SMALL_WIRES.items(), *LARGE_WIRES.items()])
def test_gauges_are_judged_by_the_tables(gauge: int, amperes: float) -> None:
    """NEC 240.4(D) and table 310.16 at 75 °C."""
    area = 3.141592653589793 / 4 * (0.127e-3 * 92 ** ((36 - gauge) / 39)) ** 2  # ASTM B258
    assert wire_amperes(f"{gauge} AWG", area)[0] == amperes


@pytest.mark.parametrize(("square_millimetres", "amperes"), CORDS.items())
def test_metric_wires_are_judged_by_the_table(square_millimetres: float, amperes: float) -> None:
    """IEC 60335-1 table 11, from memory."""
    assert wire_amperes(f"{square_millimetres} mm2", square_millimetres * 1e-6)[0] == amperes


def test_common_practice_of_wires_and_breakers() -> None:
    """30 A on 10 AWG, 10 A on 14 AWG, a 50 A feed on 8 AWG or heavier: common practice."""
    for size, amperes in (("10 AWG", 30.0), ("14 AWG", 10.0), ("8 AWG", 50.0), ("6 AWG", 50.0)):
        assert wire_amperes(size, 1e-6)[0] >= amperes


@pytest.mark.parametrize(
    ("watts", "rated_volts", "volts", "share", "power"),
    [
        (5500.0, 240.0, 208.0, 75.1, "4.13 kW"),  # 75.1 %, 4131 W: trade page
        (4500.0, 240.0, 120.0, 25.0, "1.12 kW"),  # 240 V on 120 V, 4500 -> 1125 W: trade page
        (1500.0, 120.0, 240.0, 400.0, "6.00 kW"),  # Ohm's law
    ],
)
def test_power_at_another_voltage(watts: float, rated_volts: float, volts: float, share: float, power: str) -> None:
    """The share of its power that an element gives goes with the square of the voltage."""
    panel = panel_named("shed_single_kettle")
    found = voltage_finding(panel, Load("element", "element", rated_volts, watts / rated_volts, volts, ()))
    assert found is not None
    assert f": {share:.0f} % of its power, {power}" in found.message
    assert found.severity == ("error" if volts > rated_volts else "warning")


def test_a_4500_watt_element_takes_what_the_trade_says() -> None:
    """4500 W at 240 V: 18.8 A, 12.8 Ω (trade page)."""
    loads = {load.part: load for load in study(panel_named("cellar_two_kettle")).loads if load.what == "element"}
    element = loads["hlt_element"]
    assert round(element.amperes, 1) == 18.8
    assert round(element.volts / element.amperes, 1) == 12.8


def test_heat_of_a_relay_is_a_watt_or_more_by_the_ampere() -> None:
    """1.0 to 1.5 W per A, at a drop of 1.0 to 1.6 V: trade data. 22.9 A are 23 to 37 W."""
    found = {each.parts[0]: each for each in design_findings(panel_named("cellar_two_kettle"))}
    assert "23–37 W into heat at 22.9 A" in found["boil_relay"].message
    assert on_state_watts(5500 / 240).low == pytest.approx(22.9, abs=0.05)


@pytest.mark.parametrize(
    ("volts", "fits"), [(120.0, True), (102.0, True), (132.0, True), (101.0, False), (133.0, False)]
)
def test_coil_voltage_from_85_to_110_percent(volts: float, fits: bool) -> None:
    """IEC 60947-4-1 cl. 8.2.1.2, from memory: a contactor works from 85 to 110 % of its coil's voltage."""
    panel = panel_named("shed_single_kettle")
    found = voltage_finding(panel, Load("contactor", "coil", 120.0, 0.07, volts, ()))
    assert (found is None) == fits


def test_the_sum_of_a_feed_is_that_of_its_loads() -> None:
    """Kirchhoff: what the feed carries with all on is the element and the pump, less what the wires lose."""
    of = study(panel_named("shed_single_kettle"))
    assert len(of.amperes) == len(build(of.panel).places)
    loads = sum(load.amperes for load in of.loads)
    assert 0.93 * loads < of.carried("feed_breaker", "pole_1") < loads
