"""Circuits that have come to rest, kept small: only how each row differs, and solved once more when they are wanted.

To find how a circuit comes to rest takes many solutions, to solve what it has come to takes one.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields
from typing import Any

import numpy as np

from diagnose.circuit.cutsets import Array, IntArray
from diagnose.circuit.nodal import Batch, solve_batch
from diagnose.circuit.settle import Settled


@dataclass(frozen=True, eq=False, slots=True)
class Differences:
    """A matrix (H, B) of rows that are nearly alike: the first, and where each row is another."""

    first: Array  # (B,)
    starts: IntArray  # (H + 1,) where each row's differences begin
    columns: IntArray
    values: Array

    @classmethod
    def of(cls, matrix: Array) -> Differences:
        """Those of a matrix of one row at least."""
        rows, columns = np.nonzero(matrix != matrix[0])
        starts = np.searchsorted(rows, np.arange(len(matrix) + 1))
        return cls(matrix[0].copy(), starts, columns.astype(np.int32), matrix[rows, columns])

    def rows(self, index: IntArray) -> Array:
        """(K, B) some rows of the matrix."""
        matrix = np.repeat(self.first[None], len(index), axis=0)
        counts = self.starts[index + 1] - self.starts[index]
        places = spans(self.starts[index], counts)
        matrix[np.repeat(np.arange(len(index)), counts), self.columns[places]] = self.values[places]
        return matrix


@dataclass(frozen=True, eq=False, slots=True)
class Asleep:
    """A setup's settled circuits without their solutions: what they take is a hundredth."""

    kept: Mapping[str, Any]
    admittance: Mapping[str, Differences]
    emf: Mapping[str, Differences]

    @classmethod
    def of(cls, settled: Settled) -> Asleep:
        """Put circuits to sleep."""
        solved = {"alternating": settled.alternating, "direct": settled.direct}
        left_out = (*solved, "y_alternating", "y_direct", "worked_out")
        return cls(
            {each.name: getattr(settled, each.name) for each in fields(settled) if each.name not in left_out},
            {name: Differences.of(batch.admittance) for name, batch in solved.items()},
            {name: Differences.of(batch.emf) for name, batch in solved.items()},
        )

    def woken(self, index: IntArray) -> Settled:
        """Some of the rows, solved again."""
        count = len(self.kept["rows"])
        kept = {name: some_of(value, index, count) for name, value in self.kept.items()}
        kept["rows"] = tuple(self.kept["rows"][number] for number in index)
        network = kept["netlist"].network
        solved: dict[str, Any] = {
            name: solve_batch(network, self.admittance[name].rows(index), self.emf[name].rows(index))
            for name in self.admittance
        }
        return Settled(
            **kept, **solved, y_alternating=solved["alternating"].admittance, y_direct=solved["direct"].admittance
        )


def spans(starts: IntArray, counts: IntArray) -> IntArray:
    """The numbers from each start on, so many of each, one after the other."""
    return np.asarray(np.repeat(starts - (np.cumsum(counts) - counts), counts) + np.arange(counts.sum()))


def some_of(value: Any, index: IntArray, count: int) -> Any:
    """Some of the rows of whatever is kept of so many rows; what has none is as it was."""
    match value:
        case dict():
            return {key: some_of(each, index, count) for key, each in value.items()}
        case Batch():
            return value.rows(index)
        case np.ndarray() if value.ndim and len(value) == count:
            return value[index]
    return value
