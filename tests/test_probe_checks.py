"""Reference points: what is typed of them, and what is said of a reading at a probe's pins."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

import pytest

from diagnose.checks import Check
from diagnose.errors import AnswerError, FileError
from diagnose.knowledge.curves import load_curves
from diagnose.opening import open_model, open_panel
from diagnose.probe_checks import asked_line, read_boiling, read_pair, temperature_of
from diagnose.site import boiling_interval


@lru_cache(maxsize=8)
def check_named(panel: str, complaint: str, ident: str, part: str = "controller") -> Check:
    return open_model(panel, complaint, part).checks_by_id[ident]


@pytest.mark.parametrize(
    ("text", "error"),
    [("71.5, 65", 6.5), ("71.5 65", 6.5), ("58 C / 64 C", -6.0), ("158 F, 70 C", 0.0), ("64 against 70", -6.0)],
)
def test_two_temperatures_are_read_as_one_error(text: str, error: float) -> None:
    check = check_named("shed_single_kettle", "probe_off_when_hot", "hot:temperature_error:controller")
    assert read_pair(check, text) == pytest.approx(error, abs=0.01)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("71.5", "'71.5' is not two temperatures; expected the display, then the thermometer, such as 71.5, 65"),
        ("41, 40", "the thermometer's 40 °C is not what this asks for; expected liquid of 58 to 82 °C"),
        ("warm, cold", "'warm' is not"),
    ],
)
def test_anything_else_is_asked_for_again(text: str, message: str) -> None:
    check = check_named("shed_single_kettle", "probe_off_when_hot", "hot:temperature_error:controller")
    with pytest.raises(AnswerError) as caught:
        read_pair(check, text)
    assert message in str(caught.value)


def test_no_number_is_an_answer_too() -> None:
    check = check_named("shed_single_kettle", "probe_off_when_hot", "hot:temperature_error:controller")
    assert read_pair(check, "no number") == float("inf")


def test_boiling_water_is_corrected_for_where_it_boils() -> None:
    panel = open_panel("shed_single_kettle")
    here = boiling_interval(panel)
    middle = (here.low + here.high) / 2
    plain, width = read_boiling(panel, "97.5")
    assert (plain, width) == (97.5, None)
    # 1500 m: 95.0 degrees. A display that shows them there is right.
    shown, width = read_boiling(panel, "95 at 1500 m")
    assert shown == pytest.approx(middle, abs=0.1)
    assert width is not None
    assert width[0] < -1.5
    # 900 hPa: 96.7 degrees.
    shown, _ = read_boiling(panel, "96.7 C at 900 hPa")
    assert shown == pytest.approx(middle, abs=0.1)
    with pytest.raises(AnswerError, match="no altitude or air pressure"):
        read_boiling(panel, "97 at home")


def test_the_page_says_at_what_water_boils_here() -> None:
    check = check_named("shed_single_kettle", "probe_reads_off", "boiled:temperature:controller")
    assert asked_line(open_panel("shed_single_kettle"), check).endswith("here, as nobody said how high you are.")
    assert asked_line(open_panel("smithy_thermocouple"), check).endswith("°C here.")


@pytest.mark.parametrize(
    ("panel", "ident", "value", "said"),
    [
        ("shed_single_kettle", "parted:resistance:probe.a:probe.b", 109.7, "110 Ω is a Pt100 at 25 °C."),
        ("shed_single_kettle", "parted:resistance:probe.b:probe.c", 0.6, ""),
        ("smithy_thermocouple", "parted:millivolts:probe.a:probe.b", -0.798e-3,
         "-0.80 mV is a thermocouple type K at -0 °C, its connector at 20 °C."),
    ],
)  # fmt: skip
def test_a_reading_at_the_pins_is_told_as_a_temperature(panel: str, ident: str, value: float, said: str) -> None:
    complaint = "probe_under_range" if panel == "shed_single_kettle" else "controller_alarm"
    check = check_named(panel, complaint, ident)
    found = temperature_of(open_panel(panel), check, value)
    assert found.replace("at -0 °C", "at 0 °C") == said.replace("at -0 °C", "at 0 °C")


def test_ohms_that_no_sensor_has_are_said_to_be_none() -> None:
    check = check_named("shed_single_kettle", "probe_under_range", "parted:resistance:probe.a:probe.b")
    assert temperature_of(open_panel("shed_single_kettle"), check, 0.8).endswith("is no temperature of a Pt100.")


def test_millivolts_are_read_on_a_dead_circuit_from_outside() -> None:
    check = check_named("smithy_thermocouple", "controller_alarm", "parted:millivolts:probe.a:probe.b")
    assert check.needs_dead
    assert check.exposure == "outside"
    with pytest.raises(ValueError, match="never read with the supply on"):
        replace(check, setup=replace(check.setup, supply_on=True))


CURVE = "{name}:\n  title: t\n  form: {form}\n  range: [0, 1]\n  tolerance: [1, 0]\n  taken_for: {other}\n"


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (CURVE.format(name="x", form="beta", other="[]"), "a beta needs values; expected ohms_25, beta"),
        (CURVE.format(name="x", form="thermocouple", other="[]"), "'metal' belongs to a thermocouple"),
        (CURVE.format(name="x", form="thermocouple", other="[y]").replace("  range", "  metal: K\n  range"),
         "'y' is no other curve; expected one of x"),
        (CURVE.format(name="x", form="thermocouple", other="[]").replace("[0, 1]", "[0]"),
         "these are not two numbers; expected two numbers in brackets"),
    ],
)  # fmt: skip
def test_a_curve_that_is_written_wrong_says_where(tmp_path, text: str, message: str) -> None:  # type: ignore[no-untyped-def]
    (tmp_path / "curves.yaml").write_text("# Curves.\n" + text, encoding="utf-8")
    with pytest.raises(FileError) as caught:
        load_curves(tmp_path)
    assert message in str(caught.value)
