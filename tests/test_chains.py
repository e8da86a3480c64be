"""Faults that bring another: pairs from the start, and what a verdict says to check as well."""

from __future__ import annotations

import pytest

from diagnose.chains import chain_pairs, with_chains
from diagnose.knowledge.chains import load_chains
from diagnose.session import start
from diagnose.study.pairs import run_session
from diagnose.study.simulated import SimulatedPanel
from diagnose.texts import load_texts
from tests.test_combined import INSTRUMENTS, cause, ended, model, netlist


def test_a_short_makes_the_relay_suspect_from_the_start() -> None:
    known = model("breaker_trips")
    keys = {pair.key for pair in chain_pairs(known)}
    assert "element:shorted@0.3+relay:shorted@0.02" in keys
    pair = next(each for each in chain_pairs(known) if each.key == "element:shorted@0.3+relay:shorted@0.02")
    assert pair.rate == pytest.approx(0.3 * cause("element:shorted@0.3").rate)


def test_chains_take_little_from_single_causes() -> None:
    narrow = model("element_cold")
    wide = with_chains(narrow)
    assert wide.prior.sum() == pytest.approx(1, abs=1e-12)
    chained = wide.prior[len(narrow.causes) : -1].sum()
    assert 0 < chained < 0.15


def test_the_verdict_of_a_short_says_what_else_to_check() -> None:
    panel = SimulatedPanel(netlist(), cause("element:shorted@0.3"), trips_early=True)
    _, verdict, _ = run_session(start(model("breaker_trips"), "live", INSTRUMENTS), panel)
    assert verdict.part == "element"
    contactor = next(each for each in verdict.further if each.part == "contactor")
    assert "short" in contactor.why and contactor.proof == ("contactor_function",)


def test_a_dead_relay_asks_why_it_died() -> None:
    _, verdict = ended("element_weak", "relay:half_wave")
    assert verdict.part == "relay"
    notes = [each.why for each in verdict.further if each.part in ("relay", "fan")]
    assert all(note for note in notes)


def test_every_chain_checks_something_that_has_words() -> None:
    names = load_texts().proofs
    for chain in load_chains():
        assert chain.check and set(chain.check) <= set(names), chain.name
        assert 0 < chain.share < 1 and chain.because.endswith(".")
