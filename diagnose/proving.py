"""After the verdict: was it mended, does it pass what has to be measured, and is the complaint gone?

A session is open until every proof check was answered or declined. Each is done in a state of the panel that the guards
allow, after the same steps as any check. Pure, as the session is.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

from diagnose.errors import AnswerError, Problem
from diagnose.questions import Proved, Verdict
from diagnose.readings import parse_reading
from diagnose.safety import (
    Need,
    PanelState,
    Situation,
    StepName,
    after_work,
    capped,
    check_refusals,
    danger_said,
    next_step,
    require,
    step_refusals,
    way,
)
from diagnose.session import Session, ask, stepped, stop
from diagnose.texts import Proof, load_texts, proof_limits

METERED = ("resistance", "insulation")  # what is read on a meter: who has none leaves it to someone else
AFTER_DANGER = "danger"  # in a proof check's `after`: asked for once something dangerous was met
PASSES, FAILS = ("pass", "passed", "yes", "y", "ok"), ("fail", "failed", "no", "n")
Outcome = Literal["passed", "failed", "declined"]


@dataclass(frozen=True, slots=True)
class AskRepair:
    """Whether the remedy was carried out."""

    part: str
    remedy: str
    electrician: bool


@dataclass(frozen=True, slots=True)
class ProofStep:
    """A step towards a proof check."""

    step: StepName
    proof: Proof
    state: PanelState


@dataclass(frozen=True, slots=True)
class AskProof:
    """A proof check to be done now, by the person, or by someone who may where it is more than they do."""

    proof: Proof
    limits: tuple[float, float] | None
    by_other: bool


@dataclass(frozen=True, slots=True)
class AskWorks:
    """Whether the panel does again what it should, last of all; where that failed on load, whether to search on."""

    part: str
    failed: tuple[str, ...]
    came_and_went: bool  # a fault that shows itself in some looks only is gone once it stays away for long enough


@dataclass(frozen=True, slots=True)
class Closing:
    """How the work on a panel stands at the end: closed, or why it does not go back to work."""

    kind: Literal["closed", "failed", "open"]
    passed: tuple[str, ...]
    failed: tuple[str, ...]
    declined: tuple[str, ...]


ProofQuestion = AskRepair | ProofStep | AskProof | AskWorks | Closing


def need_of_proof(proof: Proof) -> Need:
    """What a proof check needs of the panel's state."""
    return Need(proof.exposure, proof.supply_on, quantity=proof.reads or "sign")


def proofs_of(session: Session, verdict: Verdict) -> tuple[str, ...]:
    """The proof checks after a repair, by what was touched: the remedy's own, and those of what was opened or moved.

    After a danger those of a whole panel as well, whether or not a remedy is known: who puts it right does them. In the
    order in which they are done: dead ones first, first heat last.
    """
    if not verdict.remedy and not verdict.danger:
        return ()
    panel = session.model.panel
    reasons = {panel.kind_of(verdict.part).role} if verdict.part else set()
    reasons |= {AFTER_DANGER} if verdict.danger else set()
    wanted = set(verdict.proof) | {proof.name for proof in load_texts().proofs.values() if reasons & set(proof.after)}
    wanted -= set() if panel.of_role("residual") else {"gfci_test"}
    done = [session.model.checks_by_id[given.check_id] for given in session.answers if not given.skipped]
    if session.state.open or any(check.work != "outside" for check in done):
        wanted.add("earth_continuity")
    if session.state.leads_off or any(check.setup.lifted or check.setup.rewired for check in done):
        wanted.add("joint_pull")
    named = [proof for proof in load_texts().proofs.values() if proof.name in wanted]
    return tuple(proof.name for proof in sorted(named, key=lambda proof: proof.supply_on))


def ask_proof(session: Session) -> ProofQuestion | None:
    """What comes after the verdict; None before it, and where there is nothing to mend or the session was ended."""
    verdict = ask(session)
    if session.stopped or not isinstance(verdict, Verdict) or not verdict.remedy:
        return None
    if not session.repaired:
        return AskRepair(verdict.part, verdict.remedy, verdict.electrician)
    given = {proved.proof: proved.outcome for proved in session.proved}
    left = [name for name in proofs_of(session, verdict) if name not in given]
    if session.repaired == "no":
        return _closing("open", session)
    failed = tuple(name for name, outcome in given.items() if outcome == "failed")
    if left and not failed:
        return _towards(session, verdict, load_texts().proofs[left[0]])
    if not session.works and all(_fails_on_load(name) for name in failed):
        return AskWorks(verdict.part, failed, _came_and_went(session, verdict))
    return _closing("failed" if failed else "closed" if session.works == "yes" else "open", session)


def _towards(session: Session, verdict: Verdict, proof: Proof) -> ProofQuestion:
    limits = proof_limits(session.model.panel, verdict.part, proof)
    need = need_of_proof(proof)
    unmeasured = proof.reads in METERED and capped("isolated", session.instruments) == "outside"
    if unmeasured or way(session.state, need, session.competence) is None:
        return AskProof(proof, limits, by_other=True)
    step = next_step(session.state, need)
    if step is None:
        refused = check_refusals(session.state, need, session.competence)
    else:
        refused = step_refusals(session.state, step, session.competence)
    if refused:
        raise AssertionError(f"{step or proof.name}: {refused[0].says}")
    return AskProof(proof, limits, by_other=False) if step is None else ProofStep(step, proof, session.state)


def _fails_on_load(name: str) -> bool:
    """Whether a proof check that fails may mean another fault, and not a repair that is not whole, or no protection."""
    return load_texts().proofs[name].supply_on and name != "gfci_test"


def _came_and_went(session: Session, verdict: Verdict) -> bool:
    faults = session.model.panel.kind_of(verdict.part).faults
    return any(each.fault in faults and faults[each.fault].at_times < 1 for each in verdict.causes[:1])


def _closing(kind: Literal["closed", "failed", "open"], session: Session) -> Closing:
    by_outcome: dict[str, tuple[str, ...]] = {
        outcome: tuple(proved.proof for proved in session.proved if proved.outcome == outcome)
        for outcome in ("passed", "failed", "declined")
    }
    return Closing(kind, by_outcome["passed"], by_outcome["failed"], by_outcome["declined"])


def proof_asked_for(question: ProofQuestion | None) -> str:
    """What a question after the verdict is known by in a log: 'repair', 'works', a proof check's name or a step."""
    match question:
        case AskRepair():
            return "repair"
        case ProofStep():
            return question.step
        case AskProof():
            return question.proof.name
        case AskWorks():
            return "works"
    return ""


# What is done -----------------------------------------------------------------------------------------------


def _permit(session: Session, event: str) -> None:
    now = Situation("event", session.state, session.competence, event=event, stopped=bool(session.stopped))
    require(now, "a new session")


def repair(session: Session, text: str) -> Session:
    """Whether the remedy was carried out. What was known of the panel is not known any more once somebody worked on it.

    Raises AnswerError where that was not asked, or the answer is neither yes nor no.
    """
    _permit(session, "repaired")
    if not isinstance(ask_proof(session), AskRepair):
        raise AnswerError(Problem("nobody asked whether it was mended", "what is asked"))
    if said := danger_said(text):
        return stop(session, said)
    word = text.strip().lower()
    if word in FAILS:
        return replace(session, repaired="no")
    if word not in (*PASSES, "done"):
        raise AnswerError(Problem(f"'{text}' does not say whether it was mended", "yes or no"))
    state = after_work(session.state, opened=session.competence != "outside")
    return replace(session, repaired="yes", state=state)


def works(session: Session, text: str) -> Session:
    """The session once it is known that the panel works again, or that it is left as it is. See `remedied.goes_on`.

    Raises AnswerError where that was not asked, or the answer is none of its own.
    """
    _permit(session, "works")
    question = ask_proof(session)
    if not isinstance(question, AskWorks):
        raise AnswerError(Problem("nobody asked whether it works again", "what is asked"))
    if said := danger_said(text):
        return stop(session, said)
    word = text.strip().lower()
    if word in ("leave", "skip"):
        return replace(session, works="leave")
    if word in PASSES and not question.failed:
        return replace(session, works="yes")
    if word in PASSES:
        raise AnswerError(Problem("a proof check failed, so it does not go back to work", "no, to search on, or leave"))
    raise AnswerError(Problem(f"'{text}' does not say whether it works again", "yes, no or leave"))


def judged(question: AskProof, text: str) -> Outcome:
    """How a proof check comes out by what was typed: a reading by its limits, else passed or failed; a danger fails it.

    Raises AnswerError where it is neither.
    """
    word = text.strip().lower()
    if word in FAILS or danger_said(text):
        return "failed"
    if question.limits is None or not question.proof.reads:
        if word in PASSES:
            return "passed"
        raise AnswerError(Problem(f"'{text}' does not say how it came out", "pass or fail; skip declines it"))
    reading = parse_reading(text, question.proof.reads)  # type: ignore[arg-type]
    value = float("inf") if reading.over_range else reading.value
    return "passed" if question.limits[0] <= value <= question.limits[1] else "failed"


def prove(session: Session, outcome: str, text: str) -> Session:
    """The session after a proof check that came out so.

    Raises AnswerError where none was asked, or where what was typed is not that outcome.
    """
    _permit(session, outcome)
    question = ask_proof(session)
    if not isinstance(question, AskProof):
        raise AnswerError(Problem("no proof check was asked", "what is asked"))
    if outcome != "declined" and judged(question, text) != outcome:
        raise AnswerError(Problem(f"'{text}' is not one that {outcome}", judged(question, text)))
    if outcome != "declined" and (said := danger_said(text)):
        session = stop(session, said)
    proved = Proved(question.proof.name, text, outcome)  # type: ignore[arg-type]
    state = session.state
    if question.by_other and outcome != "declined":
        state = after_work(state, opened=question.proof.exposure != "outside")
    return replace(session, proved=(*session.proved, proved), state=state)


def confirm_proof_step(session: Session, text: str) -> Session:
    """The session after a step towards a proof check. Raises AnswerError where none was asked, or can't be read."""
    _permit(session, "confirm")
    question = ask_proof(session)
    if not isinstance(question, ProofStep):
        raise AnswerError(Problem("there is no step to confirm", "what is asked"))
    return stepped(session, question.step, need_of_proof(question.proof), text)


def decline(session: Session) -> Session:
    """Leave a proof check out, or what needs a step that can't be done: it is declined, and the log says so.

    Raises AnswerError where there is none.
    """
    _permit(session, "skip")
    question = ask_proof(session)
    if isinstance(question, AskWorks):
        return replace(session, works="leave")
    if not isinstance(question, AskProof | ProofStep):
        raise AnswerError(Problem("there is nothing to decline", "yes or no"))
    return replace(session, proved=(*session.proved, Proved(question.proof.name, "", "declined")))


def proof_back(session: Session) -> Session:
    """Take the last proof check back, or that it was mended. The panel's own state stays as it is."""
    _permit(session, "back")
    if session.works:
        return replace(session, works="")
    if session.proved:
        return replace(session, proved=session.proved[:-1])
    if session.repaired:
        return replace(session, repaired="")
    raise AnswerError(Problem("the verdict stands: there is no proof check to go back to", "what is asked"))
