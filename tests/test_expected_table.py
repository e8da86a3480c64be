"""The table for the lid: what it shows is what is predicted, it fits, and what is typed wrong is said."""

from __future__ import annotations

import json
from functools import lru_cache
from math import inf, isfinite
from typing import Any, NoReturn

import pytest
from hypothesis import given
from hypothesis import strategies as st

from diagnose.circuit.netlist import Netlist, build
from diagnose.errors import DiagnoseError
from diagnose.expected_points import NAMES, ExpectedRow, TableSetup, table_setups
from diagnose.expected_table import (
    WIDTH,
    as_data,
    chosen_setups,
    expected_markdown,
    expected_rows,
    expected_text,
    main_expect,
    read_fault,
    read_setup,
)
from diagnose.opening import bundled_panels, open_panel

SHED = "shed_single_kettle"
KEYS = {
    "name", "subject", "setup", "part", "from", "to", "quantity", "value", "low", "high", "over_range", "unit",
    "exposure", "why",
}  # fmt: skip


@lru_cache(maxsize=1)
def netlist() -> Netlist:
    """The circuit of the smallest bundled panel."""
    return build(open_panel(SHED))


@lru_cache(maxsize=8)
def rows(fault: str = "") -> tuple[ExpectedRow, ...]:
    """All rows of its table."""
    cause = read_fault(netlist().panel, fault) if fault else None
    return expected_rows(netlist(), table_setups(netlist()), cause)


def row(tail: str, head: str, name: str, quantity: str = "", fault: str = "") -> ExpectedRow:
    """The one row between two terminals in a setup."""
    found = [
        each for each in rows(fault)
        if (each.tail, each.head, each.place.name) == (tail, head, name) and quantity in ("", each.quantity)
    ]  # fmt: skip
    assert len(found) == 1, [(each.tail, each.head, each.quantity) for each in found]
    return found[0]


def in_setup(text: str, tail: str, head: str) -> ExpectedRow:
    """The row between two terminals in a setup that is typed as positions."""
    found = expected_rows(netlist(), chosen_setups(netlist(), text, None))
    return next(each for each in found if (each.tail, each.head) == (tail, head))


# Values ---------------------------------------------------------------------------------------------------


def test_the_element_reads_its_ohms() -> None:
    """230 V squared over 3 kW is 17.63 ohm; 5 % more power is 16.79 ohm, 10 % less 19.59 ohm (IEC 60335-1)."""
    its = row("element.a", "element.b", "parted").sound
    assert its.value == pytest.approx(230**2 / 3000, rel=1e-3)
    assert its.low < 16.9 and its.high > 19.0


def test_supply_reads_its_volts() -> None:
    """230 V nominal; IEC 60038 lets it be 207 to 253 V, and the meter adds its own."""
    its = row("main_switch.line_1", "main_switch.line_2", "idle").sound
    assert its.value == pytest.approx(230, abs=1)
    assert its.low < 207 and its.high > 253


def test_an_off_relay_shows_volts_only_without_its_load() -> None:
    """The snubber holds up an outlet with nothing in it, and next to nothing with the element plugged in."""
    ends = ("outlet.a", "outlet.b")
    assert in_setup("heat_switch=on,cord=unplugged", *ends).sound.value > 200
    assert in_setup("heat_switch=on", *ends).sound.value < 1
    assert in_setup("heat_switch=on,controller=call", *ends).sound.value > 200


def test_with_the_supply_off_ohms_are_read_and_nothing_else() -> None:
    """No volts on a dead panel, no ohms on a live one."""
    for each in rows():
        assert (each.quantity in ("resistance", "insulation")) == (not each.place.setup.supply_on)
        assert (each.exposure == "live") == each.place.setup.supply_on


def test_intervals_hold_their_values() -> None:
    """The nominal reading lies within what may be read; ohms and AC volts are never below nothing."""
    for each in rows():
        assert each.sound.low <= each.sound.value <= each.sound.high or each.sound.value == inf
        if each.quantity != "voltage_dc":
            assert each.sound.low >= 0


def test_the_parts_of_an_interval_make_it_up() -> None:
    """Value less and plus what is named is the interval, but for the meter's share of the difference."""
    seen = 0
    for each in rows():
        sound = each.sound
        if not (each.why and isfinite(sound.high) and sound.low > 1):
            continue
        seen += 1
        allowed = 0.03 * (sound.high - sound.low) + 0.005 * sound.value
        assert sound.value - sum(part.below for part in each.why) == pytest.approx(sound.low, abs=allowed)
        assert sound.value + sum(part.above for part in each.why) == pytest.approx(sound.high, abs=allowed)
    assert seen > 30


def test_the_parts_of_a_live_voltage_are_named() -> None:
    """The supply's 10 % is most of it."""
    why = {part.name: part for part in row("main_switch.line_1", "main_switch.line_2", "idle").why}
    assert why["supply"].below == pytest.approx(23.0, abs=0.1) == why["supply"].above
    assert {"supply", "meter"} <= set(why)


def test_no_point_lies_in_the_buildings_service() -> None:
    """That is an electrician's work, whatever the competence."""
    beyond = {"service", "feed_breaker", "feed_rcd"}
    assert not beyond & {end.partition(".")[0] for each in rows() for end in (each.tail, each.head)}


# Faults ---------------------------------------------------------------------------------------------------


def test_rows_that_tell_a_fault_come_first() -> None:
    """And only those: the intervals of sound and faulty don't meet."""
    told = [each.differs for each in rows("contactor:coil_open")]
    assert any(told) and not all(told) and told == sorted(told, reverse=True)
    for each in rows("contactor:coil_open"):
        assert each.faulty is not None
        apart = each.faulty.low > each.sound.high or each.faulty.high < each.sound.low
        assert each.differs == apart


def test_a_burned_element_reads_over_range() -> None:
    """17.6 ohm sound, OL burned open, and the plug's blades show the same."""
    fault = "element:open"
    for ends in (("element.a", "element.b"), ("cord.plug_a", "cord.plug_b")):
        its = row(*ends, "parted", "resistance", fault)
        assert its.faulty is not None and its.faulty.value == inf and its.differs


def test_a_level_that_is_typed_is_the_one_computed() -> None:
    """Half-way between the listed levels, and by itself: no band around it."""
    panel = netlist().panel
    assert read_fault(panel, "element:leak_at_end@7 kohm").key == "element:leak_at_end@7000"
    cause = read_fault(panel, "element:leak_at_end@3.3k")
    assert (cause.level, cause.low, cause.high) == (3300.0, 3300.0, 3300.0)


def test_a_fault_that_nothing_shows_is_said_to_be_so() -> None:
    """Better than an empty table."""
    panel = netlist().panel
    cause = read_fault(panel, "element:open")
    places = (TableSetup("idle", "", table_setups(netlist())[0].setup, ("heat_lamp",)),)
    text = expected_text(panel, expected_rows(netlist(), places, cause), cause)
    assert text.splitlines()[-1] == "No reading here tells this fault from a sound panel."


# Words ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("fault", ["", "contactor:coil_open", "wire_cord_a_to_element_a:open"])
def test_the_text_fits_and_begins_with_the_cautions(fault: str) -> None:
    """100 columns, no empty ends of lines, cautions ahead of the first reading."""
    cause = read_fault(netlist().panel, fault) if fault else None
    lines = expected_text(netlist().panel, rows(fault), cause).splitlines()
    assert max(map(len, lines)) <= WIDTH
    assert all(line == line.rstrip() for line in lines)
    heads = next(number for number, line in enumerate(lines) if line.startswith("from "))
    above = " ".join(lines[:heads])
    assert "Mains in this box can kill." in above and "proving dead" in above and "No safety device" in above


def test_live_readings_are_marked_in_words() -> None:
    """Each line with a reading ends with how it is taken."""
    lines = expected_text(netlist().panel, rows()).splitlines()
    lines = lines[next(number for number, line in enumerate(lines) if line.startswith("from ")) :]
    live = [line for line in lines if line.endswith(" LIVE")]
    dead = [line for line in lines if line.endswith((" dead", " closed"))]
    assert len(live) + len(dead) == len(rows())
    assert len(live) == sum(each.exposure == "live" for each in rows())


def test_markdown_has_a_row_for_each_reading() -> None:
    """Every row has as many cells as its heading."""
    for fault, cells in (("", 6), ("contactor:coil_open", 8)):
        cause = read_fault(netlist().panel, fault) if fault else None
        lines = expected_markdown(netlist().panel, rows(fault), cause).splitlines()
        table = [line for line in lines if line.startswith("| ")]
        assert {line.count(" | ") for line in table} == {cells - 1}
        heads = sum(line.startswith("## ") for line in lines)
        assert len(table) == len(rows(fault)) + 2 * heads


@pytest.mark.parametrize("panel", [entry.name for entry in bundled_panels()])
def test_the_tables_of_every_panel_fit(panel: str) -> None:
    """The longest labels too, and each table can be written as JSON."""
    circuit = build(open_panel(panel))
    found = expected_rows(circuit, table_setups(circuit, ("idle", "isolated")))
    assert max(map(len, expected_text(circuit.panel, found).splitlines())) <= WIDTH
    assert _read(json.dumps(as_data(panel, circuit.panel, found, None), allow_nan=False))["rows"]


def _refuse(text: str) -> NoReturn:
    raise AssertionError(f"{text} is no JSON")


def _read(text: str) -> dict[str, Any]:
    data: dict[str, Any] = json.loads(text, parse_constant=_refuse)
    return data


def test_json_has_stable_keys_and_no_infinity(capsys: pytest.CaptureFixture[str]) -> None:
    """OL is null, and said in words beside it."""
    assert main_expect(SHED, "isolated", None, "json") == 0
    data = _read(capsys.readouterr().out)
    assert set(data) == {"panel", "fault", "cautions", "rows"} and data["rows"]
    for each in data["rows"]:
        assert set(each) == KEYS
        assert (each["high"] is None) == each["over_range"]
        assert each["setup"]["supply"] == "off"
    assert any(each["value"] is None for each in data["rows"])


def test_json_of_a_fault_has_both() -> None:
    """What it shows sound, what it shows faulty, and whether that tells."""
    cause = read_fault(netlist().panel, "element:open")
    data = _read(json.dumps(as_data(SHED, netlist().panel, rows("element:open"), cause), allow_nan=False))
    assert data["fault"] == "element:open"
    assert all(set(each) == KEYS | {"faulty", "differs"} for each in data["rows"])
    assert data["rows"][0]["differs"] is True


# What is typed --------------------------------------------------------------------------------------------


def test_positions_make_a_setup() -> None:
    """What isn't named is at rest; the supply is on unless it is said to be off."""
    panel = netlist().panel
    setup = read_setup(panel, "heat_switch=on, controller=call, cord=unplugged")
    assert setup.supply_on and setup.position("heat_switch") == "on" and setup.position("main_switch") == "on"
    assert setup.position("pump_switch") == "off"
    assert setup.unplugged == {"cord"} and dict(setup.commands)["controller"] == "call"
    assert not read_setup(panel, "supply=off,heat_switch=on").supply_on


@pytest.mark.parametrize("name", NAMES)
def test_each_named_setup_has_a_table(name: str) -> None:
    """For the whole panel, or for its element."""
    assert expected_rows(netlist(), chosen_setups(netlist(), name, None))


def test_a_subject_has_its_own_table() -> None:
    """Each setup is then about it: the pump's table has the pump's switch, and no contactor."""
    found = expected_rows(netlist(), chosen_setups(netlist(), None, "pump"))
    parts = {each.part for each in found}
    assert {each.place.subject for each in found} == {"pump"}
    assert {"pump", "pump_switch", "pump_cord"} <= parts and "contactor" not in parts


WRONG: dict[str, tuple[tuple[str | None, ...], str]] = {
    "panel": (
        ("shed_single_kettel", None, None),
        "there is no panel 'shed_single_kettel' (did you mean 'shed_single_kettle'?)",
    ),
    "setup": (
        (SHED, "runing", None),
        "--setup: 'runing' is not known (did you mean 'running'?); expected one of idle, ",
    ),
    "part in a setup": (
        (SHED, "heat_swich=on", None),
        "there is no part 'heat_swich' (did you mean 'heat_switch'?)",
    ),
    "position": (
        (SHED, "heat_switch=onn", None),
        "heat_switch: 'onn' is not known (did you mean 'on'?)",
    ),
    "no handle": (
        (SHED, "contactor=on", None),
        "'contactor' has no handle, plug or command; expected a switch, plug or controller",
    ),
    "supply": (
        (SHED, "supply=maybe", None),
        "supply: 'maybe' is not known; expected one of on, off",
    ),
    "no fault": (
        (SHED, None, "element"),
        "--fault: 'element' names no fault; expected part:mode or part:mode@level",
    ),
    "part of a fault": (
        (SHED, None, "elment:open"),
        "there is no part 'elment' (did you mean 'element'?)",
    ),
    "mode": (
        (SHED, None, "element:opn"),
        "element's fault: 'opn' is not known (did you mean 'open'?)",
    ),
    "no level given": (
        (SHED, None, "element:leak_at_end"),
        "--fault: element's leak_at_end has several levels; expected one of @1000, ",
    ),
    "level of another kind": (
        (SHED, None, "element:leak_at_end@7 V"),
        "--fault: '7 V' is no level of element's leak_at_end",
    ),
    "level below nothing": (
        (SHED, None, "element:leak_at_end@-7"),
        "--fault: '-7' is no level of element's leak_at_end",
    ),
    "level that is no number": (
        (SHED, None, "element:weak@nan"),
        "--fault: 'nan' is no level of element's weak",
    ),
    "level where there is none": (
        (SHED, None, "element:open@5"),
        "--fault: element's open has no level; expected element:open alone",
    ),
    "format": (
        (SHED, None, None, "yaml"),
        "--format: 'yaml' is not known; expected one of text, json, markdown",
    ),
    "subject": (
        (SHED, None, None, "text", "elment"),
        "--part: 'elment' is not known (did you mean 'element'?)",
    ),
}


@pytest.mark.parametrize("slip", WRONG)
def test_what_is_typed_wrong_is_said(slip: str) -> None:
    """One problem, with the nearest where one is near, and before anything is computed."""
    arguments, message = WRONG[slip]
    with pytest.raises(DiagnoseError) as raised:
        main_expect(*arguments)  # type: ignore[arg-type]
    assert len(raised.value.problems) == 1
    assert str(raised.value).startswith(message)


WORDS = st.sampled_from(
    ["element", "heat_switch", "cord", "controller", "open", "leak_at_end", "on", "call", "unplugged", "supply", "off",
     "=", ":", "@", ",", "7 kohm", "-1", "1e999", "nan", " ", "\x1b[31m"]
)  # fmt: skip


@given(st.one_of(st.text(max_size=30), st.lists(WORDS, max_size=6).map("".join)))
def test_whatever_is_typed_is_read_or_refused(text: str) -> None:
    """Nothing but a problem of the user's is raised, and its text is fit for a terminal."""
    for read in (read_setup, read_fault):
        try:
            read(netlist().panel, text)
        except DiagnoseError as error:
            assert "\x1b" not in str(error)
