"""A panel and a complaint made ready: which causes are kept, and what the design itself explains."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from diagnose.circuit.netlist import build
from diagnose.errors import UsageError
from diagnose.expect import Predictor
from diagnose.knowledge.library import load_library
from diagnose.model import complaint_likelihood, each_subject, make_model, observed_parts, subjects_of
from diagnose.opening import all_complaints, bundled_panels, open_model, open_panel
from diagnose.panel.reader import read_panel
from diagnose.session import Verdict, answer, ask, start
from diagnose.setups import named_setups
from diagnose.study.simulated import SimulatedPanel

CELLAR = load_library().folder / "panels" / "cellar_two_kettle.yaml"


def test_beliefs_start_as_shares_and_leave_room_for_the_unknown() -> None:
    model = open_model("shed_single_kettle", "element_cold", "element")
    assert model.prior.sum() == pytest.approx(1)
    assert len(model.prior) == len(model.causes) + 1
    assert model.prior[-1] > 0
    assert np.all(model.prior > 0)


def test_only_causes_that_make_the_complaint_are_kept() -> None:
    model = open_model("shed_single_kettle", "element_stuck_on", "element")
    assert {cause.part for cause in model.causes} <= {"relay", "controller", "wire", "contactor"}


def test_no_probe_goes_into_the_service_equipment() -> None:
    for panel, complaint, part in (
        ("shed_single_kettle", "panel_dead", None),
        ("cellar_two_kettle", "panel_dead", None),
    ):
        model = open_model(panel, complaint, part)
        for check in model.checks:
            for end in (check.tail, check.head):
                assert not end or not model.panel.at_the_service(end.partition(".")[0])


def test_a_subject_of_the_wrong_kind_is_refused() -> None:
    netlist = build(open_panel("shed_single_kettle"))
    with pytest.raises(UsageError, match="'pump' can't be what 'element_cold' is about; expected one of element"):
        make_model(netlist, all_complaints()["element_cold"], "pump")


def test_a_breaker_too_small_for_its_element_is_offered_as_a_cause(tmp_path: Path) -> None:
    """5.5 kW at 240 V is 22.9 A: a 20 A breaker trips after minutes, and nothing is broken."""
    small = tmp_path / "panel.yaml"
    text = CELLAR.read_text(encoding="utf-8").replace("amperes: [25 A, 30 A]", "amperes: [25 A, 20 A]")
    small.write_text(text, encoding="utf-8")
    netlist = build(read_panel(small, load_library()))
    model = make_model(netlist, all_complaints()["breaker_trips_later"], "boil_element")
    session, sound = start(model, "isolated"), SimulatedPanel(netlist, None)
    for _ in range(60):
        question = ask(session)
        if isinstance(question, Verdict):
            break
        from diagnose.session import ConfirmStep, confirm

        session = (
            confirm(session, sound.confirmed(question.step))
            if isinstance(question, ConfirmStep)
            else answer(session, sound.answer(question.check))
        )
    assert isinstance(question, Verdict)
    assert question.causes[0].fault == "as_built_breaker_too_small"
    assert "boil breaker is for 20 A" in question.causes[0].title
    assert "larger breaker" in question.remedy
    assert question.electrician


@pytest.mark.parametrize("panel", [entry.name for entry in bundled_panels()])
def test_a_complaint_is_about_parts_that_can_show_it(panel: str) -> None:
    """An ammeter and a voltmeter have one role; only the one has volts that can be missing."""
    read = open_panel(panel)
    for complaint in all_complaints().values():
        for subject in subjects_of(read, complaint) or [None]:
            for each in complaint.observed:
                for part in observed_parts(read, each, subject):
                    assert each.sign in read.kind_of(part).signs, (complaint.name, subject, part)


@pytest.mark.parametrize("panel", [entry.name for entry in bundled_panels()])
def test_a_sound_panel_makes_no_complaint(panel: str) -> None:
    """What a panel has no parts to show would be made by anything, the sound panel first."""
    netlist = build(open_panel(panel))
    sound = Predictor(netlist, ())
    for complaint in all_complaints().values():
        for subject in each_subject(netlist.panel, complaint):
            setups = named_setups(netlist, subject)
            assert complaint_likelihood(sound, complaint, subject, setups)[0] < 0.5, (complaint.name, subject)


def test_a_box_without_controllers_is_dead_by_its_mains_lamp() -> None:
    model = open_model("vicarage_dial_box", "panel_dead")
    assert {"main_switch", "feed_breaker", "lamp"} <= {cause.part for cause in model.causes}
    assert not {"element", "regulator", "dial"} & {cause.part for cause in model.causes}
