"""The documents can't drift from the code: commands, names and examples in them are held against it."""

from __future__ import annotations

import argparse
import re
import subprocess
from pathlib import Path

import pytest

CHECKOUT = Path(__file__).resolve().parents[1]
KNOWLEDGE = CHECKOUT / "knowledge"
README = (CHECKOUT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (CHECKOUT / "DEVELOPERS.md").read_text(encoding="utf-8")
THIS = Path(__file__).resolve()


def _blocks(text: str, language: str) -> list[str]:
    return re.findall(rf"^```{language}\n(.*?)^```", text, re.MULTILINE | re.DOTALL)


def _tracked() -> list[Path]:
    """Files that belong to the project: those under version control, or in an sdist all that are text."""
    try:
        done = subprocess.run(["git", "ls-files", "-z"], cwd=CHECKOUT, capture_output=True, text=True, check=True)
        found = [CHECKOUT / name for name in done.stdout.split("\0") if name]
    except (OSError, subprocess.CalledProcessError):
        found = [
            path for folder in ("diagnose", "knowledge", "cases", "tests") for path in (CHECKOUT / folder).rglob("*")
        ]
    return sorted(path for path in found if path.is_file() and path != THIS and "__pycache__" not in path.parts)


def test_readme_begins_with_what_it_is_for_and_its_safety() -> None:
    """Who reads no further has read the sentence that matters."""
    start = " ".join(README.partition("\n## ")[0].split())
    for words in ("electric brewing panel", "local", "electrician", "never", "earth", "interlock"):
        assert words in start.lower(), words


def test_readme_commands_are_the_ones_that_ci_runs() -> None:
    """Both commands are whole on a fresh clone, and are run as they stand there."""
    commands = [
        line for block in _blocks(README, "sh") for line in block.splitlines() if line.startswith("python3 -m venv")
    ]
    assert len(commands) == 2
    script = (CHECKOUT / ".ci" / "run").read_text(encoding="utf-8")
    runs = [line.removesuffix("< /dev/null").strip() for line in script.splitlines()]
    assert [command for command in commands if command not in runs] == []


def _subcommands() -> dict[str, argparse.ArgumentParser]:
    """The commands that the command line knows."""
    from diagnose.cli import parser

    commands: dict[str, argparse.ArgumentParser] = {}
    for action in parser()._actions:
        if isinstance(action, argparse._SubParsersAction):
            commands.update(action.choices)
    return commands


def test_every_command_is_in_the_readme() -> None:
    """A command that nobody can read about is not there."""
    commands = _subcommands()
    assert {"start", "resume", "replay"} <= commands.keys()
    assert [name for name in commands if f"`diagnose {name}" not in README] == []


def test_options_in_the_readme_exist() -> None:
    """An option in the README is one that some command takes."""
    known = {
        option for parser in _subcommands().values() for action in parser._actions for option in action.option_strings
    } | {"--help", "--version"}
    spoken = {
        option
        for line in README.splitlines()
        if "diagnose " in line
        for option in re.findall(r"(?<![\w-])--[a-z][a-z-]*", line)
    }
    assert sorted(spoken - known) == []


def test_exit_codes_in_the_readme_are_those_of_the_command_line() -> None:
    """A script that runs the program goes by them."""
    from diagnose import cli

    told = {int(code) for code in re.findall(r"^\| (\d+) \|", README, re.MULTILINE)}
    assert told == {cli.DONE, cli.NOT_FOUND, cli.USER, cli.BUG, cli.INTERRUPTED}


def test_every_module_and_package_is_in_the_contributors_guide() -> None:
    """The guide's picture of the layers is the tree as it is."""
    package = CHECKOUT / "diagnose"
    names = {path.stem for path in package.glob("*.py")} | {path.parent.name for path in package.glob("*/__init__.py")}
    missing = [name for name in sorted(names - {"__init__"}) if not re.search(rf"\b{name}\b", DEVELOPERS)]
    assert missing == []


def test_the_panel_in_the_readme_is_one_that_can_be_read(tmp_path: Path) -> None:
    """The example to start from has no mistake in it."""
    from diagnose.circuit.netlist import build
    from diagnose.knowledge.library import load_library
    from diagnose.panel.reader import read_panel

    panels = [block for block in _blocks(README, "yaml") if "panel:" in block]
    assert panels, "the README shows no panel"
    for text in panels:
        path = tmp_path / "panel.yaml"
        path.write_text(text, encoding="utf-8")
        assert build(read_panel(path, load_library())).places


def test_the_examples_in_the_contributors_guide_can_be_read(tmp_path: Path) -> None:
    """A kind, a complaint and a case, each as it would stand in its folder."""
    from diagnose.cases import read_case
    from diagnose.knowledge.complaints import read_complaints
    from diagnose.knowledge.kinds import read_kind

    path = tmp_path / "example.yaml"
    read = set()
    for text in _blocks(DEVELOPERS, "yaml"):
        path.write_text(text, encoding="utf-8")
        if "\nkind: " in text:
            read.add(read_kind(path, "example.yaml").name)
        elif "\ncase: " in text:
            read.add(read_case(path, "example.yaml").title)
        else:
            read.update(complaint.name for complaint in read_complaints(path, "example.yaml"))
    assert read == {"stop_button", "lamp_always_lit", "boil element burned open"}


@pytest.mark.parametrize("name", ["README.md", "DEVELOPERS.md"])
def test_files_named_in_the_documents_exist(name: str) -> None:
    """A path in backticks that looks like one of the project's own leads somewhere."""
    text = re.sub(r"^```.*?^```", "", (CHECKOUT / name).read_text(encoding="utf-8"), flags=re.MULTILINE | re.DOTALL)
    paths = re.findall(r"`((?:diagnose|knowledge|cases|tests|\.ci)/[\w./-]*|[A-Z]+\.md)`", text)
    assert [path for path in paths if not (CHECKOUT / path).exists()] == []


MACHINE_PATHS = re.compile(r"(?<![\w.<>}])/(?:work|root|tmp|home|Users)/")
# How the work was organised is no part of the project.
NOT_OURS = re.compile(
    r"issue #\d|\b(?:previous|earlier|next|another|helper|coding) session(?:'s)? (?:of|by|wrote|did|will)\b"
    r"|\blanguage model|\bsub-?agents?\b|\bseed document|\bthe brief\b|co-authored-by",
    re.IGNORECASE,
)


@pytest.mark.parametrize("path", _tracked(), ids=lambda path: path.relative_to(CHECKOUT).as_posix())
def test_files_speak_of_the_project_only(path: Path) -> None:
    """No file names a place on one machine, or says how the work on it was shared out."""
    text = path.read_text(encoding="utf-8")
    found = [
        f"{number}: {line.strip()}"
        for number, line in enumerate(text.splitlines(), start=1)
        if MACHINE_PATHS.search(line) or NOT_OURS.search(line)
    ]
    assert found == []


@pytest.mark.parametrize(
    "path", sorted(KNOWLEDGE.rglob("*.yaml")), ids=lambda path: path.relative_to(KNOWLEDGE).as_posix()
)
def test_knowledge_files_say_what_they_are_for(path: Path) -> None:
    """Each begins with a comment for the person who opens it."""
    first = path.read_text(encoding="utf-8").splitlines()[0]
    assert re.match(r"# [A-Z].{15,}", first), first
