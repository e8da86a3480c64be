"""What checks would show: widths against circuits that are changed in fact, clamps, ghosts, heat."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from functools import lru_cache
from math import inf

import numpy as np
import pytest

from diagnose.causes import Cause, causes_of
from diagnose.checks import Check, ghosts, live_wires, offered_checks
from diagnose.circuit.netlist import Netlist, build
from diagnose.circuit.rows import Row
from diagnose.circuit.settle import settle
from diagnose.circuit.setup import Setup
from diagnose.expect import COPPER_SHARE, Predictor, TrueRange, interval_parts, true_range
from diagnose.knowledge.library import load_library
from diagnose.meter import reader_of
from diagnose.panel.reader import read_panel
from diagnose.setups import named_setups
from diagnose.study.simulated import SimulatedPanel

SHED, CELLAR = "shed_single_kettle", "cellar_two_kettle"
NAMES = ("idle", "running", "resting", "isolated", "parted", "lifted")


@lru_cache
def netlist_of(name: str) -> Netlist:
    library = load_library()
    return build(read_panel(library.folder / "panels" / f"{name}.yaml", library))


@lru_cache
def setups_of(name: str, subject: str) -> Mapping[str, Setup]:
    return named_setups(netlist_of(name), subject)


@lru_cache
def checks_of(name: str, subject: str) -> Mapping[str, Check]:
    netlist = netlist_of(name)
    suspects = [*netlist.panel.parts, *netlist.panel.wires_by_name]
    found = offered_checks(netlist.panel, setups_of(name, subject), NAMES, suspects, subject)
    return {check.id: check for check in found}


def cause(netlist: Netlist, key: str) -> Cause:
    return next(each for each in causes_of(netlist.panel) if each.key == key)


def there(netlist: Netlist, check: Check, key: str = "") -> TrueRange:
    """What one circuit holds: the sound panel's, or that of one cause."""
    row = Row(None)
    if key:
        found = cause(netlist, key)
        row = Row(found, found.level)
    return true_range(settle(netlist, check.setup, [row]), check)


# Sensitivities, each against the same circuit with one branch changed ---------------------------------------

SHARE = 1e-4
SENSITIVE = [
    ("running:voltage_ac:relay.load:neutral_bar.bar", ""),
    ("running:voltage_ac:contactor.t1:neutral_bar.bar", "cord:blade_burnt@5"),
    ("running:voltage_ac:relay.line:relay.load", "relay:open"),
    ("running:voltage_ac:low_impedance:relay.load:neutral_bar.bar", "relay:open"),
    ("running:voltage_ac:low_impedance:relay.load:neutral_bar.bar", "control_fuse:blown"),
    ("running:voltage_ac:relay.load:neutral_bar.bar", "control_fuse:blown"),
    ("running:current_ac:wire_contactor_t1_to_outlet_a", ""),
    ("running:leakage:element", "element:leak_at_end@50000"),
    ("lifted:resistance:element.a:element.b", ""),
    ("isolated:resistance:cord.plug_a:cord.plug_b", "cord:wet@2000"),
]


@pytest.mark.parametrize(("check_id", "key"), SENSITIVE)
def test_width_of_each_part_is_what_changing_it_does(check_id: str, key: str) -> None:
    netlist = netlist_of(SHED)
    check = checks_of(SHED, "element")[check_id]
    before = there(netlist, check, key)
    for branch in range(0, len(netlist.places), 3):
        only = np.zeros(len(netlist.places))
        only[branch] = SHARE
        width = there(replace(netlist, relative=only), check, key).width["parts"][1][0]
        factor = 1 + only
        changed = replace(netlist, alternating=netlist.alternating * factor, direct=netlist.direct * factor)
        moved = abs(float(there(changed, check, key).value[0] - before.value[0]))
        place = netlist.places[branch]
        # The controller's own settling leaves the conduction of a triac at five per cent.
        if place.form in ("triac", "sensor"):
            continue
        second_order = SHARE**2 * abs(float(before.value[0])) + 1e-12
        assert moved <= float(width) * 1.01 + second_order, place


@pytest.mark.parametrize(
    ("check_id", "key"),
    [
        ("running:voltage_ac:contactor.t1:neutral_bar.bar", ""),
        ("running:current_ac:wire_contactor_t1_to_outlet_a", ""),
        ("running:heat_rate:element", ""),
        ("isolated:resistance:cord.plug_a:cord.a", ""),
    ],
)
def test_copper_is_as_wide_as_warm_wires_make_it(check_id: str, key: str) -> None:
    netlist = netlist_of(SHED)
    check = checks_of(SHED, "element")[check_id]
    wires = [
        place.form == "resistance" and (place.part in netlist.panel.wires_by_name or "cord" in place.part)
        for place in netlist.places
    ]
    factor = np.where(wires, 1 + COPPER_SHARE, 1)
    warm = replace(netlist, alternating=netlist.alternating / factor, direct=netlist.direct / factor)
    cold, hot = there(netlist, check, key), there(warm, check, key)
    below, above = (float(side[0]) for side in cold.width["copper"])
    assert float(hot.value[0] - cold.value[0]) == pytest.approx(above - below, rel=0.05)
    assert max(below, above) > 0


@pytest.mark.parametrize("share", [0.9, 1.1])
@pytest.mark.parametrize(
    "check_id",
    [
        "running:voltage_ac:contactor.t1:neutral_bar.bar",
        "running:current_ac:wire_contactor_t1_to_outlet_a",
        "running:heat_rate:element",
    ],
)
def test_supply_moves_volts_and_amperes_with_it_and_heat_with_its_square(check_id: str, share: float) -> None:
    netlist = netlist_of(SHED)
    check = checks_of(SHED, "element")[check_id]
    moved = there(replace(netlist, emf_alternating=netlist.emf_alternating * share), check)
    found = there(netlist, check)
    below, above = (float(side[0]) for side in found.width["supply"])
    expected = float(found.value[0]) + (above if share > 1 else -below)
    assert float(moved.value[0]) == pytest.approx(expected, rel=2e-3)


def test_all_predictions_hold_what_a_panel_of_extreme_parts_shows() -> None:
    """Each part at one end of its tolerance, copper warm, supply low: readings stay in their intervals."""
    netlist = netlist_of(SHED)
    random = np.random.default_rng(3)
    checks = [each for each in checks_of(SHED, "element").values() if each.quantity != "sign"]
    predictor = Predictor(netlist, ())
    outside = []
    for _ in range(3):
        factor = 1 + netlist.relative * random.uniform(-1, 1, len(netlist.places))
        other = replace(
            netlist,
            alternating=netlist.alternating / factor,
            direct=netlist.direct / factor,
            emf_alternating=netlist.emf_alternating * random.uniform(0.9, 1.1),
        )
        panel = SimulatedPanel(other, None)
        for check in checks:
            reading, found = panel.reading(check), predictor.predict(check)
            slack = 1e-6 * (1 + abs(reading)) if np.isfinite(reading) else 0
            if not found.low[0] - slack <= reading <= found.high[0] + slack:
                outside.append((check.id, reading, float(found.low[0]), float(found.high[0])))
    # A root sum square holds nearly all of what independent parts do, not all of it.
    assert len(outside) <= 0.02 * 3 * len(checks), outside[:10]


# Contributions ----------------------------------------------------------------------------------------------


def test_contributions_have_names_and_the_meter_its_print() -> None:
    netlist = netlist_of(SHED)
    predictor = Predictor(netlist, ())
    check = checks_of(SHED, "element")["running:voltage_ac:contactor.t1:neutral_bar.bar"]
    found = {part.name: part for part in predictor.interval_parts(check)}
    volts = float(predictor.predict(check).value[0])
    assert found["supply"].below == pytest.approx(0.1 * volts)
    assert found["supply"].above == pytest.approx(0.1 * volts)
    assert found["meter"].above == pytest.approx(0.01 * volts + 0.3)
    assert found["meter"].note == "1 % + 3 counts"
    assert found["copper"].above == 0
    assert 0 < found["copper"].below < 0.02 * volts
    assert "leads" not in found


def test_contributions_to_ohms_are_parts_copper_meter_and_leads() -> None:
    predictor = Predictor(netlist_of(SHED), ())
    check = checks_of(SHED, "element")["lifted:resistance:element.a:element.b"]
    found = {part.name: part for part in predictor.interval_parts(check)}
    assert set(found) == {"parts", "meter", "leads"}
    assert (found["leads"].below, found["leads"].above) == (-0.2, 0.5)


def test_contributions_add_up_to_the_interval() -> None:
    predictor = Predictor(netlist_of(SHED), ())
    for check in checks_of(SHED, "element").values():
        parts = predictor.interval_parts(check)
        if not parts or check.quantity == "temperature":
            continue
        found = predictor.predict(check)
        value, low, high = (float(side[0]) for side in (found.value, found.low, found.high))
        wide = sum(part.above for part in parts)
        # The meter's share is taken of the end of the interval, not of its middle.
        assert high == inf or high == pytest.approx(value + wide, rel=0.06, abs=0.02), check.id
        assert low >= value - 1.1 * sum(max(part.below, 0) for part in parts) - 0.5, check.id


def test_signs_and_ol_have_no_contributions() -> None:
    predictor = Predictor(netlist_of(SHED), ())
    checks = checks_of(SHED, "element")
    sign = next(check for check in checks.values() if check.quantity == "sign")
    assert predictor.interval_parts(sign) == ()
    assert predictor.interval_parts(checks["lifted:resistance:element.a:element.earth"]) == ()


def test_interval_parts_of_a_row() -> None:
    netlist = netlist_of(SHED)
    check = checks_of(SHED, "element")["running:heat_rate:element"]
    found = {part.name: part for part in interval_parts(there(netlist, check), check)}
    assert found["meter"].note == "12 % + 1 count"


# Clamps -----------------------------------------------------------------------------------------------------


def test_two_conductors_in_the_jaws_cancel() -> None:
    netlist = netlist_of(SHED)
    one = checks_of(SHED, "element")["running:current_ac:wire_contactor_t1_to_outlet_a"]
    both = checks_of(SHED, "element")["running:leakage:element"]
    assert float(there(netlist, one).value[0]) == pytest.approx(3000 / 230, rel=0.05)
    assert float(there(netlist, both).value[0]) < 1e-6
    assert float(there(netlist, both).high[0]) < 1e-5


def test_turning_one_conductor_round_adds_it() -> None:
    netlist = netlist_of(SHED)
    both = checks_of(SHED, "element")["running:leakage:element"]
    (first, end), (second, other) = both.around
    wire = netlist.panel.wires_by_name[second]
    turned = replace(both, around=((first, end), (second, wire.a if wire.b == other else wire.b)))
    assert float(there(netlist, turned).value[0]) == pytest.approx(2 * 3000 / 230, rel=0.05)


def test_leakage_clamp_reads_what_does_not_come_back() -> None:
    """50 kohm from the line end of a 230 V element to its sheath."""
    netlist = netlist_of(SHED)
    check = checks_of(SHED, "element")["running:leakage:element"]
    found = there(netlist, check, "element:leak_at_end@50000")
    assert float(found.value[0]) == pytest.approx(230 / 50e3, rel=0.05)
    predictor = Predictor(netlist, [cause(netlist, "element:leak_at_end@50000")])
    seen = predictor.predict(check)
    assert seen.low[1] > seen.high[0]


def test_clamp_reads_nothing_where_nothing_flows() -> None:
    netlist = netlist_of(SHED)
    check = checks_of(SHED, "element")["running:current_ac:wire_contactor_t1_to_outlet_a"]
    predictor = Predictor(netlist, [cause(netlist, "element:open")])
    found = predictor.predict(check)
    assert (found.low[1], found.high[1]) == (0, pytest.approx(0.1, abs=0.06))
    assert found.low[0] > 9


# Ghosts and heat --------------------------------------------------------------------------------------------


def test_low_impedance_tells_a_ghost_from_a_live_wire() -> None:
    netlist = netlist_of(SHED)
    checks = checks_of(SHED, "element")
    _, tail, head = ghosts(netlist.panel, "element")[0]
    plain, low = (
        checks[f"idle:voltage_ac:{tail}:{head}"],
        checks[f"idle:voltage_ac:low_impedance:{tail}:{head}"],
    )
    assert float(there(netlist, plain).value[0]) > 0.99 * 230
    assert float(there(netlist, low).value[0]) < 0.03 * 230
    welded = "relay:shorted@0.02"
    assert float(there(netlist, low, welded).value[0]) > 0.99 * 230


@pytest.mark.parametrize(("key", "share"), [("", 1.0), ("element:weak@1.6", 1 / 1.6), ("element:open", 0.0)])
def test_heat_rate_is_the_power_of_the_element(key: str, share: float) -> None:
    netlist = netlist_of(SHED)
    check = checks_of(SHED, "element")["running:heat_rate:element"]
    found = there(netlist, check, key)
    # Less what the feed, the cords and the relay drop: 4 % of the volts.
    assert float(found.value[0]) == pytest.approx(3000 * share * 0.96**2, rel=0.03)
    assert float(found.low[0]) >= 0


def test_heat_rate_has_the_watch_s_share_about_the_supply_squared() -> None:
    check = checks_of(SHED, "element")["running:heat_rate:element"]
    predictor = Predictor(netlist_of(SHED), ())
    found = predictor.predict(check)
    watts = float(found.value[0])
    parts = {part.name: part for part in predictor.interval_parts(check)}
    assert parts["supply"].below == pytest.approx((1 - 0.9**2) * watts)
    assert parts["supply"].above == pytest.approx((1.1**2 - 1) * watts)
    low = (watts - sum(parts[name].below ** 2 for name in ("supply", "parts", "copper")) ** 0.5) * 0.88 - 50
    assert float(found.low[0]) == pytest.approx(low, rel=1e-6)


# What all predictions keep to -------------------------------------------------------------------------------


@pytest.mark.parametrize(("name", "subject"), [(SHED, "element"), (SHED, "pump"), (CELLAR, "fan")])
def test_every_interval_is_one(name: str, subject: str) -> None:
    netlist = netlist_of(name)
    causes = causes_of(netlist.panel)[::12]
    predictor = Predictor(netlist, causes)
    for check in checks_of(name, subject).values():
        found = predictor.predict(check)
        if found.table is not None:
            assert np.allclose(found.table.sum(axis=1), 1)
            continue
        assert found.low.shape == found.high.shape == found.value.shape == (1 + len(causes),)
        assert (found.low <= found.high).all(), check.id
        assert not np.isnan(found.low).any(), check.id
        if not reader_of(check.quantity, check.instrument).signed:
            assert (found.low >= 0).all(), check.id


def test_narrowed_predictions_are_those_of_a_predictor_of_its_own() -> None:
    netlist = netlist_of(SHED)
    causes = causes_of(netlist.panel)
    everything = Predictor(netlist, causes)
    everything.settled(setups_of(SHED, "element")["running"])
    numbers = [3, 4, 40, 90, len(causes) - 1]
    narrow = everything.narrowed(numbers)
    fresh = Predictor(netlist, [causes[number] for number in numbers])
    assert narrow.causes == fresh.causes
    assert narrow.rows == fresh.rows
    for check in list(checks_of(SHED, "element").values())[::7]:
        one, other = narrow.predict(check), fresh.predict(check)
        np.testing.assert_allclose(one.low, other.low, rtol=1e-7, atol=1e-7)
        np.testing.assert_allclose(one.high, other.high, rtol=1e-7, atol=1e-7)
        if one.table is not None:
            np.testing.assert_allclose(one.table, other.table, atol=1e-9)


def test_narrowing_settles_nothing_again(monkeypatch: pytest.MonkeyPatch) -> None:
    netlist = netlist_of(SHED)
    running = setups_of(SHED, "element")["running"]
    everything = Predictor(netlist, causes_of(netlist.panel)[:20])
    everything.settled(running)
    monkeypatch.setattr("diagnose.expect.settle", lambda *_: pytest.fail("settled again"))
    assert len(everything.narrowed([1, 2]).settled(running).rows) >= 3


def test_what_is_not_read_off_a_circuit_is_refused() -> None:
    netlist = netlist_of(SHED)
    check = checks_of(SHED, "element")["running:heat_rate:element"]
    with pytest.raises(ValueError, match="smell is not read off a circuit"):
        there(netlist, replace(check, quantity="smell"))


def test_live_wires_of_a_load_without_a_plug_lead_to_itself() -> None:
    panel = netlist_of(CELLAR).panel
    assert {end for _, end in live_wires(panel, "fan")} == {"fan.a", "fan.b"}
