"""How long the next check takes to be chosen, in a new session about each bundled panel.

Run as python -m tests.benchmarks.bench_choose [panel ...]. Milliseconds of processor time over all questions of a few
sessions, each about another hidden fault; what a question needs to be worked out for the first time is in it.
"""

from __future__ import annotations

import sys

import numpy as np

from diagnose.circuit.netlist import build
from diagnose.model import Model, each_subject, make_model
from diagnose.opening import all_complaints, bundled_panels, open_panel
from diagnose.study.simulated import SimulatedPanel
from tests.benchmarks.timed_sessions import timed_session

COMPLAINTS = ("element_cold", "pump_dead", "panel_dead")  # the first that the panel has: those with the most causes
SESSIONS = 5


def model_of(panel: str) -> Model:
    """The model of the complaint with many causes."""
    netlist = build(open_panel(panel))
    for name in COMPLAINTS:
        complaint = all_complaints()[name]
        if subjects := each_subject(netlist.panel, complaint):
            return make_model(netlist, complaint, subjects[0])
    raise ValueError(f"{panel} has nothing to complain about")


def times_of(known: Model) -> list[float]:
    """Seconds that each choice took, over a few sessions."""
    taken: list[float] = []
    single = [cause for cause in known.causes if cause.also is None and cause.at_times == 1 and cause.rate > 0]
    faults = [cause for cause in single if not cause.fault.startswith("as_built")]
    for number in np.linspace(0, len(faults) - 1, SESSIONS).astype(int):
        panel = SimulatedPanel(known.predictor.netlist, faults[number])
        taken += timed_session(known, panel, frozenset({"multimeter", "insulation_tester"}))[0]
    return taken


def main(panels: list[str]) -> None:
    """Print a line for each panel."""
    print(f"{'panel':<24}{'causes':>7}{'checks':>7}{'choices':>8}{'median ms':>11}{'p95 ms':>8}")
    for panel in panels or [entry.name for entry in bundled_panels()]:
        known = model_of(panel)
        taken = 1000 * np.array(times_of(known))
        print(
            f"{panel:<24}{len(known.causes):>7}{len(known.checks):>7}{len(taken):>8}"
            f"{np.median(taken):>11.0f}{np.percentile(taken, 95):>8.0f}",
            flush=True,
        )


if __name__ == "__main__":
    main(sys.argv[1:])
