"""How a session ended, in words: what comes before all else, the result, the conclusion, and what would come next."""

from __future__ import annotations

from collections.abc import Iterable

from diagnose.finish_text import finish_line
from diagnose.model import Model
from diagnose.proving import Closing, ask_proof
from diagnose.report.entries import numbers_of
from diagnose.safety import DANGERS
from diagnose.session import AskCheck, ConfirmStep, Question, Session, Verdict
from diagnose.texts import load_texts, step_text
from diagnose.wording import check_title
from diagnose.wording.turns import turn_lines

MAY_BE, MOST_ALIKE = 0.05, 3  # faults of the part that was found, with one remedy, that are named: a judgement
ENDED = {
    "found": "Found",
    "group": "Narrowed down, not found",
    "unknown": "Not found",
    "stopped": "Stopped",
    "referred": "Referred to an electrician",
}


def alarms_of(session: Session, verdict: Verdict | None) -> Iterable[str]:
    """What comes before all else: how the panel was left, and a danger."""
    state = session.state
    closing = ask_proof(session)
    done = isinstance(closing, Closing) and closing.kind == "closed"
    if state.open and state.energised:
        yield "As it was left, the box is open and LIVE. First of all, take the supply off."
    elif state.open and not done:
        yield "As it was left, the box is open. Close it before the supply goes on again."
    if state.leads_off and not done:
        yield "Wires were taken off for a check. Put them back and pull each one before the box is closed."
    if state.rewired:
        yield "Wires have changed places for a check. Put them back: supply off, box open, proved dead."
    if verdict is not None and verdict.danger:
        yield f"Danger: {verdict.danger}." if verdict.danger != "danger" else "What was found is a danger in itself."
        if verdict.kind == "stopped":
            yield from load_texts().stop.lines
        else:
            yield "The supply stays off until a licensed electrician has looked at it."
    if isinstance(closing, Closing) and closing.kind == "failed":
        yield "A proof check failed: it does not go back to work. Supply off, and it stays off."


def result_of(session: Session, verdict: Verdict | None) -> str:
    """The end in a few words."""
    if verdict is None:
        return "Unfinished"
    if verdict.kind == "found" and verdict.causes:
        lead = verdict.causes[0]
        alike = [each.title for each in verdict.causes if each.part == lead.part and each.probability >= MAY_BE]
        two = " Two faults at once." if lead.also_part else ""
        return f"Found: {' - or '.join(alike[:MOST_ALIKE]) or lead.title}.{two}"
    if verdict.kind == "stopped" and verdict.danger:
        return f"Stopped for a danger: {verdict.danger}"
    return ENDED[verdict.kind]


def result_lines(session: Session, question: Question) -> Iterable[str]:
    """What stands beside the result: how sure it is, and what is next."""
    closing = ask_proof(session)
    if isinstance(question, Verdict):
        if against := against_of(session, question):
            yield against
        if question.remedy:
            yield f"What to do ({session.model.panel.label(question.part)}): {question.remedy}"
            yield "Before any work on it: supply off, and proved dead."
        if question.electrician:
            yield "This is work for a licensed electrician."
        if isinstance(closing, Closing):
            yield closing_words(closing)
        elif question.remedy and not session.repaired:
            yield "Not mended yet, as far as this log says. The panel stays off until it is mended and measured."
        elif question.remedy:
            yield "Mended, but not all measured and tried yet. The panel stays off until it is."
        return
    yield "No cause is proved. Do not replace anything on the strength of this."
    yield next_words(session, question)


def closing_words(closing: Closing) -> str:
    """How the work stands at its end."""
    match closing.kind:
        case "closed" if not closing.declined:
            return "Mended, every proof check passed, and it works again."
        case "closed":
            return "Mended, but not all of it was measured: what was declined is not known to be safe."
        case "failed":
            return "A proof check failed: it does not go back to work."
    return "It is not known to work again: it stays off."


def next_words(session: Session, question: Question) -> str:
    """What would come next in a session that is not at its end."""
    panel = session.model.panel
    if isinstance(question, ConfirmStep):
        title = step_text(panel, question.step, question.state.meter_failed).title
        return f"Next: {title}, then {check_title(panel, question.for_check)}."
    return f"Next: {check_title(panel, question.check)}." if isinstance(question, AskCheck) else ""


def conclusion_of(session: Session, question: Question) -> Iterable[str]:
    """What the answers point to, and how far that can be relied on."""
    if not isinstance(question, Verdict):
        yield "The session was not brought to its end. Likeliest so far, not proved:"
        return
    match question.kind:
        case "found":
            yield "What the answers point to:"
        case "group":
            yield "One of these. None is picked:"
        case "unknown":
            yield "Nothing known here explains the answers: no cause is named. Nearest, for who looks next:"
        case "referred":
            yield "What is left was handed to an electrician. Likeliest so far, not proved:"
        case "stopped":
            yield "It was stopped. Likeliest so far, not proved:"
    if question.reason and question.reason not in DANGERS and question.kind in ("group", "found"):
        yield f"Why it ended there: {question.reason}."
    yield from (line.strip() for line in turn_lines(session, question))
    against = against_of(session, question)
    if against:
        yield f"{against} Have it looked at again before anything is bought."
    if _heats(session.model) and not session.repaired and question.kind in ("found", "group"):
        named = {(share.part, share.fault) for share in question.causes}
        chosen = [cause for cause in session.model.causes if (cause.part, cause.fault) in named]
        yield finish_line(session.model.predictor.netlist, chosen)


def against_of(session: Session, verdict: Verdict) -> str:
    """The readings that the leading cause would not give, in a sentence; nothing where there is none."""
    numbers = numbers_of(session.answers)
    disagree = [str(numbers[told.check_id]) for told in verdict.evidence if not told.agrees]
    if not disagree or verdict.kind not in ("found", "group"):
        return ""
    return f"Readings that speak AGAINST the likeliest of them: {', '.join(disagree)}."


def _heats(model: Model) -> bool:
    return bool(model.subject) and model.panel.kind_of(model.subject or "").role == "heater"
