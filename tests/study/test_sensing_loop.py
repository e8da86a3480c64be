"""Hidden faults of probes and of controllers' settings, on panels with every sort of probe, are found."""

from __future__ import annotations

from collections import Counter
from functools import lru_cache

import pytest

from diagnose.causes import Cause
from diagnose.circuit.netlist import Netlist, build
from diagnose.knowledge.records import Complaint
from diagnose.model import make_model
from diagnose.opening import all_complaints, bundled_panels, open_panel
from diagnose.panel.records import Panel
from diagnose.safety import Competence
from diagnose.study.closed_loop import Trial, complaints_of, run_trial
from diagnose.study.simulated import SimulatedPanel

SENSED = (
    "probe_over_range", "probe_under_range", "probe_reads_off", "probe_jumps", "probe_off_everywhere",
    "probe_off_when_hot", "probe_wanders", "probe_jumps_with_load", "controller_alarm",
)  # fmt: skip
COMMANDED = ("element_cold", "element_stuck_on")
# All bundled panels that have a controller. Each complaint is made about the first part that it may be about: other
# channels are built alike.
# On the largest every second fault is hidden, so that a panel takes a minute at most.
PANELS = tuple(each.name for each in bundled_panels() if open_panel(each.name).of_role("controller"))
LARGE = ("mill_three_phase", "stable_interlocked", "cellar_two_kettle")
EVERY = 5  # of each complaint's faults, one in so many in the quick run


@lru_cache(maxsize=8)
def netlist_of(panel: str) -> Netlist:
    return build(open_panel(panel))


def about(panel: Panel, cause: Cause) -> bool:
    """Whether a fault is of sensing or control: of a probe, its socket, its wires, or a controller."""
    ends = [cause.part]
    if cause.part in panel.wires_by_name:
        wire = panel.wires_by_name[cause.part]
        ends = [wire.a.partition(".")[0], wire.b.partition(".")[0]]
    return any(panel.kind_of(end).role in ("probe", "probe_socket", "controller") for end in ends)


def trials_of(
    panel: str, names: tuple[str, ...], every: int, competence: Competence = "live", subjects: int = 9
) -> list[Trial]:
    netlist = netlist_of(panel)
    chosen: list[Complaint] = [complaint for name, complaint in all_complaints().items() if name in names]
    trials = []
    seen: Counter[str] = Counter()
    for complaint, subject, causes in complaints_of(netlist, chosen):
        mine = [cause for cause in causes if about(netlist.panel, cause)]
        seen[complaint.name] += 1
        if not mine or seen[complaint.name] > subjects:
            continue
        model = make_model(netlist, complaint, subject)
        for cause in mine[::every]:
            hidden = SimulatedPanel(netlist, cause)
            trials.append(run_trial(model, hidden, cause, competence, frozenset({"multimeter"})))
    return trials


def wrong(trials: list[Trial]) -> list[str]:
    return [
        f"{trial.complaint}: {trial.cause.key} ended {trial.ending} with {trial.named}"
        for trial in trials
        if trial.ending in ("wrong", "unknown")
    ]


@pytest.mark.parametrize("panel", ["smithy_thermocouple", "orchard_digital"])
def test_a_sample_of_sensing_faults_is_found(panel: str) -> None:
    trials = trials_of(panel, SENSED, EVERY, subjects=1)
    assert len(trials) >= 10
    assert not wrong(trials)


def test_a_new_panel_with_a_broken_probe_wire_is_told() -> None:
    """The wire from the socket's pin A, off its terminal, under each complaint that it makes."""
    netlist = netlist_of("balcony_one_pot")
    key = "wire_probe_socket_a_to_controller_probe_a:open"
    chosen = [complaint for name, complaint in all_complaints().items() if name in (*SENSED, *COMMANDED)]
    endings = {}
    for complaint, subject, causes in complaints_of(netlist, chosen):
        for cause in causes:
            if cause.key == key:
                model = make_model(netlist, complaint, subject)
                trial = run_trial(model, SimulatedPanel(netlist, cause), cause, "live", frozenset({"multimeter"}))
                endings[complaint.name] = trial.ending
    assert {"probe_over_range", "element_cold", "controller_alarm"} <= endings.keys()
    assert set(endings.values()) <= {"found", "group"}


def test_settings_are_found_from_outside() -> None:
    """Someone who only looks and presses finds every setting that keeps the heat off, with the box never opened."""
    trials = trials_of("shed_single_kettle", ("element_cold",), 1, "outside")
    settings = {
        "not_calling", "setpoint_low", "cooling_action", "alarm_lockout", "program_stopped", "wrong_output_set",
        "long_cycle",
    }  # fmt: skip
    found = {trial.cause.fault: trial for trial in trials if trial.cause.fault in settings}
    assert found.keys() == settings
    assert {trial.ending for trial in found.values()} == {"found"}
    assert all(trial.openings == 0 for trial in trials)


@pytest.mark.long
@pytest.mark.parametrize("panel", PANELS)
def test_every_sensing_and_control_fault_is_found_or_in_a_stated_group(panel: str) -> None:
    trials = trials_of(panel, (*SENSED, *COMMANDED), 2 if panel in LARGE else 1, subjects=1)
    ending = Counter(trial.ending for trial in trials)
    print(panel, dict(ending), f"{sum(trial.checks for trial in trials) / len(trials):.1f} checks")
    assert not wrong(trials)
    assert ending["found"] >= 0.85 * len(trials)
