"""From a log that was played again to the report as a document: what stands where, in which words."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import fields, is_dataclass, replace
from typing import Any, TypeVar

from diagnose.acting import SPARE
from diagnose.report.conclusion import alarms_of, conclusion_of, result_lines, result_of
from diagnose.report.course import cause_lines, course_of
from diagnose.report.entries import entries_of
from diagnose.report.figures import figure_notes, figures_of, path_of
from diagnose.report.marking import marks_of
from diagnose.report.mending import (
    cautions_of,
    proof_lines,
    proof_note,
    purchase_note,
    purchases_of,
    sign_off,
    work_notes,
    work_of,
)
from diagnose.report.records import Report
from diagnose.report.trace import Trace
from diagnose.session import Verdict, ask, belief, shares
from diagnose.wording import COMPETENCE_WORDS, INSTRUMENT_WORDS, capital, clean, speaker

SAFETY = "Computed from the panel's file, no inspection. Where a licensed electrician says otherwise, they are right."
# Names, paths and drawings: what is never put into other words. What was typed stays as it was typed.
KEPT = frozenset({"svg", "found", "kind", "outcome", "letter"})
KEPT_FACTS = frozenset({"Log", "Begun", "Panel"})

Record = TypeVar("Record")


def report_of(of: Trace, log: str, written: str) -> Report:
    """The report of a session; `written` is when, `log` the name of its log."""
    session = of.end
    model, question = session.model, ask(session)
    verdict = question if isinstance(question, Verdict) else None
    causes = verdict.causes if verdict is not None else shares(model, belief(session))
    marks = marks_of(session, verdict, causes)
    course = course_of(of)
    entries = entries_of(of)
    proofs = proof_lines(session, verdict)
    report = Report(
        title=f"{capital(model.complaint.title)}: {model.panel.title}",
        facts=tuple(facts_of(of, log, written)),
        alarms=tuple(alarms_of(session, verdict)),
        result=result_of(session, verdict),
        result_lines=tuple(result_lines(session, question)),
        entries=entries,
        conclusion=tuple(conclusion_of(session, question)),
        causes=cause_lines(session, course),
        course=course,
        figures=tuple(figures_of(session, marks.places(), marks)),
        path=tuple(path_of(session, marks)),
        figure_notes=tuple(figure_notes(marks)),
        work=tuple(work_of(model, verdict)),
        work_notes=tuple(work_notes(session, verdict)),
        purchases=purchases_of(model, verdict, causes),
        purchase_note=purchase_note(model, verdict),
        proofs=proofs,
        proof_note=proof_note(session, verdict, proofs),
        cautions=tuple(cautions_of(of, verdict)),
        sign_off=tuple(sign_off(verdict)),
        foot=SAFETY,
    )
    return said(report, speaker(model.panel))


def said(record: Record, say: Callable[[str], str], name: str = "") -> Record:
    """A record with all its texts cleaned and in the words of the panel's region; what is in `KEPT` is only cleaned."""
    if isinstance(record, str):
        if name == "svg":
            return record
        text = clean(record)
        return text if name in KEPT else say(text)  # type: ignore[return-value]
    if isinstance(record, tuple):
        if name == "facts":
            pairs: tuple[tuple[str, str], ...] = record
            return tuple((key, clean(text) if key in KEPT_FACTS else say(clean(text)))  # type: ignore[return-value]
                         for key, text in pairs)  # fmt: skip
        return tuple(said(each, say, name) for each in record)  # type: ignore[return-value]
    if is_dataclass(record) and not isinstance(record, type):
        changed: dict[str, Any] = {
            each.name: said(getattr(record, each.name), say, each.name) for each in fields(record)
        }
        return replace(record, **changed)
    return record


def facts_of(of: Trace, log: str, written: str) -> Iterable[tuple[str, str]]:
    """What the session was: panel, complaint, when, who could do what, with what."""
    model, header = of.end.model, of.header
    yield "Panel", model.panel.title
    about = f", about {model.panel.label(model.subject)}" if model.subject else ""
    yield "Complaint", f"{model.complaint.title}{about}"
    if header.begun:
        yield "Begun", header.begun.partition(".")[0].replace("T", " ")
    yield "Competence", COMPETENCE_WORDS[of.begun.competence]
    tools = [INSTRUMENT_WORDS.get(name, name.replace(SPARE, "a spare ")) for name in header.instruments]
    yield "At hand", ", ".join(tools) or "no meter"
    if header.factors:
        yield "Failure rates", "shifted by faults confirmed before"
    if of.at_its_word:
        yield (
            "Note",
            "written by another version of the program: the answers stand, their meaning is reckoned anew",
        )
    yield "Log", log
    yield "Written", written
