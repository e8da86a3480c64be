"""What a panel's file alone tells: each slip in the design is found, with its numbers; a sound one passes."""

from __future__ import annotations

import atexit
import json
import shutil
import tempfile
from functools import lru_cache
from pathlib import Path

import pytest

from diagnose.design_rules import wires_too_small
from diagnose.errors import UsageError
from diagnose.findings import (
    NOTHING_WRONG,
    ORDER,
    Finding,
    design_findings,
    explaining,
    findings_markdown,
    findings_text,
    overload_causes,
)
from diagnose.knowledge.library import load_library
from diagnose.loading import study
from diagnose.opening import all_complaints
from diagnose.panel.reader import read_panel
from diagnose.panel.records import Panel
from diagnose.review import main_review

LIBRARY = load_library()
SHED, CELLAR = "shed_single_kettle", "cellar_two_kettle"


FOLDER = Path(tempfile.mkdtemp(prefix="findings-"))
atexit.register(shutil.rmtree, FOLDER, ignore_errors=True)


@lru_cache(maxsize=64)
def changed(name: str, *changes: tuple[str, str]) -> Panel:
    """A bundled panel with some of its text replaced, each piece wherever it stands."""
    text = (LIBRARY.folder / "panels" / f"{name}.yaml").read_text(encoding="utf-8")
    for old, new in changes:
        assert old in text, f"{old} is no longer in {name}"
        text = text.replace(old, new)
    path = FOLDER / f"{name}.yaml"
    path.write_text(text, encoding="utf-8")
    return read_panel(path, LIBRARY, f"{name}.yaml")


@lru_cache(maxsize=64)
def findings(name: str, *changes: tuple[str, str]) -> tuple[Finding, ...]:
    """Its findings; kept, since several tests look at the same panel."""
    return design_findings(changed(name, *changes))


def told(found: tuple[Finding, ...], severity: str = "error") -> list[tuple[str, str]]:
    """(rule, message) of the findings of a severity."""
    return [(each.rule, each.message) for each in found if each.severity == severity]


SMALL_BREAKER = ("amperes: [25 A, 30 A]", "amperes: [25 A, 20 A]")
BOTH_AT_ONCE = ("selector.<side> - <name>_switch", "coil_fuse.load - <name>_switch")

ERRORS = {
    "breaker too small for its element": (
        CELLAR, [SMALL_BREAKER], "breaker_too_small",
        "boil element takes 22.9 A and boil breaker is for 20 A: with nothing broken it trips after ",
    ),
    "breaker far too small trips at once": (
        SHED, [("breaker_1, 16 A", "breaker_1, 2 A")], "breaker_too_small",
        "element takes 13 A and feed breaker is for 2 A: with nothing broken it trips at once",
    ),
    "both elements at once": (
        CELLAR, [BOTH_AT_ONCE], "feed_overloaded",
        "the handles let several elements heat at once: together ",
    ),
    "wire too small for its breaker": (
        CELLAR, [("<name>_outlet.a, 10 AWG", "<name>_outlet.a, 12 AWG")],
        "wire_too_small",
        "12 AWG may lie behind 20 A at most, but boil breaker lets 30 A through: "
        "wire from boil contactor, T1 to boil outlet, first pole",
    ),
    "metric wire too small": (
        SHED, [("contactor.t1 - outlet.a, 2.5 mm2", "contactor.t1 - outlet.a, 1 mm2")], "wire_too_small",
        "1 mm2 may lie behind 10 A at most, but feed breaker lets 16 A through: "
        "wire from contactor, T1 to outlet, first pole",
    ),
    "neutral too small": (
        CELLAR, [("feed_cord.n - neutral_bar, 10", "feed_cord.n - neutral_bar, 16")], "wire_too_small",
        "16 AWG may lie behind 10 A at most, but ",
    ),
    "tap to a device larger than its wire": (
        CELLAR, [("pump_breaker: breaker_1, 10 A", "pump_breaker: breaker_1, 20 A")], "wire_too_small",
        "14 AWG may lie behind 15 A at most, but feed breaker (GFCI) lets 30 A through: "
        "wire from leg 1 bar to pump breaker, line side of pole 1",
    ),
    "long tap": (
        CELLAR, [("leg_2_bar - fan_fuse - fan.a", "leg_2_bar - fan_fuse - fan.a, 4 m")], "wire_too_small",
        "14 AWG may lie behind 15 A at most, but feed breaker (GFCI) lets 30 A through: "
        "wire from leg 2 bar to fan fuse, line side",
    ),
    "element for half the voltage": (
        CELLAR, [("element, <power>, 240 V", "element, <power>, 120 V")], "element_voltage",
        "hot-liquor element is made for 120 V and gets 240 V: 400 % of its power, 18.0 kW",
    ),
    "coil for twice the voltage": (
        CELLAR, [("contactor, 120 V, 40 A", "contactor, 240 V, 40 A")], "coil_voltage",
        "the coil of hlt contactor is made for 240 V and gets 120 V: it does not surely pull in",
    ),
    "coil for half the voltage": (
        SHED, [("contactor, 230 V, 25 A", "contactor, 115 V, 25 A")], "coil_voltage",
        "the coil of contactor is made for 115 V and gets 230 V: it burns",
    ),
    "pump for half the voltage": (
        SHED, [("pump: pump, 230 V", "pump: pump, 115 V")], "rated_voltage",
        "pump is made for 115 V and gets 230 V",
    ),
    "relay loaded past its rating": (
        CELLAR, [("relay, 40 A", "relay, 20 A")], "overloaded", "boil relay is for 20 A and may carry 22.9 A",
    ),
    "contactor loaded past its rating": (
        CELLAR, [("contactor, 120 V, 40 A", "contactor, 120 V, 20 A")], "overloaded",
        "boil contactor is for 20 A and may carry 22.9 A",
    ),
    "cord loaded past its rating": (
        CELLAR, [("cord, 30 A, 2 m", "cord, 20 A, 2 m")], "overloaded",
        "boil cord is for 20 A and may carry 22.9 A",
    ),
    "main switch loaded past its rating": (
        SHED, [("main_switch, 20 A", "main_switch, 10 A")], "overloaded",
        "main switch is for 10 A and may carry 13 A",
    ),
    "fuse too small": (
        SHED, [("control_fuse: fuse, 1 A", "control_fuse: fuse, 30 mA")], "fuse_too_small",
        "0.0442 A may flow through control fuse, which is for 0.03 A: with nothing broken it blows",
    ),
    "no RCD": (
        SHED, [('    - "feed_rcd: rcd, 25 A, 30 mA"\n', "")], "no_residual_protection",
        "no GFCI or RCD lies before element",
    ),
    "outlet without its earth": (
        SHED, [("  - earth_bar - outlet.earth, 2.5 mm2\n", "")], "no_earth", "no earth reaches element, sheath",
    ),
}  # fmt: skip
WARNINGS = {
    "breaker used to more than four fifths": (
        CELLAR, [("amperes: [25 A, 30 A]", "amperes: [20 A, 30 A]")], "breaker_too_small",
        "hot-liquor element takes 18.8 A and hlt breaker is for 20 A, 94 % for hours: "
        "with nothing broken it may trip once warm",
    ),
    "element for twice the voltage": (
        SHED, [("element, 3 kW, 230 V", "element, 3 kW, 460 V")], "element_voltage",
        "element is made for 460 V and gets 230 V: 25 % of its power, 750 W",
    ),
    "relay near its rating": (
        CELLAR, [("relay, 40 A", "relay, 25 A")], "relay_near_its_rating",
        "boil relay is for 25 A and carries 22.9 A",
    ),
    "cord rated below its breaker": (
        CELLAR, [("cord, 30 A, 2 m", "cord, 25 A, 2 m")], "below_its_breaker",
        "boil cord is for 25 A and lies behind 30 A; only what it feeds, 22.9 A, keeps it from too much",
    ),
    "fuse too large": (
        SHED, [("control_fuse: fuse, 1 A", "control_fuse: fuse, 6 A")], "fuse_too_large",
        "control fuse is for 6 A, and what it feeds takes 0.0442 A",
    ),
    "no way back": (
        SHED, [("  - contactor.t2 - outlet.b, 2.5 mm2\n", "")], "not_supplied",
        "no way leads from the supply to both sides of element: it is not reviewed",
    ),
    "long feed": (
        SHED, [("feed: 2.5 mm2, 18 m", "feed: 2.5 mm2, 100 m")], "voltage_drop",
        "wires and cords on the way to element lose ",
    ),
}  # fmt: skip


@pytest.mark.parametrize("slip", ERRORS)
def test_an_error_is_found(slip: str) -> None:
    """Each slip that makes a panel unsafe or unable to work is an error, said with its numbers."""
    name, changes, rule, message = ERRORS[slip]
    found = told(findings(name, *changes))
    assert [text for its, text in found if its == rule and text.startswith(message)], found


@pytest.mark.parametrize("slip", WARNINGS)
def test_a_warning_is_found(slip: str) -> None:
    """What works, but not well or not for hours, is a warning; nothing of the panel turns into an error."""
    name, changes, rule, message = WARNINGS[slip]
    found = findings(name, *changes)
    assert [text for its, text in told(found, "warning") if its == rule and text.startswith(message)]
    assert told(found) == []


@pytest.mark.parametrize("name", [SHED, CELLAR])
def test_a_sound_panel_has_notes_alone(name: str) -> None:
    """Neither errors nor warnings: taps to small fuses, the selector and the pump's cord are fine."""
    assert {each.severity for each in findings(name)} == {"note"}


def test_a_heavier_wire_is_always_fine() -> None:
    """A wire heavier than its breaker asks for is no finding, nor is one beyond the tables."""
    for size in ("8 AWG", "2 AWG", "1/0 AWG", "16 mm2"):
        panel = changed(CELLAR, ("<name>_outlet.a, 10 AWG", f"<name>_outlet.a, {size}"))
        assert list(wires_too_small(study(panel))) == []


def test_an_either_or_selector_keeps_the_elements_apart() -> None:
    """At most one element and the small loads flow through the feed, or both with the selector gone."""
    apart, together = study(changed(CELLAR)), study(changed(CELLAR, BOTH_AT_ONCE))
    assert 22.0 < apart.carried("feed_breaker", "pole_1") < 25.5
    assert 39.0 < together.carried("feed_breaker", "pole_1") < 45.0


def test_loads_take_what_their_ratings_say() -> None:
    """Power over voltage; half the current through each leg of a shared way adds up at the feed."""
    loads = {(load.part, load.what): load for load in study(changed(CELLAR)).loads}
    assert loads["boil_element", "element"].amperes == pytest.approx(5500 / 240)
    assert loads["boil_element", "element"].volts == pytest.approx(240)
    assert loads["boil_contactor", "coil"].volts == pytest.approx(120)
    # 85 W at a power factor of 0.6, as the kind of pump has it.
    assert loads["wort_pump", "pump"].amperes == pytest.approx(85 / 0.6 / 120, rel=1e-6)


def test_an_ammeter_is_part_of_the_way() -> None:
    """Its piece of the conductor carries power on, as a wire does."""
    through = (
        ("relay - contactor.l1, 2.5 mm2", "relay - ammeter - contactor.l1, 2.5 mm2"),
        ("  pump_switch: switch\n", "  pump_switch: switch\n  ammeter: ammeter, 13 A\n"),
    )
    element = next(load for load in study(changed(SHED, *through)).loads if load.part == "element")
    assert "ammeter" in {step.part for way in element.ways for step in way}
    assert told(findings(SHED, *through)) == []


def test_a_small_breaker_explains_its_complaint() -> None:
    """It is offered for the element behind the breaker, and not for the other."""
    panel = changed(CELLAR, SMALL_BREAKER)
    assert [each.rule for each in overload_causes(panel)] == ["breaker_too_small"]
    assert explaining(panel, "breaker_trips_later", "boil_element") == overload_causes(panel)
    assert explaining(panel, "breaker_trips_later", "hlt_element") == ()
    assert explaining(panel, "element_cold", "boil_element") == ()


def test_a_sound_panel_explains_nothing() -> None:
    """Where the design is right, something is broken."""
    assert overload_causes(changed(SHED)) == ()


def every_finding() -> list[Finding]:
    """What all the slips come to."""
    slips = [*ERRORS.values(), *WARNINGS.values()]
    return [each for name, changes, _, _ in slips for each in findings(name, *map(tuple, changes))]


def test_findings_are_whole() -> None:
    """Each has a source, what was expected, a place in the file, and names complaints that there are."""
    for each in every_finding():
        assert each.source and each.expected and each.parts
        assert each.place.file.endswith(".yaml") and each.place.line > 1
        assert set(each.explains) <= set(all_complaints())


def test_the_gravest_come_first() -> None:
    """Errors before warnings before notes."""
    found = findings(CELLAR, SMALL_BREAKER, ("relay, 40 A", "relay, 25 A"))
    ranks = [ORDER.index(each.severity) for each in found]
    assert ranks == sorted(ranks) and set(ranks) == {0, 1, 2}


def test_text_counts() -> None:
    """Place, severity, message, expectation, source; and a count at the end."""
    found = findings(SHED, ("main_switch, 20 A", "main_switch, 10 A"))
    lines = findings_text(found).splitlines()
    assert lines[0] == (
        "shed_single_kettle.yaml:18:3: error: main switch is for 10 A and may carry 13 A; expected one for 13 A or more"
    )
    assert lines[1] == "    overloaded: what a rated current means"
    assert lines[-1] == "1 error, 2 notes."
    assert findings_text(()) == NOTHING_WRONG
    assert findings_markdown(found).splitlines()[2].startswith("| error | main switch is for 10 A")


def test_the_command_prints_and_tells_errors_apart(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """0 for a sound panel, 1 for one with an error; JSON has stable keys."""
    assert main_review(SHED) == 0
    assert "\n2 notes.\nCaution: " in capsys.readouterr().out
    text = (LIBRARY.folder / "panels" / f"{SHED}.yaml").read_text(encoding="utf-8")
    path = tmp_path / "small.yaml"
    path.write_text(text.replace("main_switch, 20 A", "main_switch, 10 A"), encoding="utf-8")
    assert main_review(str(path), "json") == 1
    data = json.loads(capsys.readouterr().out)
    assert set(data) == {"panel", "findings", "cautions"}
    assert set(data["findings"][0]) == {
        "rule", "severity", "parts", "message", "expected", "source", "explains", "file", "line", "column",
    }  # fmt: skip


@pytest.mark.parametrize(
    ("panel", "format", "message"),
    [
        (
            "shed_single_kettel",
            "text",
            "there is no panel 'shed_single_kettel' (did you mean 'shed_single_kettle'?)",
        ),
        (SHED, "yaml", "--format: 'yaml' is not known; expected one of text, json, markdown"),
    ],
)
def test_what_is_not_there_is_said(panel: str, format: str, message: str) -> None:
    """One message, with the nearest where one is near."""
    with pytest.raises(UsageError) as raised:
        main_review(panel, format)
    assert str(raised.value).startswith(message)
