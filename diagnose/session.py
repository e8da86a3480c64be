"""The dialogue as a pure state machine: no terminal, no clock, no files.

`ask` says what comes next; `answer`, `confirm`, `skip`, `back` and `stop` give the session that follows. A session is
never changed.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np

from diagnose.belief import update
from diagnose.checks import Check
from diagnose.choose import best_check
from diagnose.circuit.netlist import FloatArray
from diagnose.circuit.setup import Setup
from diagnose.costs import need_of
from diagnose.errors import AnswerError, Problem
from diagnose.evidence import Evidence, evidence_of, explained_by_any
from diagnose.expect import Prediction
from diagnose.heat_checks import HEAT_QUANTITIES, Width, read_heat, seen_with
from diagnose.likelihoods import likelihood_of
from diagnose.model import Model
from diagnose.readings import Reading, parse_reading
from diagnose.safety import Competence, PanelState, StepName, after, allowed, next_step, steps_between

LEAD_ENOUGH = 0.97
ACT_ON = 0.5  # below this no remedy is named: it would more likely be wrong than right
SHOWN_SHARE = 0.01
PROVES_DEAD = frozenset({"multimeter", "low_impedance"})  # without one of these the box stays shut


@dataclass(frozen=True, slots=True)
class Answer:
    """What was answered to a check: a reading, an outcome, or nothing."""

    check_id: str
    text: str
    value: float | None  # SI, inf for OL; None for a sign or a skip
    outcome: int | None
    skipped: bool = False
    doubted: bool = False  # nothing explained it the first time
    width: Width | None = None  # how far off it may be, where that was typed with it


@dataclass(frozen=True)
class Session:
    """A dialogue up to now."""

    model: Model
    competence: Competence
    instruments: frozenset[str]
    answers: tuple[Answer, ...] = ()
    state: PanelState = field(default_factory=PanelState)
    at: Setup | None = None
    pending: str = ""
    doubted: Answer | None = None
    refused: frozenset[StepName] = frozenset()  # steps that the person can't or won't do
    stopped: str = ""


@dataclass(frozen=True, slots=True)
class ConfirmStep:
    """A step that changes the panel's state, to be done and confirmed before the next check."""

    step: StepName
    for_check: Check


@dataclass(frozen=True, eq=False, slots=True)
class AskCheck:
    """A check to be done now, and what it is expected to show."""

    check: Check
    prediction: Prediction
    bits: float
    doubted: Answer | None
    sound: tuple[float, float, float]  # value, low, high on the sound panel
    outcomes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class CauseShare:
    """A cause and how much belief it has."""

    part: str
    fault: str
    level: float | None
    probability: float
    title: str


@dataclass(frozen=True, slots=True)
class Verdict:
    """How a session ends."""

    kind: Literal["found", "group", "unknown", "stopped"]
    causes: tuple[CauseShare, ...]
    part: str
    remedy: str
    proof: tuple[str, ...]
    electrician: bool
    evidence: tuple[Evidence, ...]
    reason: str


Question = ConfirmStep | AskCheck | Verdict


def start(model: Model, competence: Competence = "outside", instruments: frozenset[str] | None = None) -> Session:
    """A new session; with no instruments named, a multimeter is at hand."""
    return Session(model, competence, frozenset({"multimeter"}) if instruments is None else instruments)


def likelihood(model: Model, answer: Answer) -> FloatArray:
    """(H + 1,) how likely an answer is under each cause, the unknown one last."""
    check = model.checks_by_id[answer.check_id]
    prediction = seen_with(model, check, answer.width)
    return likelihood_of(prediction, check.quantity, answer.value, answer.outcome)[1:]


def belief(session: Session) -> FloatArray:
    """(H + 1,) belief in each cause after all answers, the unknown one last."""
    now = session.model.prior
    for answer_ in session.answers:
        if not answer_.skipped:
            now = update(now, likelihood(session.model, answer_))
    return now


def open_checks(session: Session) -> tuple[Check, ...]:
    """Checks that this person, with these instruments, may still do."""
    done = {answer_.check_id for answer_ in session.answers}
    return tuple(
        check
        for check in session.model.checks
        if check.id not in done
        and allowed(session.competence, check.work)
        and (check.instrument == "none" or check.instrument in session.instruments)
        and (check.exposure == "outside" or session.instruments & PROVES_DEAD)
        and not session.refused.intersection(steps_between(session.state, need_of(check)))
    )


def ask(session: Session) -> Question:
    """What comes next: a step to confirm, a check to do, or the verdict."""
    if session.stopped:
        return _verdict(session, "stopped")
    now = belief(session)
    if session.pending:
        check = session.model.checks_by_id[session.pending]
        return _towards(session, check, 0.0)
    if _lead(session.model, now) >= LEAD_ENOUGH:
        return _verdict(session, "")
    answered = [session.model.checks_by_id[given.check_id] for given in session.answers if not given.skipped]
    choice = best_check(
        session.model, now, open_checks(session), session.state, session.at, session.competence, answered
    )
    if choice is None:
        return _verdict(session, "")
    return _towards(session, choice.check, choice.bits)


def _towards(session: Session, check: Check, bits: float) -> Question:
    step = next_step(session.state, need_of(check))
    if step is not None:
        return ConfirmStep(step, check)
    prediction = session.model.predict(check)
    outcomes: tuple[str, ...] = ()
    if prediction.table is not None:
        outcomes = session.model.panel.parts[check.part].kind.signs[check.sign].outcomes
    sound = (float(prediction.value[0]), float(prediction.low[0]), float(prediction.high[0]))
    return AskCheck(check, prediction, bits, session.doubted, sound, outcomes)


def confirm(session: Session) -> Session:
    """The step that was asked for is done.

    Raises AnswerError where no step was asked for.
    """
    question = ask(session)
    if not isinstance(question, ConfirmStep):
        raise AnswerError(Problem("there is no step to confirm", "an answer to the check"))
    state = after(session.state, question.step, need_of(question.for_check))
    return replace(session, state=state, pending=question.for_check.id)


def read_answer(session: Session, question: AskCheck, text: str) -> Answer:
    """What was typed, as an answer to a check. Raises AnswerError with what was expected."""
    check = question.check
    if check.quantity == "sign":
        return Answer(check.id, text, None, _outcome(question.outcomes, text))
    if check.quantity == "temperature" and text.strip().lower() in ("none", "no number"):
        return Answer(check.id, text, float("inf"), None)
    if check.quantity in HEAT_QUANTITIES:
        watts, width = read_heat(session.model, check, text)
        return Answer(check.id, text, watts, None, width=width)
    reading: Reading = parse_reading(text, check.quantity)  # type: ignore[arg-type]
    return Answer(check.id, text, float("inf") if reading.over_range else reading.value, None)


def _outcome(outcomes: tuple[str, ...], text: str) -> int:
    plain = " ".join(text.lower().replace("-", " ").replace("_", " ").split())
    if text.strip().isdigit() and 1 <= int(plain) <= len(outcomes):
        return int(plain) - 1
    starting = [number for number, outcome in enumerate(outcomes) if plain and outcome.startswith(plain)]
    exact = [number for number, outcome in enumerate(outcomes) if outcome == plain]
    if len(exact or starting) == 1:
        return (exact or starting)[0]
    choices = ", ".join(f"{number} {outcome}" for number, outcome in enumerate(outcomes, start=1))
    raise AnswerError(Problem(f"'{text}' is none of the answers", choices))


def answer(session: Session, text: str) -> Session:
    """Take what was typed as the answer to the check that was asked.

    A reading that nothing explains is asked for again, once.

    Raises
    ------
    AnswerError
        Where it can't be read as what was asked for, or no check was asked.
    """
    question = ask(session)
    if not isinstance(question, AskCheck):
        raise AnswerError(Problem("no check was asked", "the step to be confirmed first"))
    given = read_answer(session, question, text)
    if session.doubted is None and not explained_by_any(
        seen_with(session.model, question.check, given.width), question.check, given.value, given.outcome
    ):
        return replace(session, doubted=replace(given, doubted=True), pending=question.check.id)
    given = replace(given, doubted=session.doubted is not None)
    at = _stands(session.at, question.check.setup)
    return replace(session, answers=(*session.answers, given), at=at, pending="", doubted=None)


def _stands(before: Setup | None, now: Setup) -> Setup:
    """How the panel stands after a check: without supply, controllers keep what they were told."""
    return now if now.supply_on or before is None else replace(now, commands=before.commands)


def skip(session: Session) -> Session:
    """Don't know, or can't do: the check is not asked again, nor anything that needs a step that can't be done.

    Raises AnswerError where there is nothing to skip.
    """
    question = ask(session)
    match question:
        case AskCheck():
            return leave_out(session)
        case ConfirmStep():
            return replace(session, refused=session.refused | {question.step}, pending="", doubted=None)
    raise AnswerError(Problem("there is nothing to skip", "a check or a step"))


def leave_out(session: Session) -> Session:
    """Leave out one check, though the steps towards it could be done: there is no answer to it.

    Raises AnswerError where nothing was asked.
    """
    question = ask(session)
    if isinstance(question, Verdict):
        raise AnswerError(Problem("there is nothing to leave out", "a check"))
    check = question.check if isinstance(question, AskCheck) else question.for_check
    skipped = Answer(check.id, "", None, None, skipped=True)
    return replace(session, answers=(*session.answers, skipped), pending="", doubted=None)


def back(session: Session) -> Session:
    """Take the last answer back. The panel's own state stays as it is.

    Raises AnswerError where nothing was answered.
    """
    if session.doubted is not None or session.pending:
        return replace(session, doubted=None, pending="")
    if not session.answers:
        raise AnswerError(Problem("there is no answer to go back to", "an answer first"))
    return replace(session, answers=session.answers[:-1])


def resume(session: Session) -> Session:
    """Go on after a break: whatever was proved dead has to be proved again, since nobody watched it meanwhile."""
    return replace(session, state=replace(session.state, proved_dead=False))


def stop(session: Session, reason: str = "stopped") -> Session:
    """End the session; with something dangerous seen, with what to do about it."""
    return replace(session, stopped=reason)


# The end --------------------------------------------------------------------------------------------------


def group_shares(model: Model, now: FloatArray) -> Mapping[int, float]:
    """Belief in each group: what would be replaced or done."""
    sums = np.bincount(model.group_numbers, weights=now)
    return {number: float(value) for number, value in enumerate(sums)}


def _lead(model: Model, now: FloatArray) -> float:
    return max(group_shares(model, now).values())


def shares(model: Model, now: FloatArray) -> tuple[CauseShare, ...]:
    """Faults with their belief, all levels together, the likeliest first; those under a hundredth are left out."""
    order = np.argsort(-now[:-1], kind="stable")
    sums: dict[tuple[str, str], float] = {}
    for cause, share in zip(model.causes, now, strict=False):
        sums[(cause.part, cause.fault)] = sums.get((cause.part, cause.fault), 0.0) + float(share)
    found = []
    for number in order:
        cause = model.causes[int(number)]
        total = sums.pop((cause.part, cause.fault), None)
        if total is None:
            continue  # another level of the same fault, already counted in
        fault = model.fault(cause)
        title = f"{model.panel.label(cause.part)}: {fault.title}"
        found.append(CauseShare(cause.part, cause.fault, cause.level, total, title))
    found.sort(key=lambda share: -share.probability)
    return tuple(share for share in found if share.probability >= SHOWN_SHARE) or tuple(found[:1])


def _verdict(session: Session, reason: str) -> Verdict:
    model = session.model
    now = belief(session)
    causes = shares(model, now)
    evidence = evidence_of(model, session.answers, now)
    if reason:
        return Verdict("stopped", causes, "", "", (), True, evidence, session.stopped)
    if not causes or now[-1] >= max(group_shares(model, now).values()) - 1e-12:
        return Verdict("unknown", causes, "", "", (), True, evidence, "nothing known here explains the readings")
    groups = group_shares(model, now)
    lead = max(groups, key=lambda number: groups[number])
    first = int(np.argmax(np.where(model.group_numbers == lead, now, -1)))
    cause = model.causes[first]
    remedy = model.fault(cause).remedy
    parts = {share.part for share in causes}
    reason = ""
    if len(parts) > 1 and groups[lead] < LEAD_ENOUGH:
        reason = "no check that is open to you tells these apart"
    elif len(parts) > 1 and model.panel.at_the_service(cause.part):
        reason = "all of these are in the building's supply, before your panel"
    kind: Literal["found", "group"] = "group" if reason else "found"
    if kind == "group" and groups[lead] < ACT_ON:
        # Too little is known to tell anyone to replace something.
        return Verdict(kind, causes, "", "", (), True, evidence, reason)
    return Verdict(kind, causes, cause.part, remedy.text, remedy.proof, remedy.electrician, evidence, reason)
