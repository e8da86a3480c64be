"""Which sort of file one is: told by its own keys, so that it may lie anywhere."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Literal

from diagnose.yamlfile import Mapping as MappingNode
from diagnose.yamlfile import Node

Sort = Literal["panel", "case", "part", "complaints", "session", "learned rates", "words", "unknown"]

_TELLS: tuple[tuple[Sort, frozenset[str]], ...] = (
    ("session", frozenset({"complaint", "events"})),
    ("case", frozenset({"case"})),
    ("panel", frozenset({"panel"})),
    ("part", frozenset({"kind"})),
)
_BY_FOLDER: Mapping[str, Sort] = {"panels": "panel", "parts": "part", "cases": "case"}
WORDS = (
    "cautions",
    "chains",
    "competence",
    "curves",
    "proofs",
    "rates",
    "regions",
    "slips",
    "sources",
    "steps",
    "supplies",
)
"""Files of the knowledge base of which there is one each, by their names."""


def sort_of(path: Path, node: Node) -> Sort:
    """Return what a file is meant to be; 'unknown' where neither its keys nor its place say it."""
    keys = set(node.keys()) if isinstance(node, MappingNode) else set()
    # A case names its panel as well, so what is told first counts.
    for sort, tells in _TELLS:
        if tells <= keys:
            return sort
    if path.parent.name == "complaints" or (isinstance(node, MappingNode) and _all_say(node)):
        return "complaints"
    if {"learned", "factors"} & keys:
        return "learned rates"
    if path.stem in WORDS:
        return "words"
    return _BY_FOLDER.get(path.parent.name, "unknown")


def _all_say(node: MappingNode) -> bool:
    return bool(node.entries) and all(
        isinstance(value, MappingNode) and {"says", "observed"} & set(value.keys()) for _, value in node.entries
    )
