"""Two causes at once: pairs grown from what single causes leave unexplained.

Nothing is tried that no reading asks for. Where no single cause fits all the answers, the answers that a sound panel
would not give are the conflicts; sets of two causes that between them hit every conflict are the candidates
(`combine.consistent_candidates`), and only the best of them are put into the circuit.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from diagnose.belief import Spread, posterior
from diagnose.causes import Cause, go_together, pair_of
from diagnose.chains import chain_shares
from diagnose.checks import Check
from diagnose.circuit.netlist import BoolArray, FloatArray
from diagnose.combine import consistent_candidates
from diagnose.expect import Prediction, Predictor
from diagnose.heat_checks import seen_by, seen_with
from diagnose.levels import level_factors
from diagnose.likelihoods import fitting, likelihood_of, spread_of
from diagnose.model import EXPLAINS, UNKNOWN_SHARE, Model, checks_for, complaint_likelihood
from diagnose.questions import Answer
from diagnose.some_causes import SomePredictor

MOST_PAIRS = 60
MOST_SCREENED = 600  # pairs that are looked at closer, and the causes in them
MOST_CAUSES = 80
MOST_KEPT = 3  # models with pairs: each holds the circuits of all its pairs
SECOND = 0.05  # how often a panel that has one fault has another one that has nothing to do with it: a judgement
EXPLAINED = 0.5  # belief in causes that fit every answer, below which pairs are thought of
DIFFERS = 0.05  # a share, or a part of a reading, by which a cause shows something else than the sound panel


class JoinedPredictor(Predictor):
    """Predictions of single causes, made already, followed by those of pairs."""

    def __init__(self, single: Predictor, pairs: Predictor) -> None:
        super().__init__(single.netlist, (*single.causes, *pairs.causes))
        self.single, self.pairs = single, pairs
        pairs.most_settled = 2  # a model has many of them, and several such models may be kept

    def true_interval(self, check: Check) -> tuple[FloatArray, FloatArray]:
        """(1 + H,) the lowest and the highest true values. Raises ValueError for a sign."""
        one, two = self.single.true_interval(check), self.pairs.true_interval(check)
        return np.r_[one[0], two[0][1:]], np.r_[one[1], two[1][1:]]

    @property
    def joined(self) -> tuple[Predictor, ...]:
        """The predictors whose rows, one after the other, are those of this one; row 0 stands once."""
        return (self.single, self.pairs)

    def _predict(self, check: Check) -> Prediction:
        one, two = self.single.predict(check), self.pairs.predict(check)
        table = showing = None
        if one.table is not None and two.table is not None:
            table = np.vstack([one.table, two.table[1:]])
        if one.showing is not None or two.showing is not None:
            ones = [np.ones(len(each.low)) if each.showing is None else each.showing for each in (one, two)]
            showing = np.r_[ones[0], ones[1][1:]]
        low, high, value = (np.r_[getattr(one, name), getattr(two, name)[1:]] for name in ("low", "high", "value"))
        return Prediction(low, high, value, table, showing)


def told(answers: Sequence[Answer]) -> list[Answer]:
    """The answers that say something."""
    return [answer for answer in answers if not answer.skipped]


def belief_after(model: Model, answers: Sequence[Answer]) -> FloatArray:
    """(H + 1,) belief in each cause of a model after these answers, the unknown one last."""
    given = told(answers)

    def worked_out() -> FloatArray:
        likely = [likelihood(model, answer) for answer in given]
        return posterior(model.prior, [*likely, level_factors(model, given)])

    return model.remembered(("belief", *(answer.said for answer in given)), worked_out)


def likelihood(model: Model, answer: Answer) -> FloatArray:
    """(H + 1,) how likely an answer is under each cause, the unknown one last."""

    def worked_out() -> FloatArray:
        check = model.checks_by_id[answer.check_id]
        prediction = seen_with(model, check, answer.width)
        return likelihood_of(
            prediction, check.quantity, answer.value, answer.outcome, _spread(model, check, answer, prediction)
        )[1:]

    return model.remembered(("likelihood", answer.said), worked_out)


def fits_all(model: Model, answers: Sequence[Answer]) -> BoolArray:
    """(H,) causes that fit every answer."""
    fits = np.ones(len(model.causes), dtype=bool)
    for answer in told(answers):
        fits &= fits_answer(model, answer)[1:]
    return fits


def fits_answer(model: Model, answer: Answer) -> BoolArray:
    """(1 + H,) whether the sound panel and each cause would show an answer."""

    def worked_out() -> BoolArray:
        check = model.checks_by_id[answer.check_id]
        prediction = seen_with(model, check, answer.width)
        return fitting(
            prediction, check.quantity, answer.value, answer.outcome, _spread(model, check, answer, prediction)
        )

    return model.remembered(("fitting", answer.said), worked_out)


def _spread(model: Model, check: Check, answer: Answer, prediction: Prediction) -> Spread | None:
    key = ("spread", check.id, answer.width)
    return model.remembered(key, lambda: spread_of(prediction, check.quantity))


def widened(model: Model, answers: Sequence[Answer]) -> Model:
    """The model after one more answer: with pairs among its causes where it has nothing that fits all of them."""
    if not model.grows or not told(answers) or _explained(model, answers):
        return model
    return grown(model, answers)


def widened_from_start(model: Model, answers: Sequence[Answer]) -> Model:
    """The model that these answers, one by one, lead to: what `widened` gives after each of them."""
    now = model.narrow or model
    for count in range(1, len(answers) + 1):
        check = model.checks_by_id[answers[count - 1].check_id]
        if check.id not in now.checks_by_id:  # it was offered for pairs that are not thought of this time
            now = replace(now, checks=(*now.checks, check), narrow=now.narrow or now, grown={}, tables={})
        if not answers[count - 1].skipped:
            now = widened(now, answers[:count])
    return now


def _explained(model: Model, answers: Sequence[Answer]) -> bool:
    return float(belief_after(model, answers)[:-1][fits_all(model, answers)].sum()) >= EXPLAINED


def grown(model: Model, answers: Sequence[Answer]) -> Model:
    """The single causes with the pairs that explain these answers best, at most `MOST_PAIRS` of them."""
    narrow = model.narrow or model
    asked = [model.checks_by_id[answer.check_id] for answer in told(answers)]
    more = [check for check in asked if check.id not in narrow.checks_by_id]
    pairs = candidate_pairs(narrow, asked, told(answers))
    name = " ".join([*(pair.key for pair in pairs), *(check.id for check in more)])
    if name not in narrow.grown:
        if len(narrow.grown) >= MOST_KEPT:
            narrow.grown.pop(next(iter(narrow.grown)))
        narrow.grown[name] = with_pairs(narrow, pairs, more)
    return narrow.grown[name]


def with_pairs(narrow: Model, pairs: Sequence[Cause], asked: Sequence[Check] = ()) -> Model:
    """A model with pairs among its causes; those under which the complaint would not be made are left out.

    `asked` are checks that the one without pairs does not offer, and that were answered already.
    """
    predictor = Predictor(narrow.predictor.netlist, pairs)
    shows = complaint_likelihood(predictor, narrow.complaint, narrow.subject, narrow.setups)[1:]
    kept = [number for number, share in enumerate(shows) if share >= EXPLAINS]
    pairs = [pairs[number] for number in kept]
    if not pairs:
        return replace(narrow, checks=(*narrow.checks, *asked), narrow=narrow, grown={}, tables={}) if asked else narrow
    predictor = predictor.narrowed(kept)
    causes = (*narrow.causes, *pairs)
    weight = np.array([pair.rate for pair in pairs]) * shows[kept]
    known = np.r_[narrow.prior[:-1] / narrow.prior[:-1].sum() * narrow.weight, weight]
    prior = np.r_[known / known.sum() * (1 - UNKNOWN_SHARE), UNKNOWN_SHARE]
    checks = checks_for(narrow.panel, narrow.complaint, narrow.subject, narrow.setups, causes)
    # The ones offered before stay where they are, so that a tie goes as it did.
    known_ids = narrow.checks_by_id.keys() | {check.id for check in asked}
    more = [*asked, *(check for check in checks if check.id not in known_ids)]
    if isinstance(narrow.predictor, SomePredictor):
        narrow.predictor.expect(more)
    return replace(
        narrow, causes=causes, prior=prior, checks=(*narrow.checks, *more),
        predictor=JoinedPredictor(narrow.predictor, predictor), narrow=narrow, grown={}, tables={},
    )  # fmt: skip


# Which pairs ------------------------------------------------------------------------------------------------


def candidate_pairs(narrow: Model, asked: Sequence[Check], answers: Sequence[Answer]) -> tuple[Cause, ...]:
    """The pairs of causes worth solving for the answers to these checks, the likeliest first, each with its rate."""
    numbers, causes, complained = _members(narrow)
    seen = [_Seen(narrow, check, answer, numbers) for check, answer in zip(asked, answers, strict=True)]
    if not seen or len(causes) < 2:
        return ()
    # A pair is screened as if each answer came from whichever of the two shows something: solved together later.
    rates = _rates_of_pairs(narrow, causes)
    score = np.log(rates)
    score += np.log(np.maximum(np.maximum(complained[:, None], complained[None, :]), EXPLAINS / 10))
    for each in seen:
        score += each.score_of_pairs()
    upper = np.triu_indices(len(causes), 1)
    order = np.argsort(-score[upper], kind="stable")[:MOST_SCREENED]
    first, second = upper[0][order], upper[1][order]
    candidates = _consistent(seen, first, second)
    found = []
    for one, two in zip(first.tolist(), second.tolist(), strict=True):
        if frozenset((one, two)) in candidates and go_together(narrow.panel, causes[one], causes[two]):
            found.append(_in_order(causes[one], causes[two], complained[one], complained[two], float(rates[one, two])))
        if len(found) == MOST_PAIRS:
            break
    return tuple(found)


def _members(narrow: Model) -> tuple[list[int], list[Cause], FloatArray]:
    """Single causes of the whole panel by their numbers, and how likely each by itself makes the complaint."""
    everything = narrow.everything
    numbers = [
        number
        for number, cause in enumerate(everything.causes)
        if cause.also is None and not cause.as_built and cause.at_times == 1 and cause.part not in narrow.mended
    ]
    shows = complaint_likelihood(everything, narrow.complaint, narrow.subject, narrow.setups)[1:]
    return numbers, [everything.causes[number] for number in numbers], shows[numbers]


class _Seen:
    """One answer against the sound panel and every single cause."""

    def __init__(self, model: Model, check: Check, answer: Answer, numbers: Sequence[int]) -> None:
        prediction = seen_by(model.everything, check, answer.width)
        rows = [number + 1 for number in numbers]
        likely = likelihood_of(prediction, check.quantity, answer.value, answer.outcome)
        self.sound, self.likely = float(np.log(likely[0])), np.log(likely[rows])
        fits = fitting(prediction, check.quantity, answer.value, answer.outcome)
        self.sound_fits, self.fits = bool(fits[0]), fits[rows]
        self.differs = _differs(prediction)[rows]

    def score_of_pairs(self) -> FloatArray:
        """(N, N) logarithm of the likelihood, as if the one that differs from the sound panel told the reading."""
        likely = np.where(self.differs, self.likely, self.sound)
        both = self.differs[:, None] & self.differs[None, :]
        one, two = likely[:, None], likely[None, :]
        return np.where(both, np.maximum(one, two), np.where(self.differs[:, None], one, two))


def _differs(prediction: Prediction) -> BoolArray:
    """(1 + H,) rows that show something else than the sound panel."""
    if prediction.table is not None:
        return np.asarray(np.abs(prediction.table - prediction.table[0]).max(axis=1) > DIFFERS)
    alike = np.isclose(prediction.low, prediction.low[0], rtol=DIFFERS)
    return np.asarray(~(alike & np.isclose(prediction.high, prediction.high[0], rtol=DIFFERS)))


def _consistent(seen: Sequence[_Seen], first: np.ndarray, second: np.ndarray) -> set[frozenset[int]]:
    """Among screened pairs, those that hit every conflict: each answer that a sound panel would not give."""
    parts: dict[int, None] = {}
    for one, two in zip(first.tolist(), second.tolist(), strict=True):
        if len(parts) < MOST_CAUSES:
            parts |= {one: None, two: None}
    conflicts = []
    for each in seen:
        conflict = [number for number in parts if each.fits[number]]
        if not each.sound_fits and conflict:
            conflicts.append(conflict)
    return {each for each in consistent_candidates(list(parts), conflicts, 2) if len(each) == 2}


def _in_order(one: Cause, two: Cause, shows_one: float, shows_two: float, rate: float) -> Cause:
    """The pair, first the one that makes the complaint by itself, or makes it more often: it is mended first."""
    swapped = (shows_two * two.rate, two.rate) > (shows_one * one.rate, one.rate)
    return pair_of(two, one, rate) if swapped else pair_of(one, two, rate)


def _rates_of_pairs(narrow: Model, causes: Sequence[Cause]) -> FloatArray:
    """(N, N) how often two causes are there together: by chance, or since the one brought the other."""
    rates = np.array([cause.rate for cause in causes])
    total = sum(cause.rate for cause in narrow.everything.causes if cause.also is None)
    together = rates[:, None] * rates[None, :] * SECOND / total
    for (one, two), share in chain_shares(narrow, causes).items():
        brought = max(together[one, two], rates[one] * share)
        together[one, two] = together[two, one] = brought
    return np.asarray(together)
