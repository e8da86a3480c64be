"""Faults that bring another: pairs from the start, and what a verdict says to check as well."""

from __future__ import annotations

import pytest

from diagnose.chains import chain_shares
from diagnose.knowledge.chains import load_chains
from diagnose.session import start
from diagnose.study.pairs import run_session
from diagnose.study.simulated import SimulatedPanel
from diagnose.texts import load_texts
from tests.test_combined import INSTRUMENTS, cause, ended, model, netlist


def test_a_short_that_took_the_relay_is_far_likelier_than_chance() -> None:
    known = model("breaker_trips")
    causes = [each for each in known.everything.causes if each.also is None]
    keys = [each.key for each in causes]
    shares = chain_shares(known, causes)
    short, relay = keys.index("element:shorted@0.3"), keys.index("relay:shorted@0.02")
    assert shares[short, relay] == pytest.approx(0.3)
    assert (relay, short) not in shares, "a relay that fails shorted shorts no element"


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
