"""Which check next: the most information for its cost, looked ahead where few causes are left; dead before live."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np

from diagnose.checks import Check
from diagnose.choose.deck import MOST_OUTCOMES, OUT, Deck, deck_of
from diagnose.choose.live import DeadBeforeLive, may_be_asked
from diagnose.circuit.netlist import FloatArray, IndexArray
from diagnose.circuit.setup import Setup
from diagnose.model import Model
from diagnose.plan import Places, group_entropy, look_ahead, optimal_strategy
from diagnose.plan.nearby import joint_bits, shared_rate
from diagnose.safety import Competence, PanelState

LEAST_BITS = 0.01  # a check that tells less is not worth a person's time
KNOWN = 0.97  # belief in what to do at which no more is asked
FEW = 12  # causes with which the rest of the way is looked at
FAINT = 0.002  # belief below which a cause is not looked ahead for
RAREST = 0.02  # outcomes less likely than this are not looked ahead for
EXACT_CAUSES, EXACT_CHECKS = 8, 10  # with no more than these the best way there is is looked for
MOST_STATES = 2000  # situations that may be weighed for that
WIDTH = 8  # checks that are looked ahead from
FROM_EACH_PLACE = 12  # checks of each place that are looked at ahead
CLEARLY = 0.95  # share of the expected cost below which another way is better
NEAR = 0.6  # minutes: a place that takes no more is no journey, just a handle or two
REMEMBERED = 512


@dataclass(frozen=True, slots=True)
class Choice:
    """The chosen check, what it is expected to tell, and what it costs.

    `only_live` is true of a live check: no single other check that is open tells what it does.
    """

    check: Check
    bits: float
    minutes: float
    only_live: bool = False


def best_check(
    model: Model,
    now: FloatArray,
    checks: Sequence[Check],
    state: PanelState,
    at: Setup | None,
    competence: Competence,
    answered: Sequence[Check] = (),
) -> Choice | None:
    """The check with the most information for its cost; None where nothing is left to ask.

    A check that would show the same as one already answered, whatever the cause, is passed over: the same reading
    taken twice is no second witness. A live check is passed over while a single other one tells as much.
    """
    deck = deck_of(model)
    numbers = np.array([deck.number[check.id] for check in checks], dtype=np.intp)
    done = tuple(deck.number[check.id] for check in answered)
    key = (now.tobytes(), numbers.tobytes(), state, at, competence, done)
    if key not in deck.chosen:
        if len(deck.chosen) >= REMEMBERED:
            deck.chosen.clear()
        deck.chosen[key] = _Choosing(deck, now, numbers, state, at, competence, done).choose()
    found = deck.chosen[key]
    assert found is None or isinstance(found, Choice)
    return found


@dataclass(eq=False)
class _Choosing:
    """One question: what is open, what is believed, where the panel stands."""

    deck: Deck
    now: FloatArray
    numbers: IndexArray
    state: PanelState
    at: Setup | None
    competence: Competence
    done: tuple[int, ...]
    bits: dict[int, float] = field(default_factory=dict)  # of the checks looked at that tell enough
    rates: dict[int, float] = field(default_factory=dict)
    left: dict[int, float] = field(default_factory=dict)  # bits that each near place could still tell

    def choose(self) -> Choice | None:
        deck = self.deck
        self.ways, self.prices = deck.ways(self.state, self.at), deck.prices(self.competence)
        self.live = np.flatnonzero(self.now > OUT)
        self.share = self.now[self.live] / self.now[self.live].sum()
        self.group = deck.model.group_numbers[self.live]
        self.entropy = group_entropy(self.share, self.group)
        places = np.unique(deck.spot[self.numbers]).tolist()
        self.near = [place for place in places if self.ways[place] <= NEAR]
        for place in self.near:
            self._look_into(place)
        for place in self._by_bound():
            self._look_into(place)
        if len(self.numbers) <= EXACT_CHECKS:
            self._look_into_all(places)
        best = self._best()
        if best is not None and self._is_live(best):
            self._look_into_all([place for place in places if deck.spots[place].exposure != "live"])
            self._leave_out_live_told_dead()
            best = self._best()
        if best is None:
            return None
        cost = deck.own[best] + self.ways[deck.spot[best]] + self.prices[deck.spot[best]]
        return Choice(deck.checks[best], self.bits[best], float(cost), self._is_live(best))

    def _best(self) -> int | None:
        best = max(self.rates, key=lambda number: self.rates[number], default=None)
        few = np.count_nonzero(self.share > FAINT) <= FEW
        return self._ahead(best) if best is not None and few else best

    def _is_live(self, number: int) -> bool:
        return self.deck.checks[number].exposure == "live"

    def _open_in(self, place: int) -> IndexArray:
        return np.asarray(self.numbers[self.deck.spot[self.numbers] == place])

    def _by_bound(self) -> Iterator[int]:
        """Places by the best that could be found there, until what was found is better than anything left."""
        left = []
        for place in np.unique(self.deck.spot[self.numbers]).tolist():
            least = float(self.deck.own[self._open_in(place)].min()) + self.prices[place]
            most = min(self.entropy, float(np.log2(MOST_OUTCOMES)))
            bound = most / (least + self.ways[place] * most / max(self.entropy, LEAST_BITS))
            left.append((bound, place))
        for bound, place in sorted(left, reverse=True):
            if place not in self.near and bound > max(self.rates.values(), default=0.0):
                yield place

    def _look_into(self, place: int) -> None:
        """Take in what the open checks of a place tell, and at what rate."""
        deck = self.deck
        numbers = self._open_in(place)
        bits = deck.bits(self.now, numbers)
        some = bits >= LEAST_BITS
        some[some] &= ~deck.repeats(numbers[some], self.done)
        numbers, bits = numbers[some], bits[some]
        if not len(numbers):
            return
        joint = joint_bits(self.share, deck.tables(numbers)[:, self.live], self.group)
        way = float(self.ways[place])
        if place in self.near:
            self.left[place] = joint
        else:
            way += self._way_back(place, joint)
        rates = shared_rate(bits, deck.own[numbers] + self.prices[place], way, joint)
        self.bits.update(zip(numbers.tolist(), bits.tolist(), strict=True))
        self.rates.update(zip(numbers.tolist(), rates.tolist(), strict=True))

    def _way_back(self, place: int, joint: float) -> float:
        """Expected minutes to come back from a place to what is near now: where both are needed, this is done first.

        Both are needed if the one place does not tell all, and what is near now tells something of the rest.
        """
        left = {near: bits for near, bits in self.left.items() if bits >= LEAST_BITS}
        if not left or self.entropy <= 0:
            return 0.0
        needed = (1 - min(joint / self.entropy, 1.0)) * min(max(left.values()) / self.entropy, 1.0)
        return needed * min(float(self.deck.moves[place, near]) for near in left)

    def _look_into_all(self, places: Sequence[int]) -> None:
        """Take in those of these places that were not looked into yet."""
        looked = {int(self.deck.spot[number]) for number in self.bits}
        for place in places:
            if place not in looked and place not in self.near:
                self._look_into(place)

    def _leave_out_live_told_dead(self) -> None:
        """Leave out live checks after a single other one of which they would tell nothing more."""
        numbers = np.array(list(self.rates), dtype=np.intp)
        bits = np.array([self.bits[number] for number in numbers.tolist()])
        live = np.array([self._is_live(number) for number in numbers.tolist()])
        tables = self.deck.tables(numbers)[:, self.live]
        allowed = may_be_asked(self.share, tables, bits, live, self.group, LEAST_BITS)
        self.rates = {number: self.rates[number] for number in numbers[allowed].tolist()}

    def _ahead(self, best: int) -> int:
        """The first check of the way that is expected to be the shortest."""
        deck = self.deck
        menu = np.array(self._menu(), dtype=np.intp)
        # The cause that nobody knows predicts nothing, so no way through it can be looked at.
        known = self.live < len(self.now) - 1
        faint = OUT if np.count_nonzero(known) <= EXACT_CAUSES else FAINT
        few = np.flatnonzero((self.share > faint) & known)
        share, group = self.share[few] / max(self.share[few].sum(), OUT), self.group[few]
        if len(menu) < 2 or not len(few) or group_entropy(share, group) < LEAST_BITS:
            return best
        own = deck.own[menu] + self.prices[deck.spot[menu]]
        costs = np.vstack([self.ways, deck.moves])[:, deck.spot[menu]] + own
        places = Places(costs, deck.spot[menu] + 1)
        tables = deck.tables(menu)[:, self.live[few]]
        small = len(menu) <= EXACT_CHECKS and len(few) <= EXACT_CAUSES
        if small and (exact := self._exact(menu, share, tables, places, group)) is not None:
            return exact
        outlook = look_ahead(
            share, tables, places, group, 3 if small else 2, WIDTH, stop=KNOWN, rarest=RAREST, least=LEAST_BITS
        )
        expected = dict(zip(menu[outlook.order].tolist(), outlook.cost.tolist(), strict=True))
        first = min(sorted(expected), key=lambda number: expected[number], default=best)
        # The far end of each way is an estimate, so a small difference is none.
        return first if expected.get(first, 0.0) < CLEARLY * expected.get(best, np.inf) else best

    def _exact(
        self, menu: IndexArray, share: FloatArray, tables: FloatArray, places: Places, group: IndexArray
    ) -> int | None:
        """The first check of the best way there is; None where it takes too long to find, or nothing is to be told."""
        tables = np.where(tables < RAREST, 0.0, tables)
        tables /= tables.sum(axis=2, keepdims=True)
        live = np.array([self._is_live(number) for number in menu.tolist()])
        allowed = DeadBeforeLive(tables, live, group, LEAST_BITS) if live.any() else None
        try:
            step = optimal_strategy(share, tables, places, group, KNOWN, LEAST_BITS, allowed, MOST_STATES)
        except ValueError:
            return None
        return None if step.check is None else int(menu[step.check])

    def _menu(self) -> list[int]:
        """The best checks of each place; where there are many, of those that tell the same causes apart, the first."""
        deck = self.deck
        if len(self.rates) <= EXACT_CHECKS:
            return list(self.rates)
        by_place: dict[int, list[int]] = {}
        for number in sorted(self.rates, key=lambda number: -self.rates[number]):
            by_place.setdefault(int(deck.spot[number]), []).append(number)
        menu: list[int] = []
        for numbers in by_place.values():
            marks = deck.tables(np.array(numbers))[:, self.live].argmax(axis=2)
            seen: set[bytes] = set()
            for number, mark in zip(numbers, marks, strict=True):
                if len(seen) < FROM_EACH_PLACE and mark.tobytes() not in seen:
                    seen.add(mark.tobytes())
                    menu.append(number)
        return menu
