"""Many circuits from one inverse: those that differ from it in few branches are corrected, others solved in
full.

A row that differs from its base in k branches has Y = Y0 + U D U^T, and for any injected currents c
    Y^-1 c = Z c - W D (U^T Z c),    Z = Y0^-1,    W = Y^-1 U = Z U (1 + D U^T Z U)^-1.
This is Woodbury's formula (Hager, SIAM Review 31, 1989, from memory) with W kept apart: where 1 + D U^T Z U
cancels, as on opening the only wire to a node that a meter holds, W is refined by the row's own equations or
solved in full, and whatever is asked of the row afterwards costs k products.
"""

from __future__ import annotations

from copy import copy

import numpy as np

from diagnose.circuit.cutsets import (
    REFINEMENTS,
    WORST_CONDITION,
    Array,
    BoolArray,
    Cutsets,
    Dense,
    FloatArray,
    IntArray,
    chunks,
    full_bytes,
    inverted,
    times,
)

SOUND_CONDITION = 1e6  # of 1 + D U^T Z U: up to here W keeps all the digits that anyone measures
HOPELESS_CONDITION = 1e14
LEAST_OHMS = 1e-7  # what no meter tells from nothing


class Base:
    """One set of admittances (B,), solved; `ports` are branches that rows may differ in or be driven by."""

    def __init__(self, cuts: Cutsets, admittance: Array, ports: IntArray) -> None:
        self.cuts = cuts
        self.admittance = admittance
        self.impedance = self.cuts.inverse(admittance)
        self.place = np.full(len(admittance), -1)
        self.place[ports] = np.arange(len(ports))
        across = self.cuts.across[ports]
        response = times(self.impedance, across.T).T  # the impedance is symmetric
        self.response = np.ascontiguousarray(response)  # (ports, N-1), the same over the cuts
        self.responses = self.cuts.nodes(response)  # (ports, N) node voltages for an ampere through each port
        self.couplings = times(response, across.T)  # (ports, ports) volts across one for an ampere through another


class Corrected:
    """Rows (h, B) that differ from a base in few branches.

    `good` (h,) marks the rows whose voltages (h, N) satisfy the rows' own equations, and whose equations say
    enough when they are written over the cuts of the base.
    """

    def __init__(self, base: Base, admittance: Array, emf: Array) -> None:
        strength = base.cuts.strength(admittance)
        self.base, self.admittance = base, admittance
        self.changed, filled = changed_branches(admittance != base.admittance)
        self.difference = np.take_along_axis(admittance, self.changed, 1) - base.admittance[self.changed]
        self.difference[~filled] = 0
        places = base.place[self.changed]
        driven = admittance * emf
        small = self.difference[:, :, None] * base.couplings[places[:, :, None], places[:, None, :]]
        small += np.eye(small.shape[1])
        inverse = inverted(small)
        self.w = inverse.swapaxes(1, 2) @ base.responses[places]  # (h, k, N)
        self._doubt = condition(small, inverse, self.difference)
        self._ready = False
        greatest = np.abs(emf).max(1, initial=0)
        self.good = np.asarray(self._doubt < HOPELESS_CONDITION)
        self.voltages = self._start(places, driven)
        self._refine_voltages(np.flatnonzero(self.good), driven, strength, greatest)
        again = np.flatnonzero(~self.good)
        if len(again):
            self.good[again] = self._solve_w(again, strength)
            self._doubt[again] = 0
            self.voltages[again] = self._start(places, driven)[again]
            self._refine_voltages(again[self.good[again]], driven, strength, greatest)
        self.good &= self._independence(strength) < WORST_CONDITION

    def some(self, rows: IntArray) -> Corrected:
        """Some of the rows (h,) by themselves: what is read of them is not worked out for the others."""
        self._make_ready()
        fewer = copy(self)
        for name in ("admittance", "changed", "difference", "w", "_doubt", "good", "voltages", "_size"):
            setattr(fewer, name, getattr(self, name)[rows])
        return fewer

    def column(self, a: int, b: int) -> Array:
        """(h, N) node voltages for one ampere into a and out of b."""
        self._make_ready()
        found = self._column(np.arange(len(self.admittance)), a, b)
        greatest = np.abs(found).max(1)
        doubtful = np.flatnonzero(~(self._lost(a, b, self._size) <= LEAST_OHMS + 1e-8 * greatest))
        found[doubtful] = self._verified(doubtful, a, b)
        return found

    def port(self, a: int, b: int) -> Array:
        """(h,) impedance seen between a and b."""
        self._make_ready()
        along = self.w[:, :, a] - self.w[:, :, b]
        found = np.asarray(self._first(a, b) - (self._pull(a, b) * along).sum(1))
        size = np.abs(found)
        # The last term: a hundred gigaohms stop any meter, and need not be known to the ohm.
        noticed = LEAST_OHMS + 1e-8 * size + 1e-15 * size**2
        doubtful = np.flatnonzero(~(self._lost(a, b, np.abs(along)) <= noticed))
        if len(doubtful):
            columns = self._verified(doubtful, a, b)
            found[doubtful] = columns[:, a] - columns[:, b]
        return found

    def _column(self, rows: IntArray, a: int, b: int) -> Array:
        first = self.base.cuts.nodes(self.base.cuts.injection(a, b) @ self.base.impedance)
        return np.asarray(first - (self._pull(a, b)[rows, None, :] @ self.w[rows])[:, 0])

    def _first(self, a: int, b: int) -> Array:
        given = self.base.cuts.injection(a, b)
        on = np.flatnonzero(given)
        return np.asarray(given[on] @ self.base.impedance[np.ix_(on, on)] @ given[on])

    def _lost(self, a: int, b: int, along: FloatArray) -> FloatArray:
        """(h,) ohms that rounding may have cost; `along` (h, k) is how far W carries what is lost."""
        own = np.abs(np.diagonal(self.base.couplings)[self.base.place[self.changed]])
        reach = np.sqrt(np.abs(self._first(a, b)))
        carried = (np.abs(self.difference) * np.sqrt(own) * along).sum(1)
        refined = (np.abs(self._pull(a, b)) * self._size).sum(1)
        return np.asarray(1e-14 * reach * (reach + carried) + 1e-13 * refined)

    def _verified(self, rows: IntArray, a: int, b: int) -> Array:
        """Columns (h, N) that satisfy the rows' own equations, solved in full where refining fails."""
        found = self._column(rows, a, b)
        network = self.base.cuts.network
        for some in chunks(np.arange(len(rows)), 64 * self.admittance.shape[1]):
            at = rows[some]
            strength = np.zeros((len(self.admittance), found.shape[1] - 1))
            strength[at] = self.base.cuts.strength(self.admittance[at])
            driven = np.zeros((len(at), 1, 1))
            given = self.base.cuts.injection(a, b)
            refined, good = self._refined(at, found[some, None], driven, strength, np.zeros(len(strength)), given)
            found[some] = refined[:, 0]
            for place in np.flatnonzero(~good):
                y = self.admittance[at[place], None]
                found[some[place]] = Dense(Cutsets(network, y[0]), y, np.zeros_like(y)).column(a, b)[0]
        return found

    def _pull(self, a: int, b: int) -> Array:
        """(h, k) currents that make good for the differences, one ampere going into a and out of b."""
        given = self.base.cuts.injection(a, b)
        on = np.flatnonzero(given)
        seen = self.base.response[:, on] @ given[on]
        return np.asarray(self.difference * seen[self.base.place[self.changed]])

    def _independence(self, strength: FloatArray) -> FloatArray:
        """(h,) the greatest diagonal element of the rows' impedances, scaled by the strength of the cuts.

        As the trace bounds the norm, this tells the condition of each row's matrix without forming it. It is
        large where several cuts of the base hold much the same branches in this row, so that what sets them
        apart drowns.
        """
        base = self.base
        own = np.repeat(np.diagonal(base.impedance)[None], len(self.admittance), axis=0)
        for place in range(self.changed.shape[1]):
            along = self.w[:, place, 1:] - self.w[:, place, base.cuts.parents]
            own -= self.difference[:, place, None] * along * base.response[base.place[self.changed[:, place]]]
        return np.asarray((np.abs(own) * strength).max(1, initial=0))

    def _start(self, places: IntArray, driven: Array) -> Array:
        sources = np.flatnonzero((driven != 0).any(0))
        ports = self.base.place[sources]
        given = -driven[:, sources]
        seen = np.take_along_axis(given @ self.base.couplings[ports], places, 1)
        pulled = ((self.difference * seen)[:, None, :] @ self.w)[:, 0]
        return np.asarray(given @ self.base.responses[ports] - pulled)

    def _make_ready(self) -> None:
        """Refine W before impedances are first asked for; the voltages were refined by themselves."""
        if self._ready:
            return
        doubtful = np.flatnonzero(self.good & (self._doubt >= SOUND_CONDITION))
        strength = np.zeros((len(self.admittance), self.base.cuts.to_nodes.shape[1]))
        strength[doubtful] = self.base.cuts.strength(self.admittance[doubtful])
        failed = doubtful[~self._refine_w(doubtful, strength)]
        # What fails even so is caught by `_verified`: it comes of a W that is lost in part, and so is large.
        self._solve_w(failed, strength)
        self._size = np.abs(self.w).max(2, initial=0)
        self._ready = True

    def _refine_w(self, doubtful: IntArray, strength: FloatArray) -> BoolArray:
        good = np.zeros(len(self.admittance), dtype=bool)
        rank, branches = self.changed.shape[1], self.admittance.shape[1]
        for rows in chunks(doubtful, 64 * branches * max(1, rank)):
            driven = np.zeros((len(rows), rank, branches))
            np.put_along_axis(driven, self.changed[rows][:, :, None], -1.0, 2)
            found, good[rows] = self._refined(rows, self.w[rows], driven, strength, np.zeros(len(strength)))
            self.w[rows] = found
        return good[doubtful]

    def _solve_w(self, doubtful: IntArray, strength: FloatArray) -> BoolArray:
        cuts = self.base.cuts
        for rows in chunks(doubtful, full_bytes(cuts, self.admittance)):
            given = np.swapaxes(cuts.across[self.changed[rows]], 1, 2)
            found = cuts.answer(self.admittance[rows], strength[rows], given)
            self.w[rows] = cuts.nodes(np.swapaxes(found, 1, 2))
        return self._refine_w(doubtful, strength)

    def _refine_voltages(self, which: IntArray, driven: Array, strength: FloatArray, emf: FloatArray) -> None:
        for rows in chunks(which, 64 * self.admittance.shape[1]):
            found, self.good[rows] = self._refined(rows, self.voltages[rows, None], driven[rows, None], strength, emf)
            self.voltages[rows] = found[:, 0]

    def _refined(
        self,
        rows: IntArray,
        found: Array,
        driven: Array,
        strength: FloatArray,
        emf: FloatArray,
        given: FloatArray | None = None,
    ) -> tuple[Array, BoolArray]:
        """Node voltages (h, q, N), corrected until the rows' own equations balance, and whether they do."""
        good = np.zeros(len(rows), dtype=bool)
        cuts = self.base.cuts
        for _ in range(REFINEMENTS):
            left = np.flatnonzero(~good)
            at = rows[left]
            lack = cuts.lack(found[left], self.admittance[at, None], driven[left])
            if given is not None:
                lack += given
            good[left] = cuts.satisfied(lack, strength[at, None], found[left], emf[at, None]).all(1)
            if good.all():
                break
            worse = ~good[left]
            found[left[worse]] += self._answer(at[worse], lack[worse])
        return found, good

    def _answer(self, rows: IntArray, given: Array) -> Array:
        """(h, q, N) node voltages for currents (h, q, N-1) over the cuts."""
        network, changed = self.base.cuts.network, self.changed[rows][:, None, :]
        first = self.base.cuts.nodes(times(given, self.base.impedance))
        seen = np.take_along_axis(first, network.tail[changed], 2) - np.take_along_axis(first, network.head[changed], 2)
        return np.asarray(first - (seen * self.difference[rows, None, :]) @ self.w[rows])


def changed_branches(changed: BoolArray) -> tuple[IntArray, BoolArray]:
    """(h, k) the branches marked in each row of (h, B), and (h, k) which places are not mere filling."""
    counts = changed.sum(1)
    filler = changed.any(0).argmax()
    lists = np.full((len(changed), counts.max(initial=0)), filler)
    filled = np.arange(lists.shape[1]) < counts[:, None]
    lists[filled] = np.nonzero(changed)[1]
    return lists, filled


def condition(small: Array, inverse: Array, difference: Array) -> FloatArray:
    """(h,) by how much rounding grows in inverting 1 + D U^T Z U, balanced by the roots of D; nan if
    singular.

    The terms are taken before they are summed: with k = 1, what is lost is lost in the sum.
    """
    root = np.sqrt(np.abs(difference))
    one = np.eye(small.shape[1])
    ratio = (
        root[:, None, :] * np.where(root > 0, 1 / np.where(root > 0, root, 1), 0)[:, :, None]
        + one * (root == 0)[:, None]
    )
    terms = np.abs((small - one) * ratio) + one
    return np.asarray(terms.sum(1).max(1, initial=0) * np.abs(inverse * ratio).sum(1).max(1, initial=0))
