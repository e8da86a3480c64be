"""The drawings of a report, with what is marked in them, and the same in words."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from diagnose.drawing.crop import cropped
from diagnose.drawing.marks import Marks
from diagnose.drawing.svg import Look, one_line_svg, wiring_svg
from diagnose.drawing.wiring import rails_of, wiring_of
from diagnose.panel.records import Panel, part_of
from diagnose.report.records import Figure, PathStep
from diagnose.session import Session
from diagnose.topology import Step, power_path


def path_of(session: Session, marks: Marks) -> Iterable[PathStep]:
    """The way of the power to the complaint's subject, part by part, with what is marked on each."""
    panel, subject = session.model.panel, session.model.subject
    if not subject or not _is_load(panel, subject):
        return
    path = power_path(panel, subject)
    for name in dict.fromkeys((*upstream_parts(path.out), subject, *reversed(upstream_parts(path.back)))):
        numbers = [mark.number for mark in marks.readings if any(part_of(at) == name for at in mark.terminals)]
        yield PathStep(panel.label(name), marks.beside(name), tuple(dict.fromkeys(numbers)))


def upstream_parts(steps: Iterable[Step]) -> list[str]:
    """The parts that a way goes through or lands on, in its order, wires left out."""
    ends = [part_of(end) for step in steps for end in (step.tail, step.head)]
    return list(dict.fromkeys(ends))


def figures_of(session: Session, places: Sequence[str], marks: Marks) -> Iterable[Figure]:
    """The way of the power to the complaint's subject, and the wiring of what was measured and suspected."""
    panel, subject = session.model.panel, session.model.subject
    if subject and _is_load(panel, subject):
        alone = cropped(panel, (subject,))
        look = Look(heading=False, legend=False, least_width=240.0)
        yield Figure(
            one_line_svg(alone, marks, look),
            f"The way of the power to {panel.label(subject)}, the supply on top.",
            False,
        )
    part = cropped(panel, [*places, *([subject] if subject else [])])
    rails = rails_of(part)
    ahead = {panel.supply.service, *panel.supply.protection}
    marked = {part_of(place) for place in places} - rails.keys()
    supply = not rails or bool(marked & (ahead | _ahead_of_rails(part)))
    look = Look(heading=False, legend=False, least_width=300.0, supply=supply)
    left_out = len(panel.parts) - len(part.parts)
    more = f" {left_out} parts that have no share in it are left out." if left_out else ""
    yield Figure(wiring_svg(part, marks, look), f"The wiring of what was looked at.{more}", True)


def _is_load(panel: Panel, subject: str) -> bool:
    if panel.kind_of(subject).role not in ("heater", "pump", "fan"):
        return False
    try:
        return bool(power_path(panel, subject).out)
    except ValueError:
        return False


def _ahead_of_rails(panel: Panel) -> set[str]:
    return {name for name in wiring_of(panel).supply.nodes if name in panel.parts}


def figure_notes(marks: Marks) -> Iterable[str]:
    """How to read the marks."""
    if marks.culprits:
        yield "Double heavy frame and FOUND: at fault."
    if marks.suspects:
        yield "Broken heavy frame and a question mark: under suspicion, with its share."
    if marks.readings:
        yield "Numbers are those of the list above, where each was taken. Round: as it should be. Square: not."
