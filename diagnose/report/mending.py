"""What follows from a verdict: what to do, what to buy, what to measure, which cautions apply, who signs."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from diagnose.knowledge.records import Fault
from diagnose.loading import study
from diagnose.model import Model
from diagnose.proving import Closing, ask_proof, proofs_of
from diagnose.report.buying import all_of, replaces
from diagnose.report.conclusion import closing_words
from diagnose.report.marking import found_parts
from diagnose.report.records import ProofLine, Purchase, Work
from diagnose.report.trace import Trace
from diagnose.session import CauseShare, Session, Verdict
from diagnose.texts import load_texts, proof_text
from diagnose.wording import capital, caution_words
from diagnose.wording.cautions import caution_names, names_for_check, proof_names

WORTH_BUYING = 0.05  # a share of the belief from which a part's ratings are listed: a judgement
MOST_PARTS = 6


def work_of(model: Model, verdict: Verdict | None) -> Iterable[Work]:
    """The remedy, and what is seen to after it."""
    if verdict is None or not verdict.remedy:
        return
    yield Work(capital(model.panel.label(verdict.part)), verdict.remedy)
    for more in verdict.further:
        text = more.remedy or "Check it too before the panel goes back to work."
        told = (proof_text(model.panel, more.part, name) for name in more.proof)
        yield Work(
            capital(model.panel.label(more.part)), text, more.why, tuple(f"{each[0]}: {each[1]}" for each in told)
        )


def work_notes(session: Session, verdict: Verdict | None) -> Iterable[str]:
    """By whom, and in which state of the panel."""
    if verdict is None:
        yield "Nothing yet: no cause is proved."
    elif verdict.kind == "unknown":
        yield "Leave the panel off and show this and the log to a licensed electrician."
    elif verdict.kind in ("stopped", "referred"):
        yield (
            "Leave the panel off and show this to a licensed electrician."
            if (verdict.danger or verdict.kind == "referred")
            else "Nothing yet: no cause is proved."
        )
    elif not verdict.remedy:
        yield "Nothing is named: each of these is less likely than not. Have a licensed electrician tell them apart."
    else:
        yield "Before any work on it: supply off, and proved dead."
        if verdict.kind == "group":
            yield "This is for the likeliest of them. It may be one of the others."
        if verdict.electrician:
            yield "This is work for a licensed electrician."
        elif session.competence == "outside":
            yield "It was said that the box stays shut: have it done by someone who may open it."


def purchases_of(model: Model, verdict: Verdict | None, causes: Sequence[CauseShare]) -> tuple[Purchase, ...]:
    """Parts with their ratings: of what was found, or of each that it may be."""
    if verdict is None or verdict.kind not in ("found", "group"):
        return ()
    shown = [cause for cause in causes if cause.probability >= WORTH_BUYING]
    if verdict.kind == "found" and verdict.part:
        shown = [cause for cause in shown if cause.part in found_parts(verdict)][:1]
    wanted: list[tuple[str, str]] = []
    for cause in shown[:MOST_PARTS]:
        for part, name in ((cause.part, cause.fault), (cause.also_part, cause.also_fault)):
            fault = _fault(model, part, name) if part else None
            if fault is not None and not fault.usable and (verdict.kind == "group" or replaces(fault.remedy)):
                wanted.append((part, fault.remedy.text))
    return all_of(study(model.panel), wanted)


def _fault(model: Model, part: str, name: str) -> Fault | None:
    """What is known of a fault; None for what is built so, where nothing is broken and nothing is bought."""
    return model.panel.kind_of(part).faults.get(name)


def purchase_note(model: Model, verdict: Verdict | None) -> str:
    """What the list of parts stands for."""
    if verdict is None or verdict.kind not in ("found", "group") or not verdict.causes:
        return "Nothing: no cause is proved."
    if verdict.kind == "group":
        return "Buy nothing before it is known which of them it is. Then, for this panel:"
    if model.panel.at_the_service(verdict.part):
        return "Nothing: it is in the building's supply, and the electrician brings what is needed."
    lead = verdict.causes[0]
    fault = _fault(model, lead.part, lead.fault)
    if fault is None or not replaces(fault.remedy) or fault.usable:
        return "Nothing has to be bought for this remedy."
    return "Worked out for this panel from its file. Where the part's own label says otherwise, ask before buying."


def proof_lines(session: Session, verdict: Verdict | None) -> tuple[ProofLine, ...]:
    """Every proof check after the remedy, with how it came out so far."""
    if verdict is None:
        return ()
    given = {proved.proof: proved for proved in session.proved}
    lines = []
    for name in proofs_of(session, verdict):
        title, text = proof_text(session.model.panel, verdict.part, name)
        proved = given.get(name)
        typed = proved.text if proved is not None and load_texts().proofs[name].reads else ""
        lines.append(ProofLine(title, text, "not yet" if proved is None else proved.outcome, typed))
    return tuple(lines)


def proof_note(session: Session, verdict: Verdict | None, lines: Sequence[ProofLine]) -> str:
    """How the proof checks stand as a whole."""
    if lines and session.stopped:
        return "It is not closed. Who puts it right measures these, in this order, before it is used again."
    if verdict is None or not verdict.remedy:
        return "None yet: they follow from what is mended."
    closing = ask_proof(session)
    if isinstance(closing, Closing):
        return closing_words(closing)
    return "To be measured before the panel goes back to work, in this order." if lines else ""


def cautions_of(of: Trace, verdict: Verdict | None) -> list[str]:
    """The cautions that apply to what was done and to what is to be done, the weightiest first, each once."""
    model = of.end.model
    asked = [model.checks_by_id[given.check_id] for given in of.end.answers if not given.skipped]
    names = list(caution_names(model.panel, {check.work for check in asked}, complaint=model.complaint))
    for check in asked:
        names += names_for_check(model.panel, check)
    if verdict is not None and verdict.part:
        names += caution_names(model.panel, ["isolated"], [verdict.part])
    if verdict is not None:
        for name in proofs_of(of.end, verdict):
            names += proof_names(model.panel, verdict.part, load_texts().proofs[name])
    return caution_words(model.panel, dict.fromkeys(names))


def sign_off(verdict: Verdict | None) -> Iterable[str]:
    """The lines to be signed."""
    yield "Checks and readings by"
    if verdict is not None and verdict.remedy:
        yield ("Mended by (a licensed electrician, with the licence's number)" if verdict.electrician else "Mended by")
        yield "Proof checks by"
        yield "Back to work, allowed by"
    else:
        yield "Handed over to"
