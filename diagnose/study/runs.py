"""The closed loop over panels on all cores: which faults are hidden, by which orders of checks they are looked for."""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from dataclasses import dataclass, field
from functools import lru_cache
from multiprocessing import get_context

from diagnose.causes import Cause, causes_of
from diagnose.circuit.netlist import Netlist, build
from diagnose.model import make_model
from diagnose.opening import all_complaints, open_panel
from diagnose.safety import Competence
from diagnose.study.baselines import OWN, WAYS
from diagnose.study.closed_loop import Trial, complaints_of, run_trial, trips_early
from diagnose.study.intermittent import hidden_in
from diagnose.study.pairs import Bench, PairTrial, run_pair, sampled_pairs
from diagnose.study.simulated import SimulatedPanel


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


@lru_cache(maxsize=16)
def _netlist(panel: str) -> Netlist:
    return build(open_panel(panel))


def jobs_of(panel: str, plan: Plan) -> tuple[list[Job], tuple[Cause, ...]]:
    """The jobs of a panel, and the faults that make no complaint; with a sample, so many faults drawn by the seed."""
    complaints = tuple(all_complaints().values())
    jobs = [
        Job(panel, complaint.name, subject, tuple(causes))
        for complaint, subject, causes in complaints_of(_netlist(panel), complaints)
        if causes
    ]
    heard = {cause.key for job in jobs for cause in job.causes}
    silent = tuple(cause for cause in causes_of(_netlist(panel).panel) if cause.key not in heard)
    return (sampled(jobs, panel, plan) if plan.sample else jobs), silent


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


def run_job(job: Job, plan: Plan) -> dict[str, list[Trial]]:
    """The sessions of a job, each fault looked for in every way; the same noise and the same seed for all of them."""
    netlist, complaint = _netlist(job.panel), all_complaints()[job.complaint]
    model = make_model(netlist, complaint, job.subject)
    found: dict[str, list[Trial]] = {way: [] for way in plan.ways}
    for cause in job.causes:
        name = f"{plan.seed} {job.panel} {job.complaint} {job.subject} {cause.key}"
        panel = _noisy(netlist, cause, plan, name, trips_early(complaint))
        for way in plan.ways:
            if cause.at_times < 1:  # it comes and goes as a draw says: the same draws for each way
                panel = _noisy(netlist, cause, plan, name, trips_early(complaint))
            found[way].append(
                run_trial(
                    model, panel, cause, plan.competence, frozenset(plan.instruments), WAYS[way], plan.slips,
                    random.Random(f"{name} slips"),
                )
            )  # fmt: skip
    return found


def _noisy(netlist: Netlist, cause: Cause, plan: Plan, name: str, early: bool) -> SimulatedPanel:
    chance, supply = random.Random(name), netlist.panel.supply
    volts = 1 + plan.noise * (chance.uniform(supply.low, supply.high) - 1)
    jitter = plan.noise * chance.uniform(-1, 1)
    return hidden_in(netlist, cause, early, chance.randrange(2**31), volts, jitter)


def run_pairs(panel: str, plan: Plan) -> list[PairTrial]:
    """A seeded sample of two faults at once."""
    bench = Bench(_netlist(panel), tuple(all_complaints().values()), plan.competence, frozenset(plan.instruments))
    return [run_pair(bench, *drawn) for drawn in sampled_pairs(bench, plan.pairs, plan.seed)]


def run(panels: Sequence[str], plan: Plan, report: Report = lambda done, of: None) -> list[PanelResult]:
    """Run a study, side by side on so many cores; `report` is told how many sessions are done of how many.

    What comes out depends on the plan alone, not on the number of cores.
    """
    results = {panel: PanelResult(panel) for panel in panels}
    # Started anew, since a copy of a process that has threads may stop for ever.
    with ProcessPoolExecutor(plan.workers, get_context("spawn")) as pool:
        planned = list(pool.map(jobs_of, panels, [plan] * len(panels)))
        jobs = [job for some, _ in planned for job in some]
        for (_, silent), result in zip(planned, results.values(), strict=True):
            result.silent = silent
        of = sum(len(job.causes) for job in jobs) * len(plan.ways) + plan.pairs * len(panels)
        done = 0
        report(done, of)
        # The longest first, so that no core is left with one at the end.
        order = sorted(range(len(jobs)), key=lambda number: -len(jobs[number].causes))
        pairs = {pool.submit(run_pairs, panel, plan): panel for panel in panels} if plan.pairs else {}
        waiting = {pool.submit(run_job, jobs[number], plan): number for number in order}
        finished: dict[int, dict[str, list[Trial]]] = {}
        for future in as_completed(waiting):
            finished[waiting[future]] = future.result()
            done += len(jobs[waiting[future]].causes) * len(plan.ways)
            report(done, of)
        for each in as_completed(pairs):
            results[pairs[each]].pairs = each.result()
            done += plan.pairs
            report(done, of)
    for number, job in enumerate(jobs):
        for way, trials in finished[number].items():
            results[job.panel].trials.setdefault(way, []).extend(trials)
    return list(results.values())


def own(result: PanelResult) -> list[Trial]:
    """The sessions of a panel in which the project's own chooser chose."""
    return result.trials.get(OWN, [])


def by_complaint(trials: Sequence[Trial]) -> Iterator[tuple[tuple[str, str | None], list[Trial]]]:
    """Sessions by complaint and what it is about."""
    found: dict[tuple[str, str | None], list[Trial]] = {}
    for trial in trials:
        found.setdefault((trial.complaint, trial.subject), []).append(trial)
    yield from found.items()
