"""The schemas that come along are those that the readers stand for, and say of files what the readers say."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import jsonschema
import pytest
import yaml

from diagnose.knowledge.folder import knowledge_folder
from diagnose.knowledge.library import load_library
from diagnose.opening import all_complaints
from diagnose.texts import load_texts
from diagnose.validate.schemas import schemas, text_of

ROOT = Path(__file__).resolve().parents[2]
FOLDER = knowledge_folder() / "schemas"
MADE = schemas(load_library(), load_texts(), all_complaints())
FILES = {
    "panel.schema.json": sorted((ROOT / "knowledge" / "panels").glob("*.yaml")),
    "part.schema.json": sorted((ROOT / "knowledge" / "parts").glob("*.yaml")),
    "complaints.schema.json": sorted((ROOT / "knowledge" / "complaints").glob("*.yaml")),
    "case.schema.json": sorted((ROOT / "cases").glob("*.yaml")),
}
SLIPS = yaml.safe_load((Path(__file__).parent / "slips.yaml").read_text(encoding="utf-8"))
SEEN_BY_A_SCHEMA = ("unknown choice", "unknown key", "is missing", "is no name", "stands here", "is not a list",
                    "there is no kind of part", "there is no caution", "there is no complaint",
                    "there is no role")  # fmt: skip


class Editor(yaml.SafeLoader):
    """YAML 1.2, as editors read it: only true and false are no text."""


Editor.yaml_implicit_resolvers = {
    first: [(tag, pattern) for tag, pattern in resolvers if tag != "tag:yaml.org,2002:bool"]
    for first, resolvers in yaml.SafeLoader.yaml_implicit_resolvers.items()
}
Editor.add_implicit_resolver("tag:yaml.org,2002:bool", re.compile("^(?:true|false)$"), list("tf"))


def loaded(text: str) -> Any:
    """A file as an editor sees it."""
    return yaml.load(text, Editor)


@pytest.mark.parametrize("name", sorted(FILES))
def test_a_schema_that_comes_along_is_the_one_that_is_made(name: str) -> None:
    """After a change of the readers' words: `diagnose validate --schemas knowledge/schemas`."""
    jsonschema.Draft202012Validator.check_schema(MADE[name])
    assert (FOLDER / name).read_text(encoding="utf-8") == text_of(MADE[name])
    assert {path.name for path in FOLDER.iterdir()} == set(FILES)


@pytest.mark.parametrize(("name", "path"), [(name, path) for name, paths in FILES.items() for path in paths],
                         ids=lambda value: value.stem if isinstance(value, Path) else "")  # fmt: skip
def test_what_comes_along_fits_its_schema(name: str, path: Path) -> None:
    validator = jsonschema.Draft202012Validator(MADE[name])
    found = [f"{list(error.path)}: {error.message[:200]}" for error in validator.iter_errors(loaded(path.read_text()))]
    assert found == []


@pytest.mark.parametrize("number", range(len(SLIPS)))
def test_slips_of_structure_do_not(number: int) -> None:
    slip = SLIPS[number]
    name = next((name for name, paths in FILES.items() if ROOT / slip["of"] in paths), None)
    structural = all(any(word in said for word in SEEN_BY_A_SCHEMA) for said in slip["says"])
    if name is None or not structural:
        return
    text = (ROOT / slip["of"]).read_text(encoding="utf-8").replace(slip["replace"], slip["by"], 1)
    assert not jsonschema.Draft202012Validator(MADE[name]).is_valid(loaded(text)), slip


def test_most_slips_of_structure_are_tried() -> None:
    tried = [s for s in SLIPS if all(any(word in said for word in SEEN_BY_A_SCHEMA) for said in s["says"])]
    assert len(tried) >= 25


def test_the_schemas_are_plain_json() -> None:
    for name in FILES:
        assert json.loads((FOLDER / name).read_text(encoding="utf-8"))["$schema"].startswith("https://json-schema.org")
