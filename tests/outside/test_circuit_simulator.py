"""Node voltages against an outside circuit simulator (ngspice in batch mode)."""

from __future__ import annotations

from math import cos, radians, sin, tau
from pathlib import Path

import numpy as np
import pytest

from diagnose.circuit.nodal import Network, solve, solve_batch
from tests.outside.spice import Element, needs_simulator, netlist, simulate

HERTZ = 60.0


def random_elements(random: np.random.Generator, nodes: int, alternating: bool) -> list[Element]:
    """A connected circuit of wires, loads, leaks, coils, snubbers and sources."""
    ends = [(node, int(random.integers(0, node))) for node in range(1, nodes)]
    ends += [tuple(random.choice(nodes, 2, replace=False).tolist()) for _ in range(nodes)]
    elements = []
    for number, (tail, head) in enumerate(ends):
        ohms = float(10 ** random.uniform(-3, 5)) if random.random() < 0.8 else float(10 ** random.uniform(5, 8))
        henry = float(10 ** random.uniform(-4, 0)) if alternating and random.random() < 0.2 else 0.0
        farad = float(10 ** random.uniform(-9, -5)) if alternating and random.random() < 0.2 else 0.0
        volts = float(random.choice([120.0, 24.0, 12.0])) if number == 0 or random.random() < 0.1 else 0.0
        degrees = float(random.choice([0.0, 120.0, 180.0])) if alternating else 0.0
        elements.append(Element(tail, head, ohms, henry, farad, volts, degrees))
    return elements


def ours(elements: list[Element], nodes: int, alternating: bool) -> tuple[Network, np.ndarray, np.ndarray]:
    network = Network(nodes, np.array([e.tail for e in elements]), np.array([e.head for e in elements]))
    if not alternating:
        y, emf = np.array([1 / e.ohms for e in elements]), np.array([e.volts for e in elements])
        return network, y, emf
    angles = [radians(e.degrees) for e in elements]
    emf = np.array([e.volts * complex(cos(a), sin(a)) for e, a in zip(elements, angles, strict=True)])
    return network, np.array([e.admittance(tau * HERTZ) for e in elements]), emf


@needs_simulator
@pytest.mark.parametrize("alternating", [True, False], ids=["ac", "dc"])
@pytest.mark.parametrize("seed", range(20))
def test_random_circuits_agree_with_the_simulator(seed: int, alternating: bool, tmp_path: Path) -> None:
    random = np.random.default_rng(seed)
    nodes = int(random.integers(4, 40))
    elements = random_elements(random, nodes, alternating)
    network, y, emf = ours(elements, nodes, alternating)
    text = netlist(elements, nodes, network.leak_siemens, HERTZ if alternating else 0)
    theirs = np.array(simulate(text, nodes, tmp_path))
    assert np.abs(theirs).max() > 1
    np.testing.assert_allclose(solve(network, y, emf), theirs, rtol=1e-6, atol=1e-6 * np.abs(theirs).max())


@needs_simulator
@pytest.mark.parametrize("seed", range(5))
def test_opened_branches_agree_with_the_simulator(seed: int, tmp_path: Path) -> None:
    random = np.random.default_rng(100 + seed)
    elements = random_elements(random, 15, alternating=True)
    network, y, emf = ours(elements, 15, alternating=True)
    opened = random.choice(len(y), 6, replace=False)
    rows = np.repeat(y[None], 6, axis=0)
    rows[range(6), opened] = 0
    batch = solve_batch(network, rows, emf)
    for row, branch in enumerate(opened):
        left = [element for number, element in enumerate(elements) if number != branch]
        text = netlist(left, 15, network.leak_siemens, HERTZ)
        theirs = np.array(simulate(text, 15, tmp_path))
        np.testing.assert_allclose(batch.voltages[row], theirs, rtol=1e-6, atol=1e-4)
