"""Usual orders of checks, to hold the chooser against: a workshop's flowchart, from supply to load, half-split.

Each is a chooser for the same session, which collects the evidence, keeps the safety rules and ends as always. They
know the panel, which checks have to do with a complaint, and which parts the answers so far have cleared; they reckon
with no rates, no information and no minutes. What looks at cleared parts alone is left out, as a person would.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

import networkx as nx
import numpy as np

from diagnose.checks import Check
from diagnose.choose import LEAST_BITS, Choice, best_check, deck_of
from diagnose.circuit.netlist import BoolArray, FloatArray, IndexArray
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


def _in_order(name: str, key: Key) -> Chooser:
    """A chooser that keeps to a fixed order; where the order leaves it open, to that of the model's checks."""

    def choose(
        model: Model, now: FloatArray, checks: Sequence[Check], state: PanelState, at: Setup | None,
        competence: Competence, answered: Sequence[Check] = (),
    ) -> Choice | None:  # fmt: skip
        ranks = model.remembered(("ranks", name), lambda: np.array([key(model, check) for check in model.checks]))
        listed = _listed(model, checks, answered, _suspects(model, now))
        if not len(listed):
            return None
        first = model.checks[listed[np.lexsort(ranks[listed].T[::-1])[0]]]
        return Choice(first, 0.0, cost_minutes(first, state, at, competence))

    return choose


def half_split(
    model: Model, now: FloatArray, checks: Sequence[Check], state: PanelState, at: Setup | None,
    competence: Competence, answered: Sequence[Check] = (),
) -> Choice | None:  # fmt: skip
    """The check that has as many suspected parts on the supply's side of it as on the load's; of those, one here."""
    suspects = _suspects(model, now)
    listed = _listed(model, checks, answered, suspects)
    if not len(listed):
        return None
    panel = model.panel
    places = model.remembered("places", lambda: np.array([place_of(panel, check) for check in model.checks]))
    steps = distances(panel)
    far = np.array([steps.get(name, FAR) for name in _parts(model).names])[suspects]
    uneven = np.abs(np.sign(far[None, :] - places[listed][:, None]).sum(axis=1))
    elsewhere = np.array([model.checks[number].setup != at for number in listed.tolist()])
    first = model.checks[listed[np.lexsort((elsewhere, uneven))[0]]]
    return Choice(first, 0.0, cost_minutes(first, state, at, competence))


@dataclass(frozen=True, eq=False, slots=True)
class _Parts:
    """The P parts and wires that the causes of a model are about: which causes are about which, and which checks."""

    names: tuple[str, ...]
    of_cause: BoolArray  # (H, P)
    looked_at: BoolArray  # (C, P)


def _parts(model: Model) -> _Parts:
    def worked_out() -> _Parts:
        names = tuple(dict.fromkeys(member.part for cause in model.causes for member in cause.members))
        about = [{member.part for member in cause.members} for cause in model.causes]
        seen = [looks_at(model.panel, check) for check in model.checks]
        return _Parts(names, _holds(about, names), _holds(seen, names))

    return model.remembered("parts", worked_out)


def _holds(sets: Sequence[AbstractSet[str]], names: Sequence[str]) -> BoolArray:
    return np.array([[name in each for name in names] for each in sets], dtype=np.bool_).reshape(len(sets), len(names))


def _suspects(model: Model, now: FloatArray) -> BoolArray:
    """(P,) parts with a cause that the answers so far have not made unlikely, whatever its rate."""
    likelihood = np.divide(now[:-1], model.prior[:-1], out=np.zeros(len(now) - 1), where=model.prior[:-1] > 0)
    left: BoolArray = likelihood >= SUSPECT * likelihood.max(initial=0.0)
    return np.asarray(_parts(model).of_cause[left].any(axis=0))


def _listed(model: Model, checks: Sequence[Check], answered: Sequence[Check], suspects: BoolArray) -> IndexArray:
    """What is left of the list that somebody drew up for this complaint, less what looks at cleared parts alone.

    Numbers among the model's checks.
    """
    deck = deck_of(model)
    listed = model.remembered("listed", lambda: _has_to_do(model))
    numbers = np.array([deck.number[check.id] for check in checks], dtype=np.intp)
    numbers = numbers[listed[numbers] & _parts(model).looked_at[numbers][:, suspects].any(axis=1)]
    return numbers[~deck.repeats(numbers, [deck.number[check.id] for check in answered])]


def _has_to_do(model: Model) -> BoolArray:
    """(C,) which checks tell something of what makes the complaint."""
    bits = deck_of(model).bits(model.prior, np.arange(len(model.checks)))
    return np.asarray(bits >= LEAST_BITS)


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
    "flowchart": _in_order("flowchart", _by_stage),
    "supply to load": _in_order("supply to load", _by_distance),
    "half-split": half_split,
}
