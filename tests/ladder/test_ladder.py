"""The ladder of every bundled panel: nothing too wide, the probes on it, the order that of the current."""

from __future__ import annotations

from functools import lru_cache
from itertools import pairwise

import networkx as nx
import numpy as np
import pytest

from diagnose.checks import Check
from diagnose.expect import Prediction
from diagnose.ladder import ASCII, LINES, Circuit, circuit_for, circuits_of, ladder_lines, spoken_lines
from diagnose.ladder.circuits import part_of
from diagnose.model import Model
from diagnose.opening import all_complaints, bundled_panels, fitting, open_model, open_panel
from diagnose.panel.records import Panel
from diagnose.session import AskCheck, Session, answer, ask, start
from diagnose.topology import terminal_graph
from diagnose.wording import regional
from tests.screen.helpers import recorded, reply, step_on

PANELS = [entry.name for entry in bundled_panels()]
# A model of these takes seconds to make.
LARGE = ("mill_three_phase", "stable_interlocked", "pantry_thermistor", "quarry_two_at_once", "tower_heat_exchange")
QUICK_OR_SLOW = [pytest.param(name, marks=[pytest.mark.long] if name in LARGE else []) for name in PANELS]
EVERY = 97  # of the checks of a model, drawn in all widths: all of them take minutes
LOADS = ("heater", "pump", "fan", "controller", "probe", "lamp")


@lru_cache(maxsize=16)
def _panel(name: str) -> Panel:
    return open_panel(name)


@lru_cache(maxsize=16)
def _model(name: str) -> Model:
    panel = _panel(name)
    complaint = all_complaints()["element_cold"]
    assert complaint in fitting(panel, [complaint])
    return open_model(panel, complaint, panel.of_role("heater")[0])


@pytest.mark.parametrize("name", PANELS)
def test_every_load_has_its_circuit(name: str) -> None:
    """Whatever is fed has a way from a source and back."""
    loads = {circuit.load for circuit in circuits_of(_panel(name))}
    assert [part for part in _panel(name).of_role(*LOADS) if part not in loads] == []


def _is_joined(panel: Panel, tail: str, head: str) -> bool:
    return nx.Graph(terminal_graph(panel)).has_edge(tail, head)


@pytest.mark.parametrize("name", PANELS)
def test_a_circuit_runs_from_a_source_to_its_load_and_back_along_what_is_wired(name: str) -> None:
    """Each step is in the panel's graph, none is taken twice, and both ends are the load's own."""
    panel = _panel(name)
    for circuit in circuits_of(panel):
        for steps in (circuit.out, circuit.back):
            for one, two in pairwise(steps):
                assert one.head == two.tail
            assert all(_is_joined(panel, step.tail, step.head) for step in steps)
        if circuit.out:
            assert circuit.out[0].tail == circuit.source[0] and part_of(circuit.out[-1].head) == circuit.load
        if circuit.back:
            assert circuit.back[-1].head == circuit.source[1] and part_of(circuit.back[0].tail) == circuit.load
        assert len(set(circuit.terminals)) == len(circuit.terminals)


_NOTHING = Prediction(np.zeros(1), np.zeros(1), np.zeros(1), None)


def _asked(model: Model) -> list[AskCheck]:
    return [_question(check) for check in model.checks[::EVERY]]


def _question(check: Check) -> AskCheck:
    """A check as it is asked, without what it would show, which takes long to work out and is not drawn."""
    return AskCheck(check, _NOTHING, 0.0, None, (0.0, 0.0, 0.0), ())


@pytest.mark.parametrize("name", QUICK_OR_SLOW)
def test_nothing_is_too_wide_and_both_probes_are_there(name: str) -> None:
    """In 120, 80 and 40 columns, with lines and in ASCII, and in sentences."""
    model = _model(name)
    session = start(model, "live", frozenset({"multimeter"}))
    for question in _asked(model):
        for width in (120, 80, 40):
            for style in (LINES, ASCII):
                lines = ladder_lines(session, question, width, style)
                text = "\n".join(lines)
                assert lines and max(map(len, lines)) <= width, text
                assert style is LINES or text.isascii(), text
                if question.check.tail:
                    assert text.count("RED") == 1 and text.count("BLACK") == 1, text
        if question.check.tail:
            spoken = "\n".join(spoken_lines(session, question))
            for end in (question.check.tail, question.check.head):
                assert regional(model.panel, model.panel.label(part_of(end))) in spoken
        elif question.check.part in (circuit_for(model.panel, model.subject, question.check) or _none()).parts:
            assert " look" in text


def _none() -> Circuit:
    return Circuit(("", ""), (), "", ())


@pytest.mark.parametrize("name", QUICK_OR_SLOW)
def test_one_column_and_sentences_follow_the_current(name: str) -> None:
    """Every part of the way that can be written stands in the order in which the current passes it."""
    model = _model(name)
    session = start(model, "outside")
    circuit = circuit_for(model.panel, model.subject, None)
    assert circuit is not None and circuit.load == model.subject
    way = [part for part in circuit.parts if part in model.panel.parts]
    for lines in (ladder_lines(session, None, 40, ASCII), spoken_lines(session, None)):
        found, at = [], 0
        for part in way:
            label = model.panel.label(part)[:12]
            number = next((n for n in range(at, len(lines)) if label in lines[n]), None)
            if number is not None:
                found.append(part)
                at = number
        assert model.subject in found and len(found) >= 0.9 * len(way), (way, lines)


def _line_with(lines: list[str], text: str) -> int:
    return next(number for number, line in enumerate(lines) if text in line)


def test_the_probe_stands_between_the_parts_that_it_is_between() -> None:
    """In front of what the current enters there, behind what it leaves."""
    model = _model("cellar_two_kettle")
    session = start(model, "live")
    check = next(c for c in model.checks if c.tail == "hlt_relay.load" and c.quantity == "voltage_ac")
    lines = ladder_lines(session, _question(check), 40, ASCII)
    probe = _line_with(lines, "RED")
    assert "hlt relay" in lines[probe - 1].lower() and "hlt contactor" in lines[probe + 1].lower()


def test_suspects_have_their_share_and_cleared_parts_say_so() -> None:
    """As answers come in: marks in words, and the good stretch has a rail of its own."""
    going, _ = recorded("live")
    while not going.session.answers or not any("ok" in line for line in _drawn(going.session)):
        step_on(going)
    lines = _drawn(going.session)
    assert any("? " in line and " %" in line for line in lines)
    good = [line for line in lines if line.rstrip().endswith("ok")]
    assert good and all(line[0] == LINES.good or LINES.good in line for line in good if "┘" not in line)
    assert sum(LINES.good in line for line in _drawn(start(going.session.model))) == 0


def _drawn(session: Session) -> list[str]:
    return ladder_lines(session, None, 80, LINES)


def test_a_row_that_is_too_long_loses_its_name_and_not_its_mark() -> None:
    going, _ = recorded("live")
    lines = ladder_lines(going.session, going.question, 24, ASCII)
    shares = [line for line in ladder_lines(going.session, going.question, 120, ASCII) if "?" in line]
    assert max(map(len, lines)) <= 24
    assert sum(line.count("?") for line in lines) >= len(shares) > 0


def test_a_probe_off_the_path_is_said_to_be() -> None:
    """An earth is on no circuit."""
    model = _model("shed_single_kettle")
    session = start(model, "live")
    check = next(c for c in model.checks if c.head.endswith(".earth") and c.tail == "element.a")
    for width in (80, 40):
        text = " ".join(" ".join(ladder_lines(session, _question(check), width, ASCII)).split())
        assert "(not on this path)" in text and "element, sheath" in text


def test_the_path_follows_what_is_asked() -> None:
    """The control circuit is drawn for a check in it, and not the element's."""
    model = _model("shed_single_kettle")
    session = start(model, "live")
    coil = next(c for c in model.checks if (c.tail, c.head) == ("contactor.a1", "contactor.a2"))
    circuit = circuit_for(model.panel, model.subject, coil)
    assert circuit is not None and circuit.load in ("contactor", "heat_lamp")
    after = answer(session, reply(ask(session)))
    assert ladder_lines(after, _question(coil), 80) != ladder_lines(after, None, 80)
