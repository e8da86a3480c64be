"""After a remedy: the part that was put right is sound, and what it may have hidden or bent is asked again."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from diagnose.causes import Cause, go_together, pair_of
from diagnose.combined import belief_after, widened_from_start
from diagnose.errors import AnswerError, Problem
from diagnose.expect import Prediction, Predictor
from diagnose.model import UNKNOWN_SHARE, Model
from diagnose.proving import FAILS, AskWorks, ask_proof, works
from diagnose.questions import Answer, Verdict
from diagnose.safety import after_work
from diagnose.session import Session, ask

ALIKE = 0.02  # readings nearer to each other than this share are the same


def after_remedy(session: Session, part: str = "") -> Session:
    """The session that goes on when the complaint is still there after a part was put right.

    Parameters
    ----------
    session : Session
        One that has come to its verdict.
    part : str
        What was put right; the part that the verdict named, where it is left out.

    Returns
    -------
    Session
        Its causes are those of all other parts. Answers that the old fault had a hand in are dropped, and so asked
        again where they matter; those that it left alone are kept. Nothing counts as proved dead any more, unless it
        was since the repair.

    Raises
    ------
    AnswerError
        Where there is no verdict yet, or it names no part and none was given.
    """
    question = ask(session)
    if session.stopped:
        raise AnswerError(Problem("this session was stopped", "a new session, once it was put right"))
    if not isinstance(question, Verdict):
        raise AnswerError(Problem("nothing was found yet that could have been put right", "an answer to what is asked"))
    part = part or question.part
    if not part:
        raise AnswerError(Problem("no part was named to be put right", "the part that was put right"))
    old = session.model
    fault = leading(old, session.answers, part)
    narrow = without(old.narrow or old, mended_with(old, part), fault)
    stands = _standing(narrow, fault) if fault is not None and not fault.as_built else None
    kept = tuple(a for a in session.answers if not a.skipped and stands is not None and stands(a.check_id))
    model = widened_from_start(narrow, kept)
    # After its proof checks the panel stands as they left it; else somebody worked on it, and nobody saw how.
    state = session.state if session.repaired == "yes" else after_work(session.state, opened=True)
    return replace(
        session, model=model, answers=kept, state=state, at=None, pending="", doubted=None, refused=frozenset(),
        repaired="", proved=(), works="",
    )  # fmt: skip


def goes_on(session: Session, text: str) -> Session:
    """The session once it was said whether the panel works again: the search goes on where it does not.

    Raises AnswerError where that was not asked, or the answer is none of 'yes', 'no' and 'leave'.
    """
    if not isinstance(ask_proof(session), AskWorks) or text.strip().lower() not in FAILS:
        return works(session, text)
    return after_remedy(session)


def mended_with(model: Model, part: str) -> frozenset[str]:
    """The parts that are sound once this one was put right: all of the building's, where it is one of those."""
    panel = model.panel
    if not panel.at_the_service(part):
        return frozenset({part})
    return frozenset(name for name in (*panel.parts, *panel.wires_by_name) if panel.at_the_service(name))


def without(model: Model, parts: frozenset[str], fault: Cause | None = None) -> Model:
    """A model of single causes in which these parts are sound; where nothing was broken, in which that is changed."""
    if fault is not None and fault.as_built:
        mended = model.mended | {f"{fault.part}, {fault.fault}"}
        kept = [
            number
            for number, cause in enumerate(model.causes)
            if (cause.part, cause.fault) != (fault.part, fault.fault)
        ]
    else:
        mended = model.mended | parts
        kept = [
            number
            for number, cause in enumerate(model.causes)
            if not any(member.part in mended for member in cause.members)
        ]
    weight = model.prior[kept]
    prior = np.r_[weight / weight.sum() * (1 - UNKNOWN_SHARE), UNKNOWN_SHARE] if kept else np.array([1.0])
    share = float(weight.sum() / model.prior[:-1].sum()) if len(model.causes) else 0.0
    return replace(
        model, causes=tuple(model.causes[number] for number in kept), prior=prior,
        predictor=model.predictor.narrowed(kept), weight=model.weight * share, mended=mended, grown={}, tables={},
    )  # fmt: skip


def leading(model: Model, answers: Sequence[Answer], part: str) -> Cause | None:
    """The likeliest fault of a part, alone or in a pair."""
    now = belief_after(model, answers)
    found, most = None, 0.0
    for cause, share in zip(model.causes, now, strict=False):
        for member in cause.members:
            if member.part == part and share > most:
                found, most = member, float(share)
    return found


def _standing(narrow: Model, fault: Cause) -> Callable[[str], bool]:
    """Tells of a check whether the mended fault had no hand in its answer, whatever other fault was there with it."""
    others = [
        number
        for number, cause in enumerate(narrow.causes)
        if cause.also is None and go_together(narrow.panel, fault, cause)
    ]
    pairs = Predictor(narrow.predictor.netlist, [fault, *(pair_of(fault, narrow.causes[n]) for n in others)])

    def stands(check_id: str) -> bool:
        check = narrow.checks_by_id.get(check_id)
        return check is not None and _same(narrow.predict(check), [0, *(n + 1 for n in others)], pairs.predict(check))

    return stands


def _same(alone: Prediction, rows: Sequence[int], with_fault: Prediction) -> bool:
    together = np.r_[1 : len(with_fault.low)]
    if alone.table is not None and with_fault.table is not None:
        return bool(np.abs(alone.table[rows] - with_fault.table[together]).max() < ALIKE)
    return np.allclose(alone.low[rows], with_fault.low[together], rtol=ALIKE) and np.allclose(
        alone.high[rows], with_fault.high[together], rtol=ALIKE
    )
