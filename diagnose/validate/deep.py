"""What only a panel's solved circuit tells: faults that nothing confirms or shows, and checks that nobody comes to."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from diagnose.coverage.gather import Coverage, cover
from diagnose.errors import Place, Problem
from diagnose.knowledge.records import Complaint
from diagnose.panel.records import Panel


def deep_problems(panel: Panel, complaints: dict[str, Complaint], say: Callable[[str], None]) -> Iterator[Problem]:
    """Work a panel through every complaint that it can have; takes a minute or more. `say` is told how far it is."""
    yield from problems_of(cover(panel, complaints, say))


def problems_of(coverage: Coverage) -> Iterator[Problem]:
    """A note for each fault that no check tells from another part's, or that leads to no complaint; a warning for each
    check that no guard lets anybody come to, and for each part that no complaint leads to.
    """
    panel = coverage.panel
    for row in coverage.rows:
        others = row.mistaken[-1]
        if others:
            labels = ", ".join(panel.label(part) for part in others[:3]) + (" and more" if len(others) > 3 else "")
            yield Problem(
                f"no single check confirms '{row.part}:{row.fault}' against {labels}",
                "a reading or a sign in which they differ, or a group of them as the answer",
                _place(panel, row.part), "note", "not confirmed",
            )  # fmt: skip
    for part, fault, _ in coverage.silent:
        yield Problem(
            f"no complaint leads to '{part}:{fault}'", "a complaint with a sign of it, or a proof check that finds it",
            _place(panel, part), "note", "not complained of",
        )  # fmt: skip
    for check in coverage.unreachable:
        yield Problem(
            f"nobody comes to the check '{check}'", "a setup and an exposure that some competence allows",
            panel.place, "warning", "unreachable",
        )  # fmt: skip


def _place(panel: Panel, name: str) -> Place:
    return panel.parts[name].place if name in panel.parts else panel.wires_by_name[name].place
