"""The closed loop over what gets hot, buzzes, glows, hums and resets."""

from __future__ import annotations

from collections import Counter
from functools import lru_cache
from pathlib import Path

import pytest

from diagnose.causes import causes_of
from diagnose.circuit.netlist import Netlist, build
from diagnose.model import make_model
from diagnose.opening import all_complaints, open_panel
from diagnose.study.closed_loop import Trial, run_panel, run_trial
from diagnose.study.simulated import SimulatedPanel

NAMES = (
    "plug_hot", "relay_hot", "relay_smells", "lamp_on_no_heat", "lamp_glows", "contactor_buzzes", "contactor_not_in",
    "contactor_stays_in", "display_resets", "pump_hums", "pump_stops_hot", "gfci_trips_with_pump", "fan_quiet",
)  # fmt: skip
COMPLAINTS = tuple(complaint for name, complaint in all_complaints().items() if name in NAMES)
LAMP_ACROSS_THE_LOAD = """\
# A lamp that hangs across the kettle's outlet, behind the relay.
panel: lamp_kettle
title: Kettle with a lamp across its outlet, 230 V
region: europe
supply:
  system: single_phase_230
  protection: ["feed_breaker: breaker_1, 16 A, iec60898_b", "feed_rcd: rcd, 25 A, 30 mA"]
  feed: 2.5 mm2, 12 m
  cord: feed_cord_3, 3 m
references: {neutral: neutral_bar, earth: earth_bar, leg_1: line_bar}
wire: 1.5 mm2, 0.4 m
parts:
  line_bar: bar
  neutral_bar: bar
  earth_bar: earth_bar
  control_fuse: fuse, 1 A
  controller: controller, 230 V
  relay: relay, 40 A
  lamp: lamp_led, 230 V
  outlet: outlet
  cord: cord, 16 A, 2 m
  element: element, 3 kW, 230 V
  probe_socket: probe_socket
  probe: probe
wires:
  - feed_cord.l - line_bar, 2.5 mm2
  - feed_cord.n - neutral_bar, 2.5 mm2
  - feed_cord.earth - earth_bar, 2.5 mm2
  - line_bar - relay - outlet.a, 2.5 mm2
  - outlet.b - neutral_bar, 2.5 mm2
  - relay.load - lamp - neutral_bar
  - earth_bar - outlet.earth, 2.5 mm2
  - cord.a - element.a, 2.5 mm2, 0.1 m
  - cord.b - element.b, 2.5 mm2, 0.1 m
  - cord.earth - element.earth, 2.5 mm2, 0.1 m
  - line_bar - control_fuse - controller.line
  - controller.neutral - neutral_bar
  - controller.plus - relay.plus
  - controller.minus - relay.minus
  - probe_socket.a - controller.probe_a
  - probe_socket.b - controller.probe_b
  - probe_socket.c - controller.probe_c
plugs:
  - cord - outlet
  - probe - probe_socket
"""


@lru_cache(maxsize=4)
def netlist_of(panel: str) -> Netlist:
    return build(open_panel(panel))


def not_named(trials: list[Trial]) -> list[str]:
    return [
        f"{t.complaint}: {t.cause.key} ended {t.ending} with {t.named}"
        for t in trials
        if t.ending in ("wrong", "unknown")
    ]


def test_every_complaint_is_there() -> None:
    assert {complaint.name for complaint in COMPLAINTS} == set(NAMES)
    assert all(len(complaint.says) >= 3 for complaint in COMPLAINTS)


def test_a_panel_without_the_part_has_no_cause_for_the_complaint() -> None:
    """The loft's panel switches by a contactor alone: nothing there is a hot solid-state relay."""
    netlist = netlist_of("loft_dairy_208")
    assert not netlist.panel.of_role("relay")
    assert not make_model(netlist, all_complaints()["relay_hot"], "element").causes
    assert not list(run_panel(netlist, (all_complaints()["relay_hot"],)))


def test_a_sample_is_found_in_the_shed() -> None:
    trials = list(run_panel(netlist_of("shed_single_kettle"), COMPLAINTS, every=9))
    assert len(trials) >= 12
    assert not not_named(trials)
    assert sum(trial.ending == "found" for trial in trials) >= 0.7 * len(trials)


def test_nobody_works_live_about_what_is_hot() -> None:
    hot = tuple(complaint for complaint in COMPLAINTS if complaint.name in ("plug_hot", "relay_hot", "relay_smells"))
    trials = list(run_panel(netlist_of("shed_single_kettle"), hot, every=8))
    assert trials
    assert all(trial.live == 0 for trial in trials)


@pytest.mark.parametrize("key", ["element:open", "cord:core_broken", "cord:blade_open"])
def test_an_off_relay_lights_a_lamp_whose_load_is_gone(tmp_path: Path, key: str) -> None:
    """Milliamps through the snubber: nothing beside an element, and a glow where the element is open."""
    path = tmp_path / "lamp_kettle.yaml"
    path.write_text(LAMP_ACROSS_THE_LOAD, encoding="utf-8")
    netlist = build(open_panel(str(path)))
    model = make_model(netlist, all_complaints()["lamp_glows"], "element")
    assert {"element", "cord"} <= {cause.part for cause in model.causes}
    cause = next(each for each in causes_of(netlist.panel) if each.key == key)
    trial = run_trial(model, SimulatedPanel(netlist, cause), cause, "isolated", frozenset({"multimeter"}))
    assert trial.ending in ("found", "group")


@pytest.mark.long
@pytest.mark.parametrize("panel", ["shed_single_kettle", "cellar_two_kettle", "stable_interlocked"])
def test_every_fault_behind_these_complaints_is_found(panel: str) -> None:
    trials = list(run_panel(netlist_of(panel), COMPLAINTS))
    print(panel, Counter((trial.complaint, trial.ending) for trial in trials))
    assert not not_named(trials)
    assert sum(trial.ending == "found" for trial in trials) >= 0.7 * len(trials)
