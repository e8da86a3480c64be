"""How many times quicker a batch is than one full solve for each cause: python -m
tests.benchmarks.bench_nodal.

The full solve is numpy's own, of the nodal matrix, one cause after another and all causes in one call;
neither is as accurate. First the bundled panels with the load running, every cause at each of its levels that makes
another circuit; then chains of wires with cross branches, rows the base with one to four branches opened, closed or
altered, each row different. Ratios, not times, since machines differ.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from time import perf_counter

import numpy as np

from diagnose.causes import causes_of
from diagnose.circuit.netlist import build
from diagnose.circuit.nodal import Network, admittance_matrix, solve, solve_batch
from diagnose.expect import Predictor
from diagnose.model import each_subject
from diagnose.opening import all_complaints, bundled_panels, open_panel
from diagnose.setups import named_setups

ROWS = 300
PAIRS = 200
SIZES = (50, 100, 200, 400)


def circuits(nodes: int, seed: int = 7) -> tuple[Network, np.ndarray, np.ndarray]:
    """A network, admittances (ROWS, B) and EMFs (ROWS, B)."""
    random = np.random.default_rng(seed)
    chain = np.arange(1, nodes)
    extra = nodes
    tail = np.concatenate([chain, random.integers(0, nodes, extra)])
    behind = np.maximum(0, chain - random.integers(1, 4, nodes - 1))
    head = np.concatenate([behind, (tail[nodes - 1 :] + random.integers(1, nodes, extra)) % nodes])
    y = np.concatenate([random.choice([1e3, 1e2, 1e4], nodes - 1), random.choice([0, 0.1, 1e-3, 1e-5], extra)])
    y = y * (1 + 0.1j * random.random(len(y)))
    emf = np.zeros(len(y), dtype=complex)
    emf[:2] = 120, -120
    rows = np.repeat(y[None], ROWS, 0)
    for row in range(1, ROWS):
        changed = random.choice(len(y), random.integers(1, 5), replace=False)
        rows[row, changed] = random.choice([0, 1e-4, 1, 400], len(changed)) * random.uniform(0.5, 2, len(changed))
    return Network(nodes, tail, head), rows, np.repeat(emf[None], ROWS, 0)


def panel_circuits(name: str) -> tuple[Network, np.ndarray, np.ndarray]:
    """A bundled panel with its first load running: its network, and the different circuits of all its causes."""
    netlist = build(open_panel(name))
    subject = each_subject(netlist.panel, all_complaints()["element_cold"])[0]
    predictor = Predictor(netlist, causes_of(netlist.panel))
    settled = predictor.settled(named_setups(netlist, subject)["running"])
    both = np.unique(np.hstack([settled.y_alternating, settled.alternating.emf]), axis=0)
    y, e = np.hsplit(both, 2)
    return netlist.network, np.ascontiguousarray(y), np.ascontiguousarray(e)


def injected(network: Network, y: np.ndarray, e: np.ndarray) -> np.ndarray:
    """(N,) currents that the EMFs drive into the nodes."""
    into = np.zeros(network.node_count, dtype=complex)
    np.add.at(into, network.head, y * e)
    np.add.at(into, network.tail, -y * e)
    into[0] = 0
    return into


def seconds(work: Callable[[], object], repeats: int) -> float:
    """The least of several times."""
    times = []
    for _ in range(repeats):
        start = perf_counter()
        work()
        times.append(perf_counter() - start)
    return min(times)


def measure(network: Network, y: np.ndarray, e: np.ndarray) -> tuple[float, float, float, float]:
    """Times of numpy's solves one by one and in one call, of our own, and of readings, over the batch's."""
    rows, nodes = len(y), network.node_count
    some = range(0, rows, max(1, rows // 30))

    def one_by_one() -> None:
        for row in some:
            np.linalg.solve(admittance_matrix(network, y[row]), injected(network, y[row], e[row]))

    matrices = np.stack([admittance_matrix(network, y[row]) for row in some])
    into = np.stack([injected(network, y[row], e[row]) for row in some])[:, :, None]
    batch = seconds(lambda: solve_batch(network, y, e), 5)
    single = seconds(one_by_one, 2) * rows / len(some)
    stacked = seconds(lambda: np.linalg.solve(matrices, into), 2) * rows / len(some)
    own = seconds(lambda: [solve(network, y[row], e[row]) for row in some], 2) * rows / len(some)
    random = np.random.default_rng(1)
    pairs = [tuple(random.choice(nodes, 2, replace=False).tolist()) for _ in range(PAIRS)]
    solved = solve_batch(network, y, e)
    readings = seconds(lambda: [solved.loaded(a, b, 1e-7) for a, b in pairs], 1)
    return single / batch, stacked / batch, own / batch, readings / batch


def table() -> str:
    """The ratios of all panels and at all sizes."""
    named = [(entry.name, panel_circuits(entry.name)) for entry in bundled_panels()]
    named += [(f"a chain of {nodes}", circuits(nodes)) for nodes in SIZES]
    heads = ("numpy one by one", "numpy in one call", "our own one by one", f"{PAIRS} loaded readings")
    lines = [f"{'circuits':<24}nodes  rows  {'  '.join(heads)}"]
    for name, (network, y, e) in named:
        found = zip(measure(network, y, e), heads, strict=True)
        ratios = "  ".join(f"{ratio:{len(head)}.1f}" for ratio, head in found)
        lines.append(f"{name:<24}{network.node_count:5}  {len(y):4}  {ratios}")
    return "\n".join(lines)


if __name__ == "__main__":
    sys.stdout.write(table() + "\n")
