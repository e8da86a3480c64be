"""Small problems cut out of a panel, with the panel's own minutes: the chooser against the optimum."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from diagnose.checks import Check
from diagnose.choose import best_check, deck_of
from diagnose.choose.best import KNOWN, LEAST_BITS, RAREST
from diagnose.choose.live import may_be_asked
from diagnose.circuit.netlist import FloatArray, IndexArray, build
from diagnose.costs import cost_minutes
from diagnose.model import Model, make_model, subjects_of
from diagnose.opening import all_complaints, open_panel
from diagnose.plan import Places, compile_strategy, expected_information, optimal_strategy
from diagnose.safety import PanelState
from diagnose.session import open_checks, start

INSTRUMENTS = frozenset({"multimeter", "insulation_tester"})
MOST_STATES = 20_000  # situations: a problem with more of them is not small
TELLS = 0.05  # bits: a check that tells less of these causes is no part of the problem
MOST_CAUSES, MOST_CHECKS = 7, 7


# What is likely, with many causes and few; about one part and about the whole panel.
COMPLAINTS = ("element_cold", "pump_dead", "panel_dead", "controller_dead", "gfci_trips_with_element",
              "probe_reads_off", "lamp_dark")  # fmt: skip
BAR = 1.05  # expected minutes over those of the optimum, on each problem


def model_of(panel: str, name: str) -> Model | None:
    """The model of a complaint about the first part that it may be about; None where the panel has none."""
    complaint, netlist = all_complaints()[name], build(open_panel(panel))
    subjects = list(subjects_of(netlist.panel, complaint)) if complaint.subject else [None]
    return make_model(netlist, complaint, subjects[0]) if subjects else None


@dataclass(frozen=True, eq=False)
class Small:
    """Causes of a model by their numbers, and checks that tell them apart."""

    model: Model
    causes: IndexArray
    share: FloatArray
    checks: Sequence[Check]
    tables: FloatArray
    places: Places

    @property
    def group(self) -> IndexArray:
        """(H,) what would be done about each cause."""
        return self.model.group_numbers[self.causes]


def leading(known: Model, most: int = MOST_CAUSES) -> IndexArray:
    """The likeliest cause of each of the likeliest groups, as a session about the complaint begins with."""
    order = np.argsort(-known.prior[:-1], kind="stable")
    _, first = np.unique(known.group_numbers[order], return_index=True)
    return np.sort(order[np.sort(first)[:most]])


def drawn(known: Model, chance: np.random.Generator, most: int = 6) -> IndexArray:
    """Causes drawn alike, each with another thing to do."""
    some = chance.permutation(len(known.group_numbers) - 1)
    _, first = np.unique(known.group_numbers[some], return_index=True)
    return np.sort(some[first][:most] if len(first) <= most else some[np.sort(first)][:most])


def cut(known: Model, causes: IndexArray, chance: np.random.Generator, most: int = MOST_CHECKS) -> Small | None:
    """Those causes and a few checks, drawn alike among all that tell something of them; None where too few do."""
    deck = deck_of(known)
    offered = list(open_checks(start(known, "live", INSTRUMENTS)))
    numbers = np.array([deck.number[check.id] for check in offered])
    now = np.zeros(len(known.prior))
    now[causes] = known.prior[causes] / known.prior[causes].sum()
    telling = np.flatnonzero(deck.bits(now, numbers) > TELLS)
    kept: list[int] = []
    for number in chance.permutation(telling).tolist():  # the same reading taken twice is no second witness
        if len(kept) < most and not deck.repeats(numbers[[number]], numbers[kept].tolist()).any():
            kept.append(number)
    if len(kept) < 3 or len(causes) < 3:
        return None
    checks = [offered[number] for number in kept]
    tables = deck.tables(numbers[kept])[:, causes]
    tables = np.where(tables < RAREST, 0.0, tables)
    tables /= tables.sum(axis=2, keepdims=True)
    costs = np.array(
        [[cost_minutes(check, PanelState(), None, "live") for check in checks]]
        + [[cost_minutes(check, spot.state, spot.setup, "live") for check in checks] for spot in deck.spots]
    )
    return Small(known, causes, now[causes], checks, tables, Places(costs, deck.spot[numbers[kept]] + 1))


def within_rule(small: Small):
    """Which checks may be done: a live one not where a single other one tells as much. No way may break that rule."""
    live = np.array([check.exposure == "live" for check in small.checks])

    def allowed(belief: FloatArray, usable: np.ndarray, _: FloatArray) -> np.ndarray:
        bits = np.array([float(expected_information(belief, table, small.group)) for table in small.tables])
        found = usable.copy()
        found[usable] = may_be_asked(belief, small.tables[usable], bits[usable], live[usable], small.group, LEAST_BITS)
        return found

    return allowed


def ratio(small: Small) -> float | None:
    """Expected minutes by the session's chooser over those of the exact optimum; None where nothing can be told, or the
    search for the optimum takes too long."""
    known, deck = small.model, deck_of(small.model)

    def choose(belief: FloatArray, left: np.ndarray, place: int) -> int | None:
        told = [float(expected_information(belief, table, small.group)) for table in small.tables[left]]
        if max(told, default=0.0) <= LEAST_BITS:
            return None  # where the optimum ends as well: the panel's own tables have the rarest outcomes in them
        wide = np.zeros(len(known.prior))
        wide[small.causes] = belief
        state, at = (deck.spots[place - 1].state, deck.spots[place - 1].setup) if place else (PanelState(), None)
        rest = [check for check, kept in zip(small.checks, left, strict=True) if kept]
        choice = best_check(known, wide, rest, state, at, "live")
        return None if choice is None else next(n for n, each in enumerate(small.checks) if each is choice.check)

    try:
        best = optimal_strategy(
            small.share, small.tables, small.places, small.group, KNOWN, LEAST_BITS, within_rule(small), MOST_STATES
        )
    except ValueError:
        return None
    if best.cost <= 0:
        return None
    ours = compile_strategy(small.share, small.tables, small.places, small.group, choose, stop=KNOWN)
    return ours.cost / best.cost


def ratios(known: Model, seeds: Sequence[int], most: int = MOST_CHECKS) -> list[float]:
    """Of problems about what leads and, every second one, about any causes of the model."""
    found = []
    for seed in seeds:
        chance = np.random.default_rng(seed)
        small = cut(known, drawn(known, chance) if seed % 2 else leading(known), chance, most)
        told = None if small is None else ratio(small)
        if told is not None:
            found.append(told)
    return found
