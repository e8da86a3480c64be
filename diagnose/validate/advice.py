"""No text of a file may advise what is never advised."""

from __future__ import annotations

from collections.abc import Iterator

from diagnose.errors import Problem
from diagnose.knowledge.never import findings_in
from diagnose.yamlfile import Node, Scalar, Sequence


def advised(node: Node) -> Iterator[Problem]:
    """An error for each sentence of a file that a rule in `knowledge.never` forbids."""
    if isinstance(node, Scalar):
        if " " in node.text.strip():
            for found in findings_in(node.text):
                yield Problem(f"this is never advised: {found.sentence!r}", f"words without it, since {found.reason}",
                              node.place, rule=found.rule)  # fmt: skip
        return
    for value in node.items if isinstance(node, Sequence) else (value for _, value in node.entries):
        yield from advised(value)
