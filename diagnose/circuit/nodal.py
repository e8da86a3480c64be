"""The linear core: node voltages and port impedances of many circuits that share one graph.

Branch currents flow from tail to head as y (v_tail - v_head + emf), in siemens, volts and amperes;
alternating quantities are complex, direct ones real. How the equations are set up and kept accurate is told
in `cutsets` and `correction`.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike

from diagnose.circuit.correction import Base, Corrected
from diagnose.circuit.cutsets import KEPT_BYTES, Array, BoolArray, Cutsets, Dense, IntArray, Network
from diagnose.errors import CircuitError

__all__ = [
    "Batch",
    "Network",
    "UndeterminedError",
    "admittance_matrix",
    "solve",
    "solve_batch",
    "undetermined_nodes",
]

MOST_CHANGES = 16  # branches in which a row may differ from its base and still be corrected rather than solved
LEAST_ROWS = 4  # rows for which another base pays
MOST_BASES = 4
SAMPLE = 15
WIDTHS = (-1, 4, 8, MOST_CHANGES)  # rows of up to so many changes are worked on together

Solver = Corrected | Dense


class UndeterminedError(CircuitError):
    """Nodes whose voltage nothing determines, for the caller to name by their parts."""

    def __init__(self, nodes: tuple[int, ...]) -> None:
        self.nodes = nodes
        named = ", ".join(str(node) for node in nodes)
        super().__init__(f"the circuit leaves the voltage of nodes {named} undetermined")


def admittance_matrix(network: Network, admittance: ArrayLike) -> Array:
    """(N, N) nodal admittances in siemens, the datum's row replaced so that its voltage is zero.

    For looking at and for checking; solving goes by way of `Cutsets`, which loses no leak beside a wire.
    """
    y, _ = _checked(network, admittance, np.zeros(len(network.tail)))
    matrix = np.zeros((network.node_count, network.node_count), dtype=y.dtype)
    for row, column, sign in (
        ("tail", "tail", 1),
        ("head", "head", 1),
        ("tail", "head", -1),
        ("head", "tail", -1),
    ):
        np.add.at(matrix, (getattr(network, row), getattr(network, column)), sign * y[0])
    matrix[np.diag_indices(network.node_count)] += network.leak_siemens
    matrix[0] = 0
    matrix[0, 0] = 1
    return matrix


def solve(network: Network, admittance: ArrayLike, emf: ArrayLike) -> Array:
    """(N,) node voltages of one circuit, from its admittances (B,) and EMFs (B,), solved in full.

    Raises
    ------
    ValueError
        Where an admittance or EMF is not a finite number, or there are not B of them.
    UndeterminedError
        Where the circuit has no one solution.
    """
    y, e = _checked(network, admittance, emf)
    return np.asarray(_alone(network, y, e).voltages[0])


def undetermined_nodes(network: Network, admittance: ArrayLike) -> tuple[int, ...]:
    """Nodes with no path to the datum through branches that conduct: only the leak, if any, holds them."""
    y, _ = _checked(network, admittance, np.zeros(len(network.tail)))
    on = np.flatnonzero(y[0] != 0)
    held = np.zeros(network.node_count, dtype=bool)
    held[0] = True
    while True:
        joined = held[network.tail[on]] | held[network.head[on]]
        more = held.copy()
        more[network.tail[on[joined]]] = True
        more[network.head[on[joined]]] = True
        if (more == held).all():
            return tuple(np.flatnonzero(~held).tolist())
        held = more


@dataclass(frozen=True, eq=False, slots=True)
class Batch:
    """Solved circuits, H rows: voltages at once, port impedances when asked for.

    `voltages` (H, N); `admittance` and `emf` (H, B) as given.
    """

    network: Network
    admittance: Array
    emf: Array
    voltages: Array
    _groups: tuple[tuple[IntArray, Solver], ...]
    _index: IntArray  # (H,) which of the distinct circuits each row is
    _distinct: int
    _columns: dict[tuple[int, int], Array] = field(default_factory=dict)
    _ports: dict[tuple[int, int], Array] = field(default_factory=dict)

    def branch_currents(self) -> Array:
        """(H, B) amperes from tail to head."""
        return np.asarray(
            self.admittance * (self.voltages[:, self.network.tail] - self.voltages[:, self.network.head] + self.emf)
        )

    def between(self, a: int, b: int) -> Array:
        """(H,) volts of node a over node b."""
        return np.asarray(self.voltages[:, a] - self.voltages[:, b])

    def transfer(self, a: int, b: int) -> Array:
        """(H, N) ohms: node voltages for one ampere injected into a and taken out of b.

        The network is reciprocal, so this is also what a current injected at each node does between a and b.
        """
        if (a, b) not in self._columns:
            found = np.empty((self._distinct, self.network.node_count), dtype=self.admittance.dtype)
            for rows, solver in self._groups:
                found[rows] = solver.column(a, b)
            if (len(self._columns) + 1) * found.nbytes > KEPT_BYTES:
                self._columns.clear()
            self._columns[a, b] = _finite(found)
        return np.asarray(self._columns[a, b][self._index])

    def thevenin(self, a: int, b: int) -> tuple[Array, Array]:
        """(H,) open-circuit volts of a over b, and (H,) ohms seen between them."""
        if (a, b) not in self._ports:
            found = np.empty(self._distinct, dtype=self.admittance.dtype)
            for rows, solver in self._groups:
                found[rows] = solver.port(a, b)
            self._ports[a, b] = _finite(found)
        return self.between(a, b), np.asarray(self._ports[a, b][self._index])

    def loaded(self, a: int, b: int, meter_siemens: complex) -> Array:
        """(H,) volts that a meter of this admittance shows, its first lead on a and its second on b."""
        volts, ohms = self.thevenin(a, b)
        return np.asarray(volts / (1 + meter_siemens * ohms))

    def rows(self, index: IntArray | BoolArray) -> Batch:
        """Some of the rows; what is worked out for one batch later is not known to the other, nor for its rows."""
        kept, places = np.unique(self._index[index], return_inverse=True)
        groups = []
        for rows, solver in self._groups:
            # Rows come again, in a later group, until one is good for them.
            here = np.flatnonzero(np.isin(rows, kept))
            if len(here):
                groups.append((np.searchsorted(kept, rows[here]), solver.some(here)))
        return Batch(
            self.network, self.admittance[index], self.emf[index], self.voltages[index], tuple(groups),
            places.reshape(-1), len(kept),
        )  # fmt: skip


def solve_batch(network: Network, admittance: ArrayLike, emf: ArrayLike, base: int | None = None) -> Batch:
    """Solve many circuits: admittances (H, B) in siemens, EMFs (H, B) in volts.

    Equal rows are solved once. The rest are corrected from row `base` (from the commonest admittances if
    None), from further bases if many rows are far from it, and solved in full where that is as quick or a
    correction proves inaccurate: voltages are accepted only when they satisfy each row's own equations.

    Raises
    ------
    ValueError
        Where an admittance or EMF is not a finite number, or shapes do not agree.
    UndeterminedError
        Where a row has no one solution.
    """
    y, e = _checked(network, admittance, emf)
    first, index = _distinct_rows(y, e)
    groups: tuple[tuple[IntArray, Solver], ...] = ()
    if len(first):
        start = _commonest(y[first]) if base is None else y[base]
        groups = tuple(_groups(network, y[first], e[first], start))
    voltages = np.zeros((len(first), network.node_count), dtype=y.dtype)
    for rows, solver in groups:
        voltages[rows] = solver.voltages
    return Batch(network, y, e, voltages[index], groups, index, len(first))


def _groups(network: Network, y: Array, e: Array, start: Array) -> Iterator[tuple[IntArray, Solver]]:
    """Solvers with their rows. Rows come again, in a later group, until one is good for them."""
    left = np.arange(len(y))
    for _ in range(MOST_BASES):
        differ = y[left] != start
        near = differ.sum(1) <= MOST_CHANGES
        if near.sum() < min(LEAST_ROWS, len(y)):
            break
        good = np.zeros(len(y), dtype=bool)
        for rows, corrected in _corrected(network, y, e, start, left[near]):
            good[rows] = corrected.good
            yield rows, corrected
        left = left[~good[left]]
        if not len(left):
            return
        common = _commonest(y[left])
        start = y[left[np.argmin((y[left] != common).sum(1))]]
    if len(left) >= LEAST_ROWS:
        with np.errstate(invalid="ignore", over="ignore"):
            dense = Dense(Cutsets(network, np.abs(y[left]).mean(0)), y[left], e[left])
        yield left, dense
        left = left[~dense.good]
    for row in left:
        yield np.array([row]), _alone(network, y[row : row + 1], e[row : row + 1])


def _corrected(
    network: Network, y: Array, e: Array, start: Array, rows: IntArray
) -> Iterator[tuple[IntArray, Corrected]]:
    differ = y[rows] != start
    cuts = Cutsets(network, start, np.abs(y[rows]).max(0))
    base = Base(cuts, start, np.flatnonzero(differ.any(0) | (e[rows] != 0).any(0)))
    changes = differ.sum(1)
    for least, most in pairwise(WIDTHS):
        some = rows[(changes > least) & (changes <= most)]
        if len(some):
            with np.errstate(invalid="ignore", over="ignore", divide="ignore"):
                yield some, Corrected(base, y[some], e[some])


def _alone(network: Network, y: Array, e: Array) -> Dense:
    """One row (1, B) in the coordinates that fit it best."""
    cuts = Cutsets(network, y[0])
    with np.errstate(invalid="ignore", over="ignore"):
        solver = Dense(cuts, y, e)
    if not solver.good[0]:
        raise UndeterminedError(_loose(cuts, y[0]))
    return solver


def _loose(cuts: Cutsets, y: Array) -> tuple[int, ...]:
    """Nodes that move most when no current asks for it: those of the weakest singular vector."""
    if cuts.network.leak_siemens == 0 and (nodes := undetermined_nodes(cuts.network, y)):
        return nodes
    scale = np.sqrt(cuts.strength(y))
    scale[scale == 0] = 1
    _, _, vectors = np.linalg.svd(cuts.matrix(y) / np.outer(scale, scale))
    moved = np.abs(cuts.nodes(vectors[-1].conj() / scale))
    return tuple(np.flatnonzero(moved > 0.1 * moved.max()).tolist())


def _commonest(y: Array) -> Array:
    """(B,) the admittance that each branch has in most rows of a sample."""
    sample = y[np.unique(np.linspace(0, len(y) - 1, SAMPLE).astype(int))]
    votes = (sample[:, None, :] == sample[None, :, :]).sum(0)
    return np.asarray(np.take_along_axis(sample, votes.argmax(0)[None, :], 0)[0])


def _distinct_rows(y: Array, e: Array) -> tuple[IntArray, IntArray]:
    """The number of the first of each lot of equal rows, and for each row its lot."""
    weights = np.random.default_rng(0).random((2, y.shape[1]))
    marks = np.stack([(y * weights[0]).sum(1), (e * weights[1]).sum(1)], axis=1)
    _, first, index = np.unique(marks, axis=0, return_index=True, return_inverse=True)
    index = index.reshape(-1)
    alike = (y == y[first[index]]).all(1) & (e == e[first[index]]).all(1)
    if alike.all():
        return first, index
    return np.arange(len(y)), np.arange(len(y))  # two rows with one mark: solve them all


def _checked(network: Network, admittance: ArrayLike, emf: ArrayLike) -> tuple[Array, Array]:
    """(H, B) admittances and EMFs in one type, real or complex; H is 1 for single rows."""
    y, e = np.asarray(admittance), np.asarray(emf)
    kind = np.complex128 if np.iscomplexobj(y) or np.iscomplexobj(e) else np.float64
    y, e = np.broadcast_arrays(np.atleast_2d(y.astype(kind)), np.atleast_2d(e.astype(kind)))
    if y.ndim != 2 or y.shape[1] != len(network.tail):
        raise ValueError(f"admittances or EMFs of shape {y.shape}: expected (rows, {len(network.tail)})")
    for name, values in (("admittance", y), ("EMF", e)):
        if not np.isfinite(values).all():
            branches = np.unique(np.nonzero(~np.isfinite(values))[1]).tolist()
            raise ValueError(f"{name} of branches {branches} is not a finite number")
    return y, e


def _finite(found: Array) -> Array:
    if not np.isfinite(found).all():
        raise UndeterminedError(tuple(np.unique(np.nonzero(~np.isfinite(found))[-1]).tolist()))
    return found
