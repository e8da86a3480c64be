"""How much the knowledge base holds: panels, complaints, kinds of part, of cause and of check, recorded cases."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from diagnose.knowledge.folder import knowledge_folder
from diagnose.knowledge.library import load_library
from diagnose.opening import all_complaints, bundled_panels


def counted(cases: Path | None = None) -> Iterator[tuple[str, int]]:
    """What there is, each with its number; with a folder of cases those as well.

    A kind of cause is one fault of one kind of part, whatever its level; a kind of check is one sign or one pair of
    points to measure at, of one kind of part.
    """
    kinds = load_library().kinds.values()
    complaints = all_complaints().values()
    yield "panels", len(bundled_panels())
    yield "supplies", len(load_library().supplies)
    yield "kinds of part", len(kinds)
    yield "kinds of cause", sum(len(kind.faults) for kind in kinds)
    yield "kinds of check", sum(len(kind.signs) + len(kind.probings) for kind in kinds)
    yield "complaints", len(complaints)
    yield "phrasings of complaints", sum(len(complaint.says) for complaint in complaints)
    if cases is not None:
        yield "recorded cases", len(list(cases.rglob("*.yaml")))


def main_counts() -> int:
    """Print the counts, those of the cases where a checkout has them; returns 0."""
    beside = knowledge_folder().parent / "cases"
    for what, number in counted(beside if beside.is_dir() else None):
        print(f"{number:5d}  {what}")
    return 0
