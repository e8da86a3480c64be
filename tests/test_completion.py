"""Completion for shells: every command and option of the parser is in it, and the shells that are there take it."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import pytest

from diagnose.cli import parser
from diagnose.completion import commands_of, completion_text
from diagnose.console_options import SHELLS
from diagnose.opening import all_complaints, bundled_panels

COMMANDS = commands_of(parser())


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
