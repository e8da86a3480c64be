"""Several things to mend one by one: in which order, and where no order is given."""

from __future__ import annotations

from itertools import permutations

import numpy as np
import pytest

from diagnose.acting import NEVER_GUESSED, spares_of
from diagnose.in_turn import Turn, in_turn, opening_minutes
from diagnose.plan import sequence_cost
from diagnose.protocol import verdict_message
from diagnose.report.conclusion import conclusion_of
from diagnose.safety import PanelState
from diagnose.screen.pages import verdict_page
from diagnose.session import start
from diagnose.study.pairs import run_session
from diagnose.study.simulated import SimulatedPanel
from diagnose.warmth import in_the_box
from tests.test_combined import cause, model, netlist


def believing(shares: dict[str, float]) -> np.ndarray:
    """Belief in these causes by their keys; what is left is nobody's."""
    known = model("element_cold")
    keys = [each.key for each in known.causes]
    now = np.zeros(len(known.prior))
    for key, share in shares.items():
        now[keys.index(key)] = share
    now[-1] = 1 - sum(shares.values())
    return now


def turns(shares: dict[str, float], spares: tuple[str, ...] = (), competence="isolated") -> tuple[Turn, ...]:
    known = model("element_cold")
    return in_turn(known, believing(shares), spares_of(known.panel, spares), PanelState(), competence)


def a_wire() -> str:
    known = model("element_cold")

    wires = [each for each in known.causes if each.part.startswith("wire_")]
    return next(each.key for each in wires if in_the_box(known.panel, each.part))


def test_a_wire_comes_before_a_part_that_has_to_be_got_first_though_it_is_less_likely() -> None:
    found = turns({"relay:open": 0.6, a_wire(): 0.38})
    assert [each.part for each in found] == [a_wire().partition(":")[0], "relay"]
    assert [each.to_hand for each in found] == [True, False]


def test_the_likelier_part_comes_first_once_it_is_to_hand() -> None:
    found = turns({"relay:open": 0.75, a_wire(): 0.22}, spares=("relay",))
    assert found[0].part == "relay"


@pytest.mark.parametrize("seed", range(4))
def test_no_other_order_takes_less_on_average(seed: int) -> None:
    """All orders gone through, the opening of the box paid once by the first that needs it."""
    known = model("element_cold")
    names = ["relay:open", a_wire(), "element:open", "cord:core_broken"]
    chance = np.random.default_rng(seed)
    shares = dict(zip(names, (0.2 + 0.8 * chance.dirichlet(np.ones(4))) / 1.65, strict=True))
    found = turns(shares, spares=("element",))
    assert len(found) == 4
    probability, cost = [each.probability for each in found], [each.minutes for each in found]
    cluster = [0 if in_the_box(known.panel, each.part) else -1 for each in found]
    opening = [opening_minutes(PanelState())]
    costs = [sequence_cost(probability, cost, order, cluster, opening) for order in permutations(range(4))]
    assert costs[0] == pytest.approx(min(costs)), "the order as given is the first of all orders"


@pytest.mark.parametrize(
    ("shares", "competence"),
    [
        ({"relay:open": 0.97}, "isolated"),
        ({"relay:open": 0.5, "relay:input_open": 0.45}, "isolated"),
        ({"relay:open": 0.4, "element:open": 0.3}, "isolated"),
        ({"relay:open": 0.5, "element:open": 0.45}, "outside"),
        ({"relay:open": 0.5, "control_fuse:blown": 0.45}, "isolated"),
        ({"relay:open": 0.5, "service:neutral_lost": 0.45}, "isolated"),
    ],
    ids=[
        "one alone",
        "one part, two faults",
        "too little belief",
        "not their box",
        "opens by itself",
        "an electrician's",
    ],
)
def test_no_order_is_given(shares: dict[str, float], competence) -> None:
    known = model("element_cold")
    assert known.panel.parts["control_fuse"].kind.role in NEVER_GUESSED
    assert turns(shares, competence=competence) == ()


def test_an_end_that_picks_none_says_the_order_on_the_screen_in_the_report_and_in_the_protocol() -> None:
    """With the box shut, a broken core of the cord and a burned element can't be told apart."""
    session = start(model("element_cold"), "outside", frozenset({"multimeter"}))
    session, verdict, _ = run_session(session, SimulatedPanel(netlist(), cause("cord:core_broken")))
    assert verdict.kind == "group"
    lines = verdict_page(session, verdict, "log.yaml").lines
    said = [number for number, line in enumerate(lines) if "one by one" in line]
    message = verdict_message(session, verdict)["in_turn"]
    assert len(said) == 1 and [each["part"] for each in message] == ["element", "cord"]
    assert all(each["title"] in line for each, line in zip(message, lines[said[0] + 1 :], strict=False))
    assert any("one by one" in line for line in conclusion_of(session, verdict))
