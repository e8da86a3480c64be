"""Readings of the same check over several sessions, and whether what they are of is falling."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from math import inf

from diagnose.checks import Check
from diagnose.errors import AnswerError
from diagnose.evidence import evidence_of
from diagnose.log import Header
from diagnose.meter import reader_of
from diagnose.model import Model
from diagnose.panel.records import Panel
from diagnose.readings import parse_reading
from diagnose.report.buying import replaces
from diagnose.report.trace import Trace
from diagnose.report.trend import Point, Trend, trend_of
from diagnose.session import Session, Verdict, ask, belief
from diagnose.texts import load_texts, proof_limits
from diagnose.wording import check_title, should_be

INSULATED = ("insulation", "resistance")
INSULATION_PROOFS = ("element_insulation", "insulation")


@dataclass(frozen=True, slots=True)
class Reading:
    """One reading of a check: when, as it was typed, in SI (None for a sign, inf for OL), and whether it was sound."""

    begun: datetime | None
    text: str
    value: float | None
    as_expected: bool


@dataclass(frozen=True, slots=True)
class Over:
    """Readings of the same check on the same piece, over several sessions; `trend` where it is of insulation."""

    title: str
    part: str
    quantity: str
    expected: str
    readings: tuple[Reading, ...]
    insulation: bool
    trend: Trend | None


def when(header: Header) -> datetime | None:
    """When a session began; None where its log doesn't say."""
    try:
        return datetime.fromisoformat(header.begun)
    except ValueError:
        return None


@dataclass(slots=True)
class _Series:
    title: str
    part: str
    quantity: str
    expected: str
    insulation: bool
    readings: list[Reading]


def over_time(played: Sequence[Trace]) -> Iterator[Over]:
    """Checks with a reading in two sessions or more. A part that was replaced begins anew."""
    found: dict[tuple[str, int], _Series] = {}
    replaced: dict[str, int] = {}
    for of in played:
        begun = when(of.header)
        for check, reading in _readings(of.end, begun):
            key = (check.id, replaced.get(check.part, 0))
            if key not in found:
                found[key] = _series(of.end, check)
            found[key].readings.append(reading)
        part = _replaced(of.end)
        if part:
            replaced[part] = replaced.get(part, 0) + 1
        for name, title, reading in _proof_readings(of.end, begun):
            verdict = ask(of.end)
            assert isinstance(verdict, Verdict)
            key = (f"proof:{name}:{verdict.part}", replaced.get(verdict.part, 0))
            quantity = load_texts().proofs[name].reads
            if key not in found:
                found[key] = _Series(title, verdict.part, quantity, "", name in INSULATION_PROOFS, [])
            found[key].readings.append(reading)
    for series in found.values():
        if len(series.readings) > 1:
            trend = _trend(series) if series.insulation else None
            yield Over(
                series.title, series.part, series.quantity, series.expected, tuple(series.readings), series.insulation,
                trend,
            )  # fmt: skip


def _readings(session: Session, begun: datetime | None) -> Iterator[tuple[Check, Reading]]:
    model = session.model
    sound = {told.check_id: told.sound for told in evidence_of(model, session.answers, belief(session))}
    for given in session.answers:
        if not given.skipped:
            check = model.checks_by_id[given.check_id]
            text = given.text
            if given.outcome is not None:
                text = model.panel.kind_of(check.part).signs[check.sign].outcomes[given.outcome]
            yield check, Reading(begun, text, given.value, sound.get(given.check_id, False))


def _series(session: Session, check: Check) -> _Series:
    model = session.model
    told = evidence_of(model, [given for given in session.answers if given.check_id == check.id], belief(session))
    expected = should_be(check, told[0]) if told else ""
    return _Series(
        check_title(model.panel, check), check.part, check.quantity, expected, of_insulation(model, check), []
    )


def of_insulation(model: Model, check: Check) -> bool:
    """Whether a reading is of what keeps a conductor from earth: from one that carries current to an earth terminal."""
    if check.quantity not in INSULATED or not check.tail:
        return False
    paths = {_path_of(model.panel, end) for end in (check.tail, check.head)}
    return "earth" in paths and len(paths) == 2


def _path_of(panel: Panel, end: str) -> str:
    part, _, name = end.partition(".")
    kind = panel.kind_of(part)
    return "earth" if kind.role == "earth" else kind.terminals[name].path


def _replaced(session: Session) -> str:
    """The part that a session's remedy replaced; nothing where it was only cleaned, set or tightened, or not done."""
    question = ask(session)
    if session.repaired != "yes" or not isinstance(question, Verdict) or not question.causes:
        return ""
    lead = question.causes[0]
    fault = session.model.panel.kind_of(lead.part).faults.get(lead.fault)
    return lead.part if fault is not None and replaces(fault.remedy) and lead.part == question.part else ""


def _proof_readings(session: Session, begun: datetime | None) -> Iterator[tuple[str, str, Reading]]:
    question = ask(session)
    if not isinstance(question, Verdict):
        return
    panel = session.model.panel
    for proved in session.proved:
        proof = load_texts().proofs[proved.proof]
        if not proof.reads or proved.outcome == "declined" or proof_limits(panel, question.part, proof) is None:
            continue
        try:
            reading = parse_reading(proved.text, proof.reads)  # type: ignore[arg-type]
        except AnswerError:
            continue  # 'fail' was typed, without a reading
        value = inf if reading.over_range else reading.value
        title = f"{proof.title}, {panel.label(question.part)} (proof check)"
        yield proved.proof, title, Reading(begun, proved.text, value, proved.outcome == "passed")


def _trend(series: _Series) -> Trend | None:
    dated = [each for each in series.readings if each.begun is not None and each.value is not None]
    if not dated:
        return None
    first = min(each.begun for each in dated if each.begun is not None)
    points = [
        Point((each.begun - first).total_seconds() / 86400, each.value)
        for each in dated
        if each.begun is not None and each.value is not None
    ]
    return trend_of(points, reader_of(series.quantity))
