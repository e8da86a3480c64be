"""The dialogue as a pure state machine: no terminal, no clock, no files.

`ask` says what comes next; `answer`, `confirm`, `skip`, `back`, `lower`, `refer` and `stop` give the session that
follows. A session is never changed. What may be asked and done, and in which state of the panel, `safety` says.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np

from diagnose.acting import why_no_more, worth_guessing
from diagnose.checks import Check
from diagnose.choose import Choice, best_check
from diagnose.circuit.netlist import FloatArray
from diagnose.circuit.setup import Setup, left_at
from diagnose.combined import belief_after, likelihood, widened, widened_from_start
from diagnose.conflict import conflict_of
from diagnose.costs import need_of
from diagnose.danger import danger_in, danger_in_any, tripped_at_once
from diagnose.doubt import deciding, doubt_of, doubted
from diagnose.ending import further_of, group_shares, shares
from diagnose.errors import AnswerError, Problem
from diagnose.evidence import evidence_of
from diagnose.model import Model
from diagnose.questions import (
    Answer,
    AskCheck,
    CauseShare,
    ConfirmStep,
    Proved,
    Question,
    Verdict,
    read_answer,
)
from diagnose.readings import parse_reading
from diagnose.safety import (
    DANGERS,
    REFERRED,
    WANTS,
    Competence,
    Need,
    PanelState,
    Situation,
    StepName,
    after,
    after_break,
    capped,
    check_refusals,
    danger_said,
    is_dead,
    meter_failed,
    next_step,
    require,
    step_refusals,
)
from diagnose.still_open import Reach, still_open, within_reach

__all__ = [
    "Answer", "AskCheck", "CauseShare", "ConfirmStep", "Question", "Session", "Verdict", "answer", "as_asked", "ask",
    "back", "belief", "confirm", "group_shares", "leave_out", "likelihood", "lower", "open_checks", "read_answer",
    "refer", "resume", "revised", "shares", "skip", "start", "stepped", "stop", "take",
]  # fmt: skip

LEAD_ENOUGH = 0.97
_SHOWS, _FAILS = ("", "done", "yes", "y"), ("no", "n")  # what confirms a step, and says that the meter showed nothing
ACT_ON = 0.5  # below this no remedy is named: it would more likely be wrong than right

Chooser = Callable[
    [Model, FloatArray, Sequence[Check], PanelState, Setup | None, Competence, Sequence[Check]], Choice | None
]


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
    unreachable: frozenset[str] = frozenset()  # terminals that the person can't get at
    later: frozenset[str] = frozenset()  # checks that were put off: asked once nothing else is left
    stopped: str = ""  # why it ended, where it did not end by itself: a danger, a plain stop, a referral
    repaired: str = ""  # after the verdict: 'yes' or 'no', whether it was mended
    proved: tuple[Proved, ...] = ()  # proof checks after the repair
    works: str = ""  # after those: 'yes', it does what it should again, or 'leave', not known
    asks_again: bool = True  # whether an answer that decides it all is asked for once more
    tripped: tuple[Answer, ...] = ()  # answers taken back that a device tripped at once: it was set for them
    by_answer: bool = False  # the danger lay in an answer, so that the answers may name the cause as well
    chooser: Chooser = field(default=best_check, compare=False, repr=False)
    _asked: list[Question] = field(default_factory=list, init=False, compare=False, repr=False)  # worked out once


def start(model: Model, competence: Competence = "outside", instruments: frozenset[str] | None = None) -> Session:
    """A new session; with no instruments named, a multimeter is at hand. Without one nothing is opened."""
    at_hand = frozenset({"multimeter"}) if instruments is None else instruments
    return Session(model, capped(competence, at_hand), at_hand)


def belief(session: Session) -> FloatArray:
    """(H + 1,) belief in each cause after all answers, the unknown one last."""
    return belief_after(session.model, session.answers)


def open_checks(session: Session) -> tuple[Check, ...]:
    """Checks that this person, with these instruments, may still do."""
    left = _still_open(session) - {given.check_id for given in session.answers}
    return tuple(check for check in session.model.checks if check.id in left)


def _still_open(session: Session) -> frozenset[str]:
    """Checks that may be done after all that was answered, by their ids."""
    who = Reach(session.state, session.competence, session.instruments, session.refused, session.unreachable)
    return still_open(session.model, session.answers, who)


def _may_ask_again(session: Session, check: Check) -> bool:
    """Whether a check may be done a second time: a protective device is not set again to see."""
    return check.sign != "trip" and check.id in _still_open(session)


def ask(session: Session) -> Question:
    """What comes next: a step to confirm, a check to do, or the verdict."""
    if not session._asked:
        session._asked.append(_next(session))
    return session._asked[0]


def _next(session: Session) -> Question:
    if session.stopped or session.repaired:
        return _verdict(session)
    now = belief(session)
    need = session.model.needs[session.pending] if session.pending else None
    if need is not None and within_reach(session.state, session.competence, session.refused, need):
        check = session.model.checks_by_id[session.pending]
        answered = [given for given in session.answers if given.check_id == check.id and not given.skipped]
        return _towards(session, check, 0.0, answered[0] if answered else None)
    if _lead(session.model, now) >= LEAD_ENOUGH:
        return _at_the_end(session)
    told = [session.model.checks_by_id[given.check_id] for given in session.answers if not given.skipped]
    found = open_checks(session)
    due = tuple(check for check in found if check.id not in session.later) or found
    choice = session.chooser(session.model, now, due, session.state, session.at, session.competence, told)
    if choice is None or worth_guessing(session.model, now, session.instruments, session.state, choice):
        return _at_the_end(session)
    return _towards(session, choice.check, choice.bits)


def _at_the_end(session: Session) -> Question:
    """The verdict; or, where it hangs on one answer that was given once, that answer's check once more."""
    given = deciding(session.model, session.answers) if session.asks_again else None
    if given is not None and _may_ask_again(session, session.model.checks_by_id[given.check_id]):
        return _towards(session, session.model.checks_by_id[given.check_id], 0.0, given)
    return _verdict(session)


def _towards(session: Session, check: Check, bits: float, again: Answer | None = None) -> Question:
    need = need_of(check)
    step = next_step(session.state, need)
    refused = (
        step_refusals(session.state, step, session.competence)
        if step is not None
        else (check_refusals(session.state, need, session.competence))
    )
    if refused:
        raise AssertionError(f"{step or check.id}: {refused[0].says}")
    if step is not None:
        return ConfirmStep(step, check, session.state)
    return as_asked(session, check, bits, again)


def as_asked(session: Session, check: Check, bits: float = 0.0, again: Answer | None = None) -> AskCheck:
    """A check as the question that it is, or was; `again` is the answer that it is asked once more for."""
    prediction = session.model.predict(check)
    outcomes: tuple[str, ...] = ()
    if prediction.table is not None:
        outcomes = session.model.panel.kind_of(check.part).signs[check.sign].outcomes
    sound = (float(prediction.value[0]), float(prediction.low[0]), float(prediction.high[0]))
    first = again or session.doubted
    others = [each for each in session.answers if each is not again]
    doubt = None if first is None else doubt_of(session.model, others, check, first, again is not None)
    return AskCheck(check, prediction, bits, first, sound, outcomes, doubt)


def _permit(session: Session, event: str, expected: str = "a new session", to: Competence | None = None) -> None:
    """Let an event through all guards. Raises AnswerError with what stands in its way."""
    now = Situation("event", session.state, session.competence, event=event, competence_after=to,
                    stopped=bool(session.stopped))  # fmt: skip
    require(now, expected)


def confirm(session: Session, text: str = "") -> Session:
    """The step that was asked for is done; `text` is what was typed to it.

    For trying the meter, 'no' says that it did not show the source. For proving dead, it is the highest reading, and
    one that is not that of a dead circuit ends the session.

    Raises AnswerError where no step was asked for, or where it can't be read as what the step asks for.
    """
    _permit(session, "confirm")
    question = ask(session)
    if not isinstance(question, ConfirmStep):
        raise AnswerError(Problem("there is no step to confirm", "an answer to the check"))
    following = stepped(session, question.step, need_of(question.for_check), text)
    return replace(following, pending="" if following.stopped else question.for_check.id)


def stepped(session: Session, step: StepName, need: Need, text: str) -> Session:
    """The session after a step towards what is needed, as it was confirmed.

    A danger that is said instead ends it.

    Raises AnswerError where that can't be read as what the step asks for.
    """
    word = " ".join(text.lower().split())
    if said := danger_said(text):
        return stop(session, said)
    if WANTS[step] == "volts":
        reading = parse_reading(text, "voltage_ac")
        if reading.over_range or not is_dead(reading.value):
            return replace(session, state=meter_failed(session.state), stopped="not dead")
    elif WANTS[step] == "shows" and word in _FAILS:
        return replace(session, state=meter_failed(session.state))
    elif word not in _SHOWS:
        wanted = "yes, or no where it shows nothing" if WANTS[step] == "shows" else "done"
        raise AnswerError(Problem(f"'{text}' does not confirm a step", wanted))
    return replace(session, state=after(session.state, step, need))


def _touched(session: Session, question: Question) -> PanelState:
    """The state once a check was on the screen: whether or not it is answered, wires may have been taken off for it."""
    lifted = isinstance(question, AskCheck) and bool(question.check.setup.lifted)
    return replace(session.state, leads_off=True) if lifted else session.state


def answer(session: Session, text: str) -> Session:
    """Take what was typed as the answer to the check that was asked.

    A reading that nothing explains, or that turns a settled belief over, is asked for again, once; a danger is not, nor
    is a device set again for that. A danger that is said instead of an answer ends the session.

    Raises
    ------
    AnswerError
        Where it can't be read as what was asked for, or no check was asked.
    """
    _permit(session, "answer")
    question = ask(session)
    if not isinstance(question, AskCheck):
        raise AnswerError(Problem("no check was asked", "the step to be confirmed first"))
    if " ".join(text.lower().split()) not in question.outcomes and (said := danger_said(text)):
        return stop(session, said)
    session = replace(session, state=_touched(session, question))
    given = read_answer(session.model, question, text)
    may_doubt = question.doubted is None and _may_ask_again(session, question.check)
    danger = danger_in(session.model, (*session.tripped, *session.answers, given))
    if may_doubt and not danger and doubted(session.model, session.answers, given):
        return replace(session, doubted=replace(given, doubted=True), pending=question.check.id)
    again = question.doubted is not None and question.doubted in session.answers
    session = take(session, question, replace(given, doubted=question.doubted is not None))
    grow = widened_from_start if again else widened
    return replace(session, model=grow(session.model, session.answers))


def take(session: Session, question: AskCheck, given: Answer) -> Session:
    """The session after an answer that was read, with the causes that it had before: none are grown.

    An answer that was asked for once more takes the place of the one before it.
    """
    session = replace(session, state=_touched(session, question))
    answers = (*(each for each in session.answers if each is not question.doubted), given)
    danger = danger_in(session.model, (*session.tripped, *answers))
    at = left_at(session.at, question.check.setup)
    return replace(session, answers=answers, at=at, pending="", doubted=None, stopped=danger, by_answer=bool(danger))


def skip(session: Session) -> Session:
    """Don't know, or can't do: the check is not asked again, nor anything that needs a step that can't be done.

    Raises AnswerError where there is nothing to skip.
    """
    _permit(session, "skip")
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
    _permit(session, "skip")
    question = ask(session)
    if isinstance(question, Verdict):
        raise AnswerError(Problem("there is nothing to leave out", "a check"))
    check = question.check if isinstance(question, AskCheck) else question.for_check
    state = _touched(session, question)
    if any(each.check_id == check.id for each in session.answers):  # asked once more: the first answer stands
        answers = tuple(replace(each, doubted=True) if each.check_id == check.id else each for each in session.answers)
        return replace(session, answers=answers, state=state, pending="", doubted=None)
    skipped = Answer(check.id, "", None, None, skipped=True)
    return replace(session, answers=(*session.answers, skipped), state=state, pending="", doubted=None)


def back(session: Session) -> Session:
    """Take the last answer back. The panel's own state stays as it is, and a device that tripped has tripped.

    Raises AnswerError where nothing was answered.
    """
    _permit(session, "back")
    if session.doubted is not None or session.pending:
        state = _touched(session, ask(session))
        return replace(session, state=state, doubted=None, pending="")
    if not session.answers:
        raise AnswerError(Problem("there is no answer to go back to", "an answer first"))
    return revised(session, "back", session.answers[:-1])


def revised(session: Session, event: str, answers: Sequence[Answer]) -> Session:
    """The session with other answers: causes and belief follow from them alone. A device that tripped has tripped.

    Raises AnswerError where the session has ended.
    """
    _permit(session, event)
    state = _touched(session, ask(session))
    model, kept = widened_from_start(session.model, answers), tuple(answers)
    lost = (given for given in session.answers if given not in kept and tripped_at_once(session.model, given))
    tripped = (*session.tripped, *lost)
    danger = danger_in_any(model, (*tripped, *kept))
    return replace(session, state=state, model=model, answers=kept, pending="", doubted=None, stopped=danger,
                   by_answer=bool(danger), tripped=tripped)  # fmt: skip


def resume(session: Session) -> Session:
    """Go on after a break, in which nobody watched: what was confirmed to be off has to be confirmed again.

    Raises AnswerError where the session has ended.
    """
    _permit(session, "resume")
    state = after_break(_touched(session, ask(session)))
    repaired = "" if session.repaired == "no" else session.repaired  # it may have been mended meanwhile
    works = "" if session.works == "leave" else session.works  # and run for long enough to tell
    return replace(session, state=state, refused=frozenset(), repaired=repaired, works=works)


def lower(session: Session, to: Competence) -> Session:
    """Go on with a lower competence; it is not raised again.

    Raises AnswerError where it would not be lower, or the session has ended.
    """
    _permit(session, "lower", f"less than {session.competence}", to)
    if to == session.competence:
        raise AnswerError(Problem(f"it is {to} already", f"less than {to}"))
    state = _touched(session, ask(session))
    return replace(session, competence=to, state=state, pending="", doubted=None)


def refer(session: Session) -> Session:
    """Hand what is left to an electrician. Raises AnswerError where the session has ended."""
    _permit(session, "refer")
    return replace(session, stopped=REFERRED, state=_touched(session, ask(session)))


def stop(session: Session, reason: str = "stopped") -> Session:
    """End the session; with something dangerous seen, with what to do about it.

    Raises AnswerError where it has ended already.
    """
    _permit(session, "stop")
    return replace(session, stopped=reason, state=_touched(session, ask(session)), by_answer=False)


# The end --------------------------------------------------------------------------------------------------


def _lead(model: Model, now: FloatArray) -> float:
    return max(group_shares(model, now).values())


def _verdict(session: Session) -> Verdict:
    model = session.model
    now = belief(session)
    causes = shares(model, now)
    evidence = evidence_of(model, session.answers, now)
    danger = session.stopped if session.stopped in DANGERS else ""
    if session.stopped and not (session.by_answer and _lead(model, now) >= ACT_ON):
        ended: Literal["stopped", "referred"] = "referred" if session.stopped == REFERRED else "stopped"
        return Verdict(ended, causes, "", "", (), True, evidence, session.stopped, danger)
    if not causes or now[-1] >= max(group_shares(model, now).values()) - 1e-12:
        return Verdict(
            "unknown", causes, "", "", (), True, evidence, "nothing known here explains the readings", danger,
            conflict=conflict_of(model, session.answers),
        )  # fmt: skip
    groups = group_shares(model, now)
    lead = max(groups, key=lambda number: groups[number])
    first = int(np.argmax(np.where(model.group_numbers == lead, now, -1)))
    cause = model.causes[first]
    remedy = model.fault(cause).remedy
    if model.fault(cause).stop and groups[lead] >= ACT_ON:
        danger = danger or "danger"  # finding this is one in itself
    parts = {share.part for share in causes}
    reason = ""
    if len(parts) > 1 and groups[lead] < LEAD_ENOUGH:
        reason = why_no_more(model, now, session.instruments)
        if session.by_answer:
            reason = "the last answer is a danger in itself, so nothing more is asked"
    elif len(parts) > 1 and model.panel.at_the_service(cause.part):
        reason = "all of these are in the building's supply, before your panel"
    kind: Literal["found", "group"] = "group" if reason else "found"
    if kind == "group" and groups[lead] < ACT_ON:
        # Too little is known to tell anyone to replace something.
        return Verdict(kind, causes, "", "", (), True, evidence, reason, danger)
    electrician = remedy.electrician or bool(danger)
    return Verdict(
        kind, causes, cause.part, remedy.text, remedy.proof, electrician, evidence, reason, danger,
        further_of(model, cause),
    )  # fmt: skip
