"""One small panel, one complaint, one hidden fault: what the tests of the front ends share."""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence
from functools import lru_cache

from diagnose.causes import causes_of
from diagnose.log import Event
from diagnose.model import Model
from diagnose.opening import Recorded, open_model
from diagnose.proving import AskProof, AskRepair, AskWorks, ProofQuestion, ProofStep
from diagnose.safety import WANTS, Competence, StepName
from diagnose.session import AskCheck, ConfirmStep, Question, start
from diagnose.study.simulated import SimulatedPanel

PANEL, COMPLAINT, PART = "shed_single_kettle", "element_cold", "element"
HIDDEN = "element:open"
COMMAND = [sys.executable, "-m", "diagnose"]
START = ["start", "--panel", PANEL, "--complaint", COMPLAINT]
ENVIRONMENT = {**os.environ, "TERM": "xterm", "PYTHONIOENCODING": "utf-8"}


@lru_cache(maxsize=1)
def shared_model() -> Model:
    """The model that takes a while to make, made once."""
    return open_model(PANEL, COMPLAINT, PART)


@lru_cache(maxsize=4)
def simulated(hidden: str = HIDDEN) -> SimulatedPanel:
    """The panel with a fault hidden in it."""
    model = shared_model()
    cause = next(cause for cause in causes_of(model.panel) if cause.key == hidden)
    return SimulatedPanel(model.predictor.netlist, cause)


def reply(question: Question, hidden: str = HIDDEN) -> str:
    """What a person in front of that panel would type."""
    if isinstance(question, ConfirmStep):
        match WANTS[question.step]:
            case "shows":
                return "yes"
            case "volts":
                return simulated(hidden).confirmed(question.step)
        return "done"
    assert isinstance(question, AskCheck)
    return simulated(hidden).answer(question.check)


def typed_to_step(step: StepName) -> str:
    """What is typed to a step on a panel that is dead."""
    return {"done": "done", "shows": "yes", "volts": "0.0 V"}[WANTS[step]]


def recorded(
    competence: Competence = "isolated", instruments: Sequence[str] = ("multimeter",)
) -> tuple[Recorded, list[Event]]:
    """A session kept in a list."""
    kept: list[Event] = []
    return Recorded(start(shared_model(), competence, frozenset(instruments)), kept.append), kept


def step_on(going: Recorded) -> None:
    """Answer or confirm what is asked, as that person would."""
    question = going.question
    going.do("answer" if isinstance(question, AskCheck) else "confirm", reply(question))


def proof_reply(question: ProofQuestion | None) -> tuple[str, str]:
    """What is done after the verdict where the repair is whole, and what is typed for it."""
    match question:
        case AskRepair():
            return "repaired", "yes"
        case ProofStep():
            return "confirm", {"done": "done", "shows": "yes", "volts": "0.0 V"}[WANTS[question.step]]
        case AskProof() if question.limits:
            low, high = question.limits
            unit = {"resistance": "ohm", "insulation": "ohm", "temperature": "C"}[question.proof.reads]
            return "proof", "OL" if high == float("inf") else f"{(low + high) / 2} {unit}"
        case AskWorks():
            return "works", "yes"
    return "proof", "pass"
