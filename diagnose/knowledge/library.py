"""The knowledge base as a whole: where it lies, and all of it read once."""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from types import MappingProxyType

from diagnose.errors import FileError, Problem
from diagnose.knowledge.folder import knowledge_folder, shown
from diagnose.knowledge.kinds import read_kind
from diagnose.knowledge.records import Kind
from diagnose.yamlfile import Collector, Node, Scalar, read
from diagnose.yamlfile import Mapping as MappingNode

__all__ = ["Conductor", "Library", "SupplySystem", "knowledge_folder", "load_library", "shown"]


_SHARE = r"(\d{1,3}(?:\.\d{1,9})?)"


@dataclass(frozen=True, slots=True)
class Conductor:
    """One conductor on its way from the service to the panel."""

    name: str
    service: str
    wall: str
    cord: str
    protection: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class SupplySystem:
    """A voltage system: its service, frequency and range."""

    name: str
    title: str
    service: str
    frequency_hertz: float
    low: float
    high: float
    wall: str  # the kind that the feed cord plugs into
    wired: str  # the kind where the feed ends, on a panel that is wired in
    conductors: tuple[Conductor, ...]


@dataclass(frozen=True, slots=True)
class Library:
    """Everything in knowledge/ that a panel or a session needs."""

    folder: Path
    kinds: Mapping[str, Kind]
    supplies: Mapping[str, SupplySystem]

    def nearest_kind(self, name: str) -> str:
        """A hint such as ' (did you mean 'contactor'?)', or nothing."""
        return self.suggestion(name, self.kinds)

    @staticmethod
    def suggestion(name: str, known: Iterable[str]) -> str:
        """A hint for a name that is not among the known ones, or nothing."""
        near = difflib.get_close_matches(name, list(known), 1)
        return f" (did you mean '{near[0]}'?)" if near else ""


@lru_cache(maxsize=4)
def load_library(folder: Path | None = None) -> Library:
    """Read parts and supplies; raises FileError with every problem of every file."""
    folder = folder or knowledge_folder()
    problems: list[Problem] = []
    kinds: dict[str, Kind] = {}
    for path in sorted((folder / "parts").glob("*.yaml")):
        try:
            kind = read_kind(path, shown(path, folder))
        except FileError as error:
            problems.extend(error.problems)
            continue
        if kind.name in kinds:
            problems.append(Problem(f"there are two kinds named '{kind.name}'", "one file a kind", kind.place))
        kinds[kind.name] = kind
    collector = Collector()
    supplies = _supplies(collector, read(folder / "supplies.yaml", shown(folder / "supplies.yaml", folder)))
    problems.extend(collector.problems)
    if problems:
        raise FileError(*problems)
    return Library(folder, MappingProxyType(kinds), MappingProxyType(supplies))


def _supplies(collect: Collector, node: Node) -> dict[str, SupplySystem]:
    systems: dict[str, SupplySystem] = {}
    if not isinstance(node, MappingNode):
        collect.error(node, "the supplies are not a mapping", "names of voltage systems")
        return systems
    for key, value in node.entries:
        keys = collect.mapping(
            value, required=("title", "service", "frequency", "range", "wall", "conductors"), optional=("wired",)
        )
        if not {"title", "service", "frequency", "range", "wall", "conductors"} <= keys.keys():
            continue
        match = re.fullmatch(rf"{_SHARE}\s*-\s*{_SHARE}", collect.text(keys["range"]), re.ASCII)
        if match is None:
            collect.error(value, "the range is not two shares", "range: 0.95 - 1.05")
            continue
        systems[key.text] = SupplySystem(
            name=key.text,
            title=collect.text(keys["title"]),
            service=collect.word(keys["service"]),
            frequency_hertz=collect.quantity(keys["frequency"], "frequency") or 50.0,
            low=float(match[1]),
            high=float(match[2]),
            wall=collect.word(keys["wall"]),
            wired=collect.word(keys["wired"] if "wired" in keys else keys["wall"]),
            conductors=tuple(_conductors(collect, keys["conductors"])),
        )
    return systems


def _conductors(collect: Collector, node: Node) -> Iterable[Conductor]:
    if not isinstance(node, MappingNode):
        collect.error(node, "the conductors are not a mapping", "names of conductors")
        return
    for key, value in node.entries:
        keys = collect.mapping(value, required=("service", "wall", "cord", "protection"), optional=())
        if not {"service", "wall", "cord", "protection"} <= keys.keys():
            continue
        pairs = []
        for pair in collect.sequence(keys["protection"]):
            ends = [item.text for item in collect.sequence(pair) if isinstance(item, Scalar)]
            if len(ends) == 2:
                pairs.append((ends[0], ends[1]))
            else:
                collect.error(pair, f"{len(ends)} terminals stand here", "a pair of terminals, as [a, b]")
        yield Conductor(
            key.text,
            collect.text(keys["service"]),
            collect.text(keys["wall"]),
            collect.text(keys["cord"]),
            tuple(pairs),
        )
