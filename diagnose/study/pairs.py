"""Two faults at once, hidden in a simulated panel: what the first session names, and what is found after its remedy."""

from __future__ import annotations

import random
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal

from diagnose.causes import Cause, causes_of, go_together, pair_of
from diagnose.circuit.netlist import Netlist
from diagnose.expect import Predictor
from diagnose.knowledge.records import Complaint
from diagnose.model import Model, complaint_likelihood, each_subject, make_model
from diagnose.remedied import after_remedy
from diagnose.safety import Competence
from diagnose.session import ConfirmStep, Session, Verdict, answer, ask, confirm, start
from diagnose.setups import named_setups
from diagnose.some_causes import SomePredictor, WholePredictor
from diagnose.study.simulated import SimulatedPanel, trips_early

SHOWS = 0.6  # a complaint is made when the faults show it at least this likely
LONGEST = 400
MOST_MODELS = 2
TRIES = 50  # draws for one pair that makes a complaint


@dataclass(frozen=True, slots=True)
class PairTrial:
    """Two hidden faults: what was named first, and whether the other was found after the remedy."""

    panel: str
    complaint: str
    subject: str | None
    pair: Cause
    first: Literal["found", "group", "wrong", "unknown"]  # whether a true part was named, alone or in a stated group
    both: bool
    said: bool  # the first verdict named both already
    named: tuple[str, ...]
    after: tuple[str, ...]  # what the session after the remedy named
    checks: int
    danger: bool  # the first session ended for a danger, with the panel off and out of a brewer's hands


@dataclass
class Bench:
    """One panel with every complaint that can be made about it, its models made when they are first needed.

    `predicted` predicts for all causes of the panel already. Of the models the last few are kept: each that has met
    two faults at once holds their circuits.
    """

    netlist: Netlist
    complaints: Sequence[Complaint]
    competence: Competence = "live"
    instruments: frozenset[str] = frozenset({"multimeter", "insulation_tester"})
    predicted: WholePredictor | None = None
    _models: dict[tuple[str, str | None], Model] = field(default_factory=dict)

    def cases(self) -> Iterator[tuple[Complaint, str | None]]:
        """Every complaint with every part that it can be about."""
        for complaint in self.complaints:
            for subject in each_subject(self.netlist.panel, complaint):
                yield complaint, subject

    def shown_by(self, causes: Sequence[Cause]) -> Mapping[str, list[tuple[Complaint, str | None]]]:
        """The complaints that each cause or pair makes, by its key."""
        known = self.predicted is not None and all(cause.also is None for cause in causes)
        predictor = (
            SomePredictor(self.predicted, causes) if known and self.predicted else Predictor(self.netlist, causes)
        )
        found: dict[str, list[tuple[Complaint, str | None]]] = {cause.key: [] for cause in causes}
        for complaint, subject in self.cases():
            shows = complaint_likelihood(predictor, complaint, subject, named_setups(self.netlist, subject))[1:]
            for cause, share in zip(causes, shows, strict=True):
                if share >= SHOWS:
                    found[cause.key].append((complaint, subject))
        return found

    def model(self, complaint: Complaint, subject: str | None) -> Model:
        """The model of a complaint, made once."""
        key = (complaint.name, subject)
        if key not in self._models:
            if len(self._models) >= MOST_MODELS:
                del self._models[next(iter(self._models))]
            self._models[key] = make_model(self.netlist, complaint, subject, predicted=self.predicted)
        return self._models[key]

    def forget(self) -> None:
        """Let go of the models made so far: each that has met two faults at once holds their circuits."""
        self._models.clear()

    def hidden(self, cause: Cause, complaint: Complaint) -> SimulatedPanel:
        """A simulated panel with these faults in it."""
        return SimulatedPanel(self.netlist, cause, trips_early=trips_early(complaint), predicted=self.predicted)


def sampled_pairs(bench: Bench, count: int, seed: int) -> Iterator[tuple[Cause, Complaint, str | None]]:
    """So many pairs of single causes, drawn alike, each with one of the complaints that it makes.

    Both members make a complaint by themselves: what never shows can't be noticed by anyone.
    """
    chance = random.Random(seed)
    causes = [cause for cause in causes_of(bench.netlist.panel) if cause.at_times == 1]
    shown = bench.shown_by(causes)
    heard = [cause for cause in causes if shown[cause.key]]
    pairs: list[Cause] = []
    while len(pairs) < 3 * count:
        one, two = chance.sample(heard, 2)
        if one.part != two.part and go_together(bench.netlist.panel, one, two):
            pairs.append(pair_of(one, two))
    made = bench.shown_by(pairs)
    pairs = [pair for pair in pairs if made[pair.key]][:count]
    for pair in pairs:
        yield pair, *chance.choice(made[pair.key])


def run_session(session: Session, panel: SimulatedPanel) -> tuple[Session, Verdict, int]:
    """Let a session run against a simulated panel to its verdict; returns the number of checks as well.

    Raises AssertionError where the session does not end.
    """
    checks = 0
    for _ in range(LONGEST):
        question = ask(session)
        if isinstance(question, Verdict):
            return session, question, checks
        if isinstance(question, ConfirmStep):
            session = confirm(session, panel.confirmed(question.step))
            continue
        checks += 1
        session = answer(session, panel.answer(question.check))
    raise AssertionError("the session does not end")


def parts_named(verdict: Verdict) -> tuple[str, ...]:
    """The parts that a verdict names, the likeliest first."""
    named = [part for share in verdict.causes for part in (share.part, share.also_part) if part]
    return tuple(dict.fromkeys(named))


def run_pair(bench: Bench, pair: Cause, complaint: Complaint, subject: str | None) -> PairTrial:
    """A session about two hidden faults; then the one it named is mended, and what is left is looked for."""
    truth = {member.part for member in pair.members}
    session = start(bench.model(complaint, subject), bench.competence, bench.instruments)
    session, verdict, checks = run_session(session, bench.hidden(pair, complaint))
    named = parts_named(verdict)
    first = _first(verdict, truth, named)
    also = {each.part for each in verdict.further if each.sure}
    said = verdict.part in truth and bool(also & (truth - {verdict.part}))
    mended = verdict.part if verdict.part in truth else next((part for part in named if part in truth), "")
    after: tuple[str, ...] = ()
    both = said
    if mended and not said and first in ("found", "group"):
        after, more = _look_again(bench, session, pair, mended, complaint, subject)
        checks += more
        both = bool(set(after) & (truth - {mended}))
    panel = bench.netlist.panel.name
    return PairTrial(
        panel, complaint.name, subject, pair, first, both, said, named, after, checks,
        bool(verdict.danger),
    )  # fmt: skip


def _first(verdict: Verdict, truth: set[str], named: tuple[str, ...]) -> Literal["found", "group", "wrong", "unknown"]:
    if verdict.kind == "unknown":
        return "unknown"
    if verdict.kind == "found":
        return "found" if verdict.part in truth else "wrong"
    return "group" if (verdict.kind == "group" or verdict.danger) and truth & set(named) else "wrong"


def _look_again(
    bench: Bench, session: Session, pair: Cause, mended: str, complaint: Complaint, subject: str | None
) -> tuple[tuple[str, ...], int]:
    """What is named once one of the two is mended: the same complaint goes on, or a new one is made."""
    left = next(member for member in pair.members if member.part != mended)
    shown = bench.shown_by([left])[left.key]
    goes_on = (complaint.name, subject) in [(each.name, about) for each, about in shown]
    if goes_on and not session.stopped:
        session = after_remedy(session, mended)
    else:
        complaint, subject = (complaint, subject) if goes_on else shown[0]
        session = start(bench.model(complaint, subject), bench.competence, bench.instruments)
    _, verdict, checks = run_session(session, bench.hidden(left, complaint))
    return parts_named(verdict) if verdict.kind in ("found", "group") or verdict.danger else (), checks
