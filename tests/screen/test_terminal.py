"""Whole sessions in a real pseudo-terminal, its screen read back by an emulator."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from diagnose.log import read_log
from diagnose.proving import Closing
from diagnose.session import AskCheck, Verdict
from tests.screen.helpers import START, proof_reply, recorded, reply
from tests.screen.terminal import Terminal


@pytest.fixture
def log(tmp_path: Path) -> Iterator[Path]:
    yield tmp_path / "session.yaml"


def _options(log: Path) -> list[str]:
    return [*START, "--competence", "isolated", "--instruments", "multimeter", "--log", str(log)]


@pytest.mark.parametrize("columns", [80, 40])
def test_a_whole_session_in_a_terminal(columns: int, log: Path) -> None:
    """A session beside it knows what is asked: both come to the same end, each check whole on the screen."""
    terminal = Terminal(columns, _options(log))
    beside, _ = recorded()
    number = 0
    while not isinstance(question := beside.question, Verdict):
        lines = terminal.wait(r"^(\d-\d or its word|reading in .*|done|yes or no|highest reading in V)>$")
        if isinstance(question, AskCheck):
            number += 1
            if columns == 80:
                assert any(line.startswith(f"Check {number} - ") for line in lines), "\n".join(lines)
        terminal.type(reply(question))
        beside.do("answer" if isinstance(question, AskCheck) else "confirm", reply(question))
    while not isinstance(proof := beside.proof, Closing):
        terminal.wait(r"^(yes or no|done|highest reading in V|pass or fail|yes, no or leave|reading in .*)>$")
        what, typed = proof_reply(proof)
        terminal.type(typed)
        beside.prove(typed) if what == "proof" else beside.do(what, typed)
    assert terminal.end() == 0
    assert terminal.colours() == set()
    text = terminal.all_text()
    assert "Every proof check passed. It may go back to work." in " ".join(text.split())
    assert "\nFound\n" in text and "burned open inside" in text
    assert "Traceback" not in text
    again = text.count("\nOnce more, please")
    asked = (
        len(beside.session.answers) + text.count("\nStep - ") + again + len(beside.session.proved) + 2
    )  # mended, and works
    assert len(read_log(log)[1]) == asked


def test_ctrl_c_says_how_to_go_on(log: Path) -> None:
    terminal = Terminal(80, _options(log))
    terminal.wait("or its word>$")
    terminal.child.sendcontrol("c")
    assert terminal.end() == 130
    assert "Left here. Nothing is lost." in terminal.all_text()
    assert f"diagnose resume {log}" in terminal.raw.decode().replace("\r\n", "\n")


def test_ctrl_d_is_a_polite_end(log: Path) -> None:
    terminal = Terminal(80, _options(log))
    terminal.wait("or its word>$")
    terminal.child.sendcontrol("d")
    assert terminal.end() == 0
    assert "To go on:" in terminal.all_text()


def test_headings_are_bold_but_not_where_colour_is_unwanted(log: Path, tmp_path: Path) -> None:
    """NO_COLOR leaves words only."""
    plain = Terminal(80, _options(log), NO_COLOR="1")
    plain.wait("or its word>$")
    plain.child.sendcontrol("c")
    plain.end()
    bold = Terminal(80, _options(tmp_path / "other.yaml"))
    bold.wait("or its word>$")
    bold.child.sendcontrol("c")
    bold.end()
    assert re.search(rb"\x1b\[[0-9;]*1m[^\x1b]*Check 1", bold.raw)
    assert not re.search(rb"\x1b\[(?:0;)?(?:1|3\d|4\d|9\d)m", plain.raw)


def test_a_dumb_terminal_gets_plain_lines(log: Path) -> None:
    terminal = Terminal(80, _options(log), TERM="dumb")
    terminal.wait("or its word>$")
    terminal.child.sendcontrol("d")
    assert terminal.end() == 0
    assert b"\x1b" not in terminal.raw


def test_one_key_stops_everything_without_enter(log: Path) -> None:
    """At a check, with nothing typed yet; what to do stands on the screen at once, and nothing is asked any more."""
    terminal = Terminal(80, _options(log))
    terminal.wait("or its word>$")
    terminal.child.send("!")
    assert terminal.end() == 0
    text = terminal.all_text()
    assert "\nSTOP\n" in text and "Touch nothing." in text
    assert "It is not closed." in text and "diagnose resume" not in text
    assert [(event.what, event.text) for event in read_log(log)[1]] == [("stop", "danger")]


def test_the_key_within_a_line_is_a_character(log: Path) -> None:
    terminal = Terminal(80, _options(log))
    terminal.wait("or its word>$")
    terminal.child.send("hm!")
    terminal.child.send("\r")
    terminal.wait("or its word>$")
    terminal.child.sendcontrol("d")
    assert terminal.end() == 0
    assert "'hm!' is none of the answers" in terminal.all_text()


@pytest.mark.parametrize("asked", [["start"], ["start", "--panel", "shed_single_kettle"]])
def test_one_key_before_the_first_check_begins_nothing(asked: list[str]) -> None:
    terminal = Terminal(80, asked)
    terminal.wait(r"^number.*>$")
    terminal.child.send("!")
    assert terminal.end() == 0
    assert "Touch nothing." in terminal.all_text() and "Nothing was begun" not in terminal.all_text()


ASKS = r"^(\d-\d or its word|reading in .*|done|yes or no|highest reading in V)>"
BOTTOM = r"(supply on|supply off|switched off|LIVE).*\| \d+ min \| .* \d+ %$"


def test_a_window_that_is_resized_in_the_middle(log: Path) -> None:
    """120, 40 and 80 columns: nothing typed is lost, and what comes after is as wide as the window."""
    terminal = Terminal(120, _options(log), rows=40)
    beside, _ = recorded()
    terminal.wait(ASKS)
    terminal.wait_for(BOTTOM)
    for number, columns in enumerate((40, 80)):
        answer = reply(beside.question)
        terminal.press(answer[:2])
        terminal.resize(columns)
        terminal.wait(rf"{ASKS} {answer[:2]}$")
        terminal.type(answer[2:])
        beside.do("answer" if isinstance(beside.question, AskCheck) else "confirm", answer)
        terminal.wait_for(rf"^(Check|Before check) {number + 2}|^Step - ")
        terminal.wait(ASKS)
        terminal.wait_for(r"^(supply )?(on|off|switched off).*\| \d+ min")
        terminal.type("path")
        terminal.wait_for(r"^Path of the current: ")
        terminal.wait(ASKS)
        drawn = terminal.lines()
        first = max(row for row, line in enumerate(drawn) if line.startswith("Path of the current: "))
        assert max(map(len, drawn[first:])) <= columns
    terminal.child.sendcontrol("c")
    assert terminal.end() == 130
    assert len(read_log(log)[1]) == 2


def test_one_key_answers_and_what_is_typed_is_judged(log: Path) -> None:
    """The bottom line says what a line would count as, Tab lists what may be typed; one key is the whole answer.

    An Enter after it, out of habit, is not taken for the next answer.
    """
    terminal = Terminal(80, _options(log))
    terminal.wait(r"^\d-\d or its word>")
    terminal.press("purple")
    terminal.wait_for(r"^\? 'purple' is none of the answers")
    terminal.press("\x15wh")
    terminal.wait_for(r"^what this check tells apart")
    terminal.press("\x15l\t")
    terminal.wait_for(r"later +not now: ask it again later")
    terminal.press("\x15")
    terminal.wait(r"^\d-\d or its word>$")
    terminal.press("1\r")
    terminal.wait_for(r"^(As it should be|Not as it should be)")
    terminal.wait(ASKS)
    assert not any("Nothing was typed" in line for line in terminal.lines())
    assert terminal.colours() == set()
    terminal.child.sendcontrol("d")
    assert terminal.end() == 0
    assert [(event.what, event.text) for event in read_log(log)[1]] == [("answer", "1")]


def test_plain_lines_are_never_redrawn(log: Path) -> None:
    """For a screen reader: no control characters, the path in sentences, no drawing, no key without Enter."""
    terminal = Terminal(80, [*_options(log), "--plain"])
    terminal.wait("or its word>$")
    terminal.type("path")
    terminal.wait_for(r"^1\. \w")
    terminal.wait("or its word>$")
    terminal.child.sendcontrol("d")
    assert terminal.end() == 0
    text = terminal.raw.decode()
    assert "\x1b" not in text and "\b" not in text
    assert not set("║│┆◄└┘─") & set(text)


def test_nothing_but_ascii_where_the_locale_asks_for_it(log: Path) -> None:
    """LANG=C, though Python would write UTF-8 there."""
    locale = {"LC_ALL": "", "LC_CTYPE": "", "LANG": "C", "PYTHONIOENCODING": ""}
    terminal = Terminal(80, [*_options(log), "--ladder"], **locale)
    terminal.wait_for(r"^[|:#<] \[")
    terminal.wait(ASKS)
    terminal.child.sendcontrol("d")
    assert terminal.end() == 0
    assert terminal.raw.isascii()
