"""Values of a knowledge file that say nowhere where they are from."""

from __future__ import annotations

import re
from collections.abc import Iterator

from diagnose.errors import Place, Problem
from diagnose.knowledge.sources import Sources
from diagnose.yamlfile import Mapping, Node, Scalar, Sequence

_NUMBER = re.compile(r"(?<![A-Za-z_0-9.])\d+(?:\.\d+)?")
_SPOKEN = ("title", "question", "procedure", "remedy", "note", "text", "says", "source", "ask", "stands_for", "lines")


def unsourced(text: str, node: Node, sources: Sources) -> Iterator[Problem]:
    """A warning for each value without a source.

    A value has one if a comment on its line, or above it in its block, names it; if its key is among what
    `unless_said` tells; or if the file's first comment names one for all. Comments are read from the file's text, since
    YAML drops them.
    """
    lines = text.splitlines()
    head = [line for line in _until(lines) if line.lstrip().startswith("#")]
    if sources.cites(" ".join(head)):
        return
    for place, key in values(node, ""):
        if key not in sources.unless_said and not sources.cites(_said(lines, place.line - 1)):
            yield Problem(
                f"the value of '{key}' has no source",
                "a comment above it that names a document of sources.yaml, or common practice, from memory, invented",
                place, "warning", "unsourced",
            )  # fmt: skip


def values(node: Node, key: str) -> Iterator[tuple[Place, str]]:
    """Where numbers stand that are a claim, each with the key that it belongs to."""
    if isinstance(node, Scalar):
        if _NUMBER.search(node.text):
            yield node.place, key
    elif isinstance(node, Sequence):
        for item in node.items:
            yield from values(item, key)
    elif isinstance(node, Mapping):
        for name, value in node.entries:
            if name.text not in _SPOKEN:
                # Under a key that is told for all, names are outcomes or branches.
                yield from values(value, key if key in ("outcomes", "does") else name.text)


def _until(lines: list[str]) -> Iterator[str]:
    for line in lines:
        if line.strip() and not line.lstrip().startswith("#"):
            return
        yield line


def _said(lines: list[str], number: int) -> str:
    """The comments that belong to a line: on it, above it, and above each block that it stands in."""
    told = [lines[number].partition("#")[2]]
    depth = _depth(lines[number])
    for line in reversed(lines[:number]):
        bare = line.strip()
        if bare.startswith("#"):
            if _depth(line) <= depth:
                told.append(bare)
        elif bare and _depth(line) < depth:
            depth = _depth(line)
            told.append(bare.partition("#")[2])
        elif bare and depth == 0:
            break
    return " ".join(told)


def _depth(line: str) -> int:
    return len(line) - len(line.lstrip())
