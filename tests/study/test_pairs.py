"""Two hidden faults: a true one is named first, and both after its remedy."""

from __future__ import annotations

import pytest

from diagnose.circuit.netlist import build
from diagnose.opening import all_complaints, open_panel
from diagnose.study.pairs import Bench, PairTrial, run_pair, sampled_pairs


def trials_of(panel: str, count: int, seed: int) -> list[PairTrial]:
    bench = Bench(build(open_panel(panel)), tuple(all_complaints().values()))
    return [run_pair(bench, *drawn) for drawn in sampled_pairs(bench, count, seed)]


def held(trials: list[PairTrial], share: float) -> None:
    missed = [
        f"{t.complaint}: {t.pair.key} first {t.first} of {t.named}, then {t.after}"
        for t in trials
        if t.first not in ("found", "group") or not t.both
    ]
    assert sum(t.first in ("found", "group") for t in trials) >= share * len(trials), missed
    assert sum(t.both for t in trials) >= share * len(trials), missed


def test_a_sample_of_pairs_is_found() -> None:
    """Few, so that the quick run stays quick: none may be missed."""
    trials = trials_of("shed_single_kettle", 3, 1)
    assert len(trials) == 3 and len({t.pair.key for t in trials}) == 3
    held(trials, 1.0)


@pytest.mark.long
@pytest.mark.parametrize(("panel", "count"), [("shed_single_kettle", 20), ("balcony_one_pot", 8)])
def test_most_pairs_are_found(panel: str, count: int) -> None:
    trials = trials_of(panel, count, 2)
    assert len(trials) == count
    held(trials, 0.9)
