"""Usual orders of checks, to hold the chooser against: a workshop's flowchart, from supply to load, half-split.

Each is a chooser for the same session, which collects the evidence, keeps the safety rules and ends as always. They
know the panel, which checks have to do with a complaint, and which parts the answers so far have cleared; they reckon
with no rates, no information and no minutes. What looks at cleared parts alone is left out, as a person would.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from functools import lru_cache
from itertools import pairwise

import networkx as nx
import numpy as np

from diagnose.checks import Check
from diagnose.choose import LEAST_BITS, Choice, best_check, deck_of
from diagnose.circuit.netlist import BoolArray, FloatArray
from diagnose.circuit.setup import Setup
from diagnose.costs import cost_minutes
from diagnose.model import Model
from diagnose.panel.records import Panel, part_of
from diagnose.safety import Competence, PanelState
from diagnose.session import Chooser
from diagnose.topology import source_terminals, terminal_graph

FAR = 1e3  # steps: parts that nothing joins to the supply
WIRE = 0.5  # a wire lies between the terminals at its ends
SUSPECT = 0.05  # share of the best likelihood from which a cause is still a suspect, whatever its prior

Key = Callable[[Model, Check], tuple[float, ...]]


def distances(panel: Panel) -> Mapping[str, float]:
    """Steps from the supply to each terminal, part and wire of a panel, along what conducts."""
    return _distances(panel)


@lru_cache(maxsize=16)
def _distances(panel: Panel) -> Mapping[str, float]:
    graph = nx.Graph(terminal_graph(panel))
    steps: dict[str, float] = dict.fromkeys(graph.nodes, FAR)
    steps.update(nx.multi_source_dijkstra_path_length(graph, set(source_terminals(panel)), weight=None))
    for name, part in panel.parts.items():
        steps[name] = min((steps[f"{name}.{terminal}"] for terminal in part.kind.terminals), default=FAR)
    for wire in panel.wires:
        steps[wire.name] = min(steps[wire.a], steps[wire.b]) + WIRE
    return steps


def place_of(panel: Panel, check: Check) -> float:
    """How far from the supply a check looks: its part, or half-way between its probes."""
    steps = distances(panel)
    if check.tail:
        return (steps.get(check.tail, FAR) + steps.get(check.head, FAR)) / 2
    return steps.get(check.part, FAR)


def _stage(check: Check) -> float:
    """The order of a workshop's chart: look and listen, a meter outside, the box dead, the box live, long trials."""
    if check.setup.swapped or check.minutes >= 5:
        return 4
    if check.exposure == "outside":
        return 0 if check.quantity == "sign" and check.setup.supply_on else 1
    return 2 if check.exposure == "isolated" else 3


def _by_stage(model: Model, check: Check) -> tuple[float, ...]:
    return (_stage(check),)


def _by_distance(model: Model, check: Check) -> tuple[float, ...]:
    return place_of(model.panel, check), _stage(check)


def _in_order(key: Key) -> Chooser:
    """A chooser that keeps to a fixed order; where the order leaves it open, to that of the model's checks."""

    def choose(
        model: Model, now: FloatArray, checks: Sequence[Check], state: PanelState, at: Setup | None,
        competence: Competence, answered: Sequence[Check] = (),
    ) -> Choice | None:  # fmt: skip
        listed = _listed(model, checks, answered, _suspects(model, now))
        first = min(listed, key=lambda check: key(model, check), default=None)
        return None if first is None else Choice(first, 0.0, cost_minutes(first, state, at, competence))

    return choose


def half_split(
    model: Model, now: FloatArray, checks: Sequence[Check], state: PanelState, at: Setup | None,
    competence: Competence, answered: Sequence[Check] = (),
) -> Choice | None:  # fmt: skip
    """The check that has as many suspected parts on the supply's side of it as on the load's; of those, one here."""
    suspects = _suspects(model, now)
    steps = distances(model.panel)
    far = np.array([steps.get(name, FAR) for name in suspects])

    def uneven(check: Check) -> float:
        return abs(float(np.sign(far - place_of(model.panel, check)).sum()))

    listed = _listed(model, checks, answered, suspects)
    first = min(listed, key=lambda check: (uneven(check), check.setup != at), default=None)
    return None if first is None else Choice(first, 0.0, cost_minutes(first, state, at, competence))


def _suspects(model: Model, now: FloatArray) -> frozenset[str]:
    """Parts with a cause that the answers so far have not made unlikely, whatever its rate."""
    likelihood = np.divide(now[:-1], model.prior[:-1], out=np.zeros(len(now) - 1), where=model.prior[:-1] > 0)
    left: BoolArray = likelihood >= SUSPECT * likelihood.max(initial=0.0)
    return frozenset(
        member.part
        for cause, kept in zip(model.causes, left, strict=True)
        if kept
        for member in cause.members
    )  # fmt: skip


def _listed(model: Model, checks: Sequence[Check], answered: Sequence[Check], suspects: frozenset[str]) -> list[Check]:
    """What is left of the list that somebody drew up for this complaint, less what looks at cleared parts alone.

    The list is of the faults that make the complaint by themselves: nobody draws one up for each two of them.
    """
    single = model.narrow or model
    listed = single.remembered("listed", lambda: _has_to_do(single))
    left = [check for check in checks if check.id in listed and looks_at(model.panel, check) & suspects]
    deck = deck_of(single)
    done = [deck.number[check.id] for check in answered if check.id in deck.number]
    again = deck.repeats(np.array([deck.number[check.id] for check in left], dtype=np.intp), done)
    return [check for check, told in zip(left, again, strict=True) if not told]


def _has_to_do(model: Model) -> frozenset[str]:
    """Checks that tell something of what makes the complaint, by their ids."""
    bits = deck_of(model).bits(model.prior, np.arange(len(model.checks)))
    return frozenset(check.id for check, some in zip(model.checks, bits >= LEAST_BITS, strict=True) if some)


@lru_cache(maxsize=4096)
def _between(panel: Panel, tail: str, head: str, upstream: bool) -> frozenset[str]:
    steps = distances(panel)
    if upstream:
        furthest = max(steps.get(tail, FAR), steps.get(head, FAR))
        return frozenset(name for name, far in steps.items() if "." not in name and far <= furthest)
    graph = terminal_graph(panel)
    try:
        way = nx.shortest_path(graph, tail, head)
    except nx.NetworkXNoPath:
        way = [tail, head]
    found = {part_of(end) for end in way}
    for one, two in pairwise(way):
        found.update(data["part"] for data in (graph.get_edge_data(one, two) or {}).values())
    return frozenset(found)


def looks_at(panel: Panel, check: Check) -> frozenset[str]:
    """The parts and wires that a check has to do with: its own, those between the probes, or all before them."""
    if not check.tail:
        return frozenset({check.part})
    return _between(panel, check.tail, check.head, check.setup.supply_on)


OWN = "own"
WAYS: Mapping[str, Chooser] = {
    OWN: best_check,
    "flowchart": _in_order(_by_stage),
    "supply to load": _in_order(_by_distance),
    "half-split": half_split,
}
