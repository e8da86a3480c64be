"""Settings of controllers against a published worked example, and a describing function against a simulation."""

from __future__ import annotations

import math

import pytest

from diagnose.physics.control_loop import relay_ultimate_gain, ultimate_cycle_settings


def test_settings_from_the_ultimate_cycle_of_a_textbook() -> None:
    """Ogata, Modern Control Engineering, tuning example with G = 1/(s(s+1)(s+5)): Kcr 30, Pcr 2.8099; from memory.

    The process itself gives these: its phase is -180 degrees at the root of 5, where its gain is 1/30.
    """
    critical = 30.0
    period = 2 * math.pi / math.sqrt(5)
    assert period == pytest.approx(2.8099, abs=1e-4)
    gain, integral, derivative = ultimate_cycle_settings(critical, period)
    assert gain == pytest.approx(18.0)
    assert integral == pytest.approx(1.405, abs=5e-4)
    assert derivative == pytest.approx(0.35124, abs=5e-5)


def test_relay_feedback_finds_that_ultimate_gain() -> None:
    """The same process under a relay, stepped through time: 4 d / (pi a) comes within 10 % of 30.

    Such an error is what describing functions are known for (Astrom and Hagglund give 5 to 20 %; from memory).
    """
    x1 = x2 = x3 = 0.0  # y, and two states of 1/(s(s+1)(s+5))
    step, largest = 1e-3, 0.0
    for number in range(60_000):
        push = -1.0 if x1 > 0 else 1.0
        x1, x2, x3 = x1 + step * x2, x2 + step * (x3 - x2), x3 + step * (push - 5 * x3)
        if number > 40_000:
            largest = max(largest, abs(x1))
    assert relay_ultimate_gain(2 * largest, 2.0) == pytest.approx(30.0, rel=0.1)
