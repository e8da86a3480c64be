"""One slip in a sound file gives its messages, each at its place; what comes along is sound."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest
import yaml

from diagnose.cli import DONE, USER, main
from diagnose.knowledge.folder import knowledge_folder
from diagnose.validate.reading import problems_in

ROOT = Path(__file__).resolve().parents[2]
SLIPS = yaml.safe_load((Path(__file__).parent / "slips.yaml").read_text(encoding="utf-8"))
START = ["start", "--panel", "shed_single_kettle", "--complaint", "element_cold", "--competence", "live"]


@pytest.fixture(scope="module")
def session_text(tmp_path_factory: pytest.TempPathFactory) -> str:
    """The log of a session that was begun, as the program writes it."""
    import io
    import sys

    log = tmp_path_factory.mktemp("session") / "log.yaml"
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(sys, "stdin", io.StringIO(""))
        assert main([*START, "--instruments", "multimeter", "--log", str(log)]) == DONE
    return log.read_text(encoding="utf-8")


def broken(slip: dict[str, str], folder: Path, session: str) -> Path:
    """A file with its slip, beside what it needs."""
    of = slip["of"]
    if of == "SESSION":
        path, text = folder / "log.yaml", session
    elif of == "NOTE":
        path, text = folder / "note.yaml", "just: a note\n"
    else:
        path = folder / of
        text = (ROOT / of).read_text(encoding="utf-8")
        if of.startswith("knowledge/"):
            shutil.copytree(ROOT / "knowledge", folder / "knowledge")
        path.parent.mkdir(parents=True, exist_ok=True)
    assert slip["replace"] in text
    path.write_text(text.replace(slip["replace"], slip["by"], 1), encoding="utf-8")
    return path


def test_there_are_slips_of_every_sort_and_enough() -> None:
    assert len(SLIPS) >= 60
    assert {Path(slip["of"]).parent.name for slip in SLIPS} >= {"panels", "parts", "complaints", "cases", "knowledge"}
    assert all(slip["says"] for slip in SLIPS)


@pytest.mark.parametrize("slip", SLIPS, ids=[f"{number}_{Path(each['of']).stem}" for number, each in enumerate(SLIPS)])
def test_a_slip_is_told_where_it_is(slip: dict[str, str], tmp_path: Path, session_text: str) -> None:
    path = broken(slip, tmp_path, session_text)
    found = [problem for problem in problems_in([path]) if problem.level == "error"]
    sound = session_text if slip["of"] == "SESSION" else "" if slip["of"] == "NOTE" else (ROOT / slip["of"]).read_text()
    at = sound[: sound.index(slip["replace"])].count("\n") + 1
    told = [f"{each.place.line - at:+d}:{each.place.column}: {each.message}" for each in found if each.place]
    assert told == slip["says"]
    assert all(each.place and Path(each.place.file) == path for each in found)
    assert all(each.expected for each in found), "each says what was expected"


@pytest.mark.parametrize("what", ["knowledge", "cases"])
def test_what_comes_along_is_sound(what: str) -> None:
    """Not a warning is left either: `diagnose validate --strict` ends well."""
    assert [str(each) for each in problems_in([ROOT / what]) if each.level != "note"] == []


def test_complaints_that_observe_the_same_must_differ_in_what_a_sound_panel_gets(tmp_path: Path) -> None:
    shutil.copytree(ROOT / "knowledge", tmp_path / "knowledge")
    path = tmp_path / "knowledge" / "complaints" / "heat.yaml"
    text = path.read_text(encoding="utf-8")
    assert text.count("rate: occasional") == 1
    path.write_text(text.replace("rate: occasional", "rate: common"), encoding="utf-8")
    (told,) = [each for each in problems_in([path]) if each.rule == "alike"]
    assert told.level == "warning"
    assert "'slower_than_before' observes what 'slow_to_boil' does, so that they can't be told apart" in told.message


def test_all_findings_come_at_once_sorted_and_as_json(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for number, slip in enumerate(SLIPS[:6]):
        panel = (ROOT / slip["of"]).read_text(encoding="utf-8").replace(slip["replace"], slip["by"], 1)
        (tmp_path / f"panel_{number}.yaml").write_text(panel, encoding="utf-8")
    assert main(["validate", str(tmp_path), "--format", "json"]) == USER
    told = json.loads(capsys.readouterr().out)
    assert told["files"] == 6 and told["error"] == sum(len(slip["says"]) for slip in SLIPS[:6])
    places = [(each["file"], each["line"], each["column"]) for each in told["findings"]]
    assert places == sorted(places)
    assert main(["validate", str(tmp_path)]) == USER
    lines = capsys.readouterr().out.splitlines()
    assert len(lines) == told["error"] + 1 and lines[-1].startswith("6 files: ")


def test_a_warning_fails_only_where_it_is_asked_to(tmp_path: Path) -> None:
    shutil.copytree(knowledge_folder(), tmp_path / "knowledge")
    path = tmp_path / "knowledge" / "parts" / "lamp.yaml"
    text = path.read_text(encoding="utf-8")
    assert "kind: lamp\n" in text
    (tmp_path / "knowledge" / "parts" / "lantern.yaml").write_text(text.replace("kind: lamp\n", "kind: torch\n"))
    (warning,) = problems_in([tmp_path / "knowledge" / "parts" / "lantern.yaml"])
    assert (warning.level, warning.rule) == ("warning", "file name")
    assert main(["validate", str(tmp_path / "knowledge" / "parts" / "lantern.yaml")]) == DONE
    assert main(["validate", "--strict", str(tmp_path / "knowledge" / "parts" / "lantern.yaml")]) == USER


def test_a_path_that_is_not_there_is_said(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["validate", "nowhere.yaml"]) == USER
    assert (
        capsys.readouterr().err
        == "nowhere.yaml: there is no such file or folder; expected a file, or a folder of files\n"
    )


def test_what_a_file_says_never_steers_the_terminal(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "panel.yaml"
    path.write_text('panel: "\\e[2Jx"\ntitle: "\\u202e"\n', encoding="utf-8")
    assert main(["validate", str(path)]) == USER
    shown = capsys.readouterr().out
    assert "\x1b" not in shown and "\u202e" not in shown
