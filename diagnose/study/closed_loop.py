"""Hides every fault of a panel in turn, lets the real session find it, and counts."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from diagnose.causes import Cause, causes_of
from diagnose.circuit.netlist import Netlist
from diagnose.costs import cost_minutes
from diagnose.expect import Predictor
from diagnose.knowledge.records import Complaint
from diagnose.model import Model, complaint_likelihood, make_model, subjects_of
from diagnose.safety import Competence
from diagnose.session import AskCheck, ConfirmStep, Verdict, answer, ask, confirm, start
from diagnose.setups import named_setups
from diagnose.study.simulated import SimulatedPanel

SHOWS = 0.5  # a complaint is made when the fault shows it at least this likely
LONGEST = 400


@dataclass(frozen=True, slots=True)
class Trial:
    """One hidden fault and how the session ended."""

    panel: str
    complaint: str
    subject: str | None
    cause: Cause
    ending: str  # 'found', 'group', 'wrong', 'unknown'
    named: tuple[str, ...]  # parts that the verdict names
    checks: int
    minutes: float
    live: int
    asked: tuple[str, ...]


def complaints_of(
    netlist: Netlist, complaints: Sequence[Complaint]
) -> Iterator[tuple[Complaint, str | None, list[Cause]]]:
    """Each complaint with each subject, and the causes that show it."""
    causes = causes_of(netlist.panel)
    for complaint in complaints:
        subjects: list[str | None] = list(subjects_of(netlist.panel, complaint)) if complaint.subject else [None]
        for subject in subjects:
            setups = named_setups(netlist, subject)
            shows = complaint_likelihood(Predictor(netlist, causes), complaint, subject, setups)[1:]
            yield complaint, subject, [cause for cause, share in zip(causes, shows, strict=True) if share >= SHOWS]


def run_trial(
    model: Model, panel: SimulatedPanel, cause: Cause, competence: Competence, instruments: frozenset[str]
) -> Trial:
    """Let a session with this competence find the fault hidden in a simulated panel."""
    session = start(model, competence, instruments)
    minutes = 0.0
    live = 0
    asked: list[str] = []
    for _ in range(LONGEST):
        question = ask(session)
        if isinstance(question, Verdict):
            named = tuple(dict.fromkeys(share.part for share in question.causes))
            lead = question.part
            ending = "unknown" if question.kind == "unknown" else "wrong"
            if lead == cause.part and question.kind == "found":
                ending = "found"
            elif question.kind != "unknown" and cause.part in named:
                ending = "group"
            return Trial(model.panel.name, model.complaint.name, model.subject, cause, ending, named, len(asked),
                         minutes, live, tuple(asked))  # fmt: skip
        if isinstance(question, ConfirmStep):
            minutes += cost_minutes(question.for_check, session.state, session.at, competence) * 0
            session = confirm(session)
            continue
        assert isinstance(question, AskCheck)
        minutes += question.check.minutes
        live += question.check.exposure == "live"
        asked.append(question.check.id)
        session = answer(session, panel.answer(question.check))
    raise AssertionError(f"the session about {cause.key} does not end")


def run_panel(
    netlist: Netlist,
    complaints: Sequence[Complaint],
    competence: Competence = "live",
    instruments: frozenset[str] = frozenset({"multimeter", "insulation_tester"}),
    jitter: Mapping[str, float] | None = None,
) -> Iterator[Trial]:
    """All faults of a panel, each under every complaint that it causes."""
    for complaint, subject, causes in complaints_of(netlist, complaints):
        if not causes:
            continue
        model = make_model(netlist, complaint, subject)
        for cause in causes:
            hidden = SimulatedPanel(netlist, cause, jitter=(jitter or {}).get(cause.key, 0.0))
            yield run_trial(model, hidden, cause, competence, instruments)
