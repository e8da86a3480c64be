import math

import pytest

from diagnose.physics import elements


def test_power_current_and_resistance_agree():
    ohms = elements.element_ohms(5500.0, 240.0)
    amperes = elements.element_amperes(5500.0, 240.0, 230.0)
    assert amperes**2 * ohms == pytest.approx(elements.element_watts(5500.0, 240.0, 230.0))


@pytest.mark.parametrize(
    ("rated", "interval"),
    [
        (25.0, (0.0, 30.0)),
        (26.0, (23.4, 28.6)),
        (200.0, (180.0, 220.0)),
        (201.0, (180.9, 221.0)),
        (2000.0, (1800.0, 2100.0)),
    ],
)
def test_tolerance_depends_on_the_rating(rated, interval):
    assert elements.power_tolerance_watts(rated) == pytest.approx(interval)


def test_one_open_leg_of_three_leaves_two_thirds_of_the_power():
    whole, broken = (elements.parallel_ohms(30.0, 30.0, last) for last in (30.0, math.inf))
    assert whole / broken == pytest.approx(2 / 3)


def test_shorted_leg_shorts_all_and_open_legs_leave_none():
    assert elements.parallel_ohms(0.0, 30.0) == 0.0
    assert elements.parallel_ohms(math.inf, math.inf) == math.inf


def test_bridged_winding_draws_more():
    left = elements.partly_shorted_ohms(12.8, 0.2)
    assert 240.0**2 / left == pytest.approx(4500.0 / 0.8)


def test_three_leg_fractions_follow_from_the_resistances():
    volts, ohms = 400.0, 48.0
    delta = 3 * volts**2 / ohms
    star = delta / 3
    assert volts**2 / elements.parallel_ohms(ohms, 2 * ohms) / delta == pytest.approx(
        elements.three_leg_power_fraction("delta", "phase")
    )
    assert volts**2 / (2 * ohms) / star == pytest.approx(elements.three_leg_power_fraction("star", "leg"))
    assert elements.three_leg_power_fraction("star", "phase") == elements.three_leg_power_fraction("star", "leg")
    assert 2 * volts**2 / ohms / delta == pytest.approx(elements.three_leg_power_fraction("delta", "leg"))


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: elements.element_ohms(0.0, 240.0), "rated_watts is 0.0, expected a number above 0"),
        (lambda: elements.element_watts(4500.0, 240.0, -1.0), "volts is -1.0, expected 0 or more"),
        (
            lambda: elements.resistance_tolerance_ohms(20.0, 240.0),
            "least_watts is 0.0, expected a number above 0",
        ),
        (lambda: elements.parallel_ohms(), "no leg given, expected at least one"),
        (lambda: elements.parallel_ohms(1.0, -1.0), "leg_ohms is -1.0, expected 0 or more"),
        (lambda: elements.partly_shorted_ohms(1.0, 1.1), "bridged_fraction is 1.1, expected from 0 to 1"),
        (
            lambda: elements.three_leg_power_fraction("ring", "leg"),
            "no three-leg element 'ring' that lost 'leg'",
        ),
    ],
)
def test_impossible_arguments_are_refused(call, message):
    with pytest.raises(ValueError) as caught:
        call()
    assert str(caught.value) == message
