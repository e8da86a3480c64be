"""Nothing known explains the answers: it says so, names the answers that exclude each other, and hands on."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

import pytest

from diagnose.conflict import conflict_of
from diagnose.protocol import verdict_message
from diagnose.questions import Answer
from diagnose.screen.pages import verdict_page
from diagnose.session import ConfirmStep, Session, Verdict, answer, ask, belief, confirm, start
from diagnose.study.simulated import SimulatedPanel
from diagnose.wording.conflicts import conflict_lines
from tests.test_combined import INSTRUMENTS, cause, model, netlist


def given(known, check_id: str, panel: SimulatedPanel) -> Answer:
    check = known.checks_by_id[check_id]
    if check.quantity != "sign":
        return Answer(check_id, panel.answer(check), panel.reading(check), None)
    outcomes = known.panel.kind_of(check.part).signs[check.sign].outcomes
    text = panel.answer(check)
    return Answer(check_id, text, None, outcomes.index(text))


@lru_cache(maxsize=1)
def ended() -> Session:
    """A session answered by a panel that can't be: whatever is measured is what nothing shows, twice."""
    session = start(model("element_cold"), "live", INSTRUMENTS)
    sound = SimulatedPanel(netlist(), None)
    odd = {"resistance": "313 ohm", "voltage_ac": "47 V", "voltage_dc": "2.2 V"}
    while not isinstance(question := ask(session), Verdict):
        if isinstance(question, ConfirmStep):
            session = confirm(session, sound.confirmed(question.step))
        else:
            session = answer(session, odd.get(question.check.quantity) or sound.answer(question.check))
    return session


def test_nothing_known_leads_and_that_is_said() -> None:
    session = ended()
    verdict = ask(session)
    assert isinstance(verdict, Verdict) and verdict.kind == "unknown" and verdict.electrician and not verdict.remedy
    assert belief(session)[-1] == belief(session).max()
    assert verdict.conflict is not None
    page = verdict_page(session, verdict, "log.yaml")
    text = " ".join(page.lines)
    assert "Nothing known here explains the answers" in text and "licensed electrician" in text
    assert "If it comes and goes, say so" in text
    assert set(conflict_lines(session.model, verdict)) <= set(page.lines)
    message = verdict_message(session, verdict)
    assert message["conflict"]["ids"] == list(verdict.conflict.check_ids)


def test_an_answer_that_nothing_gives_is_a_conflict_by_itself() -> None:
    known = model("element_cold")
    one = "parted:resistance:cord.plug_a:cord.plug_b"
    conflict = conflict_of(known, [Answer(one, "313 ohm", 313.0, None)])
    assert conflict is not None and conflict.check_ids == (one,) and conflict.odd == ""


def test_two_answers_that_no_cause_gives_together_are_named_and_the_odd_one_with_what_it_hides() -> None:
    """Three answers of an element that is burned through, and one that only a sound element gives."""
    known = model("element_cold")
    burned, sound = SimulatedPanel(netlist(), cause("element:open")), SimulatedPanel(netlist(), None)
    ids = [
        "running:sign:heat_lamp:light", "running:sign:controller:calling",
        "parted:resistance:element.a:element.b", "lifted:resistance:element.a:element.b",
    ]  # fmt: skip
    odd = "isolated:resistance:element.a:element.b"
    answers = [given(known, each, burned) for each in ids] + [given(known, odd, sound)]
    assert conflict_of(known, answers[:-1]) is None, "one cause explains those"
    conflict = conflict_of(known, answers)
    assert conflict is not None
    assert len(conflict.check_ids) == 2 and odd in conflict.check_ids and set(conflict.check_ids) < {*ids[2:], odd}
    assert conflict.odd == odd and "burned open" in conflict.without


def test_where_it_takes_two_wrong_answers_both_are_named() -> None:
    """Two readings of a burned element against two of a sound one: no one slip explains it, and two do."""
    known = model("element_cold")
    burned, sound = SimulatedPanel(netlist(), cause("element:open")), SimulatedPanel(netlist(), None)
    ids = ["running:sign:heat_lamp:light", "parted:resistance:element.a:element.b",
           "lifted:resistance:element.a:element.b"]  # fmt: skip
    odd = ["isolated:resistance:element.a:element.b", "parted:resistance:cord.plug_a:cord.plug_b"]
    answers = [given(known, each, burned) for each in ids] + [given(known, each, sound) for each in odd]
    conflict = conflict_of(known, answers)
    assert conflict is not None and conflict.odd == ""
    assert len(conflict.together) == 2 and conflict.without
    for number in range(len(answers)):
        assert conflict_of(known, answers[:number] + answers[number + 1 :]) is not None, "no one of them is the slip"
    assert conflict_of(known, [each for each in answers if each.check_id not in conflict.together]) is None
    verdict = ask(ended())
    assert isinstance(verdict, Verdict)
    said = conflict_lines(known, replace(verdict, conflict=conflict))
    after = said[said.index("It takes 2 wrong answers at once. Look once more at each of these:") + 1 :]
    assert [line.startswith("- ") for line in after] == [True, True, False]


@pytest.mark.parametrize("key", ["element:open", "relay:open", "control_fuse:blown"])
def test_a_cause_that_explains_all_leaves_no_conflict(key: str) -> None:
    known = model("element_cold")
    panel = SimulatedPanel(netlist(), cause(key))
    ids = [each.id for each in known.checks if each.setup_name == "running"][:8]
    assert conflict_of(known, [given(known, each, panel) for each in ids]) is None
