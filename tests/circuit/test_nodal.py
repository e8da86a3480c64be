"""Many circuits from one graph: against exact arithmetic, Kirchhoff, and values worked by hand."""

from __future__ import annotations

import tracemalloc
from decimal import Decimal, localcontext
from math import tau

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from diagnose.circuit.cutsets import TOLERANCE
from diagnose.circuit.nodal import (
    Network,
    UndeterminedError,
    admittance_matrix,
    solve,
    solve_batch,
    undetermined_nodes,
)
from diagnose.errors import CircuitError

METER = 1e-7  # 10 megohm
WIRE = 1e4  # a tenth of a milliohm
SEEDS = st.integers(0, 10**6)
VALUES = np.array([WIRE, 1e3, 100, 10, 0.1, 1e-3, METER, 1e-12, 0])


def network(nodes: int, *ends: tuple[int, int], leak: float = 1e-11) -> Network:
    tail, head = zip(*ends, strict=True)
    return Network(nodes, np.array(tail), np.array(head), leak)


def exact(net: Network, y: np.ndarray, emf: np.ndarray, inject: tuple[int, int] | None = None) -> np.ndarray:
    """Node voltages by elimination in 60 digits, complex numbers as pairs of real equations."""
    size = net.node_count - 1
    with localcontext() as context:
        context.prec = 60
        rows = [[Decimal(0)] * (2 * size + 1) for _ in range(2 * size)]

        def put(row: int, column: int, real: Decimal, imaginary: Decimal) -> None:
            if row and column:
                rows[row - 1][column - 1] += real
                rows[row - 1 + size][column - 1 + size] += real
                rows[row - 1][column - 1 + size] -= imaginary
                rows[row - 1 + size][column - 1] += imaginary

        def drive(node: int, real: Decimal, imaginary: Decimal) -> None:
            if node:
                rows[node - 1][-1] += real
                rows[node - 1 + size][-1] += imaginary

        for tail, head, value, source in zip(net.tail.tolist(), net.head.tolist(), y, emf, strict=True):
            g, b = Decimal(float(np.real(value))), Decimal(float(np.imag(value)))
            for row, column, sign in ((tail, tail, 1), (head, head, 1), (tail, head, -1), (head, tail, -1)):
                put(row, column, sign * g, sign * b)
            er, ei = Decimal(float(np.real(source))), Decimal(float(np.imag(source)))
            drive(head, g * er - b * ei, g * ei + b * er)
            drive(tail, b * ei - g * er, -(g * ei + b * er))
        for node in range(1, net.node_count):
            put(node, node, Decimal(net.leak_siemens), Decimal(0))
        if inject:
            drive(inject[0], Decimal(1), Decimal(0))
            drive(inject[1], Decimal(-1), Decimal(0))
        found = eliminated(rows)
        return np.array([0, *(complex(float(found[n]), float(found[n + size])) for n in range(size))])


def eliminated(rows: list[list[Decimal]]) -> list[Decimal]:
    count = len(rows)
    for place in range(count):
        best = max(range(place, count), key=lambda row: abs(rows[row][place]))
        rows[place], rows[best] = rows[best], rows[place]
        for row in rows[place + 1 :]:
            if row[place]:
                factor = row[place] / rows[place][place]
                row[place:] = [x - factor * p for x, p in zip(row[place:], rows[place][place:], strict=True)]
    found = [Decimal(0)] * count
    for place in reversed(range(count)):
        known = sum(rows[place][k] * found[k] for k in range(place + 1, count))
        found[place] = (rows[place][count] - known) / rows[place][place]
    return found


def random_circuits(seed: int, most_nodes: int = 12, rows: int = 8) -> tuple[Network, np.ndarray, np.ndarray]:
    """Wires, leaks and open branches thrown together, with loops and islands; each row altered a little."""
    random = np.random.default_rng(seed)
    nodes = int(random.integers(3, most_nodes))
    count = int(nodes * random.uniform(1, 2)) + 1
    tail = random.integers(0, nodes, count)
    head = (tail + random.integers(1, nodes, count)) % nodes
    y = random.choice(VALUES, count, p=[0.2, 0.2, 0.1, 0.1, 0.1, 0.05, 0.1, 0.05, 0.1]) * random.uniform(
        0.5, 1.5, count
    )
    if seed % 2:
        y = y * np.exp(1j * random.uniform(-1.5, 1.5, count) * (random.random(count) < 0.3))
    emf = np.where(random.random(count) < 0.3, random.choice([120, -120, 12, 5.0], count), 0.0)
    all_rows = np.repeat(y[None], rows, axis=0)
    for row in all_rows[1:]:
        changed = random.choice(count, random.integers(1, min(5, count)), replace=False)
        row[changed] = random.choice([0, 0, 0, WIRE, 1e3, 0.1, METER], len(changed))
    return Network(nodes, tail, head), all_rows, np.repeat(emf[None], rows, axis=0)


@settings(max_examples=40, deadline=None, derandomize=True)
@given(SEEDS)
def test_full_solve_agrees_with_exact_arithmetic(seed: int) -> None:
    net, y, emf = random_circuits(seed)
    for row in range(2):
        np.testing.assert_allclose(solve(net, y[row], emf[row]), exact(net, y[row], emf[row]), rtol=0, atol=1e-9)


@pytest.mark.parametrize("seed", [34, 125, 190, 263, 282, 290])
def test_what_rounding_costs_between_two_nodes_is_noticed_and_made_good(seed: int) -> None:
    """In these the first answer is off by several microhms, so that only its own estimate of that keeps it out."""
    net, y, emf = random_circuits(seed, rows=20)
    a, b = np.random.default_rng(seed).choice(net.node_count, 2, replace=False).tolist()
    batch = solve_batch(net, y, emf, base=0)
    columns, ohms = batch.transfer(a, b), batch.thevenin(a, b)[1]
    for row in range(len(y)):
        true = exact(net, y[row], emf[row] * 0, (a, b))
        across = true[a] - true[b]
        np.testing.assert_allclose(columns[row], true, rtol=0, atol=1e-6 + 1e-7 * np.abs(true).max())
        # A hundred gigaohms stop any meter, and need not be known to the ohm.
        assert ohms[row] == pytest.approx(across, rel=0, abs=1e-6 + 1e-7 * abs(across) + 1e-14 * abs(across) ** 2)


@settings(max_examples=60, deadline=None, derandomize=True)
@given(SEEDS)
def test_what_a_meter_shows_agrees_with_exact_arithmetic(seed: int) -> None:
    net, y, emf = random_circuits(seed)
    a, b = np.random.default_rng(seed).choice(net.node_count, 2, replace=False).tolist()
    shown = solve_batch(net, y, emf).loaded(a, b, METER)
    for row in range(len(y)):
        open_volts, injected = exact(net, y[row], emf[row]), exact(net, y[row], emf[row] * 0, (a, b))
        ohms = injected[a] - injected[b]
        assert shown[row] == pytest.approx((open_volts[a] - open_volts[b]) / (1 + METER * ohms), abs=1e-6, rel=0)


@settings(max_examples=60, deadline=None, derandomize=True)
@example(seed=67)  # these five were once accepted with wrong voltages: several cuts told the same tale
@example(seed=272)
@example(seed=277)
@example(seed=295)
@example(seed=451)
@given(SEEDS)
def test_corrected_agrees_with_full_for_any_base(seed: int) -> None:
    net, y, emf = random_circuits(seed, most_nodes=40, rows=30)
    base = np.random.default_rng(seed).integers(0, 30)
    batch, other = solve_batch(net, y, emf), solve_batch(net, y, emf, base=int(base))
    full = np.stack([solve(net, *row) for row in zip(y, emf, strict=True)])
    np.testing.assert_allclose(batch.voltages, full, rtol=0, atol=1e-6)
    np.testing.assert_allclose(other.voltages, full, rtol=0, atol=1e-6)


@settings(max_examples=40, deadline=None, derandomize=True)
@given(SEEDS)
def test_currents_into_every_node_balance(seed: int) -> None:
    net, y, emf = random_circuits(seed, most_nodes=40)
    batch = solve_batch(net, y, emf)
    through = batch.branch_currents()
    lost = -net.leak_siemens * batch.voltages
    size = np.zeros(lost.shape)
    for row in range(len(y)):
        np.subtract.at(lost[row], net.tail, through[row])
        np.add.at(lost[row], net.head, through[row])
        np.add.at(size[row], net.tail, np.abs(y[row]))
        np.add.at(size[row], net.head, np.abs(y[row]))
    assert (np.abs(lost[:, 1:]) <= 1e-11 * 360 * size[:, 1:] + 1e-15).all()


@settings(max_examples=40, deadline=None, derandomize=True)
@given(SEEDS)
def test_transfer_is_reciprocal_and_gives_what_a_source_does(seed: int) -> None:
    net, y, emf = random_circuits(seed, most_nodes=30)
    random = np.random.default_rng(seed)
    a, b, c = random.choice(net.node_count, 3, replace=False).tolist()
    batch = solve_batch(net, y, emf)
    there, back = batch.transfer(a, b), batch.transfer(a, c)
    scale = 1e-6 * (1 + np.abs(there).max(1) + np.abs(back).max(1))
    assert (np.abs((there[:, a] - there[:, c]) - (back[:, a] - back[:, b])) <= scale).all()
    np.testing.assert_allclose(batch.transfer(b, a), -there, rtol=1e-6, atol=1e-6 * np.abs(there).max())
    np.testing.assert_allclose(batch.thevenin(a, b)[1], there[:, a] - there[:, b], rtol=1e-6, atol=1e-6)


@settings(max_examples=40, deadline=None, derandomize=True)
@given(SEEDS)
def test_sources_superpose(seed: int) -> None:
    net, y, emf = random_circuits(seed, most_nodes=30)
    some = np.random.default_rng(seed).random(emf.shape[1]) < 0.5
    both = solve_batch(net, y, emf).voltages
    apart = solve_batch(net, y, emf * some).voltages + solve_batch(net, y, emf * ~some).voltages
    np.testing.assert_allclose(both, apart, rtol=0, atol=1e-6)


def test_adjoint_gives_what_a_branch_does_to_a_reading() -> None:
    # Tellegen's theorem: dv/dy is minus the adjoint's voltage over the branch times what drives the branch.
    random = np.random.default_rng(5)
    net, y, emf = random_circuits(5)
    y = random.uniform(0.1, 10, y.shape)
    batch = solve_batch(net, y, emf)
    seen = batch.transfer(1, 2)
    drives = batch.voltages[:, net.tail] - batch.voltages[:, net.head] + emf
    predicted = -(seen[:, net.tail] - seen[:, net.head]) * drives
    for branch in range(y.shape[1]):
        step = np.zeros(y.shape[1])
        step[branch] = 1e-5
        change = solve_batch(net, y + step, emf).between(1, 2) - solve_batch(net, y - step, emf).between(1, 2)
        np.testing.assert_allclose(change / 2e-5, predicted[:, branch], rtol=1e-5, atol=1e-5)


# Worked by hand --------------------------------------------------------------------------------


def test_split_phase_supply_with_an_element() -> None:
    # 240 V / (2 x 10 mohm + 10.47 ohm): Ohm's law; also run in an outside simulator.
    net = network(3, (0, 1), (0, 2), (1, 2), (1, 2))
    batch = solve_batch(net, [[100, 100, 1 / 10.47, METER]], [[120 + 0j, -120, 0, 0]])
    assert abs(batch.between(1, 2)[0]) == pytest.approx(239.542421, abs=5e-7)
    assert abs(batch.branch_currents()[0, 0]) == pytest.approx(22.878956, abs=3e-5)


@pytest.mark.parametrize(
    ("load", "element", "ends", "volts"),
    [
        (0, 0, (3, 0), 119.991),
        (0, 0, (3, 2), 239.981),
        (0, 1 / 10.47, (3, 2), 0.0208),
        (1 / 300e3, 0, (3, 0), 111.33),
    ],
    ids=["to neutral", "to the other leg", "element fitted", "300 kohm load"],
)
def test_relay_that_is_off_passes_its_snubber_current(
    load: float, element: float, ends: tuple[int, int], volts: float
) -> None:
    # 47 ohm + 22 nF at 60 Hz is 120.6 kohm before 10 Mohm: a voltage divider; also simulated outside.
    snubber = 1 / complex(47, -1 / (tau * 60 * 22e-9))
    net = network(4, (0, 1), (0, 2), (1, 3), (3, 0), (3, 2))
    batch = solve_batch(net, [100, 100, snubber, load, element], [120, -120, 0, 0, 0])
    meter = METER if not load else 0
    assert abs(batch.loaded(*ends, meter)[0]) == pytest.approx(volts, rel=1e-4, abs=5e-5)


@pytest.mark.parametrize("siemens", [10.0, 1e3, WIRE])
@pytest.mark.parametrize("held_by", [METER, 1e-9, 1e-12, 0.0])
def test_opening_the_only_wire_to_a_node_leaves_no_ghost_of_it(siemens: float, held_by: float) -> None:
    # In node voltages, corrected by Woodbury's formula, this is wrong by up to a millivolt.
    net = network(4, (0, 1), (1, 2), (2, 3), (3, 0))
    rows = np.array([[100, siemens, siemens, held_by], [100, 0, siemens, held_by], [100, siemens, 0, held_by]])
    batch = solve_batch(net, rows, [120, 0, 0, 0], base=0)
    for row in (1, 2):
        # What hangs loose is at zero, within what a solution may lack of its greatest voltage.
        assert batch.between(3, 0)[row] == pytest.approx(0, abs=TOLERANCE * 120)
        ohms = 1 / (held_by + (3 - row) * 1e-11)
        assert batch.thevenin(3, 0)[1][row] == pytest.approx(ohms, rel=1e-6)
    assert batch.loaded(1, 3, METER)[2] == pytest.approx(120 / (1 + METER / (held_by + 1e-11)), rel=1e-6)


def test_loop_in_a_floating_island_is_measured_to_the_microohm() -> None:
    # A Pt100 with its leads, held by nothing but leaks: the island's 33 Gohm must not drown its 107.79 ohm.
    net = network(4, (1, 2), (2, 3), (3, 1), (3, 1))
    rows = [[WIRE, 1 / 107.79, 0, 0], [WIRE, 1 / 107.79, 1 / 107.79, 0], [0, 1 / 107.79, 0, 1e-6]]
    ohms = solve_batch(net, rows, [0, 0, 0, 0], base=0).thevenin(1, 3)[1]
    np.testing.assert_allclose(ohms, [107.7901, 1 / (1 / 107.7901 + 1 / 107.79), 1e6], rtol=2e-5)
    np.testing.assert_allclose(ohms[:2], [107.7901, 1 / (1 / 107.7901 + 1 / 107.79)], rtol=0, atol=1e-6)


@pytest.mark.parametrize("siemens", [1.0, 1e3, WIRE])
def test_closing_a_contact_to_what_hung_loose_leaves_no_trace_of_its_leak(siemens: float) -> None:
    # In the base nodes 2 and 3 hang on 50 gigohm of leak: taking that away again would cost 1e-5 ohm.
    net = network(4, (0, 1), (1, 2), (2, 3))
    batch = solve_batch(net, [[100.0, 0, WIRE], [100.0, siemens, WIRE]], [120, 0, 0], base=0)
    for node, ohms in ((2, 0.01 + 1 / siemens), (3, 0.01 + 1 / siemens + 1e-4)):
        assert batch.thevenin(node, 0)[1][1] == pytest.approx(ohms, abs=1e-7, rel=0)
        assert batch.transfer(node, 0)[1, node] == pytest.approx(ohms, abs=1e-7, rel=0)


# Batches ---------------------------------------------------------------------------------------


def test_equal_rows_are_solved_once_and_all_answered() -> None:
    net = network(3, (0, 1), (1, 2), (2, 0))
    rows = np.array([[10, 1, 1], [10, 0, 1], [10, 1, 1], [10, 0, 1]])
    batch = solve_batch(net, rows, [12, 0, 0])
    assert batch._distinct == 2
    np.testing.assert_array_equal(batch.voltages[0], batch.voltages[2])
    assert batch.thevenin(2, 0)[1] == pytest.approx([1 / (1 + 1 / 1.1), 1, 1 / (1 + 1 / 1.1), 1], rel=1e-9)


def test_rows_far_from_each_other_are_solved_all_the_same() -> None:
    random = np.random.default_rng(3)
    net, y, emf = random_circuits(3, most_nodes=40, rows=40)
    y = y * random.uniform(0.5, 2, y.shape)
    batch = solve_batch(net, y, emf)
    full = np.stack([solve(net, *row) for row in zip(y, emf, strict=True)])
    np.testing.assert_allclose(batch.voltages, full, rtol=0, atol=1e-6)


def test_some_rows_of_a_batch() -> None:
    net, y, emf = random_circuits(4)
    batch = solve_batch(net, y, emf)
    some = batch.rows(np.array([5, 1]))
    np.testing.assert_array_equal(some.voltages, batch.voltages[[5, 1]])
    np.testing.assert_array_equal(some.thevenin(1, 2)[1], batch.thevenin(1, 2)[1][[5, 1]])
    np.testing.assert_array_equal(some.branch_currents(), batch.branch_currents()[[5, 1]])


def test_direct_current_stays_real() -> None:
    net = network(2, (0, 1), (1, 0))
    batch = solve_batch(net, [[1.0, 1.0]], [[12.0, 0]])
    assert {array.dtype for array in (batch.voltages, batch.transfer(1, 0), batch.branch_currents())} == {
        np.dtype(float)
    }
    assert batch.between(1, 0) == pytest.approx([6], rel=1e-9)


def test_no_rows_give_no_answers() -> None:
    batch = solve_batch(network(2, (0, 1)), np.zeros((0, 1)), np.zeros((0, 1)))
    assert batch.voltages.shape == (0, 2)
    assert batch.loaded(0, 1, METER).shape == (0,)


def test_large_batch_stays_within_its_memory() -> None:
    random = np.random.default_rng(1)
    nodes, count = 400, 800
    tail = np.concatenate([np.arange(1, nodes), random.integers(0, nodes, count - nodes + 1)])
    head = np.concatenate([np.arange(nodes - 1) // 2, random.integers(0, nodes, count - nodes + 1)])
    rows = np.repeat(random.choice([1e3, 1.0, 1e-3], count)[None] + 0j, 400, axis=0)
    for row in rows:
        row[random.choice(count, random.integers(1, 9), replace=False)] = random.choice([0, 1.0, 50])
    tracemalloc.start()
    batch = solve_batch(Network(nodes, tail, head), rows, np.eye(1, count)[0] * 120)
    batch.transfer(1, 2)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert peak < 150e6


# What can't be solved --------------------------------------------------------------------------


@pytest.mark.parametrize("bad", [np.nan, np.inf, complex(0, np.inf)])
def test_values_that_are_no_numbers_are_refused(bad: complex) -> None:
    net = network(3, (0, 1), (1, 2))
    with pytest.raises(ValueError, match=r"^admittance of branches \[1\] is not a finite number$"):
        solve_batch(net, [[1, bad]], [[0, 0]])
    with pytest.raises(ValueError, match=r"^EMF of branches \[0\] is not a finite number$"):
        solve_batch(net, [[1, 1]], [[bad, 0]])


def test_shapes_must_agree() -> None:
    with pytest.raises(ValueError, match=r"^admittances or EMFs of shape \(1, 2\): expected \(rows, 1\)$"):
        solve(network(2, (0, 1)), [1, 1], [0, 0])


def test_branch_must_end_at_nodes() -> None:
    with pytest.raises(ValueError, match=r"^a branch ends outside nodes 0 to 1$"):
        network(2, (0, 2))


def test_node_that_nothing_holds_is_named() -> None:
    net = network(4, (0, 1), (2, 3), leak=0)
    with pytest.raises(CircuitError) as caught:
        solve_batch(net, [[1.0, 1.0], [1.0, 2.0]], [5.0, 0])
    assert isinstance(caught.value, UndeterminedError)
    assert caught.value.nodes == (2, 3)
    assert str(caught.value) == "the circuit leaves the voltage of nodes 2, 3 undetermined"


def test_resonance_without_loss_is_named() -> None:
    net = network(3, (0, 1), (1, 2), (2, 0), (2, 0), leak=0)
    with pytest.raises(UndeterminedError) as caught:
        solve(net, [1, 0, 1j, -1j], [5, 0, 0, 0])
    assert caught.value.nodes == (2,)


def test_nodes_without_a_path_to_the_datum() -> None:
    net = network(5, (0, 1), (1, 2), (3, 4))
    assert undetermined_nodes(net, [1, 1e-12, 1]) == (3, 4)
    assert undetermined_nodes(net, [0, 1, 0]) == (1, 2, 3, 4)


def test_admittance_matrix_holds_the_datum_at_zero() -> None:
    matrix = admittance_matrix(network(3, (0, 1), (1, 2), leak=0.5), [2, 3])
    np.testing.assert_array_equal(matrix, [[1, 0, 0], [-2, 5.5, -3], [0, -3, 3.5]])
