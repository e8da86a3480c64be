"""The authoring guide works as it is written: its files in a copy of the checkout, its commands run there."""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
GUIDE = (ROOT / "knowledge" / "README.md").read_text(encoding="utf-8")
FILES = re.findall(r"`((?:knowledge|cases)/[\w/]+\.yaml)`:\n\n```yaml\n(.*?)^```", GUIDE, re.MULTILINE | re.DOTALL)
COMMANDS = [
    line for block in re.findall(r"^```sh\n(.*?)^```", GUIDE, re.MULTILINE | re.DOTALL) for line in block.splitlines()
]


@pytest.fixture(scope="module")
def checkout(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of the program and its knowledge base, with the guide's files in it."""
    folder = tmp_path_factory.mktemp("guide")
    for name in ("diagnose", "knowledge"):
        shutil.copytree(ROOT / name, folder / name, ignore=shutil.ignore_patterns("__pycache__"))
    for name, text in FILES:
        path = folder / name
        assert not path.exists(), f"{name} of the guide stands in the knowledge base already"
        path.parent.mkdir(exist_ok=True)
        path.write_text(text, encoding="utf-8")
    return folder


def test_the_guide_has_an_example_of_each() -> None:
    """A part, a complaint, a panel and a case, and a command for each."""
    assert {Path(name).parent.as_posix() for name, _ in FILES} == {
        "knowledge/parts", "knowledge/complaints", "knowledge/panels", "cases",
    }  # fmt: skip
    assert len(re.findall(r"^```yaml", GUIDE, re.MULTILINE)) == len(FILES)
    assert all(any(Path(name).stem in command for command in COMMANDS) for name, _ in FILES)


@pytest.mark.parametrize("command", COMMANDS)
def test_a_command_of_the_guide_does_what_it_says(command: str, checkout: Path) -> None:
    """Each ends well; `validate` finds nothing, a replayed case passes."""
    program, *arguments = command.split()
    assert program == "diagnose"
    done = subprocess.run(
        [sys.executable, "-m", "diagnose", *arguments],
        cwd=checkout,
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    if arguments[0] == "validate":
        assert done.stdout.strip() == "1 file: sound"
    if arguments[0] == "replay":
        assert "1 passed, 0 failed" in done.stdout
    if arguments[0] == "kinds":
        assert "level switch" in done.stdout
