"""How many times longer a general-purpose Bayesian-network library takes to the same beliefs, on the same model.

Run as python -m tests.benchmarks.bench_belief. Needs pyagrum (the extra `reference`). One bundled panel and complaint:
its causes as one variable and all its checks as others, with the same tables in both, a dozen of them answered. Held
against each other are what one question takes - the belief after each outcome of each check, for what it would tell -
and one changed answer by itself.
"""

from __future__ import annotations

import itertools
import sys
from collections.abc import Callable
from time import process_time

import numpy as np

from diagnose.belief import posterior, sign_likelihood, update
from diagnose.choose.deck import deck_of, table_of
from diagnose.circuit.netlist import build
from diagnose.model import make_model
from diagnose.opening import all_complaints, open_panel

PANEL, COMPLAINT, SUBJECT = "shed_single_kettle", "element_cold", "element"
ANSWERED = 12
REPEATS = 300
LEAST = 10.0


def seconds(work: Callable[[], object], repeats: int) -> float:
    """The mean over many times."""
    work()
    begun = process_time()
    for _ in range(repeats):
        work()
    return (process_time() - begun) / repeats


def ratios() -> tuple[float, float, float]:
    """The library's time over ours for one question and for one answer, and the greatest difference in what is found.

    Raises ImportError where the library is not installed.
    """
    import pyagrum as gum

    model = make_model(build(open_panel(PANEL)), all_complaints()[COMPLAINT], SUBJECT)
    tables = [table_of(model, check) for check in model.checks]
    net = gum.BayesNet()
    net.add(gum.LabelizedVariable("cause", "cause", len(model.prior)))
    net.cpt("cause")[:] = model.prior
    for number, table in enumerate(tables):
        name = f"check{number}"
        net.add(gum.LabelizedVariable(name, name, max(table.shape[1], 2)))
        net.addArc("cause", name)
        net.cpt(name)[:] = np.pad(table, ((0, 0), (0, max(2 - table.shape[1], 0))))
    two = [number for number, table in enumerate(tables) if table.shape[1] > 1]
    asked = [two[place] for place in np.linspace(0, len(two) - 1, ANSWERED).astype(int)]
    first = {number: int(np.argmax(model.prior @ tables[number])) for number in asked}
    inference = gum.LazyPropagation(net)
    inference.setTargets({"cause"})
    inference.setEvidence({f"check{number}": outcome for number, outcome in first.items()})
    before = posterior(model.prior, [sign_likelihood(first[number], tables[number], 0.0) for number in asked[:-1]])
    last, outcome = asked[-1], itertools.cycle(range(tables[asked[-1]].shape[1]))
    found: dict[str, np.ndarray] = {}

    def ours() -> None:
        found["ours"] = update(before, sign_likelihood(next(outcome), tables[last], 0.0))

    def theirs() -> None:
        inference.chgEvidence(f"check{last}", next(outcome))
        inference.makeInference()
        found["theirs"] = inference.posterior("cause").toarray()

    one = seconds(theirs, REPEATS) / seconds(ours, REPEATS)
    off = 0.0
    for each in range(tables[last].shape[1]):
        outcome = itertools.repeat(each)
        ours(), theirs()
        off = max(off, float(np.abs(found["ours"] - found["theirs"]).max()))
    deck = deck_of(model)
    everything = np.arange(len(model.checks))
    now = posterior(model.prior, [sign_likelihood(first[number], tables[number], 0.0) for number in asked])

    def our_question() -> None:
        found["our bits"] = deck.bits(now, everything)

    def their_question() -> None:
        inference.setEvidence({f"check{number}": outcome for number, outcome in first.items()})
        inference.makeInference()
        held = inference.posterior("cause").toarray()
        bits = np.zeros(len(tables))
        for number, table in enumerate(tables):
            if number in first:
                continue
            before = groups_entropy(held)
            for outcome, share in enumerate(held @ table):
                inference.addEvidence(f"check{number}", outcome)
                inference.makeInference()
                before -= share * groups_entropy(inference.posterior("cause").toarray())
                inference.eraseEvidence(f"check{number}")
            bits[number] = before
        found["their bits"] = bits

    def groups_entropy(belief: np.ndarray) -> float:
        groups = np.bincount(model.group_numbers, belief)
        groups = groups[groups > 0]
        return float(-(groups * np.log2(groups)).sum())

    question = seconds(their_question, 1) / seconds(our_question, 20)
    open_ones = [number for number in everything.tolist() if number not in first]
    off = max(off, float(np.abs(found["our bits"] - found["their bits"])[open_ones].max()))
    return question, one, off


def main() -> int:
    """Print the ratio."""
    try:
        question, one, off = ratios()
    except ImportError:
        print("pyagrum is not installed: nothing to compare with")
        return 2
    print(
        f"the library takes {question:.0f} times as long over one question (bar {LEAST:.0f}), {one:.1f} times as long"
    )
    print(f"over one answer; what is found differs by at most {off:.0e}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
