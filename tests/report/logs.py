"""Logs as sessions write them: of a simulated panel with a hidden fault, with what comes after the verdict."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import lru_cache
from pathlib import Path

from diagnose.causes import Cause, causes_of
from diagnose.checks import Check
from diagnose.choose import Choice
from diagnose.log import Header, LogFile
from diagnose.model import Model
from diagnose.opening import Recorded, open_model
from diagnose.proving import AskProof, AskRepair, AskWorks, Closing, ProofStep
from diagnose.safety import facts_taken
from diagnose.session import AskCheck, ConfirmStep, start
from diagnose.study.simulated import SimulatedPanel

READS = {"element_ohms": "10.6 ohm", "element_insulation": "45 Mohm", "insulation": "45 Mohm",
         "earth_continuity": "0.2 ohm", "probe_ice": "0.1 C"}  # fmt: skip
INSTRUMENTS = ("multimeter", "insulation_tester")


@lru_cache(maxsize=16)
def model_of(panel: str, complaint: str, part: str) -> Model:
    """A model, made once for all tests."""
    return open_model(panel, complaint, part or None)


def cause_of(panel: str, complaint: str, part: str, key: str) -> Cause:
    """A cause by its key, or by the beginning of it."""
    causes = causes_of(model_of(panel, complaint, part).panel)
    return next(cause for cause in causes if cause.key.startswith(key))


def begun(
    path: Path, panel: str, complaint: str, part: str = "", competence: str = "isolated",
    instruments: tuple[str, ...] = INSTRUMENTS, when: str = "2026-03-14T19:20:00.000000",
) -> Recorded:  # fmt: skip
    """A session with its log, at its beginning."""
    header = Header(panel, complaint, part, competence, instruments, when, interview=facts_taken(competence))
    kept = LogFile(path)
    kept.begin(header)
    session = start(model_of(panel, complaint, part), competence, frozenset(instruments))
    return Recorded(session, kept.add)


def answered(recorded: Recorded, simulated: SimulatedPanel, most: int = 99, typed: Mapping[str, str] = {}) -> None:
    """Answer from a simulated panel until the verdict, or so many checks; `typed` answers some checks otherwise."""
    count = 0
    while count < most:
        question = recorded.question
        if isinstance(question, ConfirmStep):
            recorded.do("confirm", simulated.confirmed(question.step))
        elif isinstance(question, AskCheck):
            text = typed.get(question.check.id, simulated.answer(question.check))
            recorded.do("answer", text)
            count += 1
        else:
            return


def proved(
    recorded: Recorded,
    declined: tuple[str, ...] = (),
    failed: tuple[str, ...] = (),
    mended: str = "yes",
    works: str = "yes",
) -> None:
    """After the verdict: mended, every proof check passed but for those that are declined or fail, and it works."""
    while (question := recorded.proof) is not None and not isinstance(question, Closing):
        if isinstance(question, AskRepair):
            recorded.do("repaired", mended)
        elif isinstance(question, ProofStep):
            recorded.do("confirm", "0 V" if question.step == "prove_dead" else "done")
        elif isinstance(question, AskProof) and question.proof.name in declined:
            recorded.do("skip")
        elif isinstance(question, AskProof):
            reads = READS.get(question.proof.name, "pass") if question.limits and question.proof.reads else "pass"
            if question.limits and question.proof.name == "element_ohms":
                reads = f"{sum(question.limits) / 2:.3g} ohm"
            recorded.prove("fail" if question.proof.name in failed else reads)
        elif isinstance(question, AskWorks):
            recorded.do("works", "leave" if question.failed else works)
        else:
            raise AssertionError(f"nothing is known of {question}")


def whole(path: Path, panel: str, complaint: str, part: str, key: str, **more: object) -> Path:
    """A session from the first question to the last proof check, in a log."""
    declined = more.pop("declined", ())
    recorded = begun(path, panel, complaint, part, **more)  # type: ignore[arg-type]
    netlist = recorded.session.model.predictor.netlist
    answered(recorded, SimulatedPanel(netlist, cause_of(panel, complaint, part, key), supply=0.99, jitter=0.3))
    proved(recorded, declined)  # type: ignore[arg-type]
    return path


def only(path: Path, panel: str, complaint: str, part: str, answers: Mapping[str, str], when: str) -> Path:
    """A session that asks just these checks and is left then, at a time."""
    recorded = begun(path, panel, complaint, part, when=when)
    wanted = dict(answers)

    def choose(model: Model, now: object, checks: Sequence[Check], *rest: object) -> Choice | None:
        return next((Choice(check, 0.0, 0.0) for check in checks if check.id in wanted), None)

    recorded.session = replace(recorded.session, chooser=choose)
    recorded._question = None
    while wanted:
        question = recorded.question
        if isinstance(question, ConfirmStep):
            recorded.do("confirm", "0 V" if question.step == "prove_dead" else "done")
        elif isinstance(question, AskCheck):
            recorded.do("answer", wanted[question.check.id])
            if recorded.session.doubted is None:
                wanted.pop(question.check.id)
        else:
            raise AssertionError(f"these were never asked: {sorted(wanted)}")
    return path
