"""The closed loop over panels on all cores: which faults are hidden, by which orders of checks they are looked for."""

from __future__ import annotations

import gc
import os
import random
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import Future, ProcessPoolExecutor, wait
from dataclasses import dataclass, field
from functools import lru_cache
from multiprocessing import get_context, parent_process
from multiprocessing.connection import wait as ready
from multiprocessing.queues import SimpleQueue
from threading import Thread
from typing import Any

from diagnose.causes import Cause, causes_of
from diagnose.circuit.netlist import Netlist, build
from diagnose.circuit.setup import Setup
from diagnose.expect import Predictor
from diagnose.knowledge.records import Complaint
from diagnose.model import Model, make_model, observed_parts
from diagnose.opening import all_complaints, open_panel
from diagnose.safety import Competence
from diagnose.setups import named_setups
from diagnose.some_causes import WholePredictor
from diagnose.study.baselines import OWN, WAYS
from diagnose.study.closed_loop import (
    GIVES_UP,
    LONGEST,
    Trial,
    Trodden,
    by_subject,
    first_session,
    run_trial,
    shown_by,
)
from diagnose.study.intermittent import hidden_in
from diagnose.study.pairs import Bench, PairTrial, run_pair, sampled_pairs
from diagnose.study.simulated import SimulatedPanel, proving_dead, trips_early

PIECES = 2  # so many shares for each core at least, so that none has to wait long for another
WAIT_SECONDS = 1.0


@dataclass(frozen=True, slots=True)
class Plan:
    """What a study does. `noise` is the share, 0 to 1, of the meter's accuracy and of the supply's range that readings
    are off by at most; `slips` the share of answers that are wrong; `sample` the faults drawn per panel, 0 for all."""

    competence: Competence = "live"
    instruments: tuple[str, ...] = ("multimeter", "insulation_tester")
    ways: tuple[str, ...] = tuple(WAYS)
    sample: int = 0
    pairs: int = 0
    slips: float = 0.0
    noise: float = 0.0
    seed: int = 1
    workers: int = 2


@dataclass(frozen=True, slots=True)
class Job:
    """The faults of one panel that are looked for under one complaint."""

    panel: str
    complaint: str
    subject: str | None
    causes: tuple[Cause, ...]


@dataclass(slots=True)
class PanelResult:
    """All sessions about one panel: by each way, in the order of the complaints; and the faults that nothing shows."""

    panel: str
    trials: dict[str, list[Trial]] = field(default_factory=dict)
    pairs: list[PairTrial] = field(default_factory=list)
    silent: tuple[Cause, ...] = ()


Report = Callable[[int, int], None]  # done, of how many


@lru_cache(maxsize=2)
def _netlist(panel: str) -> Netlist:
    return build(open_panel(panel))


def jobs_about(predicted: Predictor, panel: str, subject: str | None, complaints: Sequence[Complaint]) -> list[Job]:
    """The jobs about one subject: each complaint with the faults that make it, where there are any."""
    jobs = [
        Job(panel, complaint.name, subject, tuple(shown_by(predicted, complaint, subject))) for complaint in complaints
    ]
    return [job for job in jobs if job.causes]


def sampled(jobs: Sequence[Job], panel: str, plan: Plan) -> list[Job]:
    """As many faults as the plan's sample has, drawn alike by its seed; jobs that are left without any are gone."""
    everything = [(number, cause) for number, job in enumerate(jobs) for cause in job.causes]
    drawn = random.Random(f"{plan.seed} {panel}").sample(everything, min(plan.sample, len(everything)))
    kept = {(number, cause.key) for number, cause in drawn}
    fewer = [
        Job(panel, job.complaint, job.subject, tuple(cause for cause in job.causes if (number, cause.key) in kept))
        for number, job in enumerate(jobs)
    ]
    return [job for job in fewer if job.causes]


def model_of(job: Job, predicted: WholePredictor) -> Model:
    """The model of a job's complaint; `predicted` is told what may be asked about it."""
    return make_model(_netlist(job.panel), all_complaints()[job.complaint], job.subject, predicted=predicted)


def run_job(
    job: Job, plan: Plan, predicted: WholePredictor | None = None, model: Model | None = None
) -> dict[str, list[Trial]]:
    """The sessions of a job, each fault looked for in every way; the same noise and the same seed for all of them."""
    netlist = _netlist(job.panel)
    predicted = predicted or WholePredictor(netlist, causes_of(netlist.panel))
    model = model or model_of(job, predicted)
    instruments = frozenset(plan.instruments)
    early = trips_early(model.complaint)
    found: dict[str, list[Trial]] = {}
    hidden: dict[str, SimulatedPanel] = {}
    # Nobody who follows a list thinks of two faults at once.
    listed = model.without_pairs()
    for way in plan.ways:
        trodden = Trodden(first_session(model if way == OWN else listed, plan.competence, instruments, WAYS[way]))
        found[way] = []
        for cause in job.causes:
            name = f"{plan.seed} {job.panel} {job.complaint} {job.subject} {cause.key}"
            # One that comes and goes does so as a draw says: the same draws for each way.
            panel = hidden.get(cause.key) or _noisy(predicted, cause, plan, name, early)
            if cause.at_times == 1:
                hidden[cause.key] = panel
            slips = random.Random(f"{name} slips")
            found[way].append(
                run_trial(model, panel, cause, plan.competence, instruments, WAYS[way], plan.slips, slips, trodden,
                          LONGEST if way == OWN else GIVES_UP)
            )  # fmt: skip
    return found


def _noisy(predicted: WholePredictor, cause: Cause, plan: Plan, name: str, early: bool) -> SimulatedPanel:
    chance, supply = random.Random(name), predicted.netlist.panel.supply
    volts = 1 + plan.noise * (chance.uniform(supply.low, supply.high) - 1)
    jitter = plan.noise * chance.uniform(-1, 1)
    return hidden_in(predicted.netlist, cause, early, chance.randrange(2**31), volts, jitter, predicted)


def predicted_for(netlist: Netlist, complaints: Mapping[str | None, Sequence[Complaint]]) -> WholePredictor:
    """Predictions for all causes of a panel: what complaints about these subjects say, and what proves it dead."""
    signs: dict[tuple[Setup, str, str], None] = {}
    for subject, some in complaints.items():
        setups = named_setups(netlist, subject)
        said = [each for complaint in some for each in complaint.observed if not each.against]
        signs |= {
            (setups[each.setup], part, each.sign): None
            for each in said
            for part in observed_parts(netlist.panel, each, subject)
        }
    predicted = WholePredictor(netlist, causes_of(netlist.panel), signs)
    predicted.expect(proving_dead(netlist.panel))
    return predicted


@dataclass(frozen=True, slots=True)
class Share:
    """What one process does at a time: a panel with some of the subjects that complaints can be about, and the pairs
    of faults where it is all of them: these need the same circuits."""

    panel: str
    subjects: tuple[str | None, ...]
    pairs: bool


@dataclass(frozen=True, slots=True)
class ShareResult:
    """Its jobs with the sessions of each, and the keys of all faults that make one of its complaints."""

    done: tuple[tuple[Job, dict[str, list[Trial]]], ...]
    heard: frozenset[str]
    pairs: tuple[PairTrial, ...]


def shares_of(panel: str, plan: Plan, parts: int) -> list[Share]:
    """A panel in so many parts, or whole where a sample is drawn from all of it."""
    subjects = list(by_subject(_netlist(panel), tuple(all_complaints().values())))
    parts = 1 if plan.sample else min(parts, len(subjects))
    return [Share(panel, tuple(subjects[part::parts]), parts == 1 and plan.pairs > 0) for part in range(parts)]


def run_share(share: Share, plan: Plan, told: Callable[[], None] = lambda: None) -> ShareResult:
    """The sessions about some subjects of a panel; its circuits are solved once for all of them.

    `told` is called after each subject.
    """
    netlist = _netlist(share.panel)
    gc.collect()
    gc.freeze()  # what is known of panels and parts stays: it need not be gone through after each job
    complaints = by_subject(netlist, tuple(all_complaints().values()))
    predicted = predicted_for(netlist, complaints)
    jobs = [
        job
        for subject in share.subjects
        for job in jobs_about(predicted, share.panel, subject, complaints[subject])
    ]  # fmt: skip
    heard = frozenset(cause.key for job in jobs for cause in job.causes)
    jobs = sampled(jobs, share.panel, plan) if plan.sample else jobs
    # All of them before the first session: what may be asked for in a setup is read off it at once.
    models = {job: model_of(job, predicted) for job in jobs}
    done: list[tuple[Job, dict[str, list[Trial]]]] = []
    for subject in share.subjects:
        for job in [job for job in jobs if job.subject == subject]:
            done.append((job, run_job(job, plan, predicted, models.pop(job))))
            gc.collect()  # a model and what its chooser keeps hold each other, and are large
        told()
    pairs = run_pairs(share.panel, plan, predicted) if share.pairs else []
    return ShareResult(tuple(done), heard, tuple(pairs))


def run_pairs(panel: str, plan: Plan, predicted: WholePredictor | None = None) -> list[PairTrial]:
    """A seeded sample of two faults at once; `predicted` predicts for all complaints about the panel already."""
    netlist, complaints = _netlist(panel), tuple(all_complaints().values())
    predicted = predicted or predicted_for(netlist, by_subject(netlist, complaints))
    bench = Bench(netlist, complaints, plan.competence, frozenset(plan.instruments), predicted)
    found = []
    for drawn in sampled_pairs(bench, plan.pairs, plan.seed):
        found.append(run_pair(bench, *drawn))
        bench.forget()
        gc.collect()  # as with a job's model: two faults at once have circuits of their own
    _tell()
    return found


def run(panels: Sequence[str], plan: Plan, report: Report = lambda done, of: None) -> list[PanelResult]:
    """Run a study, side by side on so many cores; `report` is told how many of its pieces are done, of how many.

    What comes out depends on the plan alone, not on the number of cores.
    """
    parts = -(-PIECES * plan.workers // max(len(panels), 1))
    shares = [share for panel in panels for share in shares_of(panel, plan, parts)]
    of = sum(len(share.subjects) for share in shares) + (len(panels) if plan.pairs else 0)
    # Started anew, since a copy of a process that has threads may stop for ever.
    context = get_context("spawn")
    pieces = context.SimpleQueue()
    with ProcessPoolExecutor(plan.workers, context, _begin, (pieces,)) as pool:
        # The largest first, so that no core is left with one at the end.
        order = sorted(shares, key=lambda share: -len(_netlist(share.panel).panel.parts) * len(share.subjects))
        ran = {share: pool.submit(_work, share, plan) for share in order}
        apart = [
            panel for panel in panels if plan.pairs and not any(share.pairs for share in shares if share.panel == panel)
        ]
        pairs = {panel: pool.submit(run_pairs, panel, plan) for panel in apart}
        waiting: set[Future[Any]] = {*ran.values(), *pairs.values()}
        done = 0
        report(done, of)
        while waiting:
            _, waiting = wait(waiting, timeout=WAIT_SECONDS)
            while not pieces.empty():
                pieces.get()
                done += 1
            report(done, of)
    return [
        _gathered(panel, [ran[share].result() for share in shares if share.panel == panel],
                  pairs[panel].result() if panel in pairs else ())
        for panel in panels
    ]  # fmt: skip


def _begin(pieces: SimpleQueue[int]) -> None:
    """What each process is told at its start: where to say that a piece is done.

    It ends with the one that started it, however that ends: a killed one can't tell.
    """
    _PIECES.append(pieces)
    parent = parent_process()
    if parent is not None:
        Thread(target=_end_with, args=(parent.sentinel,), daemon=True).start()


def _end_with(sentinel: int) -> None:
    ready([sentinel])
    os._exit(1)


_PIECES: list[SimpleQueue[int]] = []  # of this process


def _tell() -> None:
    for pieces in _PIECES:
        pieces.put(1)


def _work(share: Share, plan: Plan) -> ShareResult:
    return run_share(share, plan, _tell)


def _gathered(panel: str, shares: Sequence[ShareResult], pairs: Sequence[PairTrial]) -> PanelResult:
    """A panel's sessions in the order of the complaints, however they were shared out."""
    names = list(all_complaints())
    result = PanelResult(panel, pairs=[*pairs, *(pair for share in shares for pair in share.pairs)])
    done = [each for share in shares for each in share.done]
    for _, found in sorted(done, key=lambda each: names.index(each[0].complaint)):
        for way, trials in found.items():
            result.trials.setdefault(way, []).extend(trials)
    heard = {key for share in shares for key in share.heard}
    result.silent = tuple(cause for cause in causes_of(_netlist(panel).panel) if cause.key not in heard)
    return result


def own(result: PanelResult) -> list[Trial]:
    """The sessions of a panel in which the project's own chooser chose."""
    return result.trials.get(OWN, [])


def by_complaint(trials: Sequence[Trial]) -> Iterator[tuple[tuple[str, str | None], list[Trial]]]:
    """Sessions by complaint and what it is about."""
    found: dict[tuple[str, str | None], list[Trial]] = {}
    for trial in trials:
        found.setdefault((trial.complaint, trial.subject), []).append(trial)
    yield from found.items()
