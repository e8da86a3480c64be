"""A guard against getting slower: ratios of processor time in one run, wider than the bars, since machines differ."""

from __future__ import annotations

import pytest

from tests.benchmarks import bench_growth, bench_start
from tests.benchmarks.bench_nodal import circuits, measure

ROOM = 1.4  # times the bar: another machine, another moment


@pytest.mark.slow
def test_the_program_starts_about_as_quickly_as_what_it_imports() -> None:
    found = bench_start.ratios(repeats=3)
    for command, most in bench_start.MOST.items():
        assert found[command] <= ROOM * most, command


@pytest.mark.slow
def test_a_choice_takes_hardly_longer_on_a_larger_panel() -> None:
    rows = bench_growth.growth((1, 2, 4))
    assert [row["causes"] for row in rows] == sorted(row["causes"] for row in rows)
    assert bench_growth.exponent(rows, "median") <= ROOM * bench_growth.STEEPEST
    assert max(row["median"] for row in rows) <= 50 * ROOM


def test_a_batch_is_much_quicker_than_one_circuit_after_another() -> None:
    """Our own checked solve, one cause at a time; ten at the least, where twenty are measured alone."""
    _, _, own, *_ = measure(*circuits(100))
    assert own >= 10
