"""A model's checks as arrays, place by place, each place worked out when a check in it could be the best."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from diagnose.belief import pad_tables
from diagnose.checks import Check
from diagnose.circuit.netlist import BoolArray, FloatArray, IndexArray
from diagnose.circuit.setup import Setup
from diagnose.costs import QUESTION_MINUTES, change_minutes, exposure_price, need_of, state_for
from diagnose.heat_checks import HEAT_QUANTITIES, cuts_of
from diagnose.likelihoods import outcomes_under
from diagnose.model import Model
from diagnose.plan.information import information
from diagnose.safety import Competence, PanelState

MOST_OUTCOMES = 8  # of a reading, as planned with
ALIKE = 0.02  # readings nearer to each other than this share are the same reading
NEARLY_NOTHING = 1e-8  # SI units that are nothing to any meter
OUT = 1e-7  # belief below which a cause has no say in what is asked next
UNREACHABLE = 1e4  # minutes
NAME = "deck"


@dataclass(frozen=True, eq=False, slots=True)
class Spot:
    """All checks that are done in one setup with one exposure: from one to the next nothing has to be changed."""

    setup: Setup
    example: Check
    numbers: IndexArray  # of its checks, in the model's order

    @property
    def exposure(self) -> str:
        """What its checks expose a person to."""
        return self.example.exposure

    @property
    def state(self) -> PanelState:
        """How the panel stands while they are done."""
        return state_for(need_of(self.example))


class Deck:
    """The checks of one model: tables, costs and which readings repeat each other.

    `own` (C,) is minutes at the check itself, `spot` (C,) the number of the place where it is done.
    """

    def __init__(self, model: Model) -> None:
        self.model = model
        self.checks = model.checks
        self.number = {check.id: number for number, check in enumerate(model.checks)}
        self.own = np.array([QUESTION_MINUTES + check.minutes for check in model.checks])
        found: dict[tuple[Setup, str, str], list[int]] = {}
        for number, check in enumerate(model.checks):
            found.setdefault((check.setup, check.exposure, check.work), []).append(number)
        self.spots = tuple(
            Spot(setup, model.checks[numbers[0]], np.array(numbers)) for (setup, _, _), numbers in found.items()
        )
        self.spot = np.zeros(len(model.checks), dtype=np.intp)
        for place, spot in enumerate(self.spots):
            self.spot[spot.numbers] = place
        self.chosen: dict[object, object] = {}  # what was chosen so far, by all that it depends on
        self._within = np.zeros(len(model.checks), dtype=np.intp)
        for spot in self.spots:
            self._within[spot.numbers] = np.arange(len(spot.numbers))
        self._tables: dict[int, FloatArray] = {}
        self._ranges: dict[int, tuple[FloatArray, FloatArray]] = {}
        # (P, C) which places were held against which checks, and (C, C) what came of it.
        self._compared = np.zeros((len(self.spots), len(model.checks)), dtype=np.bool_)
        self._same = np.zeros((len(model.checks), len(model.checks)), dtype=np.bool_)

    def is_ready(self, place: int) -> bool:
        """Whether the checks of a place have been worked out."""
        return place in self._tables

    def tables(self, numbers: IndexArray) -> FloatArray:
        """(C, H + 1, O) probability of each outcome of some checks under each cause, the unknown one last."""
        places = self.spot[numbers]
        parts = [self.place_tables(int(place)) for place in np.unique(places)]
        widest = max((part.shape[2] for part in parts), default=1)
        found = np.zeros((len(numbers), len(self.model.prior), widest))
        for place, part in zip(np.unique(places), parts, strict=True):
            here = np.flatnonzero(places == place)
            found[here, :, : part.shape[2]] = part[self._within[numbers[here]]]
        return found

    def place_tables(self, place: int) -> FloatArray:
        """(C, H + 1, O) the tables of all checks of one place, worked out at the first call."""
        if place not in self._tables:
            checks = [self.checks[number] for number in self.spots[place].numbers]
            self._tables[place] = pad_tables([table_of(self.model, check) for check in checks])
        return self._tables[place]

    def bits(self, now: FloatArray, numbers: IndexArray) -> FloatArray:
        """(C,) expected information of some checks on what to do. Causes that are out are left out."""
        live = np.flatnonzero(now > OUT)
        share = now[live] / now[live].sum()
        found = np.zeros(len(numbers))
        for place in np.unique(self.spot[numbers]):
            here = np.flatnonzero(self.spot[numbers] == place)
            tables = self.place_tables(int(place))[np.ix_(self._within[numbers[here]], live)]
            found[here] = information(share, tables, self.model.group_numbers[live])
        return found

    def repeats(self, numbers: IndexArray, answered: Sequence[int]) -> BoolArray:
        """(C,) which of some checks would show the same as one that was answered, whatever the cause."""
        done, places = np.array(answered, dtype=np.intp), np.unique(self.spot[numbers])
        for number, other in np.argwhere(~self._compared[np.ix_(places, done)]):
            self._compare(int(places[number]), int(done[other]))
        return np.asarray(self._same[np.ix_(numbers, done)].any(axis=1))

    def _compare(self, place: int, other: int) -> None:
        """Find which checks of a place would show the same as another one."""
        quantity = self.checks[other].quantity
        numbers = self.spots[place].numbers
        same = np.array([self.checks[number].quantity == quantity != "sign" for number in numbers])
        if quantity in HEAT_QUANTITIES:
            # A boil-off is a coarser reading of the same watts.
            same = np.array([self.checks[number].quantity in HEAT_QUANTITIES for number in numbers])
        elif same.any():
            low, high = self._range(place)
            own = self.model.predict(self.checks[other])
            same[same] = _close(low[same], own.low) & _close(high[same], own.high)
        self._same[numbers, other] = same
        self._compared[place, other] = True

    def _range(self, place: int) -> tuple[FloatArray, FloatArray]:
        if place not in self._ranges:
            shown = [self.model.predict(self.checks[number]) for number in self.spots[place].numbers]
            self._ranges[place] = np.array([each.low for each in shown]), np.array([each.high for each in shown])
        return self._ranges[place]

    def ways(self, state: PanelState, at: Setup | None) -> FloatArray:
        """(P,) minutes from where the panel stands to each place."""
        return np.array([_way_minutes(spot.example, state, at) for spot in self.spots])

    def prices(self, competence: Competence) -> FloatArray:
        """(P,) the price in minutes of each place's exposure, for every check there."""
        return np.array([exposure_price(spot.example, competence) for spot in self.spots])

    @cached_property
    def moves(self) -> FloatArray:
        """(P, P) minutes from each place to each other."""
        return np.array([self.ways(spot.state, spot.setup) for spot in self.spots])


def _way_minutes(check: Check, state: PanelState, at: Setup | None) -> float:
    """Minutes to where a check can be done; more than anyone spends where the state doesn't allow the way."""
    try:
        return change_minutes(check, state, at)
    except ValueError:
        return UNREACHABLE


def _close(rows: FloatArray, other: FloatArray) -> BoolArray:
    """(C,) which rows (C, H) are like another (H,), OL being like OL alone."""
    with np.errstate(invalid="ignore"):
        near = np.abs(rows - other) <= NEARLY_NOTHING + ALIKE * np.abs(other)
    return np.asarray((near & np.isfinite(rows) & np.isfinite(other) | (rows == other)).all(axis=1))


def deck_of(model: Model) -> Deck:
    """The deck of a model, made once."""
    deck = model.kept.get(NAME)
    if not isinstance(deck, Deck):
        deck = model.kept[NAME] = Deck(model)
    return deck


def information_of(model: Model, now: FloatArray, checks: Sequence[Check]) -> FloatArray:
    """(C,) expected information of each check on what to do, in bits. Causes that are out are left out."""
    deck = deck_of(model)
    return deck.bits(now, np.array([deck.number[check.id] for check in checks], dtype=np.intp))


def table_of(model: Model, check: Check) -> FloatArray:
    """(H + 1, O) probability of each distinguishable outcome of a check under each cause, the unknown one last."""
    if check.id not in model.tables:
        model.tables[check.id] = outcomes_under(model.predict(check), check.quantity, cuts_of(model, check))
    return model.tables[check.id]
