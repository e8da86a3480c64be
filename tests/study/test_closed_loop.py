"""Hidden faults in simulated panels are found by the real session."""

from __future__ import annotations

from collections import Counter
from functools import lru_cache

import pytest

from diagnose.circuit.netlist import Netlist, build
from diagnose.opening import all_complaints, bundled_panels, open_panel
from diagnose.study.closed_loop import Trial, run_panel
from diagnose.study.table import run_one, text

PANELS = [entry.name for entry in bundled_panels()]
FULL = ["shed_single_kettle", "cellar_two_kettle"]
COMPLAINTS = tuple(all_complaints().values())
EVERY = 9  # of each complaint's faults, one in so many in the quick run


@lru_cache(maxsize=8)
def netlist_of(panel: str) -> Netlist:
    return build(open_panel(panel))


def not_named(trials: list[Trial]) -> list[str]:
    return [
        f"{t.complaint}: {t.cause.key} ended {t.ending} with {t.named}"
        for t in trials
        if t.ending in ("wrong", "unknown")
    ]


@pytest.mark.parametrize("panel", ["shed_single_kettle"])
def test_a_sample_of_hidden_faults_is_found(panel: str) -> None:
    """Every session names the part, alone or in a stated group that no offered check splits."""
    trials = list(run_panel(netlist_of(panel), COMPLAINTS, every=EVERY))
    assert len(trials) >= 30
    assert not not_named(trials)
    assert sum(trial.ending == "found" for trial in trials) >= 0.5 * len(trials)


@pytest.mark.parametrize("panel", ["shed_single_kettle"])
def test_nobody_is_asked_for_more_than_they_do(panel: str) -> None:
    """From outside and without a meter the session still ends, and never opens the box."""
    some = tuple(c for c in COMPLAINTS if c.name in ("element_cold", "gfci_trips_with_element"))
    trials = list(run_panel(netlist_of(panel), some, "outside", frozenset(), every=9))
    assert trials
    assert all(trial.openings == 0 and trial.live == 0 for trial in trials)
    assert not not_named(trials)


@pytest.mark.long
@pytest.mark.parametrize("panel", FULL)
def test_every_fault_of_every_part_is_found(panel: str) -> None:
    result = run_one(panel)
    print(text([result]))
    assert not not_named(list(result.trials))
    ending = Counter(trial.ending for trial in result.trials)
    assert ending["found"] + ending["group"] == len(result.trials) >= 150
    # A fault that ends in a group is told apart by nothing: most are in the building's supply.
    assert ending["found"] >= 0.7 * len(result.trials)
