"""The line protocol: one JSON object a line each way, as knowledge/protocol.schema.json describes.

Numbers are SI (volts, ohms, amperes, watts; degrees Celsius). There is never a NaN or an Infinity: OL is
null with `over_range`.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import asdict
from math import isfinite, isinf, isnan
from typing import Any, BinaryIO, Final

import numpy as np

from diagnose import __version__
from diagnose.acting import SPARE
from diagnose.checks import Check
from diagnose.circuit.setup import Setup
from diagnose.errors import AnswerError
from diagnose.evidence import Evidence
from diagnose.finish_text import finish_data, left_by
from diagnose.knowledge.records import Complaint
from diagnose.log import Header
from diagnose.model import Model
from diagnose.opening import Recorded, competence_named
from diagnose.panel.records import Panel
from diagnose.protocol_proofs import proof_answer, proof_message
from diagnose.protocol_requests import Request, read_request, refuse
from diagnose.proving import AskProof, Closing, proofs_of
from diagnose.questions import Further
from diagnose.safety import WANTS, danger_said
from diagnose.session import AskCheck, ConfirmStep, Question, Session, Verdict, belief
from diagnose.texts import assumption_lines, load_texts, proof_text, step_text
from diagnose.wording import (
    WORTH_NAMING,
    cause_title,
    check_cautions,
    check_title,
    moved_lines,
    outcomes_of,
    regional_data,
    step_cautions,
    verdict_cautions,
)
from diagnose.wording.aloud import aloud, message_lines
from diagnose.wording.turns import turns_of

PROTOCOL: Final = 1
LONGEST_LINE = 64 * 1024
# The unit that a number without one is in: SI.
SI_UNITS: Mapping[str, str] = {
    "voltage_ac": "V", "voltage_dc": "V", "voltage_drop": "V", "resistance": "ohm", "insulation": "ohm",
    "current_ac": "A", "temperature": "C", "temperature_error": "K",
    "millivolts": "V", "heat_rate": "W", "boil_off": "W",
    "surface_temperature": "C",
}  # fmt: skip

Message = dict[str, Any]


# Out ------------------------------------------------------------------------------------------------------


def hello(header: Header, log: str, friend: bool = False) -> Message:
    """The first message: what the session is about."""
    return {
        "type": "hello", "protocol": PROTOCOL, "version": __version__, "panel": header.panel,
        "complaint": header.complaint, "part": header.subject or None, "competence": header.competence,
        "instruments": [name for name in header.instruments if not name.startswith(SPARE)],
        "log": log, "friend": friend,
        "assumed": assumption_lines(competence_named(header.competence)),
    }  # fmt: skip


def message_of(session: Session, question: Question, friend: bool = False) -> Message:
    """What comes next, as data, with the cautions that apply, in the words of the panel's region.

    With somebody else at the panel, also as lines to be read aloud or sent.
    """
    message = regional_data(session.model.panel, _message(session, question))
    if friend:
        message["aloud"] = message_lines(aloud(session, question, len(session.answers) + 1))
    return message


def _message(session: Session, question: Question) -> Message:
    model, panel = session.model, session.model.panel
    match question:
        case ConfirmStep():
            text = step_text(panel, question.step, question.state.meter_failed)
            lines = [*text.lines, *moved_lines(session, question)]
            cautions = step_cautions(panel, question.step, question.for_check, model.complaint)
            return {
                "type": "step", "id": question.step, "title": text.title, "lines": lines,
                "cautions": cautions,
                "wants": WANTS[question.step], "only_live": question.only_live,
            }  # fmt: skip
        case AskCheck():
            return check_message(panel, question, model.complaint)
        case Verdict():
            return verdict_message(session, question)


def check_message(panel: Panel, question: AskCheck, complaint: Complaint | None = None) -> Message:
    """A check: its setup, where the probes go, what the sound panel would show, its cautions and the complaint's."""
    check = question.check
    message: Message = {
        "type": "check", "id": check.id, "setup": setup_data(panel, check.setup_name, check.setup),
        "quantity": check.quantity, "part": check.part, "sign": check.sign or None,
        "question": question_text(panel, check), "from": check.tail or None, "to": check.head or None,
        "expected": expected(question), "exposure": check.exposure, "minutes": check.minutes,
        "instrument": check.instrument, "doubted": question.doubted.text if question.doubted else None,
        "cautions": check_cautions(panel, check, complaint), "only_live": question.only_live,
    }  # fmt: skip
    if question.doubt is not None:
        doubt = question.doubt
        message["doubt"] = {"why": doubt.why, "slips": list(doubt.slips), "likely": doubt.likely}
    if check.quantity == "sign":
        message["outcomes"] = list(question.outcomes)
    if check.around:
        message["around"] = [{"wire": wire, "towards": terminal} for wire, terminal in check.around]
    return message


def setup_data(panel: Panel, name: str, setup: Setup) -> Message:
    """A setup, with the position of every handle; what cuts the supply off is off while that is off."""
    data: Message = {"name": name, **setup.as_data()}
    if not setup.supply_on:
        cutting = {part: panel.parts[part].kind.rest for part in panel.supply.protection if part in data["positions"]}
        data["positions"] = {**data["positions"], **({} if panel.supply.unplugs else cutting)}
    return data


def question_text(panel: Panel, check: Check) -> str:
    """The check in a sentence."""
    if check.quantity == "sign":
        sign = panel.kind_of(check.part).signs[check.sign]
        return f"{sign.question} {sign.procedure}".replace("{label}", panel.label(check.part)).strip()
    return check_title(panel, check)


def expected(question: AskCheck) -> Message:
    """What the sound panel would show: an outcome, or a value with its interval."""
    table = question.prediction.table
    if table is not None:
        return {"outcome": question.outcomes[int(np.argmax(table[0]))]}
    value, low, high = question.sound
    data: Message = {"value": number(value), "low": number(low), "high": number(high)}
    data["unit"] = SI_UNITS[question.check.quantity]
    if isinf(value) or isinf(high):
        data["over_range"] = True
    return data


def number(value: float) -> float | None:
    """A value that JSON has, null for one that it has not."""
    return float(value) if isfinite(value) else None


def why_message(session: Session, question: Question) -> Message:
    """What a check tells apart."""
    if not isinstance(question, AskCheck):
        return {"type": "why", "id": getattr(question, "step", ""), "causes": [], "outcomes": []}
    model, now = session.model, belief(session)
    order = (-now[:-1]).argsort(kind="stable")
    causes = [_cause(model, int(n), float(now[n])) for n in order if now[n] >= WORTH_NAMING]
    outcomes = [
        {
            "outcome": outcome.text, "probability": outcome.share, "sound": outcome.sound,
            "leaves": [_cause(model, n, share) for n, share in outcome.causes if share >= WORTH_NAMING],
        }
        for outcome in outcomes_of(model, question, now)
    ]  # fmt: skip
    message = {"type": "why", "id": question.check.id, "causes": causes, "outcomes": outcomes}
    return regional_data(model.panel, message)


def _cause(model: Model, index: int, probability: float) -> Message:
    cause = model.causes[index]
    return {
        "part": cause.part, "fault": cause.fault, "level": cause.level, "probability": probability,
        "title": cause_title(model, index),
    }  # fmt: skip


def verdict_message(session: Session, verdict: Verdict) -> Message:
    """How the session ended."""
    model = session.model
    causes = [
        {"part": c.part, "fault": c.fault, "level": c.level, "probability": c.probability, "title": c.title}
        for c in verdict.causes
    ]
    proofs = [(proof, *proof_text(model.panel, verdict.part, proof)) for proof in proofs_of(session, verdict)]
    message: Message = {
        "type": "verdict", "kind": verdict.kind, "reason": verdict.reason, "part": verdict.part or None,
        "causes": causes, "remedy": verdict.remedy,
        "proof": [{"id": proof, "title": title, "text": text} for proof, title, text in proofs],
        "electrician": verdict.electrician,
        "evidence": [_evidence(model, told) for told in verdict.evidence],
        "cautions": verdict_cautions(model, verdict.part),
    }  # fmt: skip
    message["danger"] = verdict.danger or None
    left = None if verdict.danger else left_by(model, verdict)
    if left is not None:
        message["finish"] = finish_data(model.predictor.netlist, left)
    if verdict.further:
        message["further"] = [_further(model, each) for each in verdict.further]
    if turns := turns_of(session, verdict):
        message["in_turn"] = [asdict(turn) for turn in turns]
    if verdict.conflict is not None:
        conflict = verdict.conflict
        message["conflict"] = {
            "ids": list(conflict.check_ids), "odd": conflict.odd or None, "without": conflict.without,
            "together": list(conflict.together),
        }  # fmt: skip
    if verdict.danger:
        message["lines"] = list(load_texts().stop.lines)
    return message


def _further(model: Model, each: Further) -> Message:
    proofs = [(proof, *proof_text(model.panel, each.part, proof)) for proof in each.proof]
    return {
        "part": each.part, "why": each.why, "remedy": each.remedy, "at_fault": each.sure,
        "proof": [{"id": proof, "title": title, "text": text} for proof, title, text in proofs],
    }  # fmt: skip


def _evidence(model: Model, told: Evidence) -> Message:
    quantity = model.checks_by_id[told.check_id].quantity

    def shows(outcome: str, low: float, high: float) -> Message:
        if outcome:
            return {"outcome": outcome}
        data: Message = {"low": number(low), "high": number(high), "unit": SI_UNITS[quantity]}
        return {**data, "over_range": True} if isinf(high) else data

    return {
        "id": told.check_id, "text": told.text, "agrees": told.agrees, "as_sound": told.sound,
        "rules_out": told.rules_out,
        "expected": shows(told.expected_outcome, told.expected_low, told.expected_high),
        "sound": shows(told.sound_outcome, told.sound_low, told.sound_high),
    }  # fmt: skip


def error_message(error: AnswerError) -> Message:
    """What was wrong with a request, and what was expected."""
    problem = error.problems[0]
    return {"type": "error", "message": problem.message, "expected": problem.expected}


def encoded(message: Message) -> bytes:
    """A message as its line. Raises ValueError for a number that JSON has not."""
    return json.dumps(message, ensure_ascii=False, allow_nan=False).encode("utf-8", "replace") + b"\n"


# Between --------------------------------------------------------------------------------------------------


def apply_request(recorded: Recorded, request: Request) -> Message | None:
    """Do what was asked; the message that answers it, if it is not simply the next question.

    Raises
    ------
    AnswerError
        Where it doesn't fit what was asked.
    FileError
        Where the log can't be written.
    """
    question = recorded.question
    if request.what == "why":
        return why_message(recorded.session, question)
    if request.what == "answer":
        _answer(recorded, question, request.text)
    else:
        recorded.do(request.what, str(request.text))
    return None


def _answer(recorded: Recorded, question: Question, value: str | float) -> None:
    if isinstance(question, ConfirmStep):
        recorded.do("confirm", _confirming(question, value))
        return
    assert isinstance(question, AskCheck)
    if isinstance(value, float):
        value = _as_typed(question, value)
    recorded.do("answer", value)


def _confirming(question: ConfirmStep, value: str | float) -> str:
    if isinstance(value, str) and danger_said(value):
        return value
    match WANTS[question.step]:
        case "volts":
            return f"{value!r} V" if isinstance(value, float) else value
        case "shows" if value in ("yes", "no"):
            return str(value)
        case "shows":
            refuse(f"'{str(value)[:40]}' does not say whether the meter shows it", '{"answer": "yes"}, or "no"')
    if value != "done":
        refuse(f"'{str(value)[:40]}' does not confirm a step", '{"answer": "done"}')
    return ""


def _as_typed(question: AskCheck, value: float) -> str:
    quantity = question.check.quantity
    if quantity == "sign":
        refuse("a number is no outcome", f"one of {', '.join(question.outcomes)}")
    if isinf(value) or isnan(value):
        refuse("the number is too large", "a number in SI, or OL as text")
    return f"{value!r} {SI_UNITS[quantity]}"


def serve(
    recorded: Recorded, first: Message, source: BinaryIO, write: Callable[[bytes], None], friend: bool = False
) -> bool:
    """Talk until the verdict, and on until what it asks to be mended was proved, or left.

    True when the verdict was reached, False where the input ended before.
    """
    write(encoded(first))

    def now(going: Recorded) -> Message:
        return message_of(going.session, going.question, friend)

    while True:
        write(encoded(now(recorded)))
        while not isinstance(recorded.question, Verdict):
            if not _one_request(recorded, source, write, apply_request, now):
                return False
        mended = recorded.session.model.mended
        _prove(recorded, recorded.question.part, source, write, now, friend)
        if recorded.session.model.mended == mended:
            return True


def _prove(
    recorded: Recorded,
    part: str,
    source: BinaryIO,
    write: Callable[[bytes], None],
    now: Callable[[Recorded], Message],
    friend: bool,
) -> None:
    """Talk on after the verdict, until it is closed, the input ends, or the search goes on with that part sound."""
    mended = recorded.session.model.mended

    def proof_now(going: Recorded) -> Message | None:
        if going.session.model.mended != mended:
            return None  # the search goes on: what it asks is said there
        proof = going.proof
        return proof_message(going, proof, part, friend) if proof is not None else now(going)

    if recorded.proof is not None:
        write(encoded(proof_message(recorded, recorded.proof, part, friend)))
    while recorded.proof is not None and not isinstance(recorded.proof, Closing):
        if not _one_request(recorded, source, write, apply_proof_request, proof_now):
            return
        if recorded.session.model.mended != mended:
            return


def _one_request(
    recorded: Recorded,
    source: BinaryIO,
    write: Callable[[bytes], None],
    take: Callable[[Recorded, Request], Message | None],
    now: Callable[[Recorded], Message | None],
) -> bool:
    """Read a request, do it and say what comes next; False at the end of the input."""
    line = _next_line(source)
    if line is None:
        return False
    try:
        if len(line) > LONGEST_LINE:
            refuse(f"the line is longer than {LONGEST_LINE} bytes", "a shorter line")
        reply = take(recorded, read_request(line))
    except AnswerError as error:
        write(encoded(error_message(error)))
        reply = None
    following = reply if reply is not None else now(recorded)
    if following is not None:
        write(encoded(following))
    return True


def apply_proof_request(recorded: Recorded, request: Request) -> Message | None:
    """Do what was asked after the verdict. Raises as `apply_request`."""
    question = recorded.proof
    if request.what == "why" or question is None:
        refuse("there is no check to explain", "an answer to what is asked")
    if request.what == "answer":
        units = SI_UNITS.get(question.proof.reads, "") if isinstance(question, AskProof) else ""
        proof_answer(recorded, question, request.text, units)
    else:
        recorded.do(request.what, str(request.text))
    return None


def _next_line(source: BinaryIO) -> bytes | None:
    """The next line that isn't empty, cut off where it is far too long; None at the end."""
    while line := source.readline(LONGEST_LINE + 1):
        rest = line
        while len(rest) > LONGEST_LINE and not rest.endswith(b"\n"):
            rest = source.readline(LONGEST_LINE + 1)
        if line.strip():
            return line
    return None
