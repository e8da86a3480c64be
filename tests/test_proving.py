"""After the verdict: it does not go back to work until it is mended and every proof check was answered or declined."""

from __future__ import annotations

from dataclasses import replace

import pytest

from diagnose.errors import AnswerError, FileError
from diagnose.log import Event
from diagnose.model import Model
from diagnose.opening import Recorded, bundled_panels, open_panel
from diagnose.play import apply, replayed
from diagnose.proving import (
    AskProof,
    AskRepair,
    AskWorks,
    Closing,
    ProofStep,
    ask_proof,
    need_of_proof,
    proof_asked_for,
    proofs_of,
)
from diagnose.questions import Answer
from diagnose.safety import check_refusals
from diagnose.session import AskCheck, ConfirmStep, Session, Verdict, ask, resume, start
from diagnose.study.simulated import SimulatedPanel
from diagnose.texts import load_texts, proof_limits
from tests.screen.helpers import proof_reply, recorded, shared_model, step_on
from tests.test_combined import INSTRUMENTS, cause, model, netlist


def found(competence: str = "isolated") -> tuple[Recorded, list[Event]]:
    """A session that found the burned-out element."""
    going, kept = recorded(competence)  # type: ignore[arg-type]
    while not isinstance(going.question, Verdict):
        step_on(going)
    return going, kept


def do(going: Recorded) -> None:
    """What comes next, as after a repair that is whole."""
    what, text = proof_reply(going.proof)
    going.prove(text) if what == "proof" else going.do(what, text)


def test_nothing_is_to_be_proved_before_the_verdict() -> None:
    going, _ = recorded()
    assert going.proof is None
    with pytest.raises(AnswerError, match="no proof check was asked"):
        going.prove("pass")


def test_a_whole_repair_is_closed_and_the_log_says_what_passed() -> None:
    going, kept = found()
    while not isinstance(closing := going.proof, Closing):
        if isinstance(closing, AskProof) and not closing.by_other:
            need = need_of_proof(closing.proof)
            assert not check_refusals(going.session.state, need, going.session.competence), closing.proof.name
        do(going)
    verdict = going.question
    assert isinstance(verdict, Verdict)
    assert closing.kind == "closed" and closing.passed == proofs_of(going.session, verdict)
    assert set(verdict.proof) <= set(closing.passed)
    assert [event.of for event in kept if event.what == "passed"] == list(closing.passed)
    again = replayed(start(shared_model(), "isolated"), kept)
    assert ask_proof(again) == closing


def test_dead_proofs_come_first_and_first_heat_last() -> None:
    going, _ = found()
    verdict = going.question
    assert isinstance(verdict, Verdict)
    proofs = [load_texts().proofs[name] for name in proofs_of(going.session, verdict)]
    assert [proof.supply_on for proof in proofs] == sorted(proof.supply_on for proof in proofs)
    assert proofs[-1].name == "first_heat"


def test_nothing_is_known_of_the_panel_after_somebody_worked_on_it() -> None:
    going, _ = found()
    going.do("repaired", "yes")
    assert going.session.state.supply == "unknown" and going.session.state.open
    assert isinstance(going.proof, ProofStep) and going.proof.step == "switch_off"


@pytest.mark.parametrize("typed", ["200 ohm", "OL", "fail", "0.2 ohm"])
def test_a_proof_that_failed_keeps_it_from_work(typed: str) -> None:
    going, kept = found()
    while not (isinstance(going.proof, AskProof) and going.proof.proof.name == "element_ohms"):
        do(going)
    going.prove(typed)
    assert isinstance(going.proof, Closing)
    assert (going.proof.kind, going.proof.failed) == ("failed", ("element_ohms",))
    assert (kept[-1].what, kept[-1].of, kept[-1].text) == ("failed", "element_ohms", typed)
    with pytest.raises(AnswerError):
        apply(going.session, Event("passed", "earth_continuity", "0.1 ohm"))


def test_a_log_that_calls_a_failed_proof_passed_is_refused() -> None:
    going, kept = found()
    while not (isinstance(going.proof, AskProof) and going.proof.proof.name == "element_ohms"):
        do(going)
    going.prove("OL")
    edited = [*kept[:-1], replace(kept[-1], what="passed")]
    with pytest.raises(FileError, match="'OL' is not one that passed; expected failed"):
        replayed(start(shared_model(), "isolated"), edited)


def test_a_number_is_judged_and_not_taken_on_trust() -> None:
    going, _ = found()
    while not (isinstance(going.proof, AskProof) and going.proof.proof.name == "element_ohms"):
        do(going)
    with pytest.raises(AnswerError):
        going.prove("pass")


def test_what_is_declined_is_said() -> None:
    going, kept = found()
    going.do("repaired", "yes")
    while isinstance(going.proof, AskProof | ProofStep):
        going.do("skip")
    going.do("works", "yes")
    assert (
        isinstance(going.proof, Closing)
        and going.proof.kind == "closed"
        and not going.proof.passed
        and going.proof.declined
    )
    assert {event.what for event in kept[-len(going.proof.declined) - 1 : -1]} == {"skip"}


def test_it_is_open_until_it_is_mended_and_asked_again_later() -> None:
    going, _ = found()
    going.do("repaired", "no")
    assert isinstance(going.proof, Closing) and going.proof.kind == "open"
    assert isinstance(ask_proof(resume(going.session)), AskRepair)


def passed_all(competence: str = "isolated") -> tuple[Recorded, list[Event]]:
    """A session up to the question whether it works again."""
    going, kept = found(competence)
    while not isinstance(going.proof, AskWorks):
        do(going)
    return going, kept


def test_what_does_not_work_yet_is_searched_on_and_the_log_leads_back_there() -> None:
    """Still wrong: the new part is sound, what it had a hand in is asked again, and a replay comes to the same."""
    going, kept = passed_all()
    count = len(going.session.answers)
    assert going.proof == AskWorks("element", (), False)
    going.do("works", "no")
    assert going.proof is None and isinstance(going.question, AskCheck | ConfirmStep)
    assert not going.session.repaired and not going.session.proved and len(going.session.answers) < count
    assert "element" not in {member.part for cause in going.session.model.causes for member in cause.members}
    assert (kept[-1].what, kept[-1].of, kept[-1].text) == ("works", "works", "no")
    again = replayed(start(shared_model(), "isolated"), kept)
    assert again.answers == going.session.answers and again.state == going.session.state
    assert [cause.key for cause in again.model.causes] == [cause.key for cause in going.session.model.causes]
    assert isinstance(ask(again), type(going.question))


def test_what_is_not_known_to_work_yet_stays_open_and_is_asked_after_a_break() -> None:
    going, _ = passed_all()
    going.do("works", "leave")
    assert isinstance(going.proof, Closing) and going.proof.kind == "open"
    assert isinstance(ask_proof(resume(going.session)), AskWorks)
    going.do("back")
    assert isinstance(going.proof, AskWorks)
    with pytest.raises(AnswerError, match="'perhaps' does not say whether it works again; expected yes, no or leave"):
        going.do("works", "perhaps")


def test_a_load_that_fails_may_be_a_second_fault_but_never_goes_to_work() -> None:
    going, _ = found()
    while not (isinstance(going.proof, AskProof) and going.proof.proof.name == "first_heat"):
        do(going)
    going.prove("fail")
    assert isinstance(going.proof, AskWorks) and going.proof.failed == ("first_heat",)
    with pytest.raises(AnswerError, match="does not go back to work; expected no, to search on, or leave"):
        going.do("works", "yes")
    left = apply(going.session, Event("works", "works", "leave"))
    closing = ask_proof(left)
    assert isinstance(closing, Closing) and closing.kind == "failed"
    going.do("works", "no")
    assert not isinstance(going.question, Verdict)


def test_a_second_fault_behind_the_first_is_found_in_the_same_session() -> None:
    """The whole way, as events: the fuse, its repair and proofs, still no heat, then the relay behind it."""
    panel = SimulatedPanel(netlist(), cause("control_fuse:blown+relay:open"))
    going = Recorded(start(model("element_cold"), "live", INSTRUMENTS), lambda event: None)
    named = []
    for behind in (SimulatedPanel(netlist(), cause("relay:open")), SimulatedPanel(netlist(), None)):
        while not isinstance(question := going.question, Verdict):
            if isinstance(question, ConfirmStep):
                going.do("confirm", panel.confirmed(question.step))
            else:
                going.do("answer", panel.answer(question.check))
        named.append(question.part)
        panel = behind
        while going.proof is not None and not isinstance(going.proof, AskWorks | Closing):
            do(going)
        going.do("works", "no" if len(named) == 1 else "yes")
    assert named == ["control_fuse", "relay"]
    assert isinstance(going.proof, Closing) and going.proof.kind == "closed"


def test_whoever_leaves_the_box_shut_is_never_asked_to_open_it_for_a_proof() -> None:
    """Proofs beyond a competence are for someone who may; no step to them is asked."""
    session = _session_with(shared_model(), "outside")
    others = 0
    while not isinstance(question := ask_proof(session), Closing):
        assert question is not None
        if isinstance(question, ProofStep):
            assert question.step not in ("open_box", "energise_open")
        if isinstance(question, AskProof):
            others += question.by_other
            assert question.by_other == (question.proof.exposure != "outside")
        what, text = proof_reply(question)
        session = apply(session, Event("passed" if what == "proof" else what, proof_asked_for(question), text))
    assert others


def _session_with(model: Model, competence: str) -> Session:
    going, _ = found()
    session = replace(going.session, competence=competence)  # as if the answers had come from outside alone
    lifted = next(check for check in model.checks if check.setup.lifted)
    answers = (*session.answers, Answer(lifted.id, "OL", float("inf"), None))
    session = replace(session, state=start(model).state, answers=answers)
    assert isinstance(ask(session), Verdict)
    return session


@pytest.mark.parametrize("panel", [entry.name for entry in bundled_panels()])
def test_every_remedy_can_be_proved(panel: str) -> None:
    """Each proof that a fault names is known; the limits of a sound element hold its own ohms."""
    read = open_panel(panel)
    known = load_texts().proofs
    for part in read.parts.values():
        for fault in part.kind.faults.values():
            assert set(fault.remedy.proof) <= known.keys(), (part.name, fault.name)
        if part.kind.role == "heater":
            limits = proof_limits(read, part.name, known["element_ohms"])
            assert limits is not None
            assert limits[0] < part.ratings["voltage"] ** 2 / part.ratings["power"] < limits[1]
