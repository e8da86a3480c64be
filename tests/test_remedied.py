"""After a remedy that was not enough: the part is sound, and what it hid is asked again."""

from __future__ import annotations

import pytest

from diagnose.errors import AnswerError
from diagnose.remedied import after_remedy
from diagnose.session import Verdict, belief, start
from diagnose.study.pairs import run_session
from diagnose.study.simulated import SimulatedPanel
from tests.test_combined import INSTRUMENTS, cause, ended, model, netlist


def test_a_hidden_second_fault_is_found_after_the_first_is_mended() -> None:
    """Behind a blown fuse nobody sees that the relay is open; once the fuse is in, the session goes on to it."""
    session, verdict = ended("element_cold", "control_fuse:blown+relay:open")
    assert verdict.part == "control_fuse"
    on = after_remedy(session)
    assert all("control_fuse" not in {each.part for each in known.members} for known in on.model.causes)
    assert belief(on).sum() == pytest.approx(1, abs=1e-12)
    _, last, _ = run_session(on, SimulatedPanel(netlist(), cause("relay:open")))
    assert isinstance(last, Verdict) and last.part == "relay"


def test_what_the_old_fault_had_a_hand_in_is_asked_again() -> None:
    session, _ = ended("element_cold", "control_fuse:blown+relay:open")
    dark = {answer.check_id for answer in session.answers if answer.text == "dark"}
    assert dark and not dark & {answer.check_id for answer in after_remedy(session).answers}, (
        "that was the fuse's doing"
    )


def test_only_answers_that_the_old_fault_had_no_hand_in_are_kept() -> None:
    """An open relay changes what is measured with the supply on; the element's own ohms stay what they were."""
    session, verdict = ended("element_cold", "relay:open+element:weak@2.5")
    assert verdict.part == "relay"
    on = after_remedy(session)
    kept = {answer.check_id for answer in on.answers}
    assert kept < {answer.check_id for answer in session.answers}
    assert any(each.startswith("parted:resistance:") for each in kept)
    assert not [each for each in kept if ":relay." in each or ":relay:" in each]
    after = SimulatedPanel(netlist(), cause("element:weak@2.5"))
    for answer in on.answers:
        assert after.answer(on.model.checks_by_id[answer.check_id]) == answer.text


def test_nothing_is_taken_for_dead_after_someone_worked_in_the_box() -> None:
    session, _ = ended("element_cold", "relay:open")
    state = after_remedy(session).state
    assert not state.proved_dead and not state.energised


def test_a_remedy_needs_a_verdict() -> None:
    with pytest.raises(AnswerError, match="nothing was found yet"):
        after_remedy(start(model("element_cold"), "live", INSTRUMENTS))


def test_the_buildings_supply_is_put_right_as_a_whole() -> None:
    session, _ = ended("element_cold", "relay:open")
    on = after_remedy(session, "feed_breaker")
    panel = on.model.panel
    assert not [known for known in on.model.causes if panel.at_the_service(known.part)]
