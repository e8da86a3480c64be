"""What is offered: never ohms on a live circuit, clamps where their wires lie, few checks against ghosts."""

from __future__ import annotations

from dataclasses import replace

import pytest

from diagnose.causes import causes_of
from diagnose.checks import Check, ghosts, line_wire, live_wires, offered_checks, stays_live
from diagnose.expect import Predictor
from diagnose.knowledge.library import load_library
from diagnose.meter import READERS
from diagnose.panel.records import Panel
from diagnose.setups import named_setups
from tests.test_expect import CELLAR, SHED, checks_of, netlist_of, setups_of

SUBJECTS = [
    (SHED, "element"),
    (SHED, "pump"),
    (SHED, "controller"),
    (CELLAR, "hlt_element"),
    (CELLAR, "boil_element"),
    (CELLAR, "wort_pump"),
    (CELLAR, "fan"),
    (CELLAR, "boil_controller"),
]
LOADS = [(name, subject) for name, subject in SUBJECTS if "controller" not in subject]


def panel_of(name: str) -> Panel:
    return netlist_of(name).panel


PANELS = sorted(path.stem for path in (load_library().folder / "panels").glob("*.yaml"))


@pytest.mark.parametrize("name", PANELS)
def test_ohms_are_never_offered_on_a_live_circuit(name: str) -> None:
    """For every part that a complaint may be about, in every setup that has a name, with everything suspected."""
    netlist = netlist_of(name)
    panel = netlist.panel
    for subject in (None, *panel.of_role("heater", "pump", "fan", "controller")):
        setups = named_setups(netlist, subject)
        checks = offered_checks(panel, setups, list(setups), [*panel.parts, *panel.wires_by_name], subject)
        dead = [check for check in checks if check.quantity in ("resistance", "insulation")]
        assert dead
        assert not any(check.setup.supply_on for check in dead)
        # A pulled plug leaves the building's outlet live, and all before it.
        assert not any(stays_live(panel, end) for check in dead for end in (check.tail, check.head))
        assert all(check.needs_dead and check.exposure in ("isolated", "outside") for check in dead)
        assert len({check.id for check in checks}) == len(checks)


@pytest.mark.parametrize("quantity", ["resistance", "insulation"])
def test_a_check_of_ohms_on_a_live_circuit_can_not_be_made(quantity: str) -> None:
    setup = setups_of(SHED, "element")["running"]
    some = checks_of(SHED, "element")["lifted:resistance:element.a:element.b"]
    with pytest.raises(ValueError, match=f"{quantity} is never read with the supply on"):
        replace(some, quantity=quantity, setup=setup)


@pytest.mark.parametrize(("name", "subject"), SUBJECTS)
def test_every_check_can_be_read_with_its_instrument(name: str, subject: str) -> None:
    for check in checks_of(name, subject).values():
        if check.quantity != "sign":
            assert (check.quantity, check.instrument) in READERS, check.id


@pytest.mark.parametrize(("name", "subject"), SUBJECTS)
def test_amperes_and_volts_inside_are_live_work(name: str, subject: str) -> None:
    for check in checks_of(name, subject).values():
        if check.quantity in ("voltage_ac", "voltage_dc", "current_ac"):
            assert check.exposure == "live", check.id


@pytest.mark.parametrize(
    ("name", "subject", "wire", "end"),
    [
        (SHED, "element", "wire_contactor_t1_to_outlet_a", "outlet.a"),
        (CELLAR, "boil_element", "wire_boil_contactor_t1_to_boil_outlet_a", "boil_outlet.a"),
        (CELLAR, "wort_pump", "wire_wort_pump_switch_made_to_wort_pump_outlet_a", "wort_pump_outlet.a"),
        (CELLAR, "fan", "wire_fan_fuse_load_to_fan_a", "fan.a"),
    ],
)
def test_line_wire_is_the_last_one_in_the_box(name: str, subject: str, wire: str, end: str) -> None:
    assert line_wire(panel_of(name), subject) == (wire, end)


@pytest.mark.parametrize(("name", "subject"), LOADS)
def test_jaws_of_the_leakage_clamp_hold_both_live_wires_and_no_earth(name: str, subject: str) -> None:
    panel = panel_of(name)
    wires = live_wires(panel, subject)
    assert len(wires) >= 2
    for wire, end in wires:
        part, _, terminal = end.partition(".")
        assert panel.kind_of(part).terminals[terminal].path != "earth"
        assert end in (panel.wires_by_name[wire].a, panel.wires_by_name[wire].b)


def of(checks: list[Check], instrument: str) -> list[Check]:
    return [check for check in checks if check.instrument == instrument]


@pytest.mark.parametrize(("name", "subject"), LOADS)
def test_few_checks_are_for_other_instruments(name: str, subject: str) -> None:
    checks = list(checks_of(name, subject).values())
    assert [check.setup_name for check in of(checks, "clamp")] == ["running"]
    assert [check.setup_name for check in of(checks, "leakage_clamp")] == ["running"]
    assert len(of(checks, "low_impedance")) <= 3 * len(ghosts(panel_of(name), subject))


@pytest.mark.parametrize(("name", "subject"), SUBJECTS)
def test_heat_is_timed_for_heaters_alone_with_the_box_shut(name: str, subject: str) -> None:
    timed = [check for check in checks_of(name, subject).values() if check.quantity == "heat_rate"]
    if "element" not in subject:
        assert timed == []
        return
    (check,) = timed
    assert (check.setup_name, check.instrument, check.exposure, check.minutes) == (
        "running",
        "none",
        "outside",
        10.0,
    )


@pytest.mark.parametrize(("name", "subject"), [(SHED, "element"), (CELLAR, "boil_element")])
def test_low_impedance_is_offered_only_where_some_cause_makes_a_ghost(name: str, subject: str) -> None:
    """A ghost: a plain meter shows most of the supply, and a load of 3 kilohm leaves little of it."""
    netlist = netlist_of(name)
    path = [each for each in causes_of(netlist.panel) if each.part.split("_")[0] != "wire"]
    predictor = Predictor(netlist, path)
    for check in of(list(checks_of(name, subject).values()), "low_impedance"):
        plain = replace(check, id=f"{check.id}:plain", instrument="multimeter")
        high, low = predictor.predict(plain).value, predictor.predict(check).value
        assert ((high > 60) & (low < 0.1 * high)).any(), check.id


@pytest.mark.parametrize(("name", "subject"), SUBJECTS)
def test_other_volts_have_no_second_check_in_low_impedance(name: str, subject: str) -> None:
    if "controller" in subject or subject in ("pump", "wort_pump", "fan"):
        assert of(list(checks_of(name, subject).values()), "low_impedance") == []
