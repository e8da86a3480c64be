"""Pairs of causes, grown from what single causes leave unexplained."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import pytest

from diagnose.causes import Cause, causes_of, pair_of
from diagnose.circuit.netlist import Netlist, build
from diagnose.combined import MOST_PAIRS, belief_after, widened_from_start
from diagnose.model import Model, make_model
from diagnose.opening import all_complaints, open_panel
from diagnose.remedied import after_remedy
from diagnose.session import Session, Verdict, ask, back, belief, start
from diagnose.study.pairs import run_session
from diagnose.study.simulated import SimulatedPanel

INSTRUMENTS = frozenset({"multimeter", "insulation_tester"})


@lru_cache(maxsize=1)
def netlist() -> Netlist:
    return build(open_panel("shed_single_kettle"))


@lru_cache(maxsize=4)
def model(complaint: str) -> Model:
    return make_model(netlist(), all_complaints()[complaint], "element")


def cause(key: str) -> Cause:
    """A cause, or a pair written with a plus."""
    found = [next(each for each in causes_of(netlist().panel) if each.key == one) for one in key.split("+")]
    return found[0] if len(found) == 1 else pair_of(*found)


@lru_cache(maxsize=8)
def ended(complaint: str, key: str) -> tuple[Session, Verdict]:
    panel = SimulatedPanel(netlist(), cause(key), trips_early=True)
    session, verdict, _ = run_session(start(model(complaint), "live", INSTRUMENTS), panel)
    return session, verdict


@pytest.mark.parametrize(
    ("complaint", "pair"),
    [
        ("gfci_trips_with_element", "element:leak_at_end@7000+element:open"),
        ("element_cold", "relay:open+element:weak@2.5"),
    ],
)
def test_two_faults_that_both_show_are_named_together(complaint: str, pair: str) -> None:
    """The verdict names both, the one that makes the complaint first, each with its remedy and its proof."""
    _, verdict = ended(complaint, pair)
    first, second = cause(pair).members
    assert verdict.kind == "found" and verdict.part == first.part
    lead = verdict.causes[0]
    assert (lead.fault, lead.also_part, lead.also_fault) == (first.fault, second.part, second.fault)
    further = [each for each in verdict.further if each.sure]
    assert [each.part for each in further] == [second.part]
    assert further[0].remedy and further[0].proof
    assert all(told.agrees for told in verdict.evidence), "the pair explains what no single cause did"


def test_faults_that_bring_each_other_are_thought_of_before_a_coincidence() -> None:
    """An element that burned through often leaks as well, so that goes before a wet cord; the cord is found next."""
    session, verdict = ended("gfci_trips_with_element", "cord:wet@2000+element:open")
    assert verdict.part == "element" and (verdict.causes[0].also_part, verdict.causes[0].also_fault) == (
        "element",
        "open",
    )
    now = belief(session)
    cord = [
        now[n] for n, each in enumerate(session.model.causes) if {m.part for m in each.members} == {"cord", "element"}
    ]
    assert sum(cord) > 0.01, "the coincidence stays in mind"
    on = after_remedy(session)
    _, last, _ = run_session(on, SimulatedPanel(netlist(), cause("cord:wet@2000"), trips_early=True))
    assert last.part == "cord"


def test_a_single_fault_needs_no_pairs() -> None:
    session, verdict = ended("element_cold", "relay:open")
    assert verdict.part == "relay" and not [each for each in verdict.further if each.sure]
    assert session.model.narrow is None, "pairs are thought of only where single causes fail"


def test_pairs_are_few_and_rarer_than_single_causes() -> None:
    session, _ = ended("element_cold", "relay:open+element:weak@2.5")
    wide, narrow = session.model, session.model.narrow
    assert narrow is not None
    pairs = wide.causes[len(narrow.causes) :]
    assert 0 < len(pairs) <= MOST_PAIRS and all(each.also is not None for each in pairs)
    assert wide.prior.sum() == pytest.approx(1, abs=1e-12)
    assert wide.prior[len(narrow.causes) : -1].sum() < 0.05, "before any answer, two faults at once are unlikely"
    single = wide.prior[: len(narrow.causes)]
    np.testing.assert_allclose(single / single.sum(), narrow.prior[:-1] / narrow.prior[:-1].sum(), rtol=1e-9)


def test_going_back_and_forth_leads_to_the_same_belief() -> None:
    """What is in the model follows from the answers alone, so that back, resume and replay agree."""
    session, _ = ended("element_cold", "relay:open+element:weak@2.5")
    panel = SimulatedPanel(netlist(), cause("relay:open+element:weak@2.5"))
    before = back(back(session))
    assert before.model.causes == widened_from_start(session.model, session.answers[:-2]).causes
    same = widened_from_start(session.model, session.answers)
    np.testing.assert_allclose(belief_after(same, session.answers), belief(session), atol=1e-12)
    again, verdict, _ = run_session(before, panel)
    replayed = widened_from_start(session.model, again.answers)
    np.testing.assert_allclose(belief_after(replayed, again.answers), belief(again), atol=1e-12)
    assert verdict.causes[0].title == ask(session).causes[0].title
