"""The logbook: sessions of a panel in order, readings over time, and insulation that falls."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from functools import lru_cache
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from diagnose.cli import main
from diagnose.meter import reader_of
from diagnose.opening import open_panel
from diagnose.report.history import Models, histories, limits_of, logs_in
from diagnose.report.history_text import history_lines
from diagnose.report.trend import SURE, Point, spread_of, trend_of
from tests.report.logs import model_of, only, whole

SHED = "shed_single_kettle"
LATER = (SHED, "gfci_trips_later", "element")
STUCK = (SHED, "element_stuck_on", "element")
INSULATION = "parted:insulation:element.a:element.earth"
TESTER = reader_of("insulation")


@pytest.fixture(scope="module")
def logbook(tmp_path_factory: pytest.TempPathFactory) -> Callable[..., Path]:
    """A folder with a session for each reading of the element's insulation, a month apart."""

    def made(*readings: str, more: Callable[[Path], object] | None = None) -> Path:
        folder = tmp_path_factory.mktemp("logs")
        for number, reading in enumerate(readings, start=1):
            only(folder / f"{number}.yaml", *LATER, {INSULATION: reading}, f"2026-{number:02d}-10T19:00:00")
        if more is not None:
            more(folder)
        return folder

    return made


@lru_cache(maxsize=1)
def models() -> Models:
    """The models of these tests, made once."""
    abouts = (LATER, STUCK, (SHED, "element_cold", "element"))
    return {(*about, ()): model_of(*about) for about in abouts}


def lines(folder: Path) -> str:
    made = histories(logs_in([folder], deep=True), models())
    return "\n".join(line for each in made for line in history_lines(each))


@pytest.mark.parametrize(
    ("readings", "falls"),
    [
        (("180 Mohm", "60 Mohm", "9 Mohm"), True),
        (("180 Mohm", "90 Mohm"), False),  # a warmer day alone halves it
        (("OL", "40 Mohm"), True),
    ],
)
def test_insulation_that_falls_is_said_first_and_nothing_else_is(
    logbook: Callable[..., Path], readings: tuple[str, ...], falls: bool
) -> None:
    folder = logbook(*readings)
    told = lines(folder)
    assert ("INSULATION FALLS" in told) == falls
    if falls:
        assert told.index("INSULATION FALLS") < told.index("2026-01-10:")
        assert "how an element dies before it trips" in " ".join(told.split())


def test_a_replaced_part_begins_anew(logbook: Callable[..., Path]) -> None:
    """A new element's insulation is not compared with the old one's."""

    def mended(folder: Path) -> None:
        whole(folder / "open.yaml", SHED, "element_cold", "element", "element:open", when="2026-01-20T19:00:00")

    with_remedy, without = logbook("400 Mohm", "9 Mohm", more=mended), logbook("400 Mohm", "9 Mohm")
    assert "INSULATION FALLS" in lines(without)
    assert "INSULATION FALLS" not in lines(with_remedy)


def test_sessions_are_listed_with_cause_remedy_and_proofs_the_oldest_first(tmp_path: Path) -> None:
    whole(tmp_path / "b.yaml", *STUCK, "relay:shorted", when="2026-02-01T10:00:00")
    whole(tmp_path / "a.yaml", *STUCK, "relay:shorted", when="2026-05-01T10:00:00", declined=("gfci_test",))
    told = lines(tmp_path)
    assert told.index("2026-02-01") < told.index("2026-05-01")
    flat = " ".join(told.split())
    assert flat.count("Found: relay: output shorted, cannot switch off.") == 2
    assert "Mended. Proof checks passed:" in flat and "declined: RCD" in flat
    assert str(tmp_path / "a.yaml") in told
    assert "The same each time." in flat


def test_a_log_that_fits_no_more_is_still_listed(tmp_path: Path, logbook: Callable[..., Path]) -> None:
    folder = logbook("180 Mohm")
    text = (folder / "1.yaml").read_text(encoding="utf-8")
    (folder / "2.yaml").write_text(text.replace(INSULATION, "parted:insulation:gone.a:gone.b"), encoding="utf-8")
    (folder / "3.yaml").write_text(text.replace('"shed_single_kettle"', '"/nowhere/gone.yaml"'), encoding="utf-8")
    flat = " ".join(lines(folder).split())
    assert flat.count("Can't be played again, 2 answers kept:") == 2
    assert flat.count(": 1 session") == 1 and flat.count(": 2 sessions") == 1


def test_by_panel_only_its_logs_where_sessions_are_kept(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    state = tmp_path / "state" / "diagnose"
    state.mkdir(parents=True)
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    monkeypatch.setenv("HOME", str(tmp_path / "nobody"))
    monkeypatch.chdir(tmp_path)
    (tmp_path / "panel.yaml").write_text("panel: mine\n", encoding="utf-8")  # no log, and no reason to stumble
    (tmp_path / "broken.yaml").write_text("format: 1\ncomplaint: x\nevents: {\n", encoding="utf-8")
    assert main(["history", SHED]) == 1
    assert "No session" in capsys.readouterr().err
    whole(state / "one.yaml", *STUCK, "relay:shorted")
    assert main(["history", SHED]) == 0
    assert "1 session" in capsys.readouterr().out
    assert main(["history", "balcony_one_pot"]) == 1
    assert main(["history", "nothing_of_that_name"]) == 2
    other = tmp_path / "other"
    shutil.copytree(state, other)
    capsys.readouterr()
    assert main(["history", SHED, "--logs", str(other), "--format", "json"]) == 0
    (data,) = json.loads(capsys.readouterr().out)
    assert [past["result"] for past in data["sessions"]] == ["Found: relay: output shorted, cannot switch off."]
    assert set(data["sessions"][0]["proofs"].values()) == {"passed"}


def test_the_panel_s_own_device_says_when_it_may_trip() -> None:
    """230 V and a 30 mA RCD, which may trip from half its rating; 120 V and a class A device, from 4 mA."""
    shed = limits_of(model_of(*STUCK).panel)
    assert shed == {"the least allowed (IEC 60364-6)": 1e6, "where feed rcd may trip": pytest.approx(230 / 0.015)}
    cellar = limits_of(open_panel("cellar_two_kettle"))
    assert cellar["where feed breaker (GFCI) may trip"] == pytest.approx(120 / 0.004)


# The line -------------------------------------------------------------------------------------------------

ROWS = st.lists(st.tuples(st.floats(0, 2000), st.floats(1e5, 4e8)), min_size=2, max_size=8)


@given(ROWS)
def test_the_line_is_that_of_weighted_least_squares(rows: list[tuple[float, float]]) -> None:
    """Against numpy's own fit, whose covariance is that of known spreads."""
    points = [Point(round(day), ohms) for day, ohms in rows]
    days = np.array([point.days for point in points])
    if len(set(days)) < 2:
        assert trend_of(points, TESTER) is None
        return
    logs = np.log10([point.ohms for point in points])
    weights = np.array([1 / spread_of(TESTER, point.ohms) for point in points])
    trend = trend_of(points, TESTER)
    assert trend is not None
    # About the middle, so that the fit itself is well conditioned.
    moved = days - days.mean()
    (slope, at), covariance = np.polyfit(moved, logs, 1, w=weights, cov="unscaled")
    assert trend.slope == pytest.approx(slope, rel=1e-6, abs=1e-9)
    assert trend.error == pytest.approx(covariance[0, 0] ** 0.5, rel=1e-6)
    assert trend.last_log == pytest.approx(slope * moved.max() + at, rel=1e-6, abs=1e-6)


@given(ROWS, st.floats(1.1, 3.0))
def test_what_rises_or_stays_never_falls(rows: list[tuple[float, float]], step: float) -> None:
    points = sorted({round(day): ohms for day, ohms in rows}.items())
    rising = [Point(day, 1e6 * step**number) for number, (day, _) in enumerate(points)]
    trend = trend_of(rising, TESTER)
    assert trend is None or not trend.falling
    level = trend_of([Point(day, 5e6) for day, _ in points], TESTER)
    assert level is None or not level.falling


@given(st.floats(2.0, 400.0), st.integers(2, 6), st.floats(1.5, 30.0))
def test_the_days_to_a_limit_are_those_of_the_law(days: float, count: int, share: float) -> None:
    """Readings that fall by the same share in the same time reach a limit when that law says."""
    points = [Point(days * number, 400e6 / share**number) for number in range(count)]
    trend = trend_of(points, TESTER)
    assert trend is not None
    limit = points[-1].ohms / share**2
    assert trend.days_to(limit) == pytest.approx(2 * days, rel=1e-6)
    assert trend.falling == (trend.slope + SURE * trend.error < 0)
    assert trend.days_to(points[-1].ohms * 2) == 0.0


@pytest.mark.parametrize(
    ("rows", "falls"),
    [
        ([180e6, 20e6], True),
        ([100e6, 50e6], False),
        ([100e6, 25e6], False),  # from 10 to 30 degrees alone it falls to a quarter: IEEE 43-2013, from memory
        ([100e6, 15e6], True),
        ([100e6, 180e6, 90e6], False),
        ([9e6, 60e6], False),
        ([np.inf, np.inf], False),
        ([np.inf, 40e6], True),
        ([100e6, 60e6, 36e6, 22e6, 13e6], True),  # steps that a warm day could make, but not all one way
    ],
)
def test_a_fall_is_more_than_what_meter_and_temperature_make(rows: list[float], falls: bool) -> None:
    trend = trend_of([Point(30.0 * number, ohms) for number, ohms in enumerate(rows)], TESTER)
    assert trend is not None and trend.falling == falls
