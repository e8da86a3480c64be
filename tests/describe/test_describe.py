"""A panel from a dozen answers: the reader takes the file whatever is answered, and nothing typed is lost."""

from __future__ import annotations

import io
import itertools
from collections.abc import Iterator
from pathlib import Path

import pytest

from diagnose.describe.compose import HEADER, answers_in, compose, panel_name
from diagnose.describe.drafts import Draft
from diagnose.describe.lines import lines_of, with_value
from diagnose.describe.nearest import answers_of, bundled_answers, nearest
from diagnose.describe.questions import QUESTIONS, asked_after, kept, names_of
from diagnose.describe.systems import AWG, BREAKERS, HERE, PROBES, SQUARE_MM, SYSTEMS, breaker_for, size_for
from diagnose.errors import AnswerError, FileError, UsageError
from diagnose.findings import design_findings
from diagnose.knowledge.library import load_library
from diagnose.ladder import circuits_of
from diagnose.opening import all_complaints, bundled_panels, fitting, open_panel
from diagnose.panel.reader import read_panel
from diagnose.panel.records import Panel
from diagnose.screen.console import PlainConsole
from diagnose.screen.describing import describe, generic

PLAIN = {
    "region": "north_america", "system": "split_phase_240", "heaters": "boil", "powers": "5.5 kW", "feed_amperes": "30",
    "residual": "yes", "connection": "plug", "feed_metres": "12", "control": "both", "plugged": "yes",
    "probe": "pt100_3", "pumps": "none", "lamps": "yes", "built": "used", "title": "Shed panel",
}  # fmt: skip
# Each way to answer, beside the systems; a few together, so that each value is in some of them.
WAYS = (
    {"heaters": "hlt, boil", "selector": "yes", "pumps": "wort, water", "probe": "k"},
    {"heaters": "hlt, boil", "selector": "no", "control": "contactor", "plugged": "no", "probe": "j", "lamps": "no"},
    {"control": "relay", "probe": "ntc", "connection": "wired", "residual": "no", "built": "new"},
    {"heaters": "hlt, mash, boil", "control": "relay", "plugged": "no", "probe": "digital", "pumps": "wort"},
    {"control": "contactor", "probe": "pt100_2", "connection": "wired"},
    {"heaters": "boil", "probe": "pt100_4"},
    {"heaters": "a, b, c, d", "probe": "t", "pumps": "p"},
    {"probe": "pt1000_3", "lamps": "no"},
)
OF_THREE = ({"legs": "star"}, {"legs": "delta", "control": "relay", "heaters": "hlt, boil"}, {"legs": "one"})
PLACES = [(region, system) for region, systems in HERE.items() for system in systems]


def _answers(region: str, system: str, way: dict[str, str]) -> dict[str, str]:
    heavy = "1.5 kW" if system == "single_phase_120" else "3 kW"
    count = len(names_of(way.get("heaters", "boil")))
    given = {**PLAIN, "legs": "one", **way, "region": region, "system": system, "powers": ", ".join([heavy] * count)}
    answers = kept({"selector": "no", **given})
    assert asked_after(answers) is None, asked_after(answers)
    return answers


def _read(text: str, folder: Path) -> Panel:
    path = folder / "panel.yaml"
    path.write_text(text, encoding="utf-8")
    return read_panel(path, load_library(), "panel.yaml")


@pytest.mark.parametrize(("region", "system"), PLACES)
def test_whatever_is_answered_makes_a_panel(region: str, system: str, tmp_path: Path) -> None:
    """The project's own reader takes it; loads, relays and contactors are fed; and it answers as it was answered."""
    ways: Iterator[dict[str, str]] = iter(WAYS)
    if system == "three_phase_400":
        ways = itertools.chain(ways, OF_THREE)
    for way in ways:
        answers = _answers(region, system, way)
        panel = _read(compose(answers, nearest(answers)), tmp_path)
        fed = {circuit.load for circuit in circuits_of(panel)}
        needed = panel.of_role("heater", "pump", "controller", "probe", "lamp", "contactor")
        assert set(needed) <= fed, (way, set(needed) - fed)
        again = answers_of(panel)
        for key in ("region", "system", "heaters", "powers", "feed_amperes", "residual", "connection", "control",
                    "probe", "pumps", "lamps", "built"):  # fmt: skip
            assert again[key] == answers[key], (key, way)


def test_what_its_design_has_wrong_is_what_was_answered(tmp_path: Path) -> None:
    """No error that the answers did not ask for: wires suit their breakers. Without a residual device it is told."""
    for region, system in PLACES:
        answers = _answers(region, system, {"control": "both"})
        errors = [each for each in design_findings(_read(compose(answers, "x"), tmp_path)) if each.severity == "error"]
        assert errors == [], (system, [each.message for each in errors])
        bare = _answers(region, system, {"residual": "no"})
        rules = {each.rule for each in design_findings(_read(compose(bare, "x"), tmp_path)) if each.severity == "error"}
        assert rules == {"no_residual_protection"}


def test_the_file_has_comments_and_its_answers() -> None:
    text = compose(kept(PLAIN), "cellar_two_kettle")
    assert "# Power to the element." in text and text.count("assumed") > 4
    assert "# Nearest panel that comes along: cellar_two_kettle." in text
    assert answers_in(text) == kept(PLAIN)
    assert answers_in("panel: x\n") == {} and answers_in(HEADER + "[1") == {} and answers_in(HEADER + "[1]") == {}


@pytest.mark.parametrize("entry", bundled_panels(), ids=lambda entry: entry.name)
def test_a_bundled_panel_is_nearest_to_itself(entry: object) -> None:
    """Or to one that answers just the same."""
    name = entry.name  # type: ignore[attr-defined]
    own = answers_of(open_panel(name))
    found = nearest(own)
    told = ("system", "region", "control", "probe", "pumps")
    assert [bundled_answers()[found].get(key) for key in told] == [own.get(key) for key in told]


@pytest.mark.parametrize(
    ("key", "typed", "message"),
    [
        (
            "region",
            "mars",
            "'mars' is none of these; expected 1 north_america, 2 europe, 3 united_kingdom, 4",
        ),
        ("heaters", "", "'' can't be used for names; expected 1 to 4 names with commas between"),
        ("heaters", "9lives", "'9lives' can't be used for names"),
        ("heaters", "a, a", "'a, a' can't be used for names"),
        ("powers", "lots", "'lots' is no power for each of 1; expected 0.3 to 20 kW"),
        ("powers", "1 kW, 2 kW", "is no power for each of 1"),
        ("powers", "99 kW", "'99 kW' is no power"),
        ("feed_amperes", "3", "'3' can't be that; expected 6 to 125 A"),
        ("feed_metres", "12 km", "'12 km' can't be that; expected 1 to 200 m"),
        ("title", "x", "'x' can't be a title"),
        ("residual", "maybe", "'maybe' is none of these; expected 1 yes, 2 no"),
    ],
)
def test_what_can_not_be_read_says_what_was_expected(key: str, typed: str, message: str) -> None:
    question = next(each for each in QUESTIONS if each.key == key)
    with pytest.raises(AnswerError) as error:
        question.read(typed, PLAIN)
    assert message in str(error.value)


def test_answers_are_read_as_people_type_them() -> None:
    read = {question.key: question.read for question in QUESTIONS}
    assert read["heaters"]("Boil Kettle, HLT", {}) == "boil_kettle, hlt"
    assert read["powers"]("5500 W", PLAIN) == "5.5 kW" and read["powers"]("3500", PLAIN) == "3.5 kW"
    assert read["powers"]("2", {**PLAIN, "heaters": "a, b"}) == "2 kW, 2 kW"
    assert read["region"]("uni", {}) == "united_kingdom" and read["region"]("North America", {}) == "north_america"
    assert read["feed_amperes"]("30 A", {}) == "30" and read["pumps"]("none", {}) == "none"
    assert kept({**PLAIN, "probe": "digital", "control": "contactor"}).get("probe") is None


def test_sizes_rise_with_the_breaker() -> None:
    """No breaker that the trade sells is without a wire, and a larger one never gets a thinner one."""
    for imperial, table in ((True, AWG), (False, SQUARE_MM)):
        system = next(each for each in SYSTEMS.values() if each.imperial is imperial)
        sizes = [table.index(next(row for row in table if row[1] == size_for(system, amperes)))
                 for amperes in BREAKERS[imperial]]  # fmt: skip
        assert sizes == sorted(sizes) and table[-1][0] >= BREAKERS[imperial][-1]
    assert breaker_for(SYSTEMS["split_phase_240"], 5.5, 240) == 30  # 22.9 A at 125 %
    assert breaker_for(SYSTEMS["single_phase_230"], 3.0, 230) == 16


# Talking --------------------------------------------------------------------------------------------------


class _Typed(PlainConsole):
    """Answers that were typed before; what is shown is kept."""

    def __init__(self, *lines: str) -> None:
        super().__init__(io.StringIO("".join(f"{line}\n" for line in lines)), io.StringIO())

    @property
    def shown(self) -> str:
        assert isinstance(self.out, io.StringIO)
        return self.out.getvalue()


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.chdir(tmp_path)
    return tmp_path


def test_enter_all_the_way_makes_a_panel_that_a_session_can_be_about(here: Path) -> None:
    console = _Typed(*[""] * 30)
    assert describe(console, None, "mine.yaml") == 0
    panel = open_panel(str(here / "mine.yaml"))
    assert fitting(panel, [all_complaints()["element_cold"]]) and not Draft().read()
    assert "Path of the current: boil element" in console.shown and "diagnose start --panel mine.yaml" in console.shown


def test_nothing_typed_is_lost_when_it_is_left(here: Path) -> None:
    """The input ends in the middle; the next time it goes on from there, with what was answered."""
    console = _Typed("2", "1", "kettle", "2.4")
    assert describe(console, None, None) == 0
    assert "What was answered is kept: diagnose describe goes on from there." in console.shown
    assert Draft().read() == {"region": "europe", "system": "single_phase_230", "heaters": "kettle", "powers": "2.4 kW"}
    again = _Typed("", *[""] * 30)
    assert describe(again, None, "mine.yaml") == 0
    assert "A description was begun: 4 answers." in again.shown
    assert answers_of(open_panel(str(here / "mine.yaml")))["powers"] == "2.4 kW"
    assert describe(_Typed(), None, None) == 0


def test_ctrl_c_keeps_what_was_answered(here: Path) -> None:
    class Interrupted(_Typed):
        def read(self, *arguments: object, **named: object) -> str:
            try:
                return super().read(*arguments, **named)  # type: ignore[arg-type]
            except EOFError:
                raise KeyboardInterrupt from None

    assert describe(Interrupted("2"), None, None) == 130
    assert Draft().read() == {"region": "europe"}


def test_back_asks_the_last_question_again(here: Path) -> None:
    console = _Typed("back", "2", "back", "1", "wrong", "2", *[""] * 30)
    assert describe(console, None, "mine.yaml") == 0
    assert "This is the first question." in console.shown and "'wrong' is none of these" in console.shown
    panel = open_panel(str(here / "mine.yaml"))
    assert (panel.region, panel.supply.system) == ("north_america", "single_phase_120")


def test_a_file_that_is_there_is_not_written_over(here: Path) -> None:
    (here / "mine.yaml").write_text("mine\n", encoding="utf-8")
    with pytest.raises(UsageError, match="there is a file here already; expected another name, or 'diagnose describe"):
        describe(_Typed(), None, "mine.yaml")
    console = _Typed(*[""] * 14, "garage", "mine.yaml", "other.yaml")
    assert describe(console, None, None) == 0
    assert (here / "mine.yaml").read_text(encoding="utf-8") == "mine\n" and (here / "other.yaml").exists()


def test_a_file_made_from_answers_is_asked_through_again(here: Path) -> None:
    """Enter keeps each answer: nothing changes. Another answer changes what hangs on it."""
    describe(_Typed(*[""] * 30), None, "mine.yaml")
    before = (here / "mine.yaml").read_text(encoding="utf-8")
    assert describe(_Typed(*[""] * 30), "mine.yaml", None) == 0
    assert (here / "mine.yaml").read_text(encoding="utf-8") == before
    assert describe(_Typed("", "", "", "4.5 kW", *[""] * 30), "mine.yaml", None) == 0
    assert "power: [4.5 kW]" in (here / "mine.yaml").read_text(encoding="utf-8")


def test_a_file_written_by_hand_is_changed_line_by_line(here: Path) -> None:
    """Comments stay, and what the reader does not take leaves the file as it was."""
    source = next(entry for entry in bundled_panels() if entry.name == "shed_single_kettle").path
    text = source.read_text(encoding="utf-8")
    (here / "shed.yaml").write_text(text, encoding="utf-8")
    number = next(n for n, line in enumerate(lines_of(text), start=1) if line.key == "element")
    console = _Typed(f"{number} element, 2 kW, 230 V", f"{number} banana, 2 kW", "x", "999 y", "")
    assert describe(console, "shed.yaml", None) == 0
    after = (here / "shed.yaml").read_text(encoding="utf-8")
    assert after == text.replace("element: element, 3 kW, 230 V", "element: element, 2 kW, 230 V")
    assert "The file is as it was." in console.shown and "banana" in console.shown
    assert "'x' is no line and value" in console.shown and "Changed, and read back." in console.shown
    assert sorted(path.name for path in here.iterdir() if path.is_file()) == ["shed.yaml"]


def test_a_value_that_would_break_the_line_is_refused() -> None:
    text = "title: One\nparts:\n  relay: relay, 40 A   # the left one\n"
    lines = lines_of(text)
    assert [(line.key, line.value) for line in lines] == [("title", "One"), ("relay", "relay, 40 A")]
    assert with_value(text, lines, 1, "relay, 60 A").splitlines()[2] == "  relay: relay, 60 A  # the left one"
    for bad in ("", "a # b", "[a", "&x"):
        with pytest.raises(AnswerError, match="can't stand there"):
            with_value(text, lines, 0, bad)


def test_a_file_that_is_no_panel_is_told_with_its_place(here: Path) -> None:
    with pytest.raises(FileError, match=r"nowhere\.yaml: can't be read"):
        describe(_Typed(), "nowhere.yaml", None)
    (here / "bad.yaml").write_text("panel: x\n", encoding="utf-8")
    with pytest.raises(FileError, match=r"bad\.yaml"):
        describe(_Typed(), "bad.yaml", None)


def test_a_generic_panel_says_what_it_assumes(here: Path) -> None:
    """Four answers; all else is told, and the file can be used."""
    console = _Typed("2", "9", "1", "kettle", "2 kW")
    path = generic(console, here / "state" / "diagnose")
    panel = open_panel(str(path))
    assert panel.supply.system == "single_phase_230" and panel.of_role("heater") == ["kettle_element"]
    assert "Assumed, since it is not described" in console.shown
    for text in ("The feed's breaker: ", "Probes: ", "Elements are switched by: ", "diagnose describe"):
        assert text in console.shown
    assert "'9' is none of these" in console.shown


def test_names_are_made_from_titles() -> None:
    assert panel_name("Garage two-kettle panel, 240 V") == "garage_two_kettle_panel_240_v"
    assert panel_name("!!!") == "my_panel"
    assert set(PROBES) and all(probe.kind in load_library().kinds for probe in PROBES.values())
