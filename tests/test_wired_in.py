"""A panel without a plug: its breaker isolates it, in the circuit as on the wall, and the steps say so."""

from __future__ import annotations

from functools import lru_cache

import pytest

from diagnose.circuit.setup import at_rest, cut_off, isolated
from diagnose.model import Model
from diagnose.opening import open_model, open_panel
from diagnose.texts import step_text
from diagnose.wording import change_lines

WIRED, CORDED = "chapel_fixed_32", "shed_single_kettle"


@lru_cache(maxsize=2)
def model_of(name: str) -> Model:
    return open_model(name, "element_cold", "element")


@pytest.mark.parametrize("name", [WIRED, CORDED])
def test_ohms_on_the_dead_panel_do_not_go_through_the_building(name: str) -> None:
    """A coil of 8 VA at 230 V has some hundreds of ohms or more; the building's winding would make it half an ohm."""
    model = model_of(name)
    coils = [
        c for c in model.checks if (c.tail, c.quantity) == ("contactor.a1", "resistance") and not c.setup.supply_on
    ]
    assert coils
    for check in coils:
        assert float(model.predict(check).low[0]) > 100.0, check.id


def test_what_isolates_it_is_off_in_every_dead_setup() -> None:
    model = model_of(WIRED)
    dead = [check.setup for check in model.checks if not check.setup.supply_on]
    assert dead and all(setup.position("feed_breaker") == "off" for setup in dead)
    panel = open_panel(CORDED)
    assert cut_off(panel, at_rest(panel)) == at_rest(panel), "a plug that is pulled needs no breaker"


def test_the_steps_speak_of_the_breaker_and_no_check_turns_it() -> None:
    """Cutting and giving back the supply are steps of their own; a check names the panel's own handles only."""
    model = model_of(WIRED)
    words = " ".join(step_text(model.panel, "isolate").lines)
    assert "Turn off the breaker that feeds the panel" in words and "Pull the plug" not in words
    dead = next(check.setup for check in model.checks if check.setup_name == "isolated")
    live = next(check.setup for check in model.checks if check.setup_name == "running")
    for before, after in ((live, dead), (dead, live), (isolated(model.panel), live)):
        lines = " ".join(change_lines(model.panel, before, after))
        assert "feed breaker" not in lines and "feed rcd" not in lines


def test_the_feed_ends_at_terminals_in_the_box_and_not_at_an_outlet() -> None:
    panel = open_panel(WIRED)
    assert panel.parts["wall_point"].kind.name == "feed_terminals"
    assert not any(terminal.outside for terminal in panel.parts["wall_point"].kind.terminals.values())
