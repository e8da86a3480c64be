"""Volts that a load draws down at the bars: worked out from ohms, typed as two readings, and what they tell apart."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import pytest

from diagnose.causes import causes_of
from diagnose.checks import Check
from diagnose.circuit.netlist import Netlist, build
from diagnose.errors import AnswerError
from diagnose.expect import Predictor
from diagnose.model import Model, make_model
from diagnose.opening import all_complaints, open_panel
from diagnose.readings import parse_drop
from diagnose.study.closed_loop import run_trial
from diagnose.study.simulated import SimulatedPanel
from tests.test_expect import checks_of

SHED, CELLAR = "shed_single_kettle", "cellar_two_kettle"
AT_THE_BARS = "running:voltage_drop:line_bar.bar:neutral_bar.bar"


@lru_cache(maxsize=2)
def netlist_of(panel: str) -> Netlist:
    return build(open_panel(panel))


@lru_cache(maxsize=4)
def model_of(complaint: str) -> Model:
    return make_model(netlist_of(SHED), all_complaints()[complaint], "element")


def hidden(key: str) -> SimulatedPanel:
    netlist = netlist_of(SHED)
    return SimulatedPanel(netlist, next(cause for cause in causes_of(netlist.panel) if cause.key == key))


def check_of(panel: str, subject: str, name: str) -> Check:
    return checks_of(panel, subject)[name]


def test_it_is_the_difference_of_two_readings() -> None:
    """Whichever fault there is, what both readings alone would show."""
    netlist = netlist_of(SHED)
    causes = causes_of(netlist.panel)[::15]
    predictor = Predictor(netlist, causes)
    check = check_of(SHED, "element", AT_THE_BARS)
    assert check.unloaded is not None
    nodes = netlist.node(check.tail), netlist.node(check.head)
    volts = [np.abs(predictor.settled(setup).alternating.between(*nodes)) for setup in (check.unloaded, check.setup)]
    middle = predictor.middle
    np.testing.assert_allclose(predictor.predict(check).value, (volts[0] - volts[1])[middle], rtol=1e-3, atol=0.01)


def test_the_sound_house_loses_a_few_volts() -> None:
    """3 kW at 230 V are 13 A; 0.2 and 0.1 ohm of the service, 15 m of 2.5 mm2 there and back at 7.98 mohm/m (IEC 60228)
    and the contacts are 0.55 to 0.75 ohm: 7 to 10 V."""
    found = Predictor(netlist_of(SHED), []).predict(check_of(SHED, "element", AT_THE_BARS))
    assert 13 * 0.55 < found.value[0] < 13 * 0.75
    assert found.low[0] < 5 and 13 < found.high[0] < 20  # a house's wiring is half to twice as much; two readings


def test_a_low_supply_is_no_loss() -> None:
    """10 % less volts with and without the load: the volts are low, their loss is not."""
    check = check_of(SHED, "element", AT_THE_BARS)
    low = SimulatedPanel(netlist_of(SHED), None, supply=0.9).reading(check)
    usual = SimulatedPanel(netlist_of(SHED), None).reading(check)
    assert low == pytest.approx(0.9 * usual, rel=0.01)


def test_it_tells_a_poor_joint_in_the_house_from_a_sound_panel() -> None:
    model = model_of("slow_to_boil")
    check = model.checks_by_id[AT_THE_BARS]
    panel = hidden("service:line_weak@2")
    assert panel.reading(check) == pytest.approx(28, abs=1)

    prediction = model.predict(check)
    expected = next(number for number, cause in enumerate(model.causes) if cause.as_built)
    assert panel.reading(check) > prediction.high[1 + expected] + 5
    assert prediction.low[1 + expected] < 8.5 < prediction.high[1 + expected]


@pytest.mark.parametrize("complaint", ["slow_to_boil", "slower_than_before", "element_weak"])
@pytest.mark.parametrize("key", ["service:line_weak@2", "service:neutral_weak@2"])
def test_a_weak_line_is_never_called_a_kettle_that_gives_all_it_can(complaint: str, key: str) -> None:
    model, panel = model_of(complaint), hidden(key)
    assert panel.cause is not None
    trial = run_trial(model, panel, panel.cause, "live", frozenset({"multimeter"}))
    assert trial.ending == "group"
    assert trial.named[0] == "service"
    assert trial.checks <= 28  # it was 33 before there was such a check; pulling wires dead comes before it


@pytest.mark.parametrize(
    ("typed", "volts"),
    [("232, 224", 8), ("232 V, 224.5 V", 7.5), ("232 224", 8), ("232 V AC and 224 V AC", 8), ("8", 8), ("-2 V", -2),
     ("232 to 224", 8), ("0.8", 0.8)],
)  # fmt: skip
def test_two_readings_are_typed(typed: str, volts: float) -> None:
    assert parse_drop(typed) == pytest.approx(volts)


@pytest.mark.parametrize("typed", ["", "OL", "232, 224, 220", "a lot", "232 ohm, 224 ohm"])
def test_what_is_not_two_readings_is_asked_for_again(typed: str) -> None:
    with pytest.raises(AnswerError):
        parse_drop(typed)


def test_a_pair_of_legs_is_read_where_a_load_lies_between_them() -> None:
    names = [name for name in checks_of(CELLAR, "boil_element") if ":voltage_drop:" in name]
    assert names == ["running:voltage_drop:leg_1_bar.bar:leg_2_bar.bar"]
