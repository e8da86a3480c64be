"""A study in one line for each panel."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from diagnose.study.baselines import OWN, WAYS

_OTHERS = tuple(way for way in WAYS if way != OWN)


def by_panel(study: Mapping[str, Any]) -> str:
    """A table of a study's data, as `table.data` gives it: how sessions ended, what they took, and against what.

    The last columns are the minutes of the project's own way over those of each usual order, every fault alike.
    """
    others = [way for way in _OTHERS if any(way in panel["all"] for panel in study["panels"])]
    width = max([len(panel["panel"]) for panel in study["panels"]] + [len("all")])
    head = f"{'panel':<{width}}{'tried':>6}{'found':>6}{'group':>6}{'wrong':>6}"
    head += f"{'checks':>7}{'minutes':>8}{'opened':>7}{'live':>5}"
    with_pairs = any(panel["pairs"]["tried"] + panel["pairs"]["danger: tried"] for panel in study["panels"])
    lines = [head + ("  pairs" if with_pairs else "") + (f"  minutes over {', '.join(others)}" if others else "")]
    lines += _rows(study, others, width, with_pairs)
    return "\n".join(lines)


def _rows(study: Mapping[str, Any], others: list[str], width: int, with_pairs: bool) -> Iterator[str]:
    every = {
        "panel": "all", "all": study["all"], "own minutes over others": study["own minutes over others"],
        "pairs": {
            name: sum(panel["pairs"][name] for panel in study["panels"])
            for name in ("tried", "both", "danger: tried", "danger: both")
        },
    }  # fmt: skip
    for panel in [*study["panels"], *([every] if len(study["panels"]) > 1 else [])]:
        own, pairs = panel["all"][OWN], panel["pairs"]
        both = f"{pairs['both'] + pairs['danger: both']}/{pairs['tried'] + pairs['danger: tried']}"
        ratios = panel["own minutes over others"]["every fault alike"]
        yield (
            f"{panel['panel']:<{width}}{own['tried']:>6}{own['found']:>6}{own['group']:>6}{own['wrong']:>6}"
            f"{own['checks']:>7.1f}{own['minutes']:>8.1f}{own['opened']:>7.2f}{own['live']:>5.1f}"
            + (f"{both:>7}" if with_pairs else "")
            + ("  " + "".join(f"{ratios[way]:>6.2f}" for way in others) if others else "")
        )
