"""The command line: exit codes, and the exact words for what a person can mend."""

from __future__ import annotations

import io
import subprocess
import sys
from pathlib import Path

import pytest

from diagnose import __version__, cli, log_places
from diagnose.cli import BUG, DONE, INTERRUPTED, NOT_FOUND, USER, main
from diagnose.knowledge.library import knowledge_folder
from diagnose.log import Header, LogFile, read_log
from diagnose.log_recovery import recover
from diagnose.meter import INSTRUMENT_CHOICES
from diagnose.opening import all_complaints, bundled_panels, fitting, open_model, open_panel
from diagnose.safety import COMPETENCES
from diagnose.said import matching
from tests.screen.helpers import COMMAND, COMPLAINT, ENVIRONMENT, PANEL, PART, START

BUNDLED = ", ".join(entry.name for entry in bundled_panels())
COMPLAINTS = ", ".join(all_complaints())


def test_exit_codes_are_told_apart() -> None:
    assert (DONE, NOT_FOUND, USER, BUG, INTERRUPTED) == (0, 1, 2, 3, 130)


def test_names_that_are_known_without_loading_are_the_real_ones() -> None:
    """The parser must start quickly, so it repeats two lists."""
    assert cli.COMPETENCE_NAMES == COMPETENCES
    assert cli.INSTRUMENT_NAMES == INSTRUMENT_CHOICES


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (["start", "--panel", "/nowhere/panel.yaml"],
         f"/nowhere/panel.yaml:1:1: there is no such file; expected a panel file, or one of {BUNDLED}"),
        (["start", "--panel", "shed_singel_kettle"],
         "there is no panel 'shed_singel_kettle' (did you mean 'shed_single_kettle'?); expected a panel "
         f"file, or one of {BUNDLED}"),
        (["start", "--panel", PANEL, "--complaint", "elment_cold"],
         "there is no complaint 'elment_cold' (did you mean 'element_cold'?); expected one of " + COMPLAINTS),
        (["start", "--panel", PANEL, "--complaint", "qqq"],
         "there is no complaint 'qqq'; expected one of " + COMPLAINTS),
        ([*START, "--part", "elment"],
         "'elment' can't be what 'element_cold' is about (did you mean 'element'?); expected one of element"),
        (["start", "--panel", PANEL, "--complaint", "panel_dead", "--part", "element"],
         "'panel_dead' is about the whole panel, not about 'element'; expected no part"),
        (["start", "--panel", "cellar_two_kettle", "--complaint", COMPLAINT, "--json-lines"],
         "'element_cold' can be about several parts of this panel; expected one of hlt_element, "
         "boil_element"),
        (["start", "--competence", "expert"],
         "--competence: 'expert' is not known; expected one of outside, isolated, live"),
        (["start", "--competence", "Isolated"],
         "--competence: 'Isolated' is not known (did you mean 'isolated'?); expected one of outside, "
         "isolated, live"),
        (["start", "--instruments", "multimetre"],
         "--instruments: 'multimetre' is not known (did you mean 'multimeter'?); expected one of multimeter, "
         "clamp, insulation_tester, leakage_clamp, low_impedance, infrared_thermometer, none"),
        (["start", "--json-lines"],
         "--json-lines asks no questions, and --panel and --complaint is missing; expected it as an option"),
        (["start", "--nonsense"],
         "unrecognized arguments: --nonsense; expected as 'diagnose --help' lists"),
        (["resume", "/nowhere/log.yaml"],
         "/nowhere/log.yaml:1:1: there is no such file; expected a YAML file"),
        ([], "the following arguments are required: COMMAND; expected as 'diagnose --help' lists"),
    ],
)  # fmt: skip
def test_what_can_be_mended_is_said_in_one_line(
    arguments: list[str], message: str, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("sys.stdin", io.StringIO(""))
    assert main(arguments) == USER
    assert capsys.readouterr().err == message + "\n"


def test_an_unknown_command_is_said_in_one_line(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["strat"]) == USER
    error = capsys.readouterr().err
    assert error.count("\n") == 1 and "'strat'" in error and "start" in error


def test_a_log_that_is_there_already_is_left_alone(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """It is refused before any question is asked."""
    log = tmp_path / "old.yaml"
    log.write_text("precious", encoding="utf-8")
    assert main([*START, "--log", str(log)]) == USER
    assert capsys.readouterr() == (
        "",
        f"{log}: there is a file here already; expected another name, or 'diagnose resume' to go on with it\n",
    )
    assert log.read_text(encoding="utf-8") == "precious"


def test_a_log_that_can_t_be_written_is_said(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("sys.stdin", io.StringIO(""))
    log = tmp_path / "none" / "log.yaml"
    options = ["--competence", "outside", "--instruments", "none", "--log", str(log)]
    assert main([*START, *options]) == USER
    assert capsys.readouterr().err == (
        f"{log}: can't be written: No such file or directory; expected a place to write to\n"
    )


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("panel: x\n  bad: [", "PANEL:2:6: "),
        ("", "PANEL:1:1: the file is empty; expected keys with values"),
        ("- a list\n", "PANEL:1:1: "),
    ],
)
def test_problems_of_a_panel_file_come_with_their_place(
    text: str, message: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "mine.yaml"
    path.write_text(text, encoding="utf-8")
    assert main(["start", "--panel", str(path)]) == USER
    error = capsys.readouterr().err
    assert error.startswith(message.replace("PANEL", str(path))), error
    assert "; expected " in error and "Traceback" not in error


def test_a_log_that_answers_something_else_is_refused_with_its_place(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("sys.stdin", io.StringIO(""))
    log = tmp_path / "log.yaml"
    LogFile(log).begin(Header(PANEL, COMPLAINT, PART, "outside", ()))
    with log.open("a", encoding="utf-8") as file:
        file.write('  - {"did": "answer", "of": "no:such:check", "text": "lit"}\n')
    assert main(["resume", str(log)]) == USER
    error = capsys.readouterr().err
    assert error.startswith(f"{log}:10:5: this answers 'no:such:check', which is not what is asked here; expected '")
    assert error.count("\n") == 1


@pytest.mark.parametrize(
    ("line", "wrong", "expected"),
    [
        ("competence: expert", "'expert' is no level of competence", "one of outside, isolated, live"),
        ('panel: "/gone/mine.yaml"', "/gone/mine.yaml:1:1: there is no such file",
         f"a panel file, or one of {BUNDLED}"),
    ],
)  # fmt: skip
def test_a_log_whose_header_can_t_be_used_is_refused(
    line: str, wrong: str, expected: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    log = tmp_path / "log.yaml"
    LogFile(log).begin(Header(PANEL, COMPLAINT, PART, "outside", ()))
    key = line.partition(":")[0]
    lines = [line if old.startswith(f"{key}:") else old for old in log.read_text(encoding="utf-8").splitlines()]
    log.write_text("\n".join(lines) + "\n", encoding="utf-8")
    assert main(["resume", str(log)]) == USER
    assert capsys.readouterr().err == f"{wrong}; expected {expected}\n"


def test_a_bug_is_owned_up_to(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    def broken(_: object) -> int:
        raise ZeroDivisionError("division by zero")

    monkeypatch.setitem(cli._COMMANDS, "start", broken)
    monkeypatch.delenv("DIAGNOSE_TRACEBACK", raising=False)
    assert main(["start"]) == BUG
    assert capsys.readouterr().err == (
        "diagnose: a bug: ZeroDivisionError: division by zero. The log has all answers. Please report it: "
        "DIAGNOSE_TRACEBACK=1 shows where it happened.\n"
    )


def test_ctrl_c_has_its_own_code(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    def interrupted(_: object) -> int:
        raise KeyboardInterrupt

    monkeypatch.setitem(cli._COMMANDS, "start", interrupted)
    assert main(["start"]) == INTERRUPTED
    assert capsys.readouterr().err == "\nInterrupted.\n"


@pytest.mark.parametrize("option", ["--version", "-h"])
def test_python_m_is_the_same_command(option: str) -> None:
    done = subprocess.run([*COMMAND, option], capture_output=True, text=True, env=ENVIRONMENT, timeout=60)
    assert done.returncode == 0 and done.stderr == ""
    assert done.stdout.startswith(f"diagnose {__version__}\n" if option == "--version" else "usage: diagnose ")


def test_replay_is_handed_its_paths(monkeypatch: pytest.MonkeyPatch) -> None:
    import diagnose.replay

    given: list[list[str]] = []
    monkeypatch.setattr(diagnose.replay, "main_replay", lambda paths: given.append(list(paths)) or 1)
    assert main(["replay", "cases/", "one.yaml"]) == NOT_FOUND
    assert given == [["cases/", "one.yaml"]]


# Where the log goes ---------------------------------------------------------------------------------------

HEADER = Header(PANEL, COMPLAINT, PART, "outside", ("multimeter",))


def test_the_log_goes_to_the_state_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    first, second = log_places.begin_log(HEADER, None), log_places.begin_log(HEADER, None)
    assert first.path.parent == second.path.parent == tmp_path / "state" / "diagnose"
    assert first.path != second.path
    assert read_log(first.path) == (HEADER, ())


def test_a_relative_state_folder_is_passed_over(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """As the XDG specification says."""
    monkeypatch.setenv("XDG_STATE_HOME", "state")
    monkeypatch.setenv("HOME", str(tmp_path))
    assert log_places.begin_log(HEADER, None).path.parent == tmp_path / ".local" / "state" / "diagnose"


@pytest.mark.parametrize("home", [None, "/nowhere/at/all", "FILE"])
def test_without_a_home_the_log_goes_here(home: str | None, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("XDG_STATE_HOME", raising=False)
    (tmp_path / "file").touch()
    if home is None:
        monkeypatch.delenv("HOME", raising=False)
    else:
        monkeypatch.setenv("HOME", home.replace("FILE", str(tmp_path / "file")))
    here = tmp_path / "here"
    here.mkdir()
    monkeypatch.chdir(here)
    assert log_places.begin_log(HEADER, None).path.parent == here


def test_the_tail_of_a_log_is_mended_once(tmp_path: Path) -> None:
    log = tmp_path / "log.yaml"
    LogFile(log).begin(HEADER)
    whole = log.read_bytes()
    log.write_bytes(whole + b'  - {"did": "answ')
    assert recover(log) == [
        "The last line of the log was cut off while it was written. What was typed then is asked again."
    ]
    assert log.read_bytes() == whole
    assert recover(log) == []
    assert log.read_bytes() == whole


def test_a_file_that_is_no_log_is_not_touched(tmp_path: Path) -> None:
    other = tmp_path / "notes.txt"
    other.write_bytes(b"line\nno end")
    assert recover(other) == []
    assert other.read_bytes() == b"line\nno end"


# Names ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("words", "first"),
    [
        ("no heat", "element_cold"),
        ("the kettle stays cold", "element_cold"),
        ("GFCI trips in mid boil", "gfci_trips_later"),
        ("keeps heating", "element_stuck_on"),
        ("xylophone", None),
        ("the is a", None),
    ],
)
def test_complaints_are_found_by_what_people_say(words: str, first: str | None) -> None:
    found = matching(words, list(all_complaints().values()))
    assert (first in [complaint.name for complaint in found]) if first else found == []


def test_only_complaints_that_a_panel_can_have_are_offered() -> None:
    from dataclasses import replace

    panel = open_panel(PANEL)
    without = replace(panel, parts={k: v for k, v in panel.parts.items() if v.kind.role != "pump"})
    names = {complaint.name for complaint in fitting(without, all_complaints().values())}
    assert "gfci_trips_with_pump" not in names and "panel_dead" in names
    assert "gfci_trips_with_pump" in {c.name for c in fitting(panel, all_complaints().values())}


def test_a_panel_may_be_named_by_its_file(tmp_path: Path) -> None:
    """The same panel by its name and by its path gives the same causes; a part may be given by its label."""
    copy = tmp_path / "mine.yaml"
    copy.write_bytes((knowledge_folder() / "panels" / f"{PANEL}.yaml").read_bytes())
    mine = open_model(str(copy), COMPLAINT, "element")
    assert [cause.key for cause in mine.causes] == [cause.key for cause in open_model(PANEL, COMPLAINT).causes]


# Plain lines ----------------------------------------------------------------------------------------------


def _plain(text: str, tmp_path: Path, *arguments: str) -> subprocess.CompletedProcess[str]:
    environment = {**ENVIRONMENT, "XDG_STATE_HOME": str(tmp_path)}
    return subprocess.run(
        [sys.executable, "-m", "diagnose", *arguments],
        input=text,
        capture_output=True,
        text=True,
        env=environment,
        timeout=120,
    )


def test_without_a_terminal_questions_are_plain_lines(tmp_path: Path) -> None:
    """From the panel to a check; the end of the input says how to go on, without a terminal's codes."""
    done = _plain(f"{PANEL}\nan element stays cold\n\n\nwhy\n1\n1\n", tmp_path, "start")
    assert (done.returncode, done.stderr) == (0, "")
    assert "\x1b" not in done.stdout
    (log,) = (tmp_path / "diagnose").glob("*.yaml")
    assert f"   diagnose resume {log}\n" in done.stdout
    header, events = read_log(log)
    assert (header.competence, header.instruments) == ("outside", ())
    assert {event.what for event in events} == {"answer"}


def test_with_nothing_to_read_nothing_is_begun(tmp_path: Path) -> None:
    done = _plain("", tmp_path, "start")
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.endswith("Nothing was begun.\n")
    assert not (tmp_path / "diagnose").exists()


def test_danger_before_the_first_question_ends_it(tmp_path: Path) -> None:
    done = _plain("smoke\n", tmp_path, "start")
    assert (done.returncode, done.stderr) == (0, "")
    assert "\nSTOP\n- Touch nothing." in done.stdout
    assert not (tmp_path / "diagnose").exists()


def test_a_stop_for_now_can_be_resumed_but_a_danger_stays(tmp_path: Path) -> None:
    log = tmp_path / "log.yaml"
    options = ["--competence", "outside", "--instruments", "none", "--log", str(log)]
    first = _plain("stop\n", tmp_path, *START, *options)
    assert first.returncode == 0 and f"   diagnose resume {log}\n" in first.stdout
    second = _plain("shock\n", tmp_path, "resume", str(log))
    assert "\nCheck 1 - " in second.stdout and "\nSTOP\n" in second.stdout
    third = _plain("1\n", tmp_path, "resume", str(log))
    assert "\nSTOP\n" in third.stdout and "Check" not in third.stdout
    assert [event.text for event in read_log(log)[1] if event.what == "stop"] == ["stopped", "shock"]


@pytest.mark.parametrize(("label", "code"), [("\\e[2Jlamp", USER), ("\\u202epmal taeh", DONE)])
def test_a_panel_file_can_t_steer_the_terminal(label: str, code: int, tmp_path: Path) -> None:
    """Escape sequences in labels are refused; what turns a line around is shown without its effect."""
    text = (knowledge_folder() / "panels" / f"{PANEL}.yaml").read_text(encoding="utf-8")
    panel = tmp_path / "evil.yaml"
    panel.write_text(f'{text}\nlabels:\n  element: "{label}"\n', encoding="utf-8")
    options = ["--complaint", COMPLAINT, "--competence", "outside", "--instruments", "none"]
    done = _plain("why\npath\n", tmp_path, "start", "--panel", str(panel), *options)
    assert done.returncode == code
    assert not {"\x1b", "\u202e"} & set(done.stdout + done.stderr)
    assert ("pmal taeh" in done.stdout) == (code == DONE)


def test_output_that_knows_ascii_alone_gets_ascii(tmp_path: Path) -> None:
    environment = {**ENVIRONMENT, "PYTHONIOENCODING": "ascii", "XDG_STATE_HOME": str(tmp_path)}
    done = subprocess.run(
        [*COMMAND, *START, "--competence", "outside", "--instruments", "multimeter"],
        input=b"\xff\xfe\nskip\n" * 12,
        capture_output=True,
        env=environment,
        timeout=120,
    )
    assert done.returncode in (DONE, NOT_FOUND) and done.stderr == b""
    assert done.stdout.isascii()
