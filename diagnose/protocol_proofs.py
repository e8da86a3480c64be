"""The line protocol after the verdict: whether it was mended, proof checks, and how it was closed, as data."""

from __future__ import annotations

from math import isfinite
from typing import Any

from diagnose.errors import AnswerError, Problem
from diagnose.opening import Recorded
from diagnose.panel.records import Panel
from diagnose.proving import AskProof, AskRepair, AskWorks, ProofQuestion, ProofStep
from diagnose.safety import WANTS
from diagnose.texts import proof_text, step_text
from diagnose.wording import proof_cautions, regional_data, verdict_cautions
from diagnose.wording.aloud import message_lines
from diagnose.wording.aloud_proofs import proof_aloud

Message = dict[str, Any]


def proof_message(recorded: Recorded, question: ProofQuestion, part: str, friend: bool = False) -> Message:
    """What comes next after the verdict, as data, in the words of the panel's region, with the cautions that apply.

    With somebody else at the panel, also as lines to be read aloud or sent.
    """
    model = recorded.session.model
    cautions = verdict_cautions(model, part)
    if isinstance(question, ProofStep | AskProof):
        cautions = proof_cautions(model.panel, part, question.proof, model.complaint)
    message = regional_data(model.panel, {**_message(model.panel, question, part), "cautions": cautions})
    if friend:
        message["aloud"] = message_lines(proof_aloud(recorded.session, question, part))
    return message


def _message(panel: Panel, question: ProofQuestion, part: str) -> Message:
    match question:
        case AskRepair():
            return {
                "type": "repair", "part": question.part, "remedy": question.remedy,
                "electrician": question.electrician,
            }  # fmt: skip
        case ProofStep():
            text = step_text(panel, question.step, question.state.meter_failed)
            return {
                "type": "step", "id": question.step, "title": text.title, "lines": list(text.lines),
                "wants": WANTS[question.step], "only_live": question.proof.exposure == "live",
            }  # fmt: skip
        case AskProof():
            title, words = proof_text(panel, part, question.proof.name)
            reads = question.proof.reads if question.limits else ""
            message: Message = {
                "type": "proof", "id": question.proof.name, "title": title, "text": words,
                "exposure": question.proof.exposure, "by_other": question.by_other, "reads": reads or None,
            }  # fmt: skip
            if question.limits:
                low, high = question.limits
                message["expected"] = {"low": low, "high": high if isfinite(high) else None}
            return message
        case AskWorks():
            return {"type": "works", "part": question.part, "failed": list(question.failed)}
    return {
        "type": "closed", "kind": question.kind, "passed": list(question.passed), "failed": list(question.failed),
        "declined": list(question.declined),
    }  # fmt: skip


def proof_answer(recorded: Recorded, question: ProofQuestion, value: str | float, units: str) -> None:
    """Take an answer after the verdict. Raises AnswerError where it doesn't fit what was asked."""
    if isinstance(question, ProofStep):
        if WANTS[question.step] == "volts":
            value = f"{value!r} V" if isinstance(value, float) else value
        elif isinstance(value, float):
            raise AnswerError(Problem("a number does not confirm a step", "done, yes or no, as its 'wants' says"))
        recorded.do("confirm", value)
    elif isinstance(question, AskProof):
        recorded.prove(f"{value!r} {units}" if isinstance(value, float) else value)
    elif isinstance(value, float):
        asked = "works again" if isinstance(question, AskWorks) else "was mended"
        raise AnswerError(Problem(f"a number does not say whether it {asked}", "yes or no"))
    elif isinstance(question, AskWorks):
        recorded.do("works", value)
    else:
        recorded.do("repaired", value)
