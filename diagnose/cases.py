"""Recorded faults: panel, complaint, answers by check, confirmed cause, provenance."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType

from diagnose.errors import Place
from diagnose.meter import INSTRUMENT_CHOICES
from diagnose.safety import COMPETENCES
from diagnose.yamlfile import Collector, Node, read
from diagnose.yamlfile import Mapping as MappingNode


@dataclass(frozen=True, slots=True)
class Confirmed:
    """What it turned out to be. An empty fault stands for any fault of the part; `also` is the other part of a pair."""

    part: str
    fault: str
    also: str = ""


@dataclass(frozen=True, slots=True)
class RecordedCase:
    """One recorded fault."""

    path: str
    title: str
    panel: str
    complaint: str
    part: str
    competence: str
    instruments: tuple[str, ...]
    answers: Mapping[str, str]
    again: Mapping[str, str]  # what was typed where a check was asked once more, since its answer fitted nothing
    confirmed: Confirmed
    group: tuple[str, ...]  # parts that no offered check tells apart, where there are such
    provenance: str
    notes: str
    place: Place


def read_case(path: Path, shown_as: str | None = None) -> RecordedCase:
    """Read a case; raises FileError with every problem, each with its line and column."""
    collect = Collector()
    node = read(path, shown_as)
    keys = collect.mapping(
        node,
        required=("case", "panel", "complaint", "answers", "confirmed", "provenance"),
        optional=("part", "competence", "instruments", "notes", "group", "again"),
    )
    collect.raise_errors()
    competence = collect.choice(keys["competence"], COMPETENCES) if "competence" in keys else "live"
    instruments = [collect.choice(item, INSTRUMENT_CHOICES) or "" for item in _items(collect, keys.get("instruments"))]
    confirmed = collect.mapping(keys["confirmed"], required=("part",), optional=("fault", "also"))
    case = RecordedCase(
        path=node.place.file,
        title=collect.text(keys["case"]),
        panel=collect.text(keys["panel"]),
        complaint=collect.word(keys["complaint"]),
        part=collect.text(keys["part"]) if "part" in keys else "",
        competence=competence or "live",
        instruments=tuple(instruments) if "instruments" in keys else ("multimeter",),
        answers=MappingProxyType(_answers(collect, keys["answers"])),
        again=MappingProxyType(_answers(collect, keys["again"]) if "again" in keys else {}),
        confirmed=Confirmed(
            collect.text(confirmed["part"]) if "part" in confirmed else "",
            collect.text(confirmed["fault"]) if "fault" in confirmed else "",
            collect.text(confirmed["also"]) if "also" in confirmed else "",
        ),
        group=tuple(collect.text(item) for item in _items(collect, keys.get("group"))),
        provenance=collect.text(keys["provenance"]),
        notes=collect.text(keys["notes"]) if "notes" in keys else "",
        place=node.place,
    )
    collect.raise_errors()
    return case


def _items(collect: Collector, node: Node | None) -> list[Node]:
    return [] if node is None else list(collect.sequence(node))


def _answers(collect: Collector, node: Node) -> dict[str, str]:
    if not isinstance(node, MappingNode):
        collect.error(node, "the answers are not a mapping", "check ids, each with what was read or seen")
        return {}
    return {key.text: collect.text(value) for key, value in node.entries}
