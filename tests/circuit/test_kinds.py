"""Each kind of part does in a circuit what it does in a panel, sound and with its faults."""

from __future__ import annotations

from math import sqrt
from pathlib import Path

import numpy as np
import pytest

from diagnose.causes import causes_of
from diagnose.circuit.netlist import build
from diagnose.circuit.rows import Row
from diagnose.circuit.settle import Settled, settle
from diagnose.circuit.setup import at_rest
from diagnose.errors import FileError
from diagnose.grading import grade_sign
from diagnose.kinds_table import main_kinds, rows, table_lines
from diagnose.knowledge.library import load_library
from diagnose.panel.reader import read_panel
from diagnose.panel.records import Panel
from diagnose.setups import named_setups
from tests.knowledge.literal import cause, everything_on, meter, panel_of, solved

LIBRARY = load_library()
PANELS = LIBRARY.folder / "panels"
BUNDLED = sorted(path.stem for path in PANELS.glob("*.yaml"))


def seen(settled: Settled, part: str, sign: str, row: int = 0) -> str:
    """The likeliest outcome of a sign."""
    outcomes = settled.netlist.panel.parts[part].kind.signs[sign].outcomes
    return outcomes[int(np.argmax(grade_sign(settled, part, sign)[row]))]


def newly_built(folder: Path, name: str) -> Panel:
    """A bundled panel as if it had never worked yet."""
    text = (PANELS / f"{name}.yaml").read_text(encoding="utf-8")
    path = folder / "new.yaml"
    if "\nbuilt: new\n" not in text:
        text = text.replace("\nregion:", "\nbuilt: new\nregion:", 1)
    path.write_text(text, encoding="utf-8")
    return read_panel(path, LIBRARY, "new.yaml")


@pytest.mark.parametrize("name", BUNDLED)
def test_every_cause_of_a_bundled_panel_can_be_solved(name: str) -> None:
    """No cause leaves a voltage that is not a number, idle or with all switched on."""
    panel = read_panel(PANELS / f"{name}.yaml", LIBRARY)
    netlist = build(panel)
    causes = [Row(each, each.level) for each in causes_of(panel)]
    for setup in (at_rest(panel), everything_on(panel)):
        settled = settle(netlist, setup, [Row(None), *causes])
        assert np.isfinite(settled.alternating.voltages).all()
        assert np.isfinite(settled.direct.voltages).all()
        assert not settled.chatter[0]
        for part in panel.parts.values():
            for sign in part.kind.signs:
                shares = grade_sign(settled, part.name, sign)
                assert np.allclose(shares.sum(axis=1), 1)


# Poles ---------------------------------------------------------------------------------------------------

POLES = {
    "contactor_1": 1, "contactor": 2, "contactor_3": 3, "contactor_4": 4, "contactor_hold": 2,
    "main_switch_1": 1, "main_switch": 2, "main_switch_3": 3, "main_switch_4": 4,
    "breaker_1": 1, "breaker_2": 2, "breaker_3": 3, "rcd": 2, "rcd_4": 4, "feed_gfci": 2, "feed_gfci_1": 1,
}  # fmt: skip


@pytest.mark.parametrize("kind", POLES)
def test_each_pole_can_fail_by_itself(kind: str) -> None:
    found = LIBRARY.kinds[kind]
    poles = {name for name in found.branches if name.startswith("pole_")}
    assert len(poles) == POLES[kind]
    opened = {
        effect.target
        for fault in found.faults.values()
        for effect in fault.effects
        if effect.change == "open" and len(fault.effects) == 1
    }
    assert poles <= opened


def test_a_welded_pole_and_a_burnt_one(tmp_path: Path) -> None:
    """Welded: current with the coil off. Burnt with 3 ohm: 240 V divide between it and a 10.5 ohm element."""
    panel = panel_of(
        tmp_path, "split_phase_240",
        "contactor: contactor_3, 120 V, 40 A\nswitch: switch\npot: element, 5.5 kW, 240 V",
        "leg_1 - contactor.l1\nleg_2 - contactor.l2\ncontactor.t1 - pot.a\ncontactor.t2 - pot.b\nearth - pot.earth\n"
        "leg_1 - switch - contactor.a1\ncontactor.a2 - neutral",
    )  # fmt: skip
    faults = (cause("contactor", "welded"), cause("contactor", "pole_2_burnt", 3.0), cause("contactor", "pole_1_open"))
    off, on = solved(panel, at_rest(panel), *faults), solved(panel, None, *faults)
    assert [seen(off, "pot", "heat", row) for row in range(4)] == ["none", "full", "none", "none"]
    assert [seen(on, "pot", "heat", row) for row in range(4)] == ["full", "full", "weak", "none"]
    ohms = 240**2 / 5500
    rest = ohms * (240 / meter(on, "pot.a", "pot.b", 0) - 1)  # of supply, cord, wires and the other pole
    assert rest < 0.2
    assert meter(on, "pot.a", "pot.b", 2) == pytest.approx(240 * ohms / (ohms + rest + 3 - 0.004), rel=1e-4)


# Elements ------------------------------------------------------------------------------------------------


def test_an_element_of_two_legs_loses_half(tmp_path: Path) -> None:
    panel = panel_of(
        tmp_path, "single_phase_120", "pot: element_2, 1.5 kW, 120 V",
        "leg_1 - pot.a\npot.a - pot.c\nneutral - pot.b\nearth - pot.earth",
    )  # fmt: skip
    settled = solved(panel, None, cause("pot", "leg_2_open"))
    watts, ohms = settled.heat_watts("pot"), 2 * 120**2 / 1500
    volts = [meter(settled, "pot.a", "pot.b", row) for row in (0, 1)]
    assert watts == pytest.approx([volts[0] ** 2 / (ohms / 2), volts[1] ** 2 / ohms], rel=1e-3)
    assert 0.5 < watts[1] / watts[0] < 0.51  # with half the load the supply sags less
    assert seen(settled, "pot", "heat", 1) == "weak"


@pytest.mark.parametrize(
    ("fault", "volts"), [("leak_at_end", 240 / 2), ("leak_at_other_end", 240 / 2), ("leak_in_middle", 0)]
)
def test_where_along_its_wire_an_element_leaks_decides_the_current(tmp_path: Path, fault: str, volts: float) -> None:
    """Between two legs of 120 V the middle of the wire is at earth's potential: a leak there carries nothing."""
    panel = panel_of(
        tmp_path, "split_phase_240", "pot: element, 5.5 kW, 240 V", "leg_1 - pot.a\nleg_2 - pot.b\nearth - pot.earth",
        protection="feed_breaker: feed_gfci, 30 A",
    )  # fmt: skip
    settled = solved(panel, None, cause("pot", fault, 7000.0))
    assert volts / 7000 > 0.006 or volts == 0
    assert settled.states["tripped"]["feed_breaker"].tolist() == [False, volts > 0]


# Relays ----------------------------------------------------------------------------------------------------


def test_a_relay_needs_its_control_voltage() -> None:
    """On at 3 V and more (trade data): 12 V behind 200 ohm give 1200 ohm 10.3 V; a joint of 5 kohm leaves 2.25 V."""
    panel = read_panel(PANELS / "shed_single_kettle.yaml", LIBRARY)
    wire = "wire_controller_plus_to_relay_plus"
    setup = named_setups(build(panel), "element")["running"]
    netlist = build(panel)
    causes = [cause(wire, "joint", 5000.0), cause("relay", "input_open"), cause("relay", "shorted", 0.02)]
    settled = settle(netlist, setup, [Row(None), *(Row(each, each.level) for each in causes)])
    direct = settled.direct.between(netlist.node("relay.plus"), netlist.node("relay.minus"))
    assert direct[:2] == pytest.approx([12 * 1200 / 1400, 12 * 1200 / 6400], rel=0.01)
    assert [seen(settled, "relay", "indicator", row) for row in range(4)] == ["lit", "dark", "dark", "lit"]
    assert [seen(settled, "element", "heat", row) for row in range(4)] == ["full", "none", "none", "full"]


# Wiring mistakes -------------------------------------------------------------------------------------------

MISTAKES = [
    # (part, fault, level, part whose sign shows it, sign, outcome)
    ("earth_bar", "neutral_bonded", None, "feed_rcd", "trip", "trips at once"),
    ("wire_pump_outlet_b_to_neutral_bar_bar", "on_earth_bar", None, "feed_rcd", "trip", "trips at once"),
    ("feed_rcd", "neutral_beside", None, "feed_rcd", "trip", "trips at once"),
    ("outlet", "earth_crossed", None, "feed_rcd", "trip", "trips at once"),
    ("probe_socket", "a_and_b_crossed", None, "controller", "shown", "under range"),
    ("probe_socket", "a_and_sense_crossed", None, "controller", "shown", "under range"),
    ("relay", "reversed", None, "element", "heat", "none"),
    ("contactor", "coil_for_more", None, "contactor", "pulled_in", "buzzes"),
    ("element", "for_more_volts", 4.0, "element", "heat", "weak"),
]


@pytest.mark.parametrize(
    ("part", "fault", "level", "told_by", "sign", "outcome"), MISTAKES, ids=[f"{m[0]}-{m[1]}" for m in MISTAKES]
)
def test_a_wiring_mistake_shows(
    tmp_path: Path, part: str, fault: str, level: float | None, told_by: str, sign: str, outcome: str
) -> None:
    panel = newly_built(tmp_path, "shed_single_kettle")
    setup = everything_on(panel)
    settled = settle(build(panel), setup, [Row(None), Row(cause(part, fault, level), level)])
    assert seen(settled, told_by, sign, 0) != outcome
    assert seen(settled, told_by, sign, 1) == outcome


def test_a_bonded_neutral_trips_when_a_load_flows_and_not_before(tmp_path: Path) -> None:
    """Nearly half of the return current goes by the earth: of a controller's 17 mA too little, of 13 A far too much."""
    panel = newly_built(tmp_path, "shed_single_kettle")
    rows_ = [Row(None), Row(cause("earth_bar", "neutral_bonded"))]
    idle = settle(build(panel), at_rest(panel), rows_)
    assert [seen(idle, "feed_rcd", "trip", row) for row in (0, 1)] == ["holds", "holds"]
    running = settle(build(panel), named_setups(build(panel), "element")["running"], rows_)
    assert [seen(running, "feed_rcd", "trip", row) for row in (0, 1)] == ["holds", "trips at once"]


def test_crossed_poles_of_an_outlet_show_to_earth_alone(tmp_path: Path) -> None:
    """The pot heats as it should, and what should be near earth is live."""
    panel = newly_built(tmp_path, "balcony_one_pot")
    settled = settle(build(panel), everything_on(panel), [Row(None), Row(cause("outlet", "crossed"))])
    assert [seen(settled, "element", "heat", row) for row in (0, 1)] == ["full", "full"]
    to_earth = [meter(settled, "outlet.b", "earth_bar.bar", row) for row in (0, 1)]
    assert to_earth[0] < 5
    assert to_earth[1] > 110


def test_a_panel_that_has_worked_has_no_wiring_mistakes(tmp_path: Path) -> None:
    """Nothing is laid out for them where the panel file doesn't say `built: new`."""
    used = read_panel(PANELS / "shed_single_kettle.yaml", LIBRARY)
    new = newly_built(tmp_path, "shed_single_kettle")
    assert (used.built, new.built) == ("used", "new")
    assert not build(used).rewired
    assert len(build(new).rewired) > 10


def test_built_is_new_or_used(tmp_path: Path) -> None:
    text = (PANELS / "shed_single_kettle.yaml").read_text(encoding="utf-8")
    path = tmp_path / "panel.yaml"
    path.write_text(text.replace("\nregion:", "\nbuilt: old\nregion:", 1), encoding="utf-8")
    with pytest.raises(FileError, match="unknown choice 'old'; expected one of used, new"):
        read_panel(path, LIBRARY, "panel.yaml")


# Displays, timers, alarms ----------------------------------------------------------------------------------


def test_an_ammeter_tells_a_lost_leg_of_the_element() -> None:
    panel = read_panel(PANELS / "loft_dairy_208.yaml", LIBRARY)
    netlist = build(panel)
    setup = named_setups(netlist, "element")["running"]
    faults = [Row(cause("element", "open")), Row(cause("ammeter", "dead")), Row(cause("element", "weak", 2.5), 2.5)]
    settled = settle(netlist, setup, [Row(None), *faults])
    shown = [seen(settled, "ammeter", "amperes", row) for row in range(4)]
    assert shown == ["usual", "nothing", "nothing", "low"]
    assert settled.amperes("ammeter", "window")[0] == pytest.approx(4500 / 208, rel=0.04)


def test_a_timer_sounds_the_alarm() -> None:
    panel = read_panel(PANELS / "stable_interlocked.yaml", LIBRARY)
    faults = [Row(cause("timer", "dead")), Row(cause("timer", "contact_open")), Row(cause("alarm", "dead"))]
    settled = settle(build(panel), everything_on(panel), [Row(None), *faults])
    assert [seen(settled, "alarm", "sounds", row) for row in range(4)] == ["loud", "silent", "silent", "silent"]


def test_a_voltmeter_shows_a_lost_neutral(tmp_path: Path) -> None:
    """Two pots on a lost neutral: the meter over the smaller one shows far too much."""
    panel = panel_of(
        tmp_path, "split_phase_240",
        "pot: element, 1.5 kW, 120 V\nwarmer: element, 500 W, 120 V\nmeter: voltmeter, 120 V",
        "leg_1 - pot.a\npot.b - neutral\nleg_2 - warmer.a\nwarmer.b - neutral\nleg_2 - meter - neutral\n"
        "earth - pot.earth\nearth - warmer.earth",
    )  # fmt: skip
    settled = solved(panel, None, cause("feed_cord", "neutral_open"), cause("service", "leg_2_lost"))
    assert [seen(settled, "meter", "volts", row) for row in range(3)] == ["usual", "too high", "dark"]


# Supplies --------------------------------------------------------------------------------------------------


def with_impedance(folder: Path, text: str) -> Path:
    path = folder / "panel.yaml"
    shed = (PANELS / "shed_single_kettle.yaml").read_text(encoding="utf-8")
    path.write_text(shed.replace("  feed: ", f"  source_impedance: {text}\n  feed: ", 1), encoding="utf-8")
    return path


def test_a_panel_may_name_its_source_impedance(tmp_path: Path) -> None:
    """1 ohm in the line and half of that in the neutral."""
    panel = read_panel(with_impedance(tmp_path, "1 ohm"), LIBRARY)
    assert panel.parts["service"].ratings == {"voltage": 230.0, "impedance": 1.0}
    netlist = build(panel)
    settled = settle(netlist, named_setups(netlist, "element")["running"], [Row(None)])
    load = settled.amperes("feed_rcd", "pole_1")[0]
    own = [meter(settled, *ends) for ends in (("service.l", "service.n"), ("service.n", "service.earth"))]
    assert own[0] == pytest.approx(230 - 1.5 * load, rel=1e-3)


def test_a_source_impedance_is_a_resistance(tmp_path: Path) -> None:
    with pytest.raises(FileError) as caught:
        read_panel(with_impedance(tmp_path, "5 V"), LIBRARY, "panel.yaml")
    start = "panel.yaml:13:21: supply, source_impedance: '5 V' is voltage; expected resistance"
    assert str(caught.value).startswith(start)


@pytest.mark.parametrize(
    ("system", "between", "to_neutral"),
    [
        ("split_phase_240", 240.0, 120.0),
        ("two_legs_208", 120 * sqrt(3), 120.0),
        ("three_phase_400", 230 * sqrt(3), 230.0),
    ],
)
def test_volts_between_lines_and_to_neutral(tmp_path: Path, system: str, between: float, to_neutral: float) -> None:
    settled = solved(panel_of(tmp_path, system, "", "leg_1 - feed_cord.l1"))
    assert meter(settled, "leg_1.bar", "leg_2.bar") == pytest.approx(between, rel=1e-4)
    for leg in ("leg_1", "leg_2"):
        assert meter(settled, f"{leg}.bar", "neutral.bar") == pytest.approx(to_neutral, rel=1e-4)
        assert meter(settled, f"{leg}.bar", "earth.bar") == pytest.approx(to_neutral, rel=1e-4)


# The table -------------------------------------------------------------------------------------------------


def test_the_table_has_a_row_for_each_fault_of_each_kind(capsys: pytest.CaptureFixture[str]) -> None:
    faults = [(kind.name, fault) for kind in LIBRARY.kinds.values() for fault in kind.faults]
    assert sorted((row.kind, row.fault) for row in rows(LIBRARY)) == sorted(faults)
    assert main_kinds("markdown") == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines[0] == "| kind | fault | how often | what changes | where it is seen |"
    table = [line for line in lines if line.startswith("|")]
    assert len(table) == len(faults) + 2
    assert all(line.count(" | ") == 4 for line in table[2:])
    leak = next(line for line in lines if line.startswith("| `element` | leaks to its sheath near an end |"))
    assert "leak_a 1.00 kΩ to 500 kΩ" in leak


def test_the_table_in_text_names_each_kind_once() -> None:
    lines = list(table_lines(LIBRARY))
    heads = [line for line in lines if line and not line.startswith(" ")]
    assert len(heads) == len({row.kind for row in rows(LIBRARY)})
    crossed = lines.index("  its control wires are crossed [newly built only] (common)")
    assert lines[crossed + 1] == "    changes: the wires at plus and minus exchanged"
    with pytest.raises(ValueError, match="'html' is no format, expected one of text, markdown"):
        list(table_lines(LIBRARY, "html"))
