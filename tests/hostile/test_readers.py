"""A small, seeded part of the hostile run, and each defect that it found."""

from __future__ import annotations

import json
import os
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings

from diagnose import cli
from diagnose.describe.drafts import NAME, Draft
from diagnose.errors import FileError, UsageError
from diagnose.files import given_path, replace_file
from diagnose.knowledge.library import load_library
from diagnose.temperature_log import judge, parse_log
from diagnose.texts import load_texts
from tests.hostile.targets import TARGETS, WORDS, Target, _words, environment

HEAVY = {"command line", "prompts", "validate", "panels drawn, reviewed, built", "line protocol"}


@pytest.mark.parametrize("target", TARGETS, ids=lambda target: target.name)
def test_hostile_input_is_taken_or_refused(target: Target) -> None:
    """Only clear refusals: a traceback, a wrong exit code or a control character fails. The rest is run by hand."""

    @settings(max_examples=12 if target.name in HEAVY else 40, derandomize=True, database=None, deadline=None,
              suppress_health_check=list(HealthCheck))  # fmt: skip
    @given(target.inputs())
    def drive(value: Any) -> None:
        target.run(value)

    drive()


# What the run by hand has found ------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", WORDS)
@pytest.mark.parametrize("data", [b"a: []\n", b"a: {}\n", b"x\n"])
def test_words_without_their_keys_are_refused_with_a_place(name: str, data: bytes) -> None:
    """A key that was left out ended in a KeyError."""
    with pytest.raises(FileError):
        _words((name, data))


def test_a_supply_of_one_terminal_is_refused(tmp_path: Path) -> None:
    text = (
        "one:\n  title: a\n  service: b\n  frequency: 50 Hz\n  range: 0.9 - 1.1\n  wall: c\n  conductors:\n"
        "    leg: {service: a, wall: b, cord: c, protection: [[a]]}\n"
    )
    (tmp_path / "supplies.yaml").write_text(text, encoding="utf-8")
    with pytest.raises(FileError, match=r":8:\d+: 1 terminals stand here; expected a pair of terminals"):
        load_library.__wrapped__(tmp_path)


def test_steps_without_their_words_are_refused(tmp_path: Path) -> None:
    for name in ("cautions", "proofs", "competence"):
        (tmp_path / f"{name}.yaml").write_text("questions: {}\n", encoding="utf-8")
    (tmp_path / "steps.yaml").write_text("steps: {a: {}}\nstop: {title: a}\n", encoding="utf-8")
    with pytest.raises(FileError, match="the key 'lines' is missing"):
        load_texts.__wrapped__(tmp_path)


@pytest.mark.parametrize("setpoint", [66.0, 59.0])
def test_a_log_that_never_comes_up_through_the_setpoint_is_judged(setpoint: float) -> None:
    """It ended in a ValueError, so that a kettle that does not get there could not be looked at."""
    assert judge(*parse_log("0 60, 1 61, 2 62, 3 63, 4 64"), setpoint).verdict == "settles"


@pytest.mark.parametrize("data", ["[" * 100_000, '{"a":' * 50_000, "[]", "\xff", "1" * 10_000, ""])
def test_a_draft_that_can_t_be_read_is_set_aside(data: str, tmp_path: Path) -> None:
    """Deep nesting ended in a RecursionError; anything else was passed over and written over without a word."""
    with environment(XDG_STATE_HOME=str(tmp_path)):
        (tmp_path / "diagnose").mkdir()
        path = tmp_path / "diagnose" / NAME
        path.write_text(data, encoding="latin-1")
        draft = Draft()
        assert draft.read() == {}
        assert draft.set_aside is not None and draft.set_aside.read_text(encoding="latin-1") == data
        assert not path.exists()


def test_what_was_set_aside_is_said(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with environment(XDG_STATE_HOME=str(tmp_path)):
        (tmp_path / "diagnose").mkdir()
        (tmp_path / "diagnose" / NAME).write_text("[", encoding="utf-8")
        with pytest.MonkeyPatch.context() as patch, Path(os.devnull).open(encoding="utf-8") as nothing:
            patch.setattr("sys.stdin", nothing)
            assert cli.main(["describe"]) == 0
    assert "What was answered before can't be read. It is kept as it was:" in " ".join(capsys.readouterr().out.split())


LONG = "a" * 3000


@pytest.mark.parametrize(
    "arguments",
    [["history", LONG], ["learn", "--forget", LONG], ["validate", LONG], ["report", LONG], ["resume", LONG],
     ["start", "--panel", LONG], ["draw", LONG], ["start", "--log", LONG], ["start", "--rates", LONG], ["replay", LONG],
     ["history", "~nobody_is_called_this/x"], ["report", "~nobody_is_called_this/x"],
     ["start", "--log", "~nobody_is_called_this/x"], ["learn", "--forget", "x", "--rates", ""]],
    ids=lambda arguments: " ".join(arguments)[:40],
)  # fmt: skip
def test_a_path_that_can_t_be_one_is_refused(
    arguments: list[str], capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Names that are too long, the home of nobody, and no name at all ended as bugs."""
    with Path(os.devnull).open(encoding="utf-8") as nothing:
        monkeypatch.setattr("sys.stdin", nothing)
        assert cli.main(arguments) == 2
    error = capsys.readouterr().err
    assert "; expected " in error and "bug" not in error and error.count("\n") == 1


def test_a_home_of_nobody_is_a_mistake() -> None:
    with pytest.raises(UsageError, match="there is no such home folder; expected a path without '~'"):
        given_path("~nobody_is_called_this/x")


def test_half_a_character_pair_is_written_all_the_same(tmp_path: Path) -> None:
    replace_file(tmp_path / "x", json.loads('"\\ud800a"'))
    assert (tmp_path / "x").read_text(encoding="utf-8") == "?a"
