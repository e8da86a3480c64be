"""What comes after a verdict, as it is read aloud to somebody at the panel, or sent to them. Pure."""

from __future__ import annotations

from diagnose.proving import AskProof, AskRepair, AskWorks, Closing, ProofQuestion, ProofStep
from diagnose.safety import WANTS, PanelState
from diagnose.session import Session
from diagnose.texts import load_texts, proof_text, step_text
from diagnose.wording.actions import all_actions
from diagnose.wording.aloud import ASKS, STEP_ASKS, STEP_HEAR, Aloud, leave_alone, made_aloud
from diagnose.wording.cautions import proof_cautions, verdict_cautions
from diagnose.wording.values import range_text

ONLY_LIVE = "This needs the box open with the supply on. An electrician is as good a choice: say so."
OF_ANOTHER = "This is not for you: an electrician does it, or someone who may. Leave it alone."
_SAY_HOW = "Tell me how it came out: pass, or fail?"


def proof_aloud(session: Session, question: ProofQuestion, part: str) -> Aloud:
    """A question after the verdict on a part."""
    match question:
        case ProofStep():
            return _step(session, question, part)
        case AskProof():
            return _check(session, question, part)
        case AskRepair():
            return _repair(session, question)
        case AskWorks():
            return _works(session, question)
    return _closing(session, question)


def _step(session: Session, question: ProofStep, part: str) -> Aloud:
    panel, proof = session.model.panel, question.proof
    text = step_text(panel, question.step, question.state.meter_failed)
    live = [ONLY_LIVE] if proof.exposure == "live" else []
    is_open = _open(question.state, question.step)
    return made_aloud(
        panel, f"STEP: {text.title}", proof_cautions(panel, part, proof, session.model.complaint),
        all_actions([*live, *text.lines]), leave_alone(is_open, plugs=not is_open),
        STEP_ASKS[WANTS[question.step]], STEP_HEAR[WANTS[question.step]],
    )  # fmt: skip


def _open(state: PanelState, step: str) -> bool:
    return state.open or "open" in step


def _check(session: Session, question: AskProof, part: str) -> Aloud:
    panel, proof = session.model.panel, question.proof
    title, words = proof_text(panel, part, proof.name)
    reads = proof.reads if question.limits else ""
    lines = [OF_ANOTHER] if question.by_other else all_actions([words])
    hear = ["'pass' or 'fail': type it as it was said. Not done? Type skip, and the log says so."]
    if reads and question.limits:
        hear = [f"A number with its unit. It passes within {range_text(reads, *question.limits)}."]
    asks = [ASKS[reads]] if reads and not question.by_other else [_SAY_HOW]
    plugs = not proof.supply_on and proof.exposure == "outside"
    leave = leave_alone(proof.exposure != "outside", plugs=not plugs, live=proof.exposure == "live")
    cautions = proof_cautions(panel, part, proof, session.model.complaint)
    return made_aloud(panel, f"BEFORE IT IS USED AGAIN: {title}", cautions, lines, leave, asks, hear)


def _repair(session: Session, question: AskRepair) -> Aloud:
    panel = session.model.panel
    done = "Tell me: has a licensed electrician done it" if question.electrician else "Tell me: has it been done"
    lines = [
        f"What is to be done to {panel.label(question.part)}: {question.remedy}",
        "Leave the panel off until then.",
    ]
    return made_aloud(
        panel, "MENDED?", verdict_cautions(session.model, question.part), lines, [], [f"{done}, yes or no?"],
        ["'yes' or 'no': type it as it was said."],
    )  # fmt: skip


def _works(session: Session, question: AskWorks) -> Aloud:
    failed = ["A check failed.", "Take the supply off.", "Leave it off."] if question.failed else []
    lines = failed or ["Use the panel as usual."]
    lines += ["It came and went: watch it for longer than it used to take."] if question.came_and_went else []
    asks = "Tell me: do we search on, or leave it to an electrician?" if failed else "Tell me: is what was wrong gone?"
    hear = "'search on': type no. 'leave it': type leave." if failed else "'yes' or 'no'. Not known yet: type leave."
    cautions = verdict_cautions(session.model, question.part)
    return made_aloud(session.model.panel, "IS IT GONE?", cautions, lines, [], [asks], [hear])


def _closing(session: Session, closing: Closing) -> Aloud:
    titles = {name: proof.title for name, proof in load_texts().proofs.items()}
    lines = {
        "closed": "All of it that was measured is right." if closing.passed else "Nothing of it was measured.",
        "failed": "A check failed. Take the supply off and leave it off.",
        "open": "It is not mended. Leave the supply off.",
    }
    told = [lines[closing.kind]]
    if closing.declined:
        told.append(f"Not measured, so not known to be safe: {', '.join(titles[name] for name in closing.declined)}.")
    return made_aloud(session.model.panel, "THE END", verdict_cautions(session.model, ""), told, [], [], [])
