"""A heating power as it is typed: watts, a rise, a boil-off; and what it does to belief."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from diagnose.errors import AnswerError
from diagnose.heat_answers import parse_heat
from diagnose.heat_checks import judged, seen_with, share_words
from diagnose.opening import open_model
from diagnose.physics.number import Interval
from diagnose.physics.vessel import Kettle, usual_kettle
from diagnose.session import AskCheck, ConfirmStep, answer, ask, belief, confirm, open_checks, skip, start


@pytest.mark.parametrize(
    ("typed", "watts"),
    [
        # 40 L of 0.998 kg/L, 4.18 kJ/(kg K), 11 K, and 6.6 kg of steel in 900 s, with about 90 W lost.
        ("40 L, 20 to 31 C, 15 min", 2158),
        ("40 litres from 20 °C to 31 °C in 15 minutes", 2158),
        ("40L 20-31C 15:00", 2158),
        ("40 l; 68 to 87.8 F; 0.25 h", 2158),
        ("10.567 gal, 20→31 C, 900 s", 2158),
        ("40 L, 20 to 31 C, 15 min, 0 kg, loss 0 W", 40 * 0.99821 * 4181 * 11 / 900),
        ("40 L, 20 to 31 C, 15 min, 10 kg steel, loss 100 W", (40 * 0.99821 * 4181 + 5000) * 11 / 900 + 100),
        ("40 L of wort, 12 P, 20 to 31 C, 15 min, 0 kg, loss 0 W", 40 * 0.99821 * 1.0465 * 4181 * 0.934 * 11 / 900),
        ("5.4 kW", 5400),
        ("5400 W", 5400),
        ("5.4", 5400),
    ],
)
def test_a_rise_is_read_as_it_is_typed(typed: str, watts: float) -> None:
    assert parse_heat(typed, "heat_rate")[0] == pytest.approx(watts, rel=0.006)


@pytest.mark.parametrize(
    ("typed", "litres", "minutes"),
    [("3 L in 45 min", 3, 45), ("28 to 25 L, 45 min", 3, 45), ("1 gal per hour", 3.785, 60), ("4 L/h", 4, 60)],
)
def test_a_boil_off_is_read_as_it_is_typed(typed: str, litres: float, minutes: float) -> None:
    value, measured = parse_heat(f"{typed}, loss 0 W", "boil_off")
    # 0.9584 kg/L and 2256.5 kJ/kg.
    assert value == pytest.approx(litres * 0.9584 * 2.2565e6 / (60 * minutes), rel=0.002)
    assert measured is not None
    assert measured.low < value < measured.high


@pytest.mark.parametrize(
    ("typed", "quantity", "message"),
    [
        ("40 L 15 min", "heat_rate", "does not say the two temperatures, with C or F (20 to 31 C)"),
        ("15 min", "heat_rate",
         "does not say the volume (40 L or 10 gal) nor the two temperatures, with C or F (20 to 31 C)"),
        ("40 L, 20 to 31, 15 min", "heat_rate", "does not say whether the temperatures are °C or °F"),
        ("40 L, 90 to 99 C, 15 min", "heat_rate", "ends at the boil, where heat goes into steam"),
        ("40 L, 20 to 31 C, 0 min", "heat_rate", "has a time that is not above zero"),
        ("40 L, 20 to 31 C, 15 min, purple", "heat_rate", "has something in it that is not understood: 'purple'"),
        ("3 L", "boil_off", "does not say the time (45 min)"),
        ("3 L, 45 min, lid on", "boil_off", "was measured under a lid, where steam runs back"),
        ("25 to 28 L, 45 min", "boil_off", "has more after than before"),
        ("plenty", "heat_rate", "is not a number"),
    ],
)  # fmt: skip
def test_what_is_missing_is_asked_for_in_one_message(typed: str, quantity: str, message: str) -> None:
    with pytest.raises(AnswerError) as caught:
        parse_heat(typed, quantity)  # type: ignore[arg-type]
    assert message in str(caught.value)
    assert "expected" in str(caught.value)


@settings(deadline=None, max_examples=150)
@given(st.one_of(
    st.text(max_size=130),
    st.lists(st.sampled_from(
        ["40", "20", "31", "-3", "1e9", "L", "gal", "C", "F", "to", "-", "min", ":", ",", ".", "lid", "off", "no",
         "kg", "loss", "W", "kW", "h", "P", "°", " ", "0", "99999999", "insulated", "1.050"]), max_size=20,
    ).map(" ".join),
), st.sampled_from(["heat_rate", "boil_off"]))  # fmt: skip
def test_any_text_is_read_or_refused(text: str, quantity: str) -> None:
    try:
        value, measured = parse_heat(text, quantity)  # type: ignore[arg-type]
    except AnswerError:
        return
    assert np.isfinite(value)
    assert value >= 0
    assert measured is None or measured.low <= value <= measured.high


def test_more_heat_more_time_less_lid_move_the_reading_the_right_way() -> None:
    base = parse_heat("40 L, 20 to 60 C, 60 min", "heat_rate")[0]
    assert parse_heat("40 L, 20 to 62 C, 60 min", "heat_rate")[0] > base
    assert parse_heat("40 L, 20 to 60 C, 66 min", "heat_rate")[0] < base
    assert parse_heat("40 L, 20 to 60 C, 60 min, lid off", "heat_rate")[0] > base
    assert parse_heat("40 L, 20 to 60 C, 60 min, insulated", "heat_rate")[0] < base
    assert parse_heat("40 L of 1.060, 20 to 60 C, 60 min", "heat_rate")[0] < base


def test_a_short_rise_is_known_less_well_than_a_long_one() -> None:
    shares = []
    for typed in ("40 L, 20 to 22 C, 3 min", "40 L, 20 to 42 C, 33 min"):
        _, measured = parse_heat(typed, "heat_rate")
        assert measured is not None
        shares.append((measured.high - measured.low) / measured.watts)
    assert shares[0] > 3 * shares[1]


def test_what_the_panel_says_of_its_kettle_is_used_unless_the_line_says_otherwise() -> None:
    heavy = Kettle(50.0, Interval(20.0, 20.0), loss_watts=Interval(0.0, 0.0))
    light = usual_kettle(50.0)
    typed = "40 L, 20 to 31 C, 15 min"
    assert parse_heat(typed, "heat_rate", heavy)[0] > parse_heat(f"{typed}, loss 0 W", "heat_rate", light)[0]
    assert parse_heat(f"{typed}, 0 kg", "heat_rate", heavy)[0] < parse_heat(typed, "heat_rate", heavy)[0]


def test_shares_of_full_power_have_words() -> None:
    assert share_words(0.0, 0.05) == "next to nothing"
    assert share_words(0.22, 0.28) == "a quarter"
    assert share_words(0.95, 1.05) == "full power"


def test_a_reading_s_own_width_widens_what_fits_it() -> None:
    model = open_model("cellar_two_kettle", "element_weak", "boil_element")
    check = model.checks_by_id["running:heat_rate:boil_element"]
    narrow, wide = seen_with(model, check, (10.0, 10.0)), seen_with(model, check, (900.0, 900.0))
    assert (wide.low <= narrow.low).all()
    assert wide.low[0] < narrow.low[0]
    assert (wide.high > narrow.high).all()


def test_half_power_is_called_half_and_the_half_wave_relay_is_named() -> None:
    model = open_model("cellar_two_kettle", "element_weak", "boil_element")
    check = model.checks_by_id["running:heat_rate:boil_element"]
    line = judged(model, check, 2600.0, (150.0, 150.0), model.prior)
    assert line.startswith("2.60 kW of 5.")
    assert ": half. That is what this would give: " in line
    assert "boil relay: passes only one half of each cycle" in line


def test_without_a_meter_only_signs_and_heat_are_asked_for_and_the_box_stays_shut() -> None:
    model = open_model("shed_single_kettle", "element_weak", "element")
    offered = open_checks(start(model, "isolated", frozenset()))
    assert {check.quantity for check in offered} == {"sign", "heat_rate", "boil_off"}
    assert {check.exposure for check in offered} == {"outside"}


def test_a_typed_rise_is_an_answer_to_the_session() -> None:
    model = open_model("shed_single_kettle", "element_weak", "element")
    session = start(model, "outside", frozenset())
    relay = [number for number, cause in enumerate(model.causes) if cause.key == "relay:half_wave"]
    while True:
        question = ask(session)
        if isinstance(question, AskCheck) and question.check.quantity == "heat_rate":
            break
        session = confirm(session) if isinstance(question, ConfirmStep) else skip(session)
    before = float(belief(session)[relay].sum())
    session = answer(session, "30 L, 20 to 29.7 C, 15 min")
    assert float(belief(session)[relay].sum()) > 1.3 * before
