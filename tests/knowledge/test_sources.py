"""Every value says where it is from, and every document that is named stands once in knowledge/sources.yaml."""

from __future__ import annotations

from pathlib import Path

import pytest

from diagnose.errors import FileError
from diagnose.knowledge.folder import knowledge_folder
from diagnose.knowledge.sources import designations, load_sources
from diagnose.validate.reading import VALUED, problems_in
from diagnose.validate.unsourced import unsourced, values
from diagnose.yamlfile import parse, read

ROOT = Path(__file__).resolve().parents[2]
SOURCES = load_sources()
TEXTS = sorted(
    path
    for folder in ("knowledge", "diagnose", "tests", "cases")
    for path in (ROOT / folder).rglob("*")
    if path.suffix in (".py", ".yaml") and path.name not in ("sources.yaml", "test_sources.py")
)
VALUES = [
    path
    for path in sorted(knowledge_folder().rglob("*.yaml"))
    if path.parent.name == "parts" or (path.parent == knowledge_folder() and path.stem in VALUED)
]


def test_every_document_that_is_named_is_listed() -> None:
    unknown = {
        (path.relative_to(ROOT).as_posix(), each)
        for path in TEXTS
        for each in designations(path.read_text(encoding="utf-8"))
        if SOURCES.of(each) is None
    }
    assert unknown == set()


def test_every_document_that_is_listed_is_used() -> None:
    used = {
        source.name
        for path in TEXTS
        for each in designations(path.read_text(encoding="utf-8"))
        if (source := SOURCES.of(each)) is not None
    }
    assert set(SOURCES.documents) - used == set()


@pytest.mark.parametrize("path", VALUES, ids=lambda path: path.stem)
def test_no_value_lacks_its_source(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    assert [str(each) for each in unsourced(text, read(path), SOURCES)] == []


def test_there_are_values_enough_for_that_to_mean_something() -> None:
    assert sum(len(list(values(read(path), ""))) for path in VALUES) > 900


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("# A part.\nsize: 3\n", 1),
        ("# A part: common practice.\nsize: 3\n", 0),
        ("# A part.\n# IEC 60751.\n\nsize: 3\n", 0),
        ("# A part.\na:\n  # IEC 60751 class B.\n  size: 3\n  width: 4 m\n", 0),
        ("# A part.\na:\n  size: 3  # invented\nb:\n  width: 4 m\n", 1),
        ("# A part.\na:\n  size: 3\n  # invented\n  width: 4 m\n", 1),
        ("# A part.\nminutes: 3\ntitle: part 3\n", 0),
        ("# A part.\na:\n  # IEC 99999.\n  size: 3\n", 1),
    ],
)
def test_a_source_is_a_comment_on_or_above(text: str, found: int) -> None:
    assert len(list(unsourced(text, parse(text, "x.yaml"), SOURCES))) == found


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("NEC 240.4(D)", "NEC"),
        ("NFPA 70E", "NFPA 70E"),
        ("NFPA 70", "NEC"),
        ("IEC 60364-4-41 cl. 411.3.3", "IEC 60364"),
        ("IEC 60127-2", "IEC 60127"),
        ("NETA MTS", "NETA MTS"),
        ("NBS Handbook 100", "NBS Handbook 100"),
    ],
)
def test_a_clause_or_part_belongs_to_its_document(text: str, name: str) -> None:
    (told,) = designations(text)
    source = SOURCES.of(told)
    assert source is not None and source.name == name


def test_a_default_without_a_source_is_refused(tmp_path: Path) -> None:
    (tmp_path / "sources.yaml").write_text(
        "# Sources.\nstandards: {}\nwords: {invented: made up}\nunless_said: {minutes: dunno}\n", encoding="utf-8"
    )
    with pytest.raises(FileError, match=r"4:24: 'dunno' says no source; expected one of invented"):
        load_sources(tmp_path)


def test_validate_warns_of_a_value_without_a_source(tmp_path: Path) -> None:
    text = (knowledge_folder() / "parts" / "fan.yaml").read_text(encoding="utf-8")
    comment = next(line for line in text.splitlines() if line.startswith("# A 120 mm fan"))
    path = tmp_path / "fan.yaml"
    path.write_text(text.replace(comment + "\n", ""), encoding="utf-8")
    (problem,) = problems_in([path])
    assert (problem.level, problem.rule) == ("warning", "unsourced") and "'airflow'" in problem.message
