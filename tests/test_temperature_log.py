"""Noted temperatures: a simulated kettle under a simulated controller, and what is told of it."""

from __future__ import annotations

from collections import deque

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from diagnose.cli import main
from diagnose.errors import AnswerError
from diagnose.physics.control_loop import on_off_swing
from diagnose.temperature_log import EXPLANATIONS, course_lines, judge, parse_log

SETPOINT = 66.0
STEP = 0.05


def kettle_log(
    rise: float, fall: float, dead: float, *, band: float = 0.0, stuck: bool = False, minutes: float = 60.0
) -> tuple[np.ndarray, np.ndarray]:
    """A kettle that rises and falls at two slopes, seen `dead` minutes late, switched on and off."""
    seen = deque([60.0] * (round(dead / STEP) + 1))
    true, on, times, shown = 60.0, True, [], []
    for step in range(round(minutes / STEP)):
        if step % round(1 / STEP) == 0:
            times.append(step * STEP)
            shown.append(seen[0])
        if seen[0] >= SETPOINT + band / 2:
            on = False
        elif seen[0] <= SETPOINT - band / 2:
            on = True
        true += STEP * (rise if on or stuck else -fall)
        seen.append(true)
        seen.popleft()
    return np.array(times), np.array(shown)


@pytest.mark.parametrize(
    ("settings_", "verdict"),
    [
        ({"rise": 1.0, "fall": 0.3, "dead": 0.5}, "settles"),
        ({"rise": 1.0, "fall": 0.3, "dead": 4.5}, "late"),
        ({"rise": 1.0, "fall": 0.3, "dead": 0.5, "band": 5.0}, "hunts"),
        ({"rise": 4.0, "fall": 0.3, "dead": 1.0}, "steep"),
        ({"rise": 1.0, "fall": 0.3, "dead": 0.5, "stuck": True, "minutes": 20.0}, "climbs"),
    ],
)
def test_what_is_wrong_is_told_from_its_course(settings_: dict[str, float], verdict: str) -> None:
    assert judge(*kettle_log(**settings_), SETPOINT).verdict == verdict  # type: ignore[arg-type]


def test_layers_that_are_not_stirred_jump() -> None:
    minutes, celsius = kettle_log(1.0, 0.3, 0.5)
    celsius = celsius + np.where(np.arange(len(celsius)) % 4 == 1, 5.0, 0.0)
    assert judge(minutes, celsius, SETPOINT).verdict == "jumps"


def test_a_swing_of_on_off_control_is_what_the_simulation_does() -> None:
    minutes, celsius = kettle_log(1.0, 0.3, 3.0, minutes=200.0)
    swing, period = on_off_swing(1.0, 0.3, 3.0)
    late = minutes > 60
    assert celsius[late].max() - celsius[late].min() == pytest.approx(swing, rel=0.15)
    course = judge(minutes, celsius, SETPOINT)
    assert course.period == pytest.approx(period, rel=0.1)
    assert course.dead == pytest.approx(3.0, abs=0.8)
    assert course.rise == pytest.approx(1.0, rel=0.1)


@pytest.mark.parametrize(
    ("typed", "message"),
    [
        ("0 62, 1 63", "2 readings are too few or too many"),
        ("0 62, 1 63, 1 64, 2 65, 3 66", "the times do not rise"),
        ("0 62, soon 63, 2 64, 3 65, 4 66", "'soon 63' is no time with a temperature"),
        ("0 62, 1 630, 2 64, 3 65, 4 66", "a temperature is no brew's"),
    ],
)
def test_a_log_that_can_t_be_read_says_why(typed: str, message: str) -> None:
    with pytest.raises(AnswerError, match=message):
        parse_log(typed)


def test_a_table_with_a_heading_and_fahrenheit_are_read() -> None:
    minutes, celsius = parse_log("minutes,temperature\n0,140 F\n1,145 F\n2,150 F\n3,151 F\n4,151 F\n")
    assert minutes.tolist() == [0, 1, 2, 3, 4]
    assert celsius[0] == pytest.approx(60.0)


@settings(deadline=None, max_examples=80)
@given(st.lists(st.tuples(st.floats(0, 200), st.floats(0, 110)), max_size=30))
def test_any_log_is_judged_or_refused(pairs: list[tuple[float, float]]) -> None:
    try:
        minutes, celsius = parse_log(", ".join(f"{t:.1f} {y:.1f}" for t, y in pairs))
    except AnswerError:
        return
    course = judge(minutes, celsius, SETPOINT)
    assert course.verdict in EXPLANATIONS
    assert all(course_lines(course))


def test_the_command_says_what_it_is(capsys: pytest.CaptureFixture[str]) -> None:
    minutes, celsius = kettle_log(1.0, 0.3, 4.5)
    text = ", ".join(f"{t:g} {y:.1f}" for t, y in zip(minutes, celsius, strict=True))
    assert main(["swing", text, "--set", "66 C"]) == 0
    assert "The probe answers late" in capsys.readouterr().out
    assert main(["swing", "no log", "--set", "66 C"]) == 2
