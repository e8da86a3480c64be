"""How many times quicker predictions for all causes at once are than one cause at a time.

Run as python -m tests.benchmarks.bench_predictions [panel subject complaint]. Ratios, not times, since machines
differ; the last line says what share of a first question is spent where.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Sequence
from time import perf_counter

import numpy as np

from diagnose.causes import Cause, causes_of
from diagnose.checks import Check
from diagnose.circuit.netlist import Netlist, build
from diagnose.circuit.setup import Setup
from diagnose.expect import Predictor
from diagnose.knowledge.complaints import read_complaints
from diagnose.knowledge.library import Library, load_library
from diagnose.model import Model, make_model
from diagnose.panel.reader import read_panel

SAMPLE = 12  # causes that are done one by one
PER_SETUP = 15  # checks of a setup


def timed(work: Callable[[], object]) -> float:
    """Seconds that some work takes, the better of two."""
    taken = []
    for _ in range(2):
        start = perf_counter()
        work()
        taken.append(perf_counter() - start)
    return min(taken)


def read_all(netlist: Netlist, causes: Sequence[Cause], checks: Sequence[Check]) -> None:
    """Settle and predict from nothing."""
    predictor = Predictor(netlist, causes)
    for check in checks:
        predictor.predict(check)


def each_alone(netlist: Netlist, causes: Sequence[Cause], checks: Sequence[Check]) -> None:
    """The same, one cause after another."""
    for cause in causes:
        read_all(netlist, [cause], checks)


def compare(netlist: Netlist, causes: Sequence[Cause], checks: Sequence[Check]) -> float:
    """How many times the batch of all causes goes into the causes one after another."""
    sample = [causes[number] for number in np.linspace(0, len(causes) - 1, SAMPLE).astype(int)]
    one_by_one = timed(lambda: each_alone(netlist, sample, checks)) / SAMPLE * len(causes)
    return one_by_one / timed(lambda: read_all(netlist, causes, checks))


def complaint_named(library: Library, name: str) -> Callable[[Netlist, str], Model]:
    """What makes a model for a complaint."""
    paths = sorted((library.folder / "complaints").glob("*.yaml"))
    found = next(each for path in paths for each in read_complaints(path, str(path)) if each.name == name)
    return lambda netlist, subject: make_model(netlist, found, subject)


def main(panel: str = "cellar_two_kettle", subject: str = "boil_element", complaint: str = "element_cold") -> None:
    """Print the ratios."""
    library = load_library()
    netlist = build(read_panel(library.folder / "panels" / f"{panel}.yaml", library))
    make = complaint_named(library, complaint)
    start = perf_counter()
    model = make(netlist, subject)
    making = perf_counter() - start
    by_setup: dict[Setup, list[Check]] = {}
    for check in model.checks:
        by_setup.setdefault(check.setup, []).append(check)
    causes = model.causes
    print(f"{panel}, {complaint}: {len(causes)} causes; the batch is so many times quicker than one at a time:")
    for checks in by_setup.values():
        some = [each for each in checks if each.quantity != "sign"][:PER_SETUP] or checks[:PER_SETUP]
        print(f"  {checks[0].setup_name:10} {len(some):3} checks {compare(netlist, causes, some):6.1f}")
    everything = Predictor(netlist, causes_of(netlist.panel))
    running = model.setups["running"]
    settling = timed(lambda: Predictor(netlist, causes).settled(running))
    everything.settled(running)
    numbers = [everything.causes.index(cause) for cause in causes]
    print(
        f"  narrowed   from {len(everything.rows)} rows: {settling / timed(lambda: everything.narrowed(numbers)):.1f}"
    )
    start = perf_counter()
    for checks in by_setup.values():
        model.predictor.settled(checks[0].setup)
    settled = perf_counter() - start
    start = perf_counter()
    for checks in by_setup.values():
        for check in checks:
            model.predict(check)
    predicted = perf_counter() - start
    whole = making + settled + predicted
    shares = ", ".join(f"{name} {part / whole:.0%}" for name, part in
                       (("the model", making), ("settling", settled), ("predictions", predicted)))  # fmt: skip
    print(f"  of a first question: {shares}")


if __name__ == "__main__":
    main(*sys.argv[1:4])
