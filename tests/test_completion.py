"""Completion for shells: every command and option of the parser is in it, and the shells that are there take it."""

from __future__ import annotations

import shlex
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from diagnose.cli import parser
from diagnose.completion import commands_of, completion_text
from diagnose.console_options import SHELLS
from diagnose.help_examples import EXAMPLES
from diagnose.opening import all_complaints, bundled_panels

COMMANDS = commands_of(parser())
COMMAND = [sys.executable, "-m", "diagnose"]


@pytest.mark.parametrize("shell", SHELLS)
def test_every_command_and_option_is_in_it(shell: str) -> None:
    text = completion_text(parser(), shell)
    assert len(COMMANDS) > 15
    for command in COMMANDS:
        assert command.name in text
        for option in command.options:
            for flag in option.flags:
                assert (f"-l {flag[2:]} " if shell == "fish" and flag.startswith("--") else flag.lstrip("-")) in text
    for entry in bundled_panels():
        assert entry.name in text
    for complaint in all_complaints():
        assert complaint in text


@pytest.mark.parametrize("shell", SHELLS)
def test_the_shell_itself_takes_it(shell: str, tmp_path: Path) -> None:
    """Its own syntax check, where it is installed."""
    program = shutil.which(shell)
    if program is None:
        pytest.skip(f"{shell} is not installed")
    path = tmp_path / "completion"
    path.write_text(completion_text(parser(), shell), encoding="utf-8")
    done = subprocess.run([program, "-n", str(path)], capture_output=True, text=True, timeout=30, check=False)
    assert done.returncode == 0 and not done.stderr, done.stderr


def _completed(path: Path, *words: str) -> list[str]:
    """What bash offers for the last of these words."""
    script = f"""source {path}
COMP_WORDS=({" ".join(f"'{word}'" for word in words)}); COMP_CWORD={len(words) - 1}
_diagnose; printf '%s\\n' "${{COMPREPLY[@]}}\""""
    bash = shutil.which("bash")
    assert bash is not None
    done = subprocess.run([bash, "-c", script], capture_output=True, text=True, timeout=30, check=True, cwd=path.parent)
    return done.stdout.split()


@pytest.mark.skipif(shutil.which("bash") is None, reason="bash is not installed")
def test_bash_completes_what_may_stand_there(tmp_path: Path) -> None:
    path = tmp_path / "completion"
    path.write_text(completion_text(parser(), "bash"), encoding="utf-8")
    assert _completed(path, "diagnose", "re") == ["resume", "replay", "review", "report"]
    assert "--complaint" in _completed(path, "diagnose", "start", "--co")
    assert _completed(path, "diagnose", "start", "--panel", "cel") == ["cellar_two_kettle"]
    assert _completed(path, "diagnose", "start", "--complaint", "element_c") == ["element_cold"]
    assert _completed(path, "diagnose", "draw", "--view", "o") == ["one-line"]
    assert _completed(path, "diagnose", "completion", "z") == ["zsh"]


@pytest.mark.parametrize("command", [command.name for command in COMMANDS])
def test_help_has_examples_that_work_and_the_exit_codes(command: str, capsys: pytest.CaptureFixture[str]) -> None:
    """Each example of a command is taken by the parser, and belongs to that command."""
    assert EXAMPLES[command]
    for example in EXAMPLES[command]:
        words = shlex.split(example.partition(" > ")[0])
        assert words[0] == "diagnose" and parser().parse_args(words[1:]).command == command
    with pytest.raises(SystemExit) as end:
        parser().parse_args([command, "--help"])
    shown = capsys.readouterr().out
    assert end.value.code == 0 and "Exit codes: 0 done; " in shown and EXAMPLES[command][0] in shown
    assert max(map(len, shown.splitlines())) <= 100


def test_a_reader_that_goes_away_is_no_error() -> None:
    """`diagnose kinds | head -1`: an exit code of 0, and nothing on the error output."""
    with subprocess.Popen([*COMMAND, "completion", "fish"], stdout=subprocess.PIPE, stderr=subprocess.PIPE) as running:
        assert running.stdout is not None and running.stderr is not None
        running.stdout.close()
        assert running.stderr.read() == b""
    assert running.returncode == 0


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="there is no full device here")
def test_an_output_that_is_full_is_told_as_something_to_mend() -> None:
    with Path("/dev/full").open("wb") as full:
        done = subprocess.run(
            [*COMMAND, "completion", "fish"], stdout=full, stderr=subprocess.PIPE, text=True, check=False
        )
    assert done.returncode == 2
    assert done.stderr == "the output can't be written: No space left on device; expected room for it\n"
