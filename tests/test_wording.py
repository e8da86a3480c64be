"""Setups, checks and answers in words."""

from __future__ import annotations

from dataclasses import replace
from math import inf

import numpy as np
import pytest

from diagnose.circuit.netlist import build
from diagnose.circuit.setup import Lead, Setup, at_rest
from diagnose.opening import open_panel
from diagnose.panel.records import Panel
from diagnose.screen.console import wrapped
from diagnose.session import AskCheck, Session, answer, ask, belief
from diagnose.setups import named_setups
from diagnose.wording import (
    answered_line,
    change_lines,
    check_page,
    clean,
    doubt_lines,
    outcomes_of,
    percent,
    prompt_for,
    range_text,
    regional,
)
from diagnose.wording.changes import standing
from tests.screen.helpers import recorded, reply, shared_model


@pytest.fixture(scope="module")
def cellar() -> Panel:
    return open_panel("cellar_two_kettle")


@pytest.fixture(scope="module")
def setups(cellar: Panel) -> dict[str, Setup]:
    return dict(named_setups(build(cellar), "boil_element"))


@pytest.mark.parametrize(
    ("quantity", "low", "high", "text"),
    [
        ("voltage_ac", 227.6, 252.3, "228–252 V"),
        ("voltage_ac", 0.0, 0.5, "about 0 V"),
        ("voltage_ac", 0.0, 14.6, "0.0–14.6 V"),
        ("voltage_ac", 120.2, 120.4, "120 V"),
        ("voltage_dc", 10.2, 13.9, "10.2–13.9 V"),
        ("voltage_dc", -13.9, -10.2, "-13.9 to -10.2 V"),
        ("voltage_dc", -0.04, 3.0, "0.0 to 3.0 V"),
        ("resistance", 10.0, 12.34, "10.0–12.3 Ω"),
        ("resistance", inf, inf, "OL"),
        ("resistance", 2e6, inf, "2.00 MΩ or more, or OL"),
        ("insulation", 1e6, 20e6, "1.0–20.0 MΩ"),
        ("temperature", inf, inf, "no number"),
        ("temperature", -0.8, 0.8, "-0.8 to 0.8 °C"),
    ],
)
def test_readings_are_shown_as_a_meter_shows_them(quantity: str, low: float, high: float, text: str) -> None:
    """In the unit that is on the meter: volts never become millivolts."""
    assert range_text(quantity, low, high) == text


@pytest.mark.parametrize(
    ("dirty", "text"),
    [
        ("boil \x1b[31mred\x1b[0m", "boil [31mred [0m"),
        ("a\u202eb\u2066c", "a b c"),
        ("two\nlines\r\x07", "two lines"),
        ("\x9b2J lone \ud800", "2J lone"),
        ("10 Ω – °C", "10 Ω – °C"),
    ],
)
def test_nothing_that_steers_a_terminal_is_left(dirty: str, text: str) -> None:
    """A panel file comes from someone else: its text must not move the cursor or turn a line around."""
    assert clean(dirty) == text


@pytest.mark.parametrize(
    ("share", "text"),
    [(0.999, "over 99 %"), (0.95, "95 %"), (0.012, "1 %"), (0.004, "under 1 %"), (0.0, "under 1 %")],
)
def test_a_belief_is_never_certain(share: float, text: str) -> None:
    assert percent(share) == text


def test_the_first_setup_is_told_from_a_known_start(cellar: Panel, setups: dict[str, Setup]) -> None:
    """Nobody knows how the panel stands, so the start is said, then what differs from it."""
    assert change_lines(cellar, None, setups["running"]) == [
        "Start from: all plugged in, breakers and main switch on, every other switch off, "
        "controllers set below what they show.",
        "Turn: boil switch to ON, selector to right.",
        "Set well above what it shows, so that it calls for heat: boil controller.",
        "Water over the element first.",
    ]


def test_only_differences_are_told(cellar: Panel, setups: dict[str, Setup]) -> None:
    """From running to resting a controller is all that changes."""
    assert change_lines(cellar, setups["running"], setups["running"]) == []
    assert change_lines(cellar, setups["running"], setups["resting"]) == [
        "Set below what it shows, so that it rests: boil controller."
    ]


def test_the_step_that_takes_the_supply_off_moved_the_main_switch(cellar: Panel, setups: dict[str, Setup]) -> None:
    """Isolating turns it off; a reading through it needs it on again, the supply still off."""
    assert change_lines(cellar, setups["running"], setups["parted"]) == [
        "Turn: main switch to ON (the supply stays off).",
        "Unplug: boil cord, from boil outlet.",
    ]
    assert change_lines(cellar, setups["parted"], setups["running"])[0] == "Plug in: boil cord, into boil outlet."


def test_what_isolates_is_never_told_to_be_turned_on(cellar: Panel, setups: dict[str, Setup]) -> None:
    """A panel that is wired in is isolated by its breaker: with the supply off nobody is told to set it."""
    supply = replace(cellar.supply, unplugs=False, isolator="feed_breaker")
    wired = replace(cellar, supply=supply)
    off = replace(at_rest(wired), supply_on=False)
    assert off.position("feed_breaker") == "on"
    for before in (None, setups["running"], replace(off, positions=off.moved(feed_breaker="off").positions)):
        assert "feed breaker" not in " ".join(change_lines(wired, before, off))


def test_what_switches_off_comes_first(cellar: Panel, setups: dict[str, Setup]) -> None:
    """So that two loads are never on together on the way from one setup to another."""
    before = setups["running"].moved(boil_switch="off", hlt_switch="on")
    assert change_lines(cellar, before, setups["running"]) == ["Turn: hlt switch to OFF, boil switch to ON."]


def test_ice_water_leads_and_warmth_are_told(cellar: Panel, setups: dict[str, Setup]) -> None:
    at = setups["idle"]
    at = replace(at, supply_on=False)
    wire = frozenset({Lead(cellar, "boil_contactor.t1")})
    changed = replace(at.bathing("boil_probe", 0.0), lifted=wire)
    assert change_lines(cellar, at, changed) == [
        "Take the wire off: boil contactor, T1. Mark it.",
        "Hold in stirred ice water, two minutes: boil probe.",
    ]
    assert change_lines(cellar, changed, at) == [
        "Put the wire back on: boil contactor, T1.",
        "Put back in its place: boil probe.",
    ]


def test_what_is_warm_is_read_while_it_heats_or_just_after(setups: dict[str, Setup], cellar: Panel) -> None:
    """With the supply off nobody is told to heat it for that: it is warm from before, or the check is skipped."""
    assert "Let it heat for ten minutes, then read." in change_lines(cellar, setups["running"], setups["warm"])
    just_after = change_lines(cellar, setups["warm"], setups["cooling"])
    assert just_after[-1].startswith("Only while it is still warm")


def test_controllers_stand_as_the_last_check_with_power_left_them() -> None:
    """With the supply off nobody can set them, so they are not told to be set again."""
    session = _at_first_reading()
    session = answer(session, "OL")
    at = standing(session)
    assert session.at is not None and not session.at.supply_on
    assert at is not None and dict(at.commands) == {"controller": "call"}


def _at_first_reading() -> Session:
    """A session at its first check with a meter, the answers before it as the hidden fault gives them."""
    going, _ = recorded()
    for _ in range(30):
        question = going.question
        if isinstance(question, AskCheck) and question.check.quantity == "resistance":
            return going.session
        going.do(*(("answer", reply(question)) if isinstance(question, AskCheck) else ("confirm",)))
    raise AssertionError("no reading was asked for")


def test_a_reading_is_asked_for_in_words() -> None:
    """Where the probes go, what the meter is on, what it should be, and how exposed one is."""
    session = _at_first_reading()
    question = ask(session)
    assert isinstance(question, AskCheck)
    page = check_page(session, question, 5)
    panel, check = session.model.panel, question.check
    badge = {
        "outside": "OUTSIDE (box shut, supply off)",
        "isolated": "DEAD (box open, supply off, proved dead)",
    }
    assert page.title.startswith(f"Check 5 - {badge[check.exposure]} - ")
    low, high = question.sound[1:]
    for line in (
        "Multimeter on ohms.",
        f"Red probe: {panel.terminal_label(check.tail)}.",
        f"Black probe: {panel.terminal_label(check.head)}.",
        f"If sound: {range_text('resistance', low, high)}",
    ):
        assert line in page.lines
    assert any(line.startswith("  OL (") and "element: " in line for line in page.lines)
    assert page.prompt == "reading in ohm"


def test_every_check_fits_a_small_screen() -> None:
    """On 80 columns, with everything told at the first check, there is room for the prompt and an answer."""
    going, _ = recorded("live")
    model = shared_model()
    for check in model.checks:
        prediction = model.predict(check)
        outcomes: tuple[str, ...] = ()
        if prediction.table is not None:
            outcomes = model.panel.kind_of(check.part).signs[check.sign].outcomes
        sound = (float(prediction.value[0]), float(prediction.low[0]), float(prediction.high[0]))
        question = AskCheck(check, prediction, 0.0, None, sound, outcomes)
        page = check_page(going.session, question, 1)
        shown = wrapped([page.title, *page.lines], 80)
        assert len(shown) <= 21, (check.id, shown)
        assert "nan" not in " ".join(shown).lower().split(), check.id
        assert prompt_for(question)


@pytest.mark.parametrize(
    ("instrument", "meter", "prompt"),
    [
        ("clamp", "Clamp meter on AC amps, one wire in its jaws:", "reading in A"),
        ("leakage_clamp", "Leakage clamp on AC milliamps, these wires together in its jaws:",
         "reading in mA, with the unit"),
        ("low_impedance", "Multimeter on AC volts, low-impedance mode.", "reading in V AC"),
        ("none", "Watch and thermometer: a known volume, lid on, stirred. Note its temperature, heat it for ten "
             "minutes or more, stir, note it again.", "such as 40 L, 20 to 31 C, 15 min; or kW"),
    ],
)  # fmt: skip
def test_instruments_that_are_not_a_plain_multimeter(instrument: str, meter: str, prompt: str) -> None:
    """What is clamped, in which mode, or what to work out."""
    model = shared_model()
    going, _ = recorded("live")
    check = next(
        check for check in model.checks
        if check.instrument == instrument and check.quantity not in ("sign", "temperature")
    )  # fmt: skip
    prediction = model.predict(check)
    sound = (float(prediction.value[0]), float(prediction.low[0]), float(prediction.high[0]))
    page = check_page(going.session, AskCheck(check, prediction, 0.0, None, sound, ()), 1)
    assert meter in page.lines and page.prompt == prompt
    for wire, _ in check.around:
        assert f"  {regional(model.panel, model.panel.label(wire))}" in page.lines
    assert bool(check.tail) == any(line.startswith("Red probe: ") for line in page.lines)


def test_outcomes_share_out_all_belief() -> None:
    """What a sign may show covers all known causes, and what each leaves sums to one."""
    going, _ = recorded("outside")
    question = going.question
    assert isinstance(question, AskCheck)
    outcomes = outcomes_of(shared_model(), question, belief(going.session))
    assert sum(outcome.share for outcome in outcomes) == pytest.approx(
        float(belief(going.session)[:-1].sum()), abs=0.02
    )
    assert outcomes[0].sound
    for outcome in outcomes:
        assert sum(share for _, share in outcome.causes) == pytest.approx(1.0)


def test_a_doubted_reading_is_asked_for_again_with_the_usual_slips() -> None:
    session = answer(_at_first_reading(), "47")
    question = ask(session)
    assert isinstance(question, AskCheck) and question.doubted is not None
    assert doubt_lines(question) == [
        "'47' fits nothing known here: neither the sound panel nor any one fault would show it.",
        "Usual slips: the k overlooked, or M read as k; the M overlooked; a k typed that was not shown, "
        "or k read as M; an M typed that was not shown.",
        "Measure again and type what it shows now.",
    ]


def test_after_an_answer_it_says_what_that_means() -> None:
    session = _at_first_reading()
    question = ask(session)
    assert isinstance(question, AskCheck)
    should = range_text("resistance", *question.sound[1:])
    wrong = answered_line(answer(session, "OL"))
    assert wrong.startswith(f"Not as it should be ({should}). Likeliest now: ")
    right = answered_line(answer(session, f"{np.mean(question.sound[1:])} ohm"))
    assert right.startswith("As it should be. Likeliest now: ")
    assert wrong.endswith("%.") and right.endswith("%.")
