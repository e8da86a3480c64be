"""A network's equations over the cuts of its strongest tree: the form in which doubles are enough.

Wires of a tenth of a milliohm and leaks of a hundred gigaohms stand in one circuit. In node voltages that is
hopeless: the leak drowns in the rounding of the wire. So the unknowns are the voltages along a spanning tree
of the strongest branches, and the equations are the sums of current through the cut that each tree branch
makes. A weak cut holds weak branches only, so nothing drowns, and scaled by its diagonal the matrix is
conditioned by the size of the circuit alone, whatever its admittances. Cut-set analysis: Seshu & Reed, Linear
Graphs and Electrical Networks (1961), from memory.
"""

from __future__ import annotations

from collections.abc import Iterator
from copy import copy
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]
FloatArray = NDArray[np.float64]
Array = NDArray[Any]  # float64, or complex128 where anything that goes in is complex

TOLERANCE = 1e-12  # what a cut may lack in current, as a share of what the greatest voltage would drive through it
WORST_CONDITION = 1e4  # of the scaled matrix: beyond this, another tree is wanted
REFINEMENTS = 4
CHUNK_BYTES = 16e6
KEPT_BYTES = 8e6  # columns of one batch
DENSE_BYTES = 48e6  # inverses of rows that are solved in full: made anew for every reading where they take more
HELD_SIEMENS = 1e-6  # a branch that holds its end


@dataclass(frozen=True, eq=False, slots=True)
class Network:
    """Nodes and branches; what sets one circuit apart from another is only its admittances and EMFs.

    There are `node_count` nodes, number 0 the datum. Branch b runs from node `tail[b]` to `head[b]`.
    `leak_siemens` joins every other node to the datum, so that a part of the circuit that hangs loose still
    has a voltage. Raises ValueError where a branch ends at no node, or the leak is negative.
    """

    node_count: int
    tail: IntArray
    head: IntArray
    leak_siemens: float = 1e-11

    def __post_init__(self) -> None:
        if self.tail.ndim != 1 or self.tail.shape != self.head.shape:
            raise ValueError(f"tail {self.tail.shape} and head {self.head.shape}: expected lists of one length")
        ends = np.concatenate([self.tail, self.head])
        if self.node_count < 1 or (ends.size and not 0 <= ends.min() <= ends.max() < self.node_count):
            raise ValueError(f"a branch ends outside nodes 0 to {self.node_count - 1}")
        if not 0 <= self.leak_siemens < np.inf:
            raise ValueError(f"leak of {self.leak_siemens} S: expected zero or more")


class Cutsets:
    """The spanning tree of a network that is strongest at some admittances (B,), and equations over its cuts.

    Coordinate t is the voltage of node t + 1 over its parent in the tree. `to_nodes` (N, N-1) turns
    coordinates into node voltages, `across` (B, N-1) into voltages from tail to head of the branches. Where
    nothing holds a part of the circuit, the branch with the greatest `reach` (B,), siemens that it has in
    some other circuit, joins it to the tree.
    """

    def __init__(self, network: Network, admittance: Array, reach: FloatArray | None = None) -> None:
        self.network = network
        strength = np.abs(admittance)
        self.to_nodes = np.zeros((network.node_count, network.node_count - 1))
        self.parents = np.zeros(network.node_count - 1, dtype=np.int64)
        for node, parent in strongest_tree(network, strength, strength if reach is None else reach):
            self.parents[node - 1] = parent
            self.to_nodes[node] = self.to_nodes[parent]
            self.to_nodes[node, node - 1] = 1
        self.across = self.to_nodes[network.tail] - self.to_nodes[network.head]
        self._cut = np.abs(self.across)
        self._leak = network.leak_siemens * self.to_nodes
        self._links = self._cut.sum(1) > 1  # the others cross one cut or none, and stand on the diagonal only
        self._loops = self.across[self._links]
        self._diagonal = np.arange(network.node_count - 1)

    def strength(self, admittance: Array) -> FloatArray:
        """(..., N-1) siemens of all branches in each cut."""
        return np.asarray(np.abs(admittance) @ self._cut + self._leak.sum(0))

    def matrix(self, admittance: Array) -> Array:
        """(..., N-1, N-1) admittances over the cuts, summed from the branches, nothing taken away again."""

        def part(values: FloatArray) -> FloatArray:
            looped = (self._loops.T * values[..., None, self._links]) @ self._loops
            looped[..., self._diagonal, self._diagonal] += values[..., ~self._links] @ self._cut[~self._links]
            return np.asarray(looped)

        matrix = part(admittance.real) + self.to_nodes.T @ self._leak
        return matrix + 1j * part(admittance.imag) if np.iscomplexobj(admittance) else matrix

    def inverse(self, admittance: Array) -> Array:
        """(..., N-1, N-1) impedances; nan in rows that have no solution, or none that can be trusted here."""
        scale = np.sqrt(self.strength(admittance))
        scale[scale == 0] = 1
        scales = scale[..., :, None] * scale[..., None, :]
        inverse = inverted(self.matrix(admittance) / scales)
        inverse[np.abs(inverse).sum(-1).max(-1, initial=0) > WORST_CONDITION] = np.nan
        return np.asarray(inverse / scales)

    def answer(self, admittance: Array, strength: FloatArray, given: FloatArray) -> Array:
        """(h, N-1, q) coordinates for currents (h, N-1, q) over the cuts; nan where a row is singular."""
        root = np.sqrt(np.where(strength > 0, strength, 1))[:, :, None]
        matrix = self.matrix(admittance) / root / np.swapaxes(root, 1, 2)
        try:
            return np.asarray(np.linalg.solve(matrix, given / root) / root)
        except np.linalg.LinAlgError:
            return np.asarray(inverted(matrix) @ (given / root) / root)

    def lack(self, voltages: Array, admittance: Array, driven: Array) -> Array:
        """(..., N-1) current that each cut lacks to balance, given node voltages and currents that are
        driven.

        `driven` (..., B) amperes flow from tail to head on top of what the voltages cause.
        """
        through = admittance * (voltages[..., self.network.tail] - voltages[..., self.network.head]) + driven
        return np.asarray(-(times(through, self.across) + times(voltages, self._leak)))

    def supply(self, driven: Array) -> Array:
        """(..., N-1) what currents driven through the branches (..., B) bring to the cuts."""
        return -times(driven, self.across)

    def nodes(self, coordinates: Array) -> Array:
        """(..., N) node voltages."""
        return times(coordinates, self.to_nodes.T)

    def injection(self, a: int, b: int) -> FloatArray:
        """(N-1,) one ampere into node a and out of node b, as currents over the cuts."""
        return np.asarray(self.to_nodes[a] - self.to_nodes[b])

    def satisfied(self, lack: Array, strength: FloatArray, voltages: Array, emf: FloatArray) -> BoolArray:
        """(...,) whether all cuts balance within rounding; never where anything is nan."""
        greatest = np.maximum(np.abs(voltages).max(-1), emf)
        return np.asarray((np.abs(lack) <= TOLERANCE * strength * greatest[..., None]).all(-1))


class Dense:
    """Rows (h, B) solved in full in coordinates that they share; `good` as with `Corrected`."""

    def __init__(self, cuts: Cutsets, admittance: Array, emf: Array) -> None:
        self.cuts, self.admittance = cuts, admittance
        size = len(cuts.to_nodes) ** 2 * admittance.itemsize * len(admittance)
        self._impedance: Array | None = None if size > DENSE_BYTES else self._inverse(np.arange(len(admittance)))
        driven = admittance * emf
        self.voltages = np.zeros((len(admittance), len(cuts.to_nodes)), dtype=driven.dtype)
        strength, greatest = cuts.strength(admittance), np.abs(emf).max(1, initial=0)
        self.good = np.zeros(len(admittance), dtype=bool)
        for rows in self._rows():
            impedance = self._inverse(rows)
            lack = cuts.supply(driven[rows])
            for _ in range(REFINEMENTS):
                self.voltages[rows] += cuts.nodes((lack[:, None, :] @ impedance)[:, 0])
                lack = cuts.lack(self.voltages[rows], admittance[rows], driven[rows])
                self.good[rows] = cuts.satisfied(lack, strength[rows], self.voltages[rows], greatest[rows])
                if self.good[rows].all():
                    break

    def some(self, rows: IntArray) -> Dense:
        """Some of the rows (h,) by themselves: what is read of them is not worked out for the others."""
        fewer = copy(self)
        fewer.admittance, fewer.voltages, fewer.good = self.admittance[rows], self.voltages[rows], self.good[rows]
        if self._impedance is not None:
            fewer._impedance = self._impedance[rows]
        return fewer

    def column(self, a: int, b: int) -> Array:
        """(h, N) node voltages for one ampere into a and out of b."""
        given = self.cuts.injection(a, b)
        return np.concatenate([self.cuts.nodes(given @ self._inverse(rows)) for rows in self._rows()])

    def port(self, a: int, b: int) -> Array:
        """(h,) impedance seen between a and b."""
        given = self.cuts.injection(a, b)
        return np.concatenate([given @ self._inverse(rows) @ given for rows in self._rows()])

    def _rows(self) -> list[IntArray]:
        return chunks(np.arange(len(self.admittance)), full_bytes(self.cuts, self.admittance))

    def _inverse(self, rows: IntArray) -> Array:
        kept = getattr(self, "_impedance", None)
        if kept is not None:
            return np.asarray(kept[rows])
        parts = [
            self.cuts.inverse(self.admittance[some]) for some in chunks(rows, full_bytes(self.cuts, self.admittance))
        ]
        return np.concatenate(parts)


def strongest_tree(network: Network, strength: FloatArray, reach: FloatArray) -> Iterator[tuple[int, int]]:
    """Each node but the datum with its parent in the strongest spanning tree, parents first (Kruskal)."""
    root = list(range(network.node_count))

    def find(node: int) -> int:
        while root[node] != node:
            root[node] = root[root[node]]
            node = root[node]
        return node

    order = np.lexsort((-reach, -np.where(strength >= HELD_SIEMENS, strength, 0)))
    order = order[np.maximum(strength, reach)[order] > network.leak_siemens]
    edges = list(zip(network.tail[order].tolist(), network.head[order].tolist(), strict=True))
    edges += [(0, node) for node in range(1, network.node_count)]  # the leaks, weaker than all others
    near: list[list[int]] = [[] for _ in root]
    for tail, head in edges:
        one, other = find(tail), find(head)
        if one != other:
            root[one] = other
            near[tail].append(head)
            near[head].append(tail)
    queue = [(0, -1)]
    for node, parent in queue:
        queue.extend((further, node) for further in near[node] if further != parent)
    yield from queue[1:]


def times(values: Array, matrix: Array) -> Array:
    """(..., n) values times one (n, m) matrix: one product over all rows, real work for real matrices."""
    flat = values.reshape(-1, values.shape[-1])
    shape = (*values.shape[:-1], matrix.shape[1])
    if not np.iscomplexobj(values) or np.iscomplexobj(matrix):
        return np.asarray((flat @ matrix).reshape(shape))
    product = np.empty((len(flat), matrix.shape[1]), dtype=np.complex128)
    product.real = flat.real @ matrix
    product.imag = flat.imag @ matrix
    return product.reshape(shape)


def inverted(matrices: Array) -> Array:
    """(..., n, n) inverses, nan for each matrix that has none."""
    try:
        return np.asarray(np.linalg.inv(matrices))
    except np.linalg.LinAlgError:
        if matrices.ndim == 2:
            return np.full_like(matrices, np.nan)
        return np.stack([inverted(matrix) for matrix in matrices])


def full_bytes(cuts: Cutsets, admittance: Array) -> float:
    """Bytes of working memory that one row takes to be solved in full."""
    nodes, branches = cuts.to_nodes.shape[0], admittance.shape[1]
    return float(nodes * (branches * 8 + nodes * 5 * admittance.itemsize))


def chunks(rows: IntArray, bytes_each: float) -> list[IntArray]:
    """The rows in lots that fit in working memory."""
    size = max(1, int(CHUNK_BYTES / bytes_each))
    return [rows[start : start + size] for start in range(0, len(rows), size)]
