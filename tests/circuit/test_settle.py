"""Coils, start buttons, transformers, protection and controllers settle; what never settles is heard as a buzz."""

from __future__ import annotations

from dataclasses import replace
from math import sqrt
from pathlib import Path

import numpy as np
import pytest

from diagnose.circuit.netlist import build
from diagnose.circuit.nodal import UndeterminedError
from diagnose.circuit.rows import Row
from diagnose.circuit.settle import Settled, settle
from diagnose.circuit.setup import at_rest
from diagnose.errors import CircuitError
from diagnose.grading import grade_sign, misfits
from diagnose.knowledge.library import load_library
from diagnose.panel.reader import read_panel
from diagnose.panel.records import Panel
from diagnose.setups import named_setups
from tests.knowledge.literal import cause, meter, panel_of, solved

LIBRARY = load_library()
BUNDLED = sorted(path.stem for path in (LIBRARY.folder / "panels").glob("*.yaml"))


def bundled(name: str) -> Panel:
    return read_panel(LIBRARY.folder / "panels" / f"{name}.yaml", LIBRARY)


def seen(settled: Settled, part: str, sign: str, row: int = 0) -> str:
    """The likeliest outcome of a sign."""
    outcomes = settled.netlist.panel.parts[part].kind.signs[sign].outcomes
    return outcomes[int(np.argmax(grade_sign(settled, part, sign)[row]))]


# Coils and what never settles ---------------------------------------------------------------------------


def test_a_relay_fed_through_its_own_opening_contact_buzzes(tmp_path: Path) -> None:
    """It pulls in, cuts its own coil off, drops out, and so on: chatter, and a sign of its own."""
    panel = panel_of(
        tmp_path, "single_phase_120", "buzzer: control_relay, 120 V\nsound: control_relay, 120 V",
        "leg_1 - buzzer.common\nbuzzer.broken - buzzer.a1\nbuzzer.a2 - neutral\nleg_1 - sound.a1\nsound.a2 - neutral",
    )  # fmt: skip
    settled = solved(panel)
    assert settled.chatter[0]
    assert settled.chattering["buzzer"][0]
    assert "sound" not in settled.chattering
    assert seen(settled, "buzzer", "pulled_in") == "buzzes"
    assert seen(settled, "sound", "pulled_in") == "yes"


def test_a_chattering_row_leaves_the_others_alone(tmp_path: Path) -> None:
    panel = panel_of(
        tmp_path, "single_phase_120", "relay: control_relay, 120 V",
        "leg_1 - relay.common\nrelay.broken - relay.a1\nrelay.a2 - neutral",
    )  # fmt: skip
    settled = solved(panel, None, cause("relay", "opening_open"), cause("relay", "coil_open"))
    assert settled.chatter.tolist() == [True, False, False]
    assert [seen(settled, "relay", "pulled_in", row) for row in range(3)] == ["buzzes", "no", "no"]


def test_a_short_that_starves_its_own_controller_trips_and_is_then_at_rest() -> None:
    """Relay on, supply down, controller off, relay off, and again: in one half of that the breaker sees the short."""
    panel = bundled("stable_interlocked")
    netlist = build(panel)
    setup = named_setups(netlist, "element")["running"]
    settled = settle(netlist, setup, [Row(None), Row(cause("element", "shorted"), 0.3)])
    assert not settled.chatter.any()
    assert [seen(settled, "kettle_breaker", "trip", row) for row in (0, 1)] == ["holds", "trips at once"]
    assert settled.heat_watts("element")[1] < 1


def test_a_supply_that_sags_under_its_load_makes_the_relay_chatter(tmp_path: Path) -> None:
    """A bad joint of 4 ohm: the controller at 60 to 70 % of its voltage goes dark, and comes back without the load."""
    text = (LIBRARY.folder / "panels" / "balcony_one_pot.yaml").read_text(encoding="utf-8")
    (tmp_path / "panel.yaml").write_text(text, encoding="utf-8")
    panel = read_panel(tmp_path / "panel.yaml", LIBRARY)
    netlist = build(panel)
    setup = named_setups(netlist, "element")["running"]
    settled = settle(netlist, setup, [Row(None), Row(cause("service", "line_weak"), 8.0)])
    ohms = 120**2 / 1650
    assert 120 * ohms / (ohms + 8) < 0.6 * 120
    assert settled.chatter.tolist() == [False, True]
    assert settled.chattering["relay"].tolist() == [False, True]
    assert np.isinf(settled.trips["feed_breaker"][1]).all()


@pytest.mark.parametrize(("made_for", "heard"), [("120 V", "yes"), ("240 V", "buzzes"), ("1 kV", "no")])
def test_a_coil_for_more_volts_than_it_gets(tmp_path: Path, made_for: str, heard: str) -> None:
    panel = panel_of(
        tmp_path, "single_phase_120", f"contactor: contactor, {made_for}, 25 A",
        "leg_1 - contactor.a1\ncontactor.a2 - neutral",
    )  # fmt: skip
    assert seen(solved(panel), "contactor", "pulled_in") == heard


def test_a_coil_that_does_not_fit_is_named(tmp_path: Path) -> None:
    panel = panel_of(
        tmp_path, "single_phase_230", "contactor: contactor, 24 V, 25 A\nother: contactor, 230 V, 25 A",
        "leg_1 - contactor.a1\ncontactor.a2 - neutral\nleg_1 - other.a1\nother.a2 - neutral",
    )  # fmt: skip
    (problem,) = misfits(build(panel))
    assert problem.level == "warning"
    assert problem.message.startswith("contactor: its coil is made for 24 V and gets 2")


@pytest.mark.parametrize("name", BUNDLED)
def test_every_coil_of_a_bundled_panel_fits(name: str) -> None:
    assert misfits(build(bundled(name))) == ()


# Starting, stopping, holding in -------------------------------------------------------------------------


def test_start_hold_and_stop() -> None:
    """The main contactor holds itself in once the start button is let go, and each part of that chain can break it."""
    panel = bundled("stable_interlocked")
    faults = [
        cause("main_contactor", "holding_open"),
        cause("start_guard", "opening_open"),
        cause("emergency_stop", "block_open"),
        cause("start_stop", "start_open"),
        cause("main_contactor", "holding_welded"),
    ]
    idle = at_rest(panel)
    on = [seen(solved(panel, idle, *faults), "main_contactor", "pulled_in", row) for row in range(6)]
    assert on == ["yes", "no", "no", "no", "no", "yes"]
    stopped = solved(panel, idle.moved(start_stop="stopped"), *faults)
    assert {seen(stopped, "main_contactor", "pulled_in", row) for row in range(6)} == {"no"}
    hit = solved(panel, idle.moved(emergency_stop="pressed"), *faults, cause("emergency_stop", "does_not_stop"))
    assert [seen(hit, "main_contactor", "pulled_in", row) for row in (0, 5, 6)] == ["no", "no", "yes"]


def test_the_start_guard_keeps_the_panel_from_starting_into_a_load() -> None:
    """The heat switch that is stuck closed holds the guard, so the green button does nothing."""
    panel = bundled("stable_interlocked")
    settled = solved(panel, at_rest(panel), cause("heat_switch", "stuck"))
    assert [seen(settled, "main_contactor", "pulled_in", row) for row in (0, 1)] == ["yes", "no"]


# Transformers and supplies for controls -----------------------------------------------------------------


def test_a_transformer_follows_its_primary_and_carries_its_load_there(tmp_path: Path) -> None:
    """24 V from 240 V; what a load takes at 24 V is taken at 240 V too; a short behind it blows the primary's fuse."""
    panel = panel_of(
        tmp_path, "split_phase_240",
        "fuse: fuse, 500 mA\ntransformer: transformer, 240 V, 24 V, 40 W\nlamp: lamp_filament, 24 V",
        "leg_1 - fuse - transformer.p1\ntransformer.p2 - leg_2\ntransformer.s1 - lamp - transformer.s2\n"
        "transformer.s2 - earth",
    )  # fmt: skip
    settled = solved(
        panel, None, cause("transformer", "secondary_shorted", 0.3), cause("transformer", "primary_open"),
        cause("lamp", "open"),
    )  # fmt: skip
    # 1.05 times 24 V with nothing on it; 5 W of its 40 drop an eighth of 10 %.
    empty, loaded = (
        meter(settled, "transformer.s1", "transformer.s2", 3),
        meter(settled, "lamp.a", "lamp.b", 0),
    )
    assert empty == pytest.approx(1.05 * 24, rel=0.01)
    assert loaded == pytest.approx(empty * (1 - 0.1 * 5 / 40), rel=0.01)
    primary = settled.amperes("fuse", "link")
    magnetising = primary[3]
    assert sqrt(primary[0] ** 2 - magnetising**2) == pytest.approx(1.05 * 5 / 240, rel=0.1)
    assert settled.states["tripped"]["fuse"].tolist() == [False, True, False, False]
    assert meter(settled, "transformer.s1", "transformer.s2", 2) < 0.1
    off = solved(panel, replace(at_rest(panel), supply_on=False))
    assert meter(off, "transformer.s1", "transformer.s2") < 1e-6


def test_a_direct_supply_follows_the_mains(tmp_path: Path) -> None:
    panel = panel_of(
        tmp_path, "single_phase_230",
        "supply: dc_supply, 230 V, 24 V, 30 W\nrelay: control_relay_dc, 24 V\nlamp: lamp_dc, 24 V",
        "leg_1 - supply.line\nsupply.neutral - neutral\nsupply.plus - relay.a1\nsupply.minus - relay.a2\n"
        "supply.plus - lamp - supply.minus", built="new",
    )  # fmt: skip
    faults = (cause("supply", "dead"), cause("supply", "output_shorted", 0.3), cause("supply", "reversed"))
    settled = solved(panel, None, *faults, cause("feed_cord", "line_open"))
    assert [seen(settled, "relay", "pulled_in", row) for row in range(5)] == ["yes", "no", "no", "no", "no"]
    assert settled.volts("lamp", "lamp")[:2] == pytest.approx([24, 0], abs=0.5)
    assert seen(settled, "lamp", "light", 0) == "lit"


# Controllers and probes ---------------------------------------------------------------------------------


@pytest.mark.parametrize("panel", ["shed_single_kettle", "loft_dairy_208"])
@pytest.mark.parametrize(("fault", "level"), [("open", None), ("shorted", 0.5)])
def test_a_bad_probe_stops_the_heat(panel: str, fault: str, level: float | None) -> None:
    """Both kinds of controller, with a direct output and with a contact, let go of the load."""
    read = bundled(panel)
    setup = named_setups(build(read), "element")["running"]
    settled = settle(build(read), setup, [Row(None), Row(cause("probe", fault, level), level)])
    assert seen(settled, "element", "heat", 0) == "full"
    assert seen(settled, "element", "heat", 1) == "none"
    assert seen(settled, "controller", "calling", 1) == "no"


@pytest.mark.parametrize("name", BUNDLED)
def test_the_elements_of_every_bundled_panel_heat(name: str) -> None:
    panel = bundled(name)
    netlist = build(panel)
    for element in panel.of_role("heater"):
        settled = settle(netlist, named_setups(netlist, element)["running"], [Row(None)])
        assert seen(settled, element, "heat") == "full"
        assert not settled.chatter.any()
        assert all(np.isinf(times).all() for times in settled.trips.values())


# Three phases -------------------------------------------------------------------------------------------


def three_legs(folder: Path, kind: str, star_to_neutral: bool = False) -> Panel:
    wires = "leg_1 - pot.a\nleg_2 - pot.b\nleg_3 - pot.c\nearth - pot.earth\n"
    wires += "pot.star - neutral\n" if star_to_neutral else ""
    return panel_of(folder, "three_phase_400", f"pot: {kind}, 6 kW, 400 V", wires)


@pytest.mark.parametrize(
    ("kind", "to_neutral", "share"),
    [("element_star", False, 1 / 2), ("element_star", True, 2 / 3), ("element_delta", False, 1 / 2)],
)
def test_a_three_leg_element_with_one_line_lost(tmp_path: Path, kind: str, to_neutral: bool, share: float) -> None:
    """In star two legs in series over 400 V; with the star point at neutral two of three; in delta 1 + 1/2 of 3."""
    panel = three_legs(tmp_path, kind, to_neutral)
    settled = solved(panel, None, cause("service", "leg_2_lost"), cause("feed_cord", "l3_open"))
    watts = settled.heat_watts("pot")
    assert watts[0] == pytest.approx(6000 * (sqrt(3) * 230 / 400) ** 2, rel=0.04)
    assert watts[1:] / watts[0] == pytest.approx(share, rel=0.02)
    assert meter(settled, "leg_1.bar", "leg_2.bar") == pytest.approx(230 * sqrt(3), rel=0.02)


def test_two_legs_of_three_phase_give_208_v(tmp_path: Path) -> None:
    """A 5.5 kW element for 240 V makes 75 % of it: 4131 W (trade page)."""
    panel = panel_of(
        tmp_path,
        "two_legs_208",
        "pot: element, 5.5 kW, 240 V",
        "leg_1 - pot.a\nleg_2 - pot.b\nearth - pot.earth",
    )
    settled = solved(panel, None, cause("pot", "open"))
    volts = meter(settled, "leg_1.bar", "leg_2.bar", 1)
    assert volts == pytest.approx(120 * sqrt(3), rel=1e-4)
    assert meter(settled, "leg_1.bar", "neutral.bar", 1) == pytest.approx(120, rel=1e-4)
    assert volts**2 / (240**2 / 5500) == pytest.approx(4131, rel=0.002)
    # With its current flowing it gets a little less, and turns just that into heat.
    pot = meter(settled, "pot.a", "pot.b")
    assert settled.heat_watts("pot")[0] == pytest.approx(pot**2 / (240**2 / 5500), rel=1e-4)
    assert 0.97 * volts < pot < volts


def test_a_residual_device_sums_three_lines_and_neutral(tmp_path: Path) -> None:
    """Unequal loads between lines and neutral hold; a leak of 5 kohm from a line does not."""
    panel = panel_of(
        tmp_path, "three_phase_400", "pot: element, 2 kW, 230 V", "leg_1 - pot.a\nneutral - pot.b\nearth - pot.earth",
        protection="feed_rcd: rcd_4, 40 A, 30 mA",
    )  # fmt: skip
    settled = solved(panel, None, cause("pot", "leak_at_end", 5000.0), cause("pot", "leak_at_end", 50000.0))
    assert settled.states["tripped"]["feed_rcd"].tolist() == [False, True, False]


# Supplies -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "system", ["split_phase_240", "two_legs_208", "single_phase_120", "single_phase_230", "three_phase_400"]
)
def test_any_conductor_of_a_supply_can_be_open_or_bad(tmp_path: Path, system: str) -> None:
    """A bad joint of 2 ohm in a line drops 2 ohm times the current; neither domain sees a source that is not there."""
    wide = {"single_phase_120": 120, "split_phase_240": 120, "two_legs_208": 120}.get(system, 230)
    panel = panel_of(
        tmp_path, system, f"pot: element, 1 kW, {wide} V", "leg_1 - pot.a\nneutral - pot.b\nearth - pot.earth"
    )
    faults = panel.parts["service"].kind.faults
    line = "line" if "line_weak" in faults else "leg_1"
    names = [f"{line}_weak", "neutral_weak", "neutral_lost", "off", "bond_lost"]
    assert set(names) <= faults.keys()
    settled = solved(panel, None, *(cause("service", name, 2.0 if "weak" in name else None) for name in names))
    ohms = wide**2 / 1000
    volts = [meter(settled, "pot.a", "pot.b", row) for row in range(6)]
    assert volts[0] == pytest.approx(wide, rel=0.01)
    assert volts[1:3] == pytest.approx([wide * ohms / (ohms + 2)] * 2, rel=0.01)
    assert volts[3:5] == pytest.approx([0, 0], abs=1)
    assert volts[5] == pytest.approx(wide, rel=0.01)


# What can't be right ------------------------------------------------------------------------------------


def test_bare_copper_between_two_conductors_is_named(tmp_path: Path) -> None:
    panel = panel_of(tmp_path, "split_phase_240", "", "leg_1 - neutral")
    with pytest.raises(CircuitError) as caught:
        build(panel)
    message = str(caught.value)
    assert "supply of the building" not in message
    assert "service, leg 1 and service, neutral are shorted to each other, by way of feed breaker" in message
    assert "neutral" in message
    assert message.endswith("expected a load between two conductors")


def test_a_load_with_a_loose_end_is_named(tmp_path: Path) -> None:
    panel = panel_of(tmp_path, "single_phase_120", "pot: element, 1 kW, 120 V", "leg_1 - pot.a\nearth - pot.earth")
    with pytest.raises(CircuitError) as caught:
        build(panel)
    assert str(caught.value).endswith("nothing is wired to pot, second pole; expected a wire to each end of a load")


def test_a_circuit_without_one_solution_is_told_in_parts(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The solver knows nodes; what is said names what lies there."""
    panel = panel_of(tmp_path, "single_phase_120", "lamp: lamp, 120 V", "leg_1 - lamp - neutral")
    netlist = build(panel)

    def unsolved(*_: object) -> None:
        raise UndeterminedError((netlist.node("lamp.a"), netlist.node("lamp.b")))

    monkeypatch.setattr("diagnose.circuit.settle.solve_batch", unsolved)
    with pytest.raises(
        CircuitError, match="nothing ties the voltage of lamp to the supply; expected a way to the supply"
    ):
        settle(netlist, at_rest(panel), [Row(None)])
