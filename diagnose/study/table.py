"""A study as a table or as data: for each panel and complaint, how many hidden faults were found, and at what cost."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from diagnose.opening import bundled_panels
from diagnose.study.baselines import OWN, WAYS
from diagnose.study.closed_loop import Trial
from diagnose.study.pairs import PairTrial
from diagnose.study.progress import bar
from diagnose.study.runs import PanelResult, Plan, by_complaint, own, run
from diagnose.study.summary import by_panel

FORMAT = 1  # of the data
WRONG = ("wrong", "unknown")
_HEAD = (
    f"{'tried':>6}{'found':>6}{'group':>6}{'wrong':>6}{'checks':>8}{'minutes':>9}{'weighed':>9}{'opened':>8}{'live':>6}"
)  # fmt: skip


def run_one(panel: str) -> PanelResult:
    """The closed loop over one panel: every fault, looked for in the project's own way alone."""
    return run([panel], Plan(ways=(OWN,), workers=1))[0]


def figures(trials: Sequence[Trial]) -> Mapping[str, float]:
    """How sessions ended, counted, and the means of what each took.

    `weighed` is the mean of the minutes with each fault weighed by its rate: what a diagnosis takes in the long run.
    """
    ending: Counter[str] = Counter(trial.ending for trial in trials)
    count = max(len(trials), 1)
    rates = sum(trial.cause.rate for trial in trials) or 1.0
    return {
        "tried": len(trials),
        "found": ending["found"],
        "group": ending["group"],
        "wrong": sum(ending[each] for each in WRONG),
        "checks": sum(trial.checks for trial in trials) / count,
        "minutes": sum(trial.minutes for trial in trials) / count,
        "weighed": sum(trial.minutes * trial.cause.rate for trial in trials) / rates,
        "opened": sum(trial.openings for trial in trials) / count,
        "live": sum(trial.live for trial in trials) / count,
    }


def pair_figures(pairs: Sequence[PairTrial]) -> Mapping[str, int]:
    """Of two hidden faults: how often a true part was named first, and how often both after its remedy.

    Sessions that ended for a danger are in neither: they are counted apart.
    """
    told = {False: [pair for pair in pairs if not pair.danger], True: [pair for pair in pairs if pair.danger]}
    return {
        f"{of}{name}": count
        for of, some in (("", told[False]), ("danger: ", told[True]))
        for name, count in (
            ("tried", len(some)),
            ("one named", sum(pair.first in ("found", "group") for pair in some)),
            ("both", sum(pair.both for pair in some)),
        )
    }


def ratios(trials: Mapping[str, Sequence[Trial]], of: str = "weighed") -> Mapping[str, float]:
    """The minutes of the project's own way over those of each other one, the same faults being looked for."""
    mine = figures(trials.get(OWN, ()))[of]
    others = {way: figures(some)[of] for way, some in trials.items() if way != OWN}
    return {way: mine / minutes for way, minutes in others.items() if minutes > 0}


def text(results: Sequence[PanelResult]) -> str:
    """A table of all results, then every fault that was not found alone, and every one that nothing shows."""
    lines: list[str] = []
    for result in results:
        lines += [result.panel, *_of_panel(result), ""]
    if len(results) > 1:
        lines += [f"all {len(results)} panels", *_of_ways(_together(results))]
        lines += _of_pairs([pair for result in results for pair in result.pairs])
    return "\n".join(lines).rstrip()


def _of_panel(result: PanelResult) -> list[str]:
    trials = own(result)
    others = [way for way in result.trials if way != OWN]
    lines = [f"  {'complaint':<26}{'about':<20}{_HEAD}" + ("   minutes by " + ", ".join(others) if others else "")]
    for (complaint, subject), some in by_complaint(trials):
        same = [
            figures([each for each in result.trials[way] if (each.complaint, each.subject) == (complaint, subject)])
            for way in others
        ]
        lines.append(
            f"  {complaint:<26}{subject or '-':<20}{_row(some)}"
            + ("  " + "".join(f"{each['minutes']:>8.1f}" for each in same) if others else "")
        )
    lines += _of_ways(result.trials)
    lines += _of_pairs(result.pairs)
    lines += [
        f"  not alone: {trial.complaint}: {trial.cause.key} {trial.ending}: {', '.join(trial.named)}"
        for trial in trials
        if trial.ending != "found"
    ]
    lines.append(f"  {len(result.silent)} faults that no complaint here is made of:")
    silent = Counter(f"{cause.fault}" for cause in result.silent)
    lines.append("    " + ", ".join(f"{fault} x{count}" for fault, count in sorted(silent.items())))
    return lines


def _of_ways(trials: Mapping[str, Sequence[Trial]]) -> list[str]:
    lines = [f"  {'all, the order being ' + way:<46}{_row(some)}" for way, some in trials.items()]
    plain = ratios(trials, "minutes")
    lines += [
        f"  minutes against {way}: {share:.2f} weighed, {plain.get(way, share):.2f} with every fault alike"
        for way, share in ratios(trials).items()
    ]
    return lines


def _of_pairs(pairs: Sequence[PairTrial]) -> list[str]:
    if not pairs:
        return []
    told = pair_figures(pairs)
    return [
        f"  {of}: {told[key + 'tried']} tried, a true part named first {told[key + 'one named']}, "
        f"both after its remedy {told[key + 'both']}"
        for of, key in (("two faults at once", ""), ("two faults, ended for a danger", "danger: "))
        if told[key + "tried"]
    ]


def _together(results: Sequence[PanelResult]) -> dict[str, list[Trial]]:
    found: dict[str, list[Trial]] = {}
    for result in results:
        for way, trials in result.trials.items():
            found.setdefault(way, []).extend(trials)
    return found


def _row(trials: Sequence[Trial]) -> str:
    told = figures(trials)
    return (
        f"{told['tried']:>6}{told['found']:>6}{told['group']:>6}{told['wrong']:>6}"
        f"{told['checks']:>8.1f}{told['minutes']:>9.1f}{told['weighed']:>9.1f}{told['opened']:>8.2f}{told['live']:>6.1f}"
    )


def data(results: Sequence[PanelResult], plan: Plan) -> dict[str, Any]:
    """The same as numbers, with what it takes to run it again."""
    return {
        "format": FORMAT,
        "plan": {
            "competence": plan.competence, "instruments": list(plan.instruments), "sample": plan.sample,
            "pairs": plan.pairs, "slips": plan.slips, "noise": plan.noise, "seed": plan.seed,
        },
        "panels": [_panel_data(result) for result in results],
        "all": {way: dict(figures(trials)) for way, trials in _together(results).items()},
        "own minutes over others": _both_ratios(_together(results)),
    }  # fmt: skip


def _both_ratios(trials: Mapping[str, Sequence[Trial]]) -> dict[str, dict[str, float]]:
    return {"weighed": dict(ratios(trials)), "every fault alike": dict(ratios(trials, "minutes"))}


def _panel_data(result: PanelResult) -> dict[str, Any]:
    return {
        "panel": result.panel,
        "complaints": [
            {
                "complaint": complaint, "about": subject,
                "ways": {
                    way: dict(figures([t for t in trials if (t.complaint, t.subject) == (complaint, subject)]))
                    for way, trials in result.trials.items()
                },
            }
            for (complaint, subject), _ in by_complaint(own(result))
        ],
        "all": {way: dict(figures(trials)) for way, trials in result.trials.items()},
        "own minutes over others": _both_ratios(result.trials),
        "pairs": dict(pair_figures(result.pairs)),
        "not alone": [
            {"complaint": trial.complaint, "fault": trial.cause.key, "ending": trial.ending, "named": list(trial.named)}
            for trial in own(result)
            if trial.ending != "found"
        ],
        "silent": [cause.key for cause in result.silent],
    }  # fmt: skip


def main_study(panels: Sequence[str], plan: Plan, form: str = "text", baselines: bool = True) -> int:
    """Print a study of these panels, or of all bundled ones; 1 if any session came to a wrong end.

    `form` is 'text', 'json' or 'panels', a line for each panel.

    A session with a wrong answer in it may end wrong, so with slips only those count that had none to begin with.
    """
    plan = plan if baselines else replace(plan, ways=(OWN,))
    with bar() as report:
        results = run(list(panels) or [entry.name for entry in bundled_panels()], plan, report)
    told = data(results, plan)
    print({"json": json.dumps(told, indent=1), "panels": by_panel(told)}.get(form) or text(results))
    wrong = any(trial.ending in WRONG for result in results for trial in own(result))
    return int(wrong and not plan.slips)


__all__ = ["WAYS", "data", "figures", "main_study", "pair_figures", "ratios", "run_one", "text"]
