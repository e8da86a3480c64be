"""Two loads on each other's outlets: where ratings allow it, and whether the fault follows the load."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from diagnose.causes import causes_of
from diagnose.checks import Check, offered_checks
from diagnose.circuit.netlist import Netlist, build
from diagnose.exchanges import exchanges, load_exchange
from diagnose.knowledge.library import load_library
from diagnose.opening import bundled_panels, open_panel
from diagnose.panel.records import Panel
from diagnose.setups import named_setups
from diagnose.study.simulated import SimulatedPanel
from diagnose.wording.changes import change_lines

Changed = Callable[..., Panel]


@pytest.fixture(name="changed")
def _changed(tmp_path: Path) -> Changed:
    """The cellar's panel with some of its text changed."""

    def changed(*pairs: tuple[str, str]) -> Panel:
        text = (load_library().folder / "panels" / "cellar_two_kettle.yaml").read_text(encoding="utf-8")
        for before, after in pairs:
            assert before in text
            text = text.replace(before, after)
        path = tmp_path / "cellar.yaml"
        path.write_text(text, encoding="utf-8")
        return open_panel(str(path))

    return changed


EQUAL = ("amperes: [25 A, 30 A]", "amperes: [30 A, 30 A]")
TWO_CORDS = ("<name>_cord: cord, 30 A, 2 m", "<name>_cord: cord, <plug>, 2 m")


def test_elements_change_places_where_both_breakers_carry_either(changed: Changed) -> None:
    """5.5 kW at 240 V are 22.9 A: for hours on 30 A (24 A of it), not on 25 A (20 A of it)."""
    assert load_exchange(changed(EQUAL), "hlt_cord", "boil_cord") == {("boil_cord", "hlt_cord")}
    assert not load_exchange(changed(), "hlt_cord", "boil_cord")


def test_an_element_of_fifty_amperes_never_comes_to_an_outlet_of_thirty(changed: Changed) -> None:
    """11 kW at 240 V are 45.8 A behind 60 A; the other outlet is for 30 A. Neither by its plug nor by the load."""
    for plugs in ("[30 A, 50 A]", "[50 A, 50 A]", "[30 A, 30 A]"):
        panel = changed(
            ("power: [4.5 kW, 5.5 kW]", f"power: [4.5 kW, 11 kW]\n    plug: {plugs}"),
            ("amperes: [25 A, 30 A]", "amperes: [30 A, 60 A]"),
            TWO_CORDS,
        )
        assert not load_exchange(panel, "hlt_cord", "boil_cord")
        assert "traded" not in named_setups(build(panel), "boil_element")
        assert not any("cord" in end and "element" not in end and "pump" not in end
                       for exchange in exchanges(panel) for pair in exchange for end in pair)  # fmt: skip


def test_different_voltages_and_outlets_stay_apart(changed: Changed) -> None:
    """A pump is never put on an element's outlet."""
    panel = changed(EQUAL)
    assert not load_exchange(panel, "wort_pump_cord", "hlt_cord")
    assert load_exchange(panel, "wort_pump_cord", "liquor_pump_cord")


@pytest.mark.parametrize("name", [entry.name for entry in bundled_panels()])
def test_either_load_is_within_every_rating_on_both_ways(name: str) -> None:
    """Of all exchanges of loads on all bundled panels: same plug, same voltage."""
    panel = open_panel(name)
    for exchange in exchanges(panel):
        for one, other in exchange:
            if one in panel.plugs and panel.parts[one].kind.role == "connector":
                assert panel.parts[one].ratings["current"] == panel.parts[other].ratings["current"]
                assert panel.parts[one].kind is panel.parts[other].kind


def _check(netlist: Netlist, subject: str, sign: str) -> Check:
    setups = named_setups(netlist, subject)
    found = offered_checks(netlist.panel, setups, ["traded"], [subject], subject)
    return next(check for check in found if check.sign == sign)


@pytest.mark.parametrize(
    ("cause", "sign", "shown"),
    [
        ("boil_element:open", "heat", "none"),  # goes with the element
        ("boil_cord:core_broken", "heat", "none"),  # and with its cord
        ("boil_relay:open", "heat", "full"),  # stays with the outlet
        ("boil_contactor:coil_open", "heat", "full"),
        ("boil_outlet:worn@0.5", "heat", "full"),
        ("boil_cord:blade_burnt@5", "heat", "weak"),
    ],
)
def test_a_fault_follows_the_element_or_stays_with_the_outlet(
    changed: Changed, cause: str, sign: str, shown: str
) -> None:
    netlist = build(changed(EQUAL))
    hidden = next(each for each in causes_of(netlist.panel) if each.key == cause)
    check = _check(netlist, "boil_element", sign)
    assert check.exposure == "outside"
    assert check.work == "outside"
    assert SimulatedPanel(netlist, hidden).answer(check) == shown


def test_the_sound_panel_heats_either_way(changed: Changed) -> None:
    netlist = build(changed(EQUAL))
    assert SimulatedPanel(netlist, None).answer(_check(netlist, "boil_element", "heat")) == "full"


def test_pumps_tell_a_dead_pump_from_a_dead_outlet() -> None:
    netlist = build(open_panel("cellar_two_kettle"))
    causes = {each.key: each for each in causes_of(netlist.panel)}
    check = _check(netlist, "wort_pump", "runs")
    assert SimulatedPanel(netlist, causes["wort_pump:open"]).answer(check) == "no"
    assert SimulatedPanel(netlist, causes["wort_pump_switch:open"]).answer(check) == "yes"


def test_no_plug_moves_while_its_outlet_is_live() -> None:
    """The main switch is off before, and on again after, there and back."""
    netlist = build(open_panel("cellar_two_kettle"))
    setups = named_setups(netlist, "wort_pump")
    for before, after in (("running", "traded"), ("traded", "running")):
        lines = change_lines(netlist.panel, setups[before], setups[after])
        moved = next(number for number, line in enumerate(lines) if "wort pump cord" in line)
        assert "Main switch of the panel off first" in lines[moved - 1]
        assert "Main switch back on" in lines[moved + 1]
