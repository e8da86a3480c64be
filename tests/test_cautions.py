"""Cautions: which apply to a check, a step, a verdict, a table; and that no front end leaves them out."""

from __future__ import annotations

import json
from collections.abc import Iterator

import pytest

from diagnose.circuit.netlist import build
from diagnose.expected_points import expected_rows, table_setups
from diagnose.expected_table import as_data, expected_markdown, expected_text
from diagnose.finish import Job, finish
from diagnose.finish_text import finish_text
from diagnose.knowledge.regions import load_regions
from diagnose.opening import Recorded, open_panel
from diagnose.protocol import message_of
from diagnose.screen.pages import opening_page, step_page, verdict_page
from diagnose.session import AskCheck, ConfirmStep, Question, Verdict
from diagnose.texts import load_texts, proof_text
from diagnose.wording import caution_words, check_cautions, check_page, step_cautions, table_cautions
from diagnose.wording.cautions import caution_names, names_for_check
from tests.screen.helpers import recorded, shared_model, step_on

PANEL = "shed_single_kettle"


def questions(going: Recorded, most: int = 60) -> Iterator[Question]:
    """What is asked in a session that goes to its verdict."""
    for _ in range(most):
        question = going.question
        yield question
        if isinstance(question, Verdict):
            return
        step_on(going)


@pytest.mark.parametrize(
    ("exposure", "must", "may_not"),
    [("outside", {"always"}, {"live", "dead", "law"}), ("isolated", {"always", "dead", "law"}, {"live"}),
     ("live", {"always", "live", "law"}, {"dead"})],
)  # fmt: skip
def test_by_exposure(exposure: str, must: set[str], may_not: set[str]) -> None:
    names = set(caution_names(open_panel(PANEL), [exposure]))  # type: ignore[list-item]
    assert must <= names and not may_not & names


def test_by_what_is_handled() -> None:
    panel = open_panel(PANEL)
    assert "hot_liquid" in caution_names(panel, ["outside"], ["element"])
    assert "live_socket" in caution_names(panel, ["live"], ["outlet"], supply_on=True)
    assert "live_socket" not in caution_names(panel, ["isolated"], ["outlet"], supply_on=False)
    assert "trip_once" in caution_names(panel, ["outside"], trips=True)


def test_by_what_the_law_reserves() -> None:
    """Where wiring work is reserved, that is said with every check, the outside ones too."""
    from diagnose.panel.records import Panel

    panel = open_panel(PANEL)
    fields = {name: getattr(panel, name) for name in Panel.__dataclass_fields__}
    there = Panel(**{**fields, "region": "australia"})
    assert load_regions()["australia"].law in caution_words(there, caution_names(there, ["outside"]))


def test_every_check_has_its_cautions() -> None:
    """Nothing is lost between the rules and the words: each check, whatever the complaint."""
    model = shared_model()
    for check in model.checks:
        names = names_for_check(model.panel, check, model.complaint)
        words = check_cautions(model.panel, check, model.complaint)
        assert names[0] == "always" and len(words) == len(names), check.id
        assert ("live" in names) == (check.exposure == "live"), check.id
        assert ("dead" in names) == (check.exposure == "isolated"), check.id
        assert set(model.complaint.cautions) <= set(names)
        if check.sign == "trip":
            assert "trip_once" in names


def test_each_message_of_the_protocol_carries_its_own() -> None:
    """A step those of the check that it leads to as well: whoever reads one message alone is warned."""
    going, _ = recorded("live")
    panel = going.session.model.panel
    seen = set()
    for question in questions(going):
        message = message_of(going.session, question)
        always = caution_words(panel, ["always"])[0]
        assert always in message["cautions"]
        if isinstance(question, AskCheck):
            wanted = check_cautions(panel, question.check, going.session.model.complaint)
            assert message["cautions"] == wanted
        elif isinstance(question, ConfirmStep):
            wanted = step_cautions(panel, question.step, question.for_check, going.session.model.complaint)
            assert message["cautions"] == wanted
            if question.for_check.exposure == "live":
                assert caution_words(panel, ["live"])[0] in message["cautions"]
        seen.add(type(question))
    assert seen == {AskCheck, ConfirmStep, Verdict}


def test_the_screen_says_each_before_it_is_needed() -> None:
    """Once in a session, those of live work and of tripped devices each time."""
    going, _ = recorded("live")
    session = going.session
    panel = session.model.panel
    said = " ".join(opening_page(session.model).lines)
    for question in questions(going):
        if isinstance(question, ConfirmStep):
            said += " ".join(step_page(going.session, question).lines)
        elif isinstance(question, AskCheck):
            page = " ".join(check_page(going.session, question, 1).lines)
            said += page
            names = names_for_check(panel, question.check, session.model.complaint)
            missing = [text for text in caution_words(panel, names) if text not in said]
            assert missing == [], question.check.id
            if "live" in names:
                assert caution_words(panel, ["live"])[0] in page
        else:
            end = " ".join(verdict_page(going.session, question, "log").lines)
            assert all(text in end for text in caution_words(panel, ["always", "law", "hot_liquid"]))


@pytest.mark.parametrize("name", ["shed_single_kettle", "balcony_one_pot"])
def test_the_table_for_the_lid_begins_with_them(name: str) -> None:
    """It is pinned inside the box: text, Markdown and data."""
    circuit = build(open_panel(name))
    panel = circuit.panel
    rows = expected_rows(circuit, table_setups(circuit, ("running", "isolated")))
    parts = [end.partition(".")[0] for row in rows for end in (row.tail, row.head)]
    wanted = table_cautions(panel, [row.exposure for row in rows], parts, supply_on=True)
    assert set(caution_words(panel, ["always", "live", "dead", "law", "live_socket"])) <= set(wanted)
    data = as_data(name, panel, rows, None)
    assert set(wanted) <= set(data["cautions"])  # type: ignore[call-overload]
    json.dumps(data, allow_nan=False)
    for write in (expected_text, expected_markdown):
        text = " ".join(write(panel, rows).split())
        heads = text.index(" reads ")
        assert all(-1 < text.find(caution) < heads for caution in wanted)


def test_a_table_of_dead_readings_says_nothing_of_live_ones() -> None:
    circuit = build(open_panel(PANEL))
    rows = expected_rows(circuit, table_setups(circuit, ("isolated",)))
    text = expected_text(circuit.panel, rows)
    assert load_texts().cautions["dead"].split(".")[0] in " ".join(text.split())
    assert load_texts().cautions["live"].split(".")[0] not in " ".join(text.split())


@pytest.mark.parametrize("name", ["cellar_two_kettle", "shed_single_kettle"])
def test_what_still_works_is_said_with_them(name: str) -> None:
    """Whoever brews on with half a panel stands beside hot liquid."""
    panel = open_panel(name)
    text = " ".join(finish_text(panel, finish(build(panel), [], Job(20.0, 20.0, 66.0))))
    assert all(caution in text for caution in caution_words(panel, ["always", "hot_liquid"]))


@pytest.mark.parametrize(
    ("name", "between"),
    [
        # Twice 120 V on split phase; 120 V (230 V) times root 3 between phases: IEC 60038.
        ("cellar_two_kettle", "228–252 V between the legs"),
        ("loft_dairy_208", "197–218 V between the legs"),
        ("mill_three_phase", "359–438 V between the legs"),
    ],
)
def test_volts_between_legs_follow_their_angle(name: str, between: str) -> None:
    panel = open_panel(name)
    assert between in proof_text(panel, panel.of_role("heater")[0], "supply_volts")[1]
