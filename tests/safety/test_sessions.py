"""Random sessions against a world that knows the rules by itself: whatever is answered, typed, edited or sent."""

from __future__ import annotations

import os
from collections import Counter
from functools import lru_cache
from pathlib import Path

import pytest

from diagnose import combined, remedied, session
from diagnose.circuit.netlist import FloatArray
from diagnose.combined import likelihood as combined_likelihood
from diagnose.model import Model
from diagnose.questions import Answer
from tests.safety.player import Player, models

SHED = ("shed_single_kettle", "gfci_trips_with_element", "element")
MODELS: dict[int, Model] = {}
CELLAR = ("cellar_two_kettle", "element_cold", "boil_element")


@lru_cache(maxsize=100_000)
def _likelihood(model: int, check: str, value: float | None, outcome: int | None) -> FloatArray:
    whole = MODELS[model]
    return combined_likelihood(whole, Answer(check, "", value, outcome))


def _remembered(model: Model, given: Answer) -> FloatArray:
    """How likely an answer is, worked out once for the models that are kept; one after a remedy is new each time."""
    if id(model) not in MODELS:
        return combined_likelihood(model, given)
    return _likelihood(id(model), given.check_id, given.value, given.outcome)


@pytest.fixture(autouse=True)
def _quick(monkeypatch: pytest.MonkeyPatch) -> None:
    """Pairs of faults change what is believed and take long to work out; that and the disk are no matter of safety."""
    monkeypatch.setattr(os, "fsync", lambda _: None)
    monkeypatch.setattr(combined, "likelihood", _remembered)
    monkeypatch.setattr(session, "widened", lambda model, answers: model)
    monkeypatch.setattr(session, "widened_from_start", lambda model, answers: model)
    monkeypatch.setattr(remedied, "widened_from_start", lambda model, answers: model)


def _play(which: tuple[str, str, str], seeds: range, folder: Path) -> Counter[str]:
    counts: Counter[str] = Counter()
    dealt = models(*which)
    MODELS.update({id(model): model for model in dealt})
    for seed in seeds:
        player = Player(seed, dealt[seed % len(dealt)], *which, folder)
        try:
            player.play()
        except AssertionError as error:
            raise AssertionError(f"seed {seed}: {error}; {player.kept[-5:]}") from error
        counts.update(player.counts)
    return counts


def test_no_random_session_breaks_a_rule(tmp_path: Path) -> None:
    counts = _play(SHED, range(200), tmp_path)
    done = (
        "answer",
        "confirm",
        "skip",
        "back",
        "change",
        "resume",
        "lower",
        "stop",
        "refer",
        "message",
        "repaired",
        "proof",
    )
    wanted = (*done, "ended", "log refused", "log taken", "said", "danger in an answer", "message refused")
    assert [what for what in wanted if not counts[what]] == [], counts


@pytest.mark.long
@pytest.mark.parametrize("which", [SHED, CELLAR], ids=["shed", "cellar"])
def test_no_random_session_of_ten_thousand_breaks_a_rule(which: tuple[str, str, str], tmp_path: Path) -> None:
    counts = _play(which, range(1000, 6100), tmp_path)
    print(sorted(counts.items()))
    assert counts["log taken"] > 100 and counts["message"] > 1000
