"""A panel says how often something fails on it, in place of what its kind says, and the session goes by that."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from diagnose.causes import causes_of
from diagnose.circuit.netlist import build
from diagnose.knowledge.library import load_library
from diagnose.knowledge.rates import load_rates
from diagnose.model import make_model
from diagnose.opening import all_complaints
from diagnose.panel.reader import read_panel
from diagnose.panel.records import Panel

LIBRARY = load_library()
SHED = (LIBRARY.folder / "panels" / "shed_single_kettle.yaml").read_text(encoding="utf-8")
OWN = "rates: {relay: {shorted: very common}, controller: {output_stuck: rare}}\n"
WORDS = load_rates().words


def panel_with(tmp_path: Path, rates: str) -> Panel:
    """The shed panel with rates of its own."""
    path = tmp_path / "panel.yaml"
    path.write_text(SHED + rates, encoding="utf-8")
    return read_panel(path, LIBRARY)


def test_an_own_rate_goes_before_that_of_the_kind_and_no_other_changes(tmp_path: Path) -> None:
    usual = {cause.key: cause.rate for cause in causes_of(panel_with(tmp_path, ""))}
    own = {cause.key: cause.rate for cause in causes_of(panel_with(tmp_path, OWN))}
    assert own.keys() == usual.keys()
    changed = {key for key in own if own[key] != usual[key]}
    assert {key.partition("@")[0] for key in changed} == {"relay:shorted", "controller:output_stuck"}
    assert sum(rate for key, rate in own.items() if key.startswith("relay:shorted")) == WORDS["very common"]
    assert sum(rate for key, rate in own.items() if key.startswith("controller:output_stuck")) == WORDS["rare"]


def test_what_was_learned_multiplies_the_own_rate(tmp_path: Path) -> None:
    panel = panel_with(tmp_path, OWN)
    learned = {cause.key: cause.rate for cause in causes_of(panel, {"relay.shorted": 0.5})}
    relay = sum(rate for key, rate in learned.items() if key.startswith("relay:shorted"))
    assert relay == pytest.approx(0.5 * WORDS["very common"])


def test_a_session_begins_with_the_own_rates(tmp_path: Path) -> None:
    """What the two causes of an element that stays on are worth against each other goes by the panel's own words."""
    odds = []
    for rates in ("", OWN):
        model = make_model(build(panel_with(tmp_path, rates)), all_complaints()["element_stuck_on"], "element")
        prior = {"relay": 0.0, "controller": 0.0}
        for cause, belief in zip(model.causes, model.prior[:-1], strict=True):
            prior[cause.part] += float(belief)
        odds.append(prior["relay"] / prior["controller"])
    usual = LIBRARY.kinds["relay"].faults["shorted"].rate / LIBRARY.kinds["controller"].faults["output_stuck"].rate
    np.testing.assert_allclose(odds[1] / odds[0], WORDS["very common"] / WORDS["rare"] / usual)
