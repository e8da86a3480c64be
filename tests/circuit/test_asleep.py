"""Circuits that were put to sleep are the same when they are woken, all of them or some."""

from __future__ import annotations

import numpy as np
import pytest

from diagnose.causes import causes_of
from diagnose.circuit import asleep
from diagnose.circuit.asleep import Asleep, Differences
from diagnose.circuit.netlist import build
from diagnose.circuit.settle import settle
from diagnose.expect import Predictor
from diagnose.opening import open_panel
from diagnose.setups import named_setups


def test_differences_are_the_matrix() -> None:
    chance = np.random.default_rng(1)
    matrix = np.repeat(chance.random((1, 7)), 5, axis=0)
    matrix[2, [1, 6]] = 0.0
    matrix[4, 0] = np.inf
    kept = Differences.of(matrix)
    for index in ([0, 1, 2, 3, 4], [4, 2, 2], [], [3]):
        np.testing.assert_array_equal(kept.rows(np.array(index, dtype=int)), matrix[index])


@pytest.mark.parametrize("name", ["running", "isolated", "warm"])
def test_what_is_woken_is_as_it_was(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Every state, reading and time to a trip, with one solution in each domain, however long it took to rest."""
    netlist = build(open_panel("shed_single_kettle"))
    predictor = Predictor(netlist, causes_of(netlist.panel)[::4])
    setup = named_setups(netlist, "element")[name]
    settled = settle(netlist, setup, predictor.rows)
    solutions: list[int] = []

    def counted(*given):
        solutions.append(len(given[1]))
        return solve(*given)

    solve = asleep.solve_batch
    monkeypatch.setattr(asleep, "solve_batch", counted)
    index = np.array([0, 7, 3, 20, 20])
    woken = Asleep.of(settled).woken(index)
    assert solutions == [5, 5]
    assert woken.rows == tuple(settled.rows[number] for number in index)
    for what, states in settled.states.items():
        for part, on in states.items():
            assert (woken.states[what][part] == on[index]).all()
    for before, after in ((settled.trips, woken.trips), (settled.sensed, woken.sensed), (settled.shown, woken.shown)):
        assert before.keys() == after.keys()
        for part, values in before.items():
            np.testing.assert_array_equal(after[part], values[index])
    np.testing.assert_array_equal(woken.y_alternating, settled.y_alternating[index])
    np.testing.assert_array_equal(woken.y_direct, settled.y_direct[index])
    for one, other in ((settled.alternating, woken.alternating), (settled.direct, woken.direct)):
        np.testing.assert_allclose(other.voltages, one.voltages[index], rtol=1e-6, atol=1e-6)
