"""Regions: each has everything, words are turned as wholes, and no foreign word is left on any front end."""

from __future__ import annotations

import json
from collections.abc import Iterator
from functools import lru_cache

import pytest

from diagnose.errors import FileError
from diagnose.expected_points import expected_rows, table_setups
from diagnose.expected_table import expected_markdown, expected_text
from diagnose.findings import design_findings, findings_text
from diagnose.knowledge.records import Kind
from diagnose.knowledge.regions import FUNCTIONS, Region, foreign_words, load_regions, translator
from diagnose.ladder import spoken_lines
from diagnose.opening import Recorded, all_complaints, bundled_panels, fitting, open_model, open_panel
from diagnose.panel.reader import REGIONS
from diagnose.panel.records import Panel
from diagnose.protocol import message_of, why_message
from diagnose.safety import WANTS
from diagnose.screen.pages import opening_page, step_page, verdict_page, why_page
from diagnose.session import AskCheck, ConfirmStep, Verdict, start
from diagnose.texts import load_texts, proof_text
from diagnose.wording import caution_words, check_page, own_words, regional, regional_lines, regional_page
from diagnose.wording.regional import KEYS_KEPT, colour_at, functions_of

PANELS = [entry.name for entry in bundled_panels()]


def test_the_reader_of_panels_knows_the_same_regions() -> None:
    assert tuple(load_regions()) == REGIONS


@pytest.mark.parametrize("name", REGIONS)
def test_a_region_has_everything(name: str) -> None:
    region = load_regions()[name]
    assert set(region.colours) == set(FUNCTIONS)
    assert all(colour.usual and colour.source for colour in region.colours.values())
    assert region.codes and region.law and region.volts and region.emergency
    assert region.words["the emergency number"].split()[0] == region.emergency.split()[0].strip(",")


@pytest.mark.parametrize("name", REGIONS)
def test_what_is_foreign_is_turned_into_something_that_is_not(name: str) -> None:
    """Each foreign word that the knowledge base could use has a local one."""
    region = load_regions()[name]
    say = translator(region)
    never_said = {"AFCI", "911", "socket-outlet"} - set(region.words)
    assert [word for word in region.foreign if word not in never_said and foreign_words(region, say(word))] == []


@pytest.mark.parametrize(
    ("region", "text", "said"),
    [
        ("north_america", "An RCD trips.", "A GFCI trips."),
        ("north_america", "the GFCI or RCD trips", "the GFCI trips"),
        ("north_america", "Earth first, then an earth bar.", "Ground first, then a ground bar."),
        ("north_america", "earth_bar and hlt.earth stay", "earth_bar and hlt.earth stay"),
        ("north_america", "unearthed, earthed, earthenware", "ungrounded, grounded, earthenware"),
        ("north_america", "call the emergency number.", "call 911."),
        ("europe", "A GFCI trips at an outlet.", "An RCD trips at a socket."),
        ("europe", "Outlets and receptacles", "Sockets and sockets"),
        ("united_kingdom", "call the emergency number", "call 999"),
        ("united_kingdom", "a licensed electrician", "a qualified electrician"),
        ("australia", "a licensed electrician at the outlet", "a licensed electrician at the outlet"),
        ("australia", "leg 1 to ground", "L1 to earth"),
    ],
)
def test_words_are_turned_as_wholes(region: str, text: str, said: str) -> None:
    assert translator(load_regions()[region])(text) == said


def test_labels_of_the_panel_itself_stay() -> None:
    """They are what stands on the box."""
    say = translator(load_regions()["europe"], ["pump GFCI outlet"])
    assert say("The pump GFCI outlet has a GFCI.") == "The pump GFCI outlet has an RCD."


def test_a_region_that_lacks_something_is_refused(tmp_path: object, monkeypatch: pytest.MonkeyPatch) -> None:
    """All problems with their lines."""
    from pathlib import Path

    from diagnose.knowledge import regions

    folder = Path(str(tmp_path))
    (folder / "regions.yaml").write_text("moon:\n  title: The Moon\n  colours: {}\n", encoding="utf-8")
    monkeypatch.setattr(regions, "knowledge_folder", lambda: folder)
    load_regions.cache_clear()
    try:
        with pytest.raises(FileError, match="the key 'words' is missing"):
            load_regions()
    finally:
        load_regions.cache_clear()


# Texts of every bundled panel -----------------------------------------------------------------------------


def kind_texts(kind: Kind) -> Iterator[str]:
    """Everything that a kind can make the screen say."""
    yield kind.title
    for terminal in kind.terminals.values():
        yield terminal.title
    for fault in kind.faults.values():
        yield from (fault.title, fault.remedy.text, *fault.signs.values())
    for sign in kind.signs.values():
        yield from (sign.question, sign.procedure, *sign.outcomes)


def panel_texts(panel: Panel) -> Iterator[str]:
    """Every text that a session on this panel can draw on, as the knowledge base has it."""
    for name in (*panel.parts, *panel.wires_by_name):
        yield panel.label(name)
        yield from kind_texts(panel.kind_of(name))
    texts = load_texts()
    for step in (*texts.steps.values(), texts.stop):
        yield from (step.title, *step.lines)
    yield from texts.cautions.values()
    for proof in texts.proofs:
        for part in panel.parts:
            yield from proof_text(panel, part, proof)
    for complaint in fitting(panel, all_complaints().values()):
        yield complaint.title
    for finding in design_findings(panel):
        yield findings_text([finding])


def left(panel: Panel, text: str) -> tuple[str, ...]:
    return foreign_words(region(panel), text, own_words(panel))


def region(panel: Panel) -> Region:
    return load_regions()[panel.region]


@lru_cache(maxsize=8)
def opened(name: str) -> Panel:
    return open_panel(name)


@pytest.mark.parametrize("name", PANELS)
def test_no_foreign_word_is_left_in_any_text_of_a_panel(name: str) -> None:
    panel = opened(name)
    assert {word: text for text in panel_texts(panel) for word in left(panel, regional(panel, text))} == {}


@pytest.mark.parametrize("name", PANELS)
def test_answers_are_the_same_everywhere(name: str) -> None:
    """What is typed as an answer is a key of the log: no outcome holds a word that a region changes."""
    panel = opened(name)
    kinds = [panel.kind_of(part) for part in panel.parts]
    outcomes = {outcome for kind in kinds for sign in kind.signs.values() for outcome in sign.outcomes}
    assert {outcome for outcome in outcomes if regional(panel, outcome) != outcome} == set()


def pages_of(recorded: Recorded, most: int) -> Iterator[str]:
    """What the screen and the protocol say in a session in which everything is skipped, so that much is asked."""
    session, panel = recorded.session, recorded.session.model.panel
    page = regional_page(panel, opening_page(session.model))
    yield from (page.title, *page.lines)
    for _ in range(most):
        question = recorded.question
        yield json.dumps(_without_keys(message_of(recorded.session, question)), ensure_ascii=False)
        yield json.dumps(_without_keys(why_message(recorded.session, question)), ensure_ascii=False)
        if isinstance(question, Verdict):
            page = verdict_page(recorded.session, question, "log")
        elif isinstance(question, ConfirmStep):
            page = step_page(recorded.session, question)
        else:
            page = check_page(recorded.session, question, 1)
            yield from regional_page(panel, why_page(recorded.session, question)).lines
            yield from regional_lines(panel, spoken_lines(recorded.session, question))
        page = regional_page(panel, page)
        yield from (page.title, *page.lines)
        if isinstance(question, Verdict):
            return
        if isinstance(question, ConfirmStep):
            recorded.do("confirm", {"done": "done", "shows": "yes", "volts": "0 V"}[WANTS[question.step]])
        else:
            recorded.do("skip")


def _without_keys(data: object) -> object:
    """A message without names and keys, which are nobody's words."""
    if isinstance(data, dict):
        return {key: _without_keys(value) for key, value in data.items() if key not in KEYS_KEPT}
    return [_without_keys(value) for value in data] if isinstance(data, list) else data


@pytest.mark.parametrize(
    ("name", "complaint"), [("shed_single_kettle", "element_cold"), ("balcony_one_pot", "gfci_trips_at_switch_on")]
)
def test_no_foreign_word_is_left_in_a_session(name: str, complaint: str) -> None:
    """Screen and protocol, steps and checks and verdict, with the box open and shut."""
    model = open_model(name, complaint)
    recorded = Recorded(start(model, "live", frozenset({"multimeter", "clamp"})), lambda event: None)
    said = list(pages_of(recorded, 25))
    assert len(said) > 20
    assert {word: text for text in said for word in left(model.panel, text)} == {}


@pytest.mark.parametrize("name", ["shed_single_kettle", "balcony_one_pot"])
def test_no_foreign_word_is_left_in_the_table_for_the_lid(name: str) -> None:
    from diagnose.circuit.netlist import build

    circuit = build(opened(name))
    rows = expected_rows(circuit, table_setups(circuit, ("idle", "isolated")))
    for write in (expected_text, expected_markdown):
        text = write(circuit.panel, rows)
        assert left(circuit.panel, " ".join(text.split())) == ()


# Colours --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("panel", "terminal", "colour"),
    [
        ("cellar_two_kettle", "boil_relay.load", "black or red"),
        ("cellar_two_kettle", "boil_contactor.t2", "red or black"),
        ("cellar_two_kettle", "wort_pump_outlet.b", "white or gray"),
        ("cellar_two_kettle", "boil_outlet.earth", "green, green with yellow, or bare"),
        ("shed_single_kettle", "relay.line", "brown"),
        ("shed_single_kettle", "contactor.t2", "blue"),
        ("shed_single_kettle", "outlet.earth", "green and yellow"),
        ("shed_single_kettle", "controller.plus", "red"),
        ("shed_single_kettle", "neutral_bar.bar", ""),  # many wires land on a bar
        ("shed_single_kettle", "cord.plug_a", ""),  # a pin shows no wire
        ("shed_single_kettle", "controller.probe_a", ""),  # a probe's wires have no common colours
        ("stable_interlocked", "control_fuse.load", ""),  # behind a transformer: neither a leg nor the neutral
    ],
)
def test_the_usual_colour_follows_what_the_wire_is_for(panel: str, terminal: str, colour: str) -> None:
    assert colour_at(opened(panel), terminal) == colour


@pytest.mark.parametrize("name", PANELS)
def test_legs_and_neutral_are_told_apart(name: str) -> None:
    """Each reference has its own function, and no terminal that is earth is anything else."""
    panel = opened(name)
    functions = functions_of(panel)
    for function, reference in panel.references.items():
        assert functions[reference] == function
    assert {"neutral", "leg_1", "earth"} <= set(functions.values())


def test_a_colour_is_only_ever_a_hint() -> None:
    """The line says so, wherever it is shown."""
    model = open_model("shed_single_kettle", "element_cold")
    session = start(model, "live")
    check = next(check for check in model.checks if check.tail == "relay.line")
    prediction = model.predict(check)
    sound = (float(prediction.value[0]), float(prediction.low[0]), float(prediction.high[0]))
    page = check_page(session, AskCheck(check, prediction, 0.0, None, sound, ()), 1)
    (line,) = [line for line in page.lines if "wire colours" in line]
    assert line.endswith("Yours may differ, the part's label counts.")


def test_the_law_is_said_where_it_reserves_the_work() -> None:
    assert [name for name, region in load_regions().items() if region.reserved] == ["australia"]
    panel = opened("shed_single_kettle")
    assert caution_words(panel, ["law"]) == [load_regions()["europe"].law]
