"""A logged few minutes of temperatures: what they tell of tuning, probe, stirring, element and relay."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from diagnose.errors import AnswerError, FileError, Problem
from diagnose.physics.control_loop import on_off_swing, reaction_curve_settings
from diagnose.units import quoted, to_si

FloatArray = NDArray[np.float64]
LONGEST, LEAST, MOST = 20_000, 5, 2000
# Common practice for stirred or recirculated kettles; the edges are judgements.
SETTLED_KELVIN = 1.0  # within this of the setpoint nobody complains
LATE_MINUTES = 2.5  # a probe in moving wort answers sooner
STEEP_KELVIN_PER_MINUTE = 3.0  # an element that heats its kettle faster than this overshoots whatever the tuning
UNLIKE = 1.3  # slopes that differ by so much tell a dead time from a band
JUMP_KELVIN = 2.0  # against the line between its neighbours
FULL_SLOPE_SHARE = 0.6  # of the rise below the setpoint: heat that goes on as if nothing had been switched off
EXPLANATIONS = {
    "settles": "It settles. Nothing here to explain.",
    "climbs": "It goes on climbing with the output off: a relay or contactor that stays on. Take the supply off.",
    "jumps": "It jumps between readings: layers that are not stirred or pumped round, or a loose probe.",
    "late": "The probe answers late: it sits too far from the heat, in a dead corner or in a dry pocket.",
    "steep": "The element is too large for this volume: cap the controller's output or fill more.",
    "hunts": "The swing is more than dead time and slope make: too much gain, or too wide an on-off band.",
    "overshoots": "It overshoots by slope times dead time, then settles: on-off control or too little derivative.",
}
_NUMBER = r"[+-]?\d+(?:\.\d+)?"
_PAIR = re.compile(rf"\s*({_NUMBER})\s*(?:min)?\s*[\s:;,=]\s*({_NUMBER})\s*(?:°?\s*[CF])?\s*", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Course:
    """What a log tells. Times in minutes, temperatures in °C; 0 or inf where the log does not show it."""

    verdict: str  # a key of EXPLANATIONS
    setpoint: float
    rise: float  # K/min at full output, below the setpoint
    fall: float  # K/min while it cools
    overshoot: float
    undershoot: float
    dead: float
    period: float
    swing: float
    duty: float  # share of the time in which it rises
    expected_swing: float  # of on-off control with this dead time and no band
    band: float  # K between switching on and off, as far as the swing tells


_TYPED = re.compile(r"\s*set\s*(\d+(?:[.]\d+)?)\s*°?\s*([CF])?\s*:(.*)", re.IGNORECASE | re.DOTALL)
OUTCOMES = {
    "settles": "settles", "climbs": "climbs", "jumps": "jumps", "late": "swings late", "steep": "steep",
    "hunts": "swings soon", "overshoots": "swings soon",
}  # fmt: skip


def outcome_of_log(text: str) -> str:
    """What temperatures do, in the words of an element's sign: of `set 66: 0 60, 1 62.1 ...`; else the text itself.

    Raises AnswerError with what was not understood of the pairs.
    """
    match = _TYPED.fullmatch(text)
    if not match:
        return text
    setpoint = float(match[1])
    if (match[2] or "C").upper() == "F":
        setpoint = (setpoint - 32) / 1.8
    return OUTCOMES[judge(*parse_log(match[3]), setpoint).verdict]


def log_text(name: str) -> str:
    """The text of a file of temperatures, or what was typed where there is no such file.

    Raises FileError where the file can't be read.
    """
    try:
        if not Path(name).is_file():
            return name
    except OSError:  # too long for a name
        return name
    try:
        return Path(name).read_bytes()[: LONGEST + 1].decode("utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        raise FileError(Problem(f"{name}: can't be read as text", "a CSV file of minutes and temperatures")) from error


def parse_log(text: str) -> tuple[FloatArray, FloatArray]:
    """Minutes and °C from `0 62.1, 1 64.0, ...` or the lines of a CSV file; a heading line is passed over.

    Temperatures over 120 are taken for °F where the text says so with an F.

    Raises
    ------
    AnswerError
        With what was not understood, or if there are fewer than five pairs or times that don't rise.

    Examples
    --------
    >>> [list(map(float, each)) for each in parse_log("0 62.1, 1 64, 2 66, 3 67, 4 67.5")]
    [[0.0, 1.0, 2.0, 3.0, 4.0], [62.1, 64.0, 66.0, 67.0, 67.5]]
    """
    expected = "minutes and temperatures, such as 0 62.1, 1 64.0, 2 65.8, 3 66.9, 4 67.2"
    if len(text) > LONGEST:
        raise AnswerError(Problem(f"the log is longer than {LONGEST} characters", expected))
    lines = [line for line in text.splitlines() if line.strip()]
    if len(lines) > 1 and not re.search(r"\d", lines[0]):
        lines = lines[1:]
    pieces = lines if len(lines) > 1 else re.split(r"\s*[,;]\s*", text.strip())
    pairs = []
    for piece in pieces:
        if not piece.strip():
            continue
        match = _PAIR.fullmatch(piece.strip().rstrip(",;"))
        if not match:
            raise AnswerError(Problem(f"{quoted(piece.strip()[:40])} is no time with a temperature", expected))
        pairs.append((float(match[1]), float(match[2])))
    if not LEAST <= len(pairs) <= MOST:
        raise AnswerError(Problem(f"{len(pairs)} readings are too few or too many", f"{LEAST} to {MOST} of them"))
    minutes, celsius = np.array(pairs).T
    if re.search(r"\d\s*°?\s*F\b", text):
        celsius = (celsius - 32) / 1.8
    if np.any(np.diff(minutes) <= 0):
        raise AnswerError(Problem("the times do not rise", "each later than the one before"))
    if np.any((celsius < -20) | (celsius > 120)):
        raise AnswerError(Problem("a temperature is no brew's", "-20 to 120 °C, or °F with an F"))
    return minutes, celsius


def judge(minutes: FloatArray, celsius: FloatArray, setpoint: float) -> Course:
    """What a log tells about a controller that was set to `setpoint` °C.

    The heat is taken to go off where the temperature comes up through the setpoint.

    Raises
    ------
    ValueError
        If the arrays do not fit together or have fewer than five readings.
    """
    if len(minutes) != len(celsius) or len(minutes) < LEAST:
        raise ValueError("a log needs at least five times, each with its temperature")
    slopes = np.diff(celsius) / np.diff(minutes)
    below = (celsius[:-1] < setpoint) & (celsius[1:] <= setpoint + SETTLED_KELVIN) & (slopes > 0)
    rise = float(np.quantile(slopes[below], 0.75)) if below.any() else 0.0
    falling = slopes[slopes < 0]
    fall = float(-np.median(falling)) if len(falling) else 0.0
    ups = _crossings(minutes, celsius, setpoint)
    overshoot = max(float(celsius.max() - setpoint), 0.0) if ups else 0.0
    after = minutes > ups[0] if ups else np.zeros(len(minutes), dtype=bool)
    undershoot = max(float(setpoint - celsius[after].min()), 0.0) if after.any() else 0.0
    dead = _dead(minutes, celsius, setpoint, ups)
    period = float(np.mean(np.diff(ups))) if len(ups) > 1 else float("inf")
    turned = len(ups) > 1
    swing = overshoot + undershoot if turned else overshoot
    band = 0.0
    if turned and undershoot > 0 and rise > UNLIKE * fall > 0:
        dead, band = _dead_and_band(rise, fall, overshoot, undershoot)
    expected = on_off_swing(rise, fall, dead)[0] if rise > 0 and fall > 0 else overshoot
    duty = float(np.mean(slopes > 0))
    verdict = _verdict(minutes, celsius, setpoint, rise, overshoot, undershoot, dead, band, ups)
    return Course(verdict, setpoint, rise, fall, overshoot, undershoot, dead, period, swing, duty, expected, band)


def _crossings(minutes: FloatArray, celsius: FloatArray, setpoint: float) -> list[float]:
    """When the temperature comes up through the setpoint."""
    found = []
    for (t0, y0), (t1, y1) in pairwise(zip(minutes.tolist(), celsius.tolist(), strict=True)):
        if y0 < setpoint <= y1:
            found.append(t0 + (setpoint - y0) / (y1 - y0) * (t1 - t0))
    return found


def _dead(minutes: FloatArray, celsius: FloatArray, setpoint: float, ups: Sequence[float]) -> float:
    """From coming up through the setpoint to the peak after it, as a mean over the swings."""
    ends = [*ups[1:], float(minutes[-1]) + 1] if ups else []
    spans = []
    for start, end in zip(ups, ends, strict=True):
        inside = (minutes >= start) & (minutes < end)
        if inside.any():
            peak = int(np.argmax(np.where(inside, celsius, -np.inf)))
            if peak < len(minutes) - 1 and celsius[peak] > setpoint:
                spans.append(float(minutes[peak] - start))
    return float(np.mean(spans)) if spans else 0.0


def _dead_and_band(rise: float, fall: float, overshoot: float, undershoot: float) -> tuple[float, float]:
    """Dead time, minutes, and band, K, of a swing about the setpoint.

    Over it goes half the band and the rise for the dead time, under it half the band and the fall for the dead time:
    two equations, which have an answer where the slopes differ.
    """
    dead = min(max((overshoot - undershoot) / (rise - fall), 0.0), overshoot / rise)
    swing = overshoot + undershoot
    return dead, max(swing - on_off_swing(rise, fall, dead)[0], 0.0)


def _jumps(minutes: FloatArray, celsius: FloatArray) -> int:
    """How many readings stand out alone: off the line between their neighbours, and those off theirs the other way.

    The tip of a sawtooth is off that line as well, but has straight lines on both sides.
    """
    share = (minutes[1:-1] - minutes[:-2]) / (minutes[2:] - minutes[:-2])
    off = celsius[1:-1] - (celsius[:-2] + share * (celsius[2:] - celsius[:-2]))
    beside = np.minimum(-off[:-2] * np.sign(off[1:-1]), -off[2:] * np.sign(off[1:-1]))
    return int(((np.abs(off[1:-1]) > JUMP_KELVIN) & (beside > JUMP_KELVIN / 2)).sum())


def _verdict(
    minutes: FloatArray, celsius: FloatArray, setpoint: float, rise: float, overshoot: float, undershoot: float,
    dead: float, band: float, ups: Sequence[float],
) -> str:  # fmt: skip
    if _jumps(minutes, celsius) >= 2:
        return "jumps"
    if not ups or max(overshoot, undershoot if len(ups) > 1 else 0.0) <= SETTLED_KELVIN:
        return "settles"
    above = minutes > ups[0]
    late = celsius[above]
    times = minutes[above]
    if len(ups) == 1 and len(late) > 2 and celsius[-1] >= late.max() and rise > 0:
        slope = (late[-1] - late[0]) / (times[-1] - times[0])
        if slope >= FULL_SLOPE_SHARE * rise and times[-1] - ups[0] > LATE_MINUTES:
            return "climbs"
    if band > 2 * SETTLED_KELVIN and dead <= LATE_MINUTES:
        return "hunts"
    if dead > LATE_MINUTES:
        return "late"
    if rise > STEEP_KELVIN_PER_MINUTE:
        return "steep"
    return "hunts" if len(ups) > 1 else "overshoots"


def course_lines(course: Course) -> list[str]:
    """What a log tells, in short lines, with settings to begin from where there are any."""
    lines = [EXPLANATIONS[course.verdict]]
    lines.append(f"Rise at full output {course.rise:.2f} K/min, fall {course.fall:.2f} K/min.")
    if course.dead > 0:
        lines.append(
            f"Dead time about {course.dead:.1f} min: {course.rise:.2f} x {course.dead:.1f} = "
            f"{course.rise * course.dead:.1f} K of overshoot by itself; seen {course.overshoot:.1f} K."
        )
    if np.isfinite(course.period):
        rising = f"rising {100 * course.duty:.0f} % of it"
        lines.append(f"Swing {course.swing:.1f} K every {course.period:.1f} min, {rising}.")
    if course.dead > 0 and course.rise > 0 and course.verdict in ("hunts", "overshoots", "late"):
        gain, integral, derivative = reaction_curve_settings(course.rise, course.dead)
        lines.append(
            f"To begin from: proportional band {1 / gain:.1f} K, integral {60 * integral:.0f} s, "
            f"derivative {60 * derivative:.0f} s (Ziegler and Nichols)."
        )
    return lines


def main_swing(log: str, setpoint: str) -> int:
    """Print what a log tells; returns the exit code. Raises DiagnoseError for what can't be read."""
    course = judge(*parse_log(log_text(log)), to_si(setpoint, "temperature", assume=True))
    print("\n".join(course_lines(course)))
    return 0
