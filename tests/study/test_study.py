"""The study: samples, noise, slips, usual orders of checks to hold it against, and how it is printed."""

from __future__ import annotations

import io
import json
import subprocess
import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from time import monotonic, sleep
from typing import Any

import pytest

from diagnose.causes import Cause
from diagnose.cli import main
from diagnose.safety import PanelState
from diagnose.session import open_checks, start
from diagnose.study.baselines import FAR, OWN, WAYS, distances, half_split, looks_at, place_of
from diagnose.study.closed_loop import GIVES_UP, Trial
from diagnose.study.pairs import PairTrial
from diagnose.study.progress import bar, line
from diagnose.study.runs import Job, PanelResult, Plan, run, run_job, sampled
from diagnose.study.summary import by_panel
from diagnose.study.table import data, figures, ratios, text
from diagnose.topology import power_path
from tests.test_combined import INSTRUMENTS, cause, model, netlist

PANEL = "shed_single_kettle"


def trial(minutes: float, rate: float = 1.0, ending: str = "found") -> Trial:
    hidden = Cause("relay", "open", None, 0.0, 0.0, rate)
    return Trial(PANEL, "element_cold", "element", hidden, ending, ("relay",), 3, minutes, 1, 2)  # type: ignore[arg-type]


def job(*keys: str) -> Job:
    return Job(PANEL, "element_cold", "element", tuple(cause(key) for key in keys))


def test_every_way_finds_the_same_hidden_fault() -> None:
    found = run_job(job("relay:open", "control_fuse:blown"), Plan())
    assert set(found) == set(WAYS)
    for way, trials in found.items():
        for each in trials:
            assert each.ending == ("found" if each.checks < GIVES_UP else "unknown"), way
    assert all(each.ending == "found" for way in (OWN, "flowchart", "half-split") for each in found[way])
    minutes = {way: figures(trials)["minutes"] for way, trials in found.items()}
    assert minutes[OWN] == min(minutes.values())


@pytest.mark.long
def test_the_same_seed_gives_the_same_noise_and_slips() -> None:
    plan = Plan(ways=(OWN,), noise=1.0, slips=0.1, seed=5)
    one, two = run_job(job("relay:open"), plan), run_job(job("relay:open"), plan)
    assert one == two


def test_a_sample_is_drawn_by_the_seed() -> None:
    everything = [job("relay:open", "control_fuse:blown", "element:open"), job("relay:open", "controller:dead")]

    def drawn(seed: int, count: int = 3) -> list[tuple[str, str]]:
        jobs = sampled(everything, PANEL, Plan(sample=count, seed=seed))
        assert all(each.causes for each in jobs)
        return [(each.complaint, hidden.key) for each in jobs for hidden in each.causes]

    one = drawn(1)
    assert len(one) == 3 and drawn(1) == one and any(drawn(seed) != one for seed in range(2, 9))
    assert len(drawn(1, 99)) == 5, "no more than there are"


def test_distance_grows_from_the_supply_to_the_load() -> None:
    panel = netlist().panel
    steps = distances(panel)
    assert steps[panel.supply.service] == 0 and max(steps.values()) <= FAR + 1
    way = [step.tail for step in power_path(panel, "element").out]
    assert [steps[end] for end in way] == sorted(steps[end] for end in way)


def test_half_splitting_starts_between_the_suspects() -> None:
    known = model("element_cold")
    session = start(known, "live", INSTRUMENTS)
    chosen = half_split(known, known.prior, open_checks(session), PanelState(), None, "live")
    assert chosen is not None
    steps = distances(known.panel)
    places = [steps[part] for part in {member.part for each in known.causes for member in each.members}]
    before = sum(far < place_of(known.panel, chosen.check) for far in places)
    assert 0.3 <= before / len(places) <= 0.7


def test_a_reading_looks_at_what_lies_between_its_probes_and_a_live_one_at_all_before_them() -> None:
    known = model("element_cold")
    dead = next(each for each in known.checks if each.quantity == "resistance" and "relay." in each.tail)
    assert "relay" in looks_at(known.panel, dead) and "feed_cord" not in looks_at(known.panel, dead)
    live = next(each for each in known.checks if each.exposure == "live" and each.tail.startswith("relay."))
    assert {"feed_cord", "main_switch"} <= looks_at(known.panel, live)


def test_figures_are_means_and_weighed_ones_go_by_rate() -> None:
    told = figures([trial(10, rate=3.0), trial(30, rate=1.0, ending="wrong")])
    assert (told["tried"], told["found"], told["wrong"], told["minutes"], told["weighed"]) == (2, 1, 1, 20.0, 15.0)
    trials = {OWN: [trial(10), trial(20)], "flowchart": [trial(30), trial(30)]}
    assert ratios(trials) == ratios(trials, "minutes") == {"flowchart": 0.5}
    assert figures([])["minutes"] == 0


def test_the_table_and_the_data_say_the_same() -> None:
    result = PanelResult(PANEL, {OWN: [trial(12.0)], "flowchart": [trial(24.0)]}, [], (cause("relay:open"),))
    shown = text([result, result])
    assert "element_cold" in shown and "all 2 panels" in shown
    assert "minutes against flowchart: 0.50 weighed, 0.50 with every fault alike" in shown
    told = json.loads(json.dumps(data([result], Plan())))
    assert told["panels"][0]["complaints"][0]["ways"]["own"]["minutes"] == 12.0
    assert told["panels"][0]["own minutes over others"]["weighed"] == {"flowchart": 0.5}


def test_a_line_for_each_panel_and_one_for_all() -> None:
    result = PanelResult(PANEL, {OWN: [trial(12.0)], "flowchart": [trial(24.0)]})
    both = cause("relay:open")
    pair = PairTrial(PANEL, "element_cold", "element", both, "found", True, True, ("relay",), (), 4, False)
    two = by_panel(data([result, replace(result, pairs=[pair])], Plan())).splitlines()
    assert len(two) == 4 and two[0].endswith("minutes over flowchart")
    assert [line.split()[0] for line in two[1:]] == [PANEL, PANEL, "all"]
    assert [line.split()[-2:] for line in two[1:]] == [["0/0", "0.50"], ["1/1", "0.50"], ["1/1", "0.50"]]
    alone = by_panel(data([PanelResult(PANEL, {OWN: [trial(12.0)]})], Plan(ways=(OWN,)))).splitlines()
    assert len(alone) == 2 and "over" not in alone[0] and alone[1].split()[1:5] == ["1", "1", "0", "0"]


def test_the_bar_is_for_terminals_only() -> None:
    class Terminal(io.StringIO):
        def isatty(self) -> bool:
            return True

    watched, piped = Terminal(), io.StringIO()
    for stream in (watched, piped):
        with bar(stream) as report:
            report(3, 12)
    assert "3 of 12 parts" in watched.getvalue() and not piped.getvalue()
    assert line(0, 0, 0.0).startswith("[####") and "about 30 s left" in line(1, 4, 10.0)
    assert max(len(part) for part in watched.getvalue().split("\r")) <= 79


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--slips", "2"], "'2' is no share from 0 to 1, such as 0.02 or 2 %"),
        (["--noise", "much"], "'much' is no share from 0 to 1, such as 0.02 or 2 %"),
        (["--sample", "-1"], "expected"),
        (["--pairs", "two"], "'two' is no whole number of 0 or more"),
        (["no_such_panel"], "no_such_panel"),
    ],
)
def test_what_can_be_mended_is_said(arguments: list[str], said: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["study", *arguments]) == 2
    shown = capsys.readouterr().err
    assert said in shown and "Traceback" not in shown


@pytest.mark.long
def test_the_number_of_processes_changes_nothing() -> None:
    plan = Plan(ways=(OWN,), sample=3, pairs=1)
    told = [run([PANEL], replace(plan, workers=count)) for count in (1, 2)]
    assert told[0] == told[1]


@pytest.mark.skipif(not Path("/proc/self/task").exists(), reason="children are found in /proc")
def test_no_process_outlives_a_study_that_is_killed() -> None:
    study = subprocess.Popen([sys.executable, "-m", "diagnose", "study", PANEL], stderr=subprocess.DEVNULL)
    try:
        children = _until(lambda: _children_of(study.pid))
    finally:
        study.kill()
        study.wait()
    assert _until(lambda: not any(_is_running(child) for child in children))


def _children_of(process: int) -> list[int]:
    """Those that do the study: the resource tracker, which is one more, ends by itself."""
    found = Path(f"/proc/{process}/task/{process}/children").read_text().split()
    return [int(child) for child in found if b"spawn_main" in Path(f"/proc/{child}/cmdline").read_bytes()]


def _is_running(process: int) -> bool:
    try:
        state = Path(f"/proc/{process}/stat").read_text().rsplit(")", 1)[1].split()[0]
    except OSError:
        return False
    return state not in "ZX"  # nobody may be there to ask how it ended


def _until(found: Callable[[], Any], seconds: float = 60) -> Any:
    late = monotonic() + seconds
    while not (what := found()) and monotonic() < late:
        sleep(0.05)
    return what
