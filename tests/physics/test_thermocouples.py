import math

import pytest

from diagnose.physics.thermocouples import (
    PIECES,
    ThermocoupleWiring,
    compensated_celsius,
    emf_celsius,
    emf_volts,
    shown_celsius,
    terminal_volts,
)

KINDS = ["J", "K", "T"]


@pytest.mark.parametrize("kind", KINDS)
def test_pieces_of_a_curve_meet(kind):
    edge = PIECES[kind][0].up_to_celsius
    assert emf_volts(kind, edge) == pytest.approx(emf_volts(kind, edge + 1e-9), abs=2e-7)


@pytest.mark.parametrize("kind", KINDS)
def test_voltage_rises_all_the_way(kind):
    volts = [emf_volts(kind, float(each)) for each in range(-200, 400, 5)]
    assert volts == sorted(volts)


@pytest.mark.parametrize("kind", KINDS)
def test_good_wiring_shows_the_truth(kind):
    assert shown_celsius(ThermocoupleWiring(kind), 66.0, 31.0, 40.0) == pytest.approx(66.0, abs=1e-6)
    assert compensated_celsius(kind, terminal_volts(kind, 66.0, 31.0), 31.0) == pytest.approx(66.0, abs=1e-6)


def test_copper_extension_does_no_harm_while_head_and_terminals_are_alike():
    wiring = ThermocoupleWiring("K", extension="copper")
    assert shown_celsius(wiring, 66.0, 25.0, 25.0) == pytest.approx(66.0, abs=1e-6)
    assert shown_celsius(wiring, 66.0, 25.0, 60.0) == pytest.approx(66.0 - 35.0, abs=1.0)


def test_reversed_extension_counts_the_difference_twice():
    shown = shown_celsius(ThermocoupleWiring("K", extension_reversed=True), 66.0, 25.0, 40.0)
    assert shown == pytest.approx(66.0 - 2 * 15.0, abs=1.0)


def test_extension_of_another_type_reads_high_when_its_voltage_is_higher():
    wiring = ThermocoupleWiring("K", extension="J")
    expected = emf_celsius(
        "K",
        emf_volts("K", 66.0)
        - emf_volts("K", 45.0)
        + emf_volts("J", 45.0)
        - emf_volts("J", 25.0)
        + emf_volts("K", 25.0),
    )
    assert shown_celsius(wiring, 66.0, 25.0, 45.0) == pytest.approx(expected, abs=1e-6)
    assert expected > 66.0 + 5.0


def test_reversed_probe_falls_when_heated():
    wiring = ThermocoupleWiring("K", probe_reversed=True)
    warm, hot = (shown_celsius(wiring, each, 25.0, 25.0) for each in (40.0, 66.0))
    assert hot < warm < 25.0
    assert hot == pytest.approx(25.0 - 41.0, abs=2.0)


def test_controller_set_to_another_type_is_off():
    """K gives 2.685 − 1.000 mV; with J's 1.277 for 25 °C that is 2.962 mV, which J has at 57.1 °C."""
    assert shown_celsius(ThermocoupleWiring("K", input_kind="J"), 66.0, 25.0, 25.0) == pytest.approx(57.1, abs=0.05)


def test_values_beyond_the_display_are_infinite():
    assert shown_celsius(ThermocoupleWiring("J", input_kind="T"), 700.0, 25.0, 25.0) == math.inf
    assert shown_celsius(ThermocoupleWiring("K", probe_reversed=True), 300.0, 25.0, 25.0) == -math.inf


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: emf_volts("Q", 20.0), "kind is 'Q', expected one of J, K, T"),
        (lambda: emf_celsius("Q", 0.0), "kind is 'Q', expected one of J, K, T"),
        (lambda: emf_volts("T", 401.0), "temperature_celsius is 401.0, expected from -200 to 400"),
        (lambda: emf_celsius("T", 1.0), "volts is 1.0, expected from -0.00560296 to 0.020872"),
    ],
)
def test_impossible_arguments_are_refused(call, message):
    with pytest.raises(ValueError) as caught:
        call()
    assert str(caught.value) == message
