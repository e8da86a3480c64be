"""The closed loop as a table: for each panel and complaint, how many hidden faults were found, and at what cost."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass

from diagnose.causes import Cause
from diagnose.circuit.netlist import build
from diagnose.opening import all_complaints, bundled_panels, open_panel
from diagnose.study.closed_loop import Trial, run_panel, silent_causes

WORKERS = 2


@dataclass(frozen=True, slots=True)
class PanelResult:
    """The closed loop over one panel."""

    panel: str
    trials: tuple[Trial, ...]
    silent: tuple[Cause, ...]


def run(panels: Sequence[str]) -> list[PanelResult]:
    """Run the closed loop over panels, side by side."""
    with ProcessPoolExecutor(WORKERS) as pool:
        return list(pool.map(run_one, panels))


def run_one(panel: str) -> PanelResult:
    """Run the closed loop over one panel."""
    netlist, complaints = build(open_panel(panel)), tuple(all_complaints().values())
    return PanelResult(panel, tuple(run_panel(netlist, complaints)), silent_causes(netlist, complaints))


def text(results: Sequence[PanelResult]) -> str:
    """A table of all results, then every fault that was not found alone, and every one that nothing shows."""
    lines = []
    for result in results:
        lines += [f"{result.panel}", f"  {'complaint':<26}{'about':<20}{'tried':>6}{'found':>6}{'group':>6}{'wrong':>6}"
                  f"{'checks':>8}{'minutes':>9}{'opened':>8}{'live':>6}"]  # fmt: skip
        keys = dict.fromkeys((trial.complaint, trial.subject) for trial in result.trials)
        for complaint, subject in keys:
            some = [trial for trial in result.trials if (trial.complaint, trial.subject) == (complaint, subject)]
            lines.append(f"  {complaint:<26}{subject or '-':<20}{_row(some)}")
        lines.append(f"  {'all':<46}{_row(result.trials)}")
        lines += [
            f"  not alone: {trial.complaint}: {trial.cause.key} {trial.ending}: {', '.join(trial.named)}"
            for trial in result.trials
            if trial.ending != "found"
        ]
        lines.append(f"  {len(result.silent)} faults that no complaint here is made of:")
        silent = Counter(f"{cause.fault}" for cause in result.silent)
        lines.append("    " + ", ".join(f"{fault} x{count}" for fault, count in sorted(silent.items())))
    return "\n".join(lines)


def _row(trials: Sequence[Trial]) -> str:
    ending = Counter(trial.ending for trial in trials)
    count = max(len(trials), 1)

    def mean(values: Sequence[float]) -> float:
        return sum(values) / count

    return (
        f"{len(trials):>6}{ending['found']:>6}{ending['group']:>6}{ending['wrong'] + ending['unknown']:>6}"
        f"{mean([trial.checks for trial in trials]):>8.1f}{mean([trial.minutes for trial in trials]):>9.1f}"
        f"{mean([trial.openings for trial in trials]):>8.2f}{mean([trial.live for trial in trials]):>6.1f}"
    )


def main_study(panels: Sequence[str]) -> int:
    """Print the table for these panels, or for all bundled ones; 1 if any session came to a wrong end."""
    results = run(list(panels) or [entry.name for entry in bundled_panels()])
    print(text(results))
    return int(any(trial.ending in ("wrong", "unknown") for result in results for trial in result.trials))
