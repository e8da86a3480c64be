"""A part to hand changed on a guess: when that is worth it, and what is never guessed."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from diagnose.acting import (
    NEVER_GUESSED,
    TO_HAND,
    TOLD_APART_NO_MORE,
    may_guess,
    spares_of,
    why_no_more,
    worth_guessing,
)
from diagnose.choose import Choice
from diagnose.errors import UsageError
from diagnose.plan import worth_trying
from diagnose.safety import PanelState
from diagnose.session import start
from diagnose.study.pairs import run_session
from diagnose.study.simulated import SimulatedPanel
from tests.test_combined import INSTRUMENTS, cause, model, netlist


@given(st.floats(0.01, 0.99), st.floats(1, 60), st.floats(1, 60))
def test_trying_is_worth_it_where_it_costs_less_on_average(share: float, act: float, look: float) -> None:
    """Against the mean over both ways that it may come out."""
    tried = share * act + (1 - share) * (act + look + act)
    if abs(tried - (look + act)) > 1e-9:
        assert worth_trying(share, act, look) == (tried < look + act)


def believing(part: str, share: float) -> np.ndarray:
    """Belief in one fault of a part, the rest shared among what belongs to other parts."""
    known = model("element_cold")
    mine = next(n for n, each in enumerate(known.causes) if each.part == part)
    others = np.flatnonzero(known.group_numbers != known.group_numbers[mine])
    now = np.zeros(len(known.prior))
    now[mine] = share
    now[others[:-1]] = (1 - share) / (len(others) - 1)
    return now


def test_only_what_leads_and_is_to_hand_is_guessed() -> None:
    known = model("element_cold")
    spare = spares_of(known.panel, ["relay"])
    assert may_guess(known, believing("relay", 0.6), spare)
    assert not may_guess(known, believing("relay", 0.4), spare), "more likely wrong than right"
    assert not may_guess(known, believing("relay", 0.6), ()), "not to hand"
    assert not may_guess(known, believing("contactor", 0.6), spare), "another part"
    assert may_guess(known, believing("relay", 0.6), [f"spare:{known.panel.parts['relay'].kind.name}"]), "by its kind"
    assert why_no_more(known, believing("relay", 0.6), spare) == TO_HAND
    assert why_no_more(known, believing("relay", 0.6), ()) == TOLD_APART_NO_MORE


def test_what_has_to_open_is_never_guessed() -> None:
    known = model("element_cold")
    guarded = [name for name, part in known.panel.parts.items() if part.kind.role in NEVER_GUESSED]
    suspected = {each.part for each in known.causes} & set(guarded)
    assert suspected
    for part in suspected:
        assert not may_guess(known, believing(part, 0.9), spares_of(known.panel, [part])), part


def test_a_guess_is_worth_it_against_a_long_way_and_not_against_a_short_one() -> None:
    known = model("element_cold")
    spare, now = spares_of(known.panel, ["relay"]), believing("relay", 0.8)
    check = known.checks[0]
    assert worth_guessing(known, now, spare, PanelState(), Choice(check, 0.1, 30.0))
    assert not worth_guessing(known, now, spare, PanelState(), Choice(check, 1.0, 1.0))


def test_a_session_with_the_part_to_hand_asks_no_more_than_one_without() -> None:
    known = model("element_cold")
    asked = {}
    for spares in ((), spares_of(known.panel, ["relay"])):
        session = start(known, "live", INSTRUMENTS | set(spares))
        _, verdict, count = run_session(session, SimulatedPanel(netlist(), cause("relay:open")))
        assert verdict.part == "relay"
        asked[bool(spares)] = count
    assert asked[True] <= asked[False]


def test_a_part_that_the_panel_does_not_have_is_no_spare() -> None:
    with pytest.raises(UsageError, match="--spares: this panel has no part or kind of part 'flux_valve'"):
        spares_of(netlist().panel, ["relay", "flux_valve"])
