"""Reads knowledge/sources.yaml: every document that a value is from, and what stands for one where there is none."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from types import MappingProxyType

from diagnose.knowledge.folder import knowledge_folder, shown
from diagnose.yamlfile import Collector, read

CAME = ("seen", "memory")
DESIGNATION = re.compile(
    r"\b(?:IEC|EN|BS|UL|NFPA|ASTM|ISO|AS/NZS|HSE|WAC|NETA|ANSI|IEEE|NIST|NBS|NBSIR|IAPWS|ITS|NEC|WCAG)"
    r"(?:[ -](?:Monograph |Handbook )?[A-Z]{0,5}\d[\d.-]*\d[A-Z]?|[ -](?:Monograph |Handbook )?[A-Z]{0,4}\d[A-Z]?| MTS)"
)
"""What looks like a standard's or a report's designation in a text."""


@dataclass(frozen=True, slots=True)
class Source:
    """A document: its title, the edition, and whether its values were seen or recalled."""

    name: str
    title: str
    edition: str
    came: str
    also: tuple[str, ...] = ()  # other designations of the same document


@dataclass(frozen=True, slots=True)
class Sources:
    """All documents, the words that stand for none, and where a value is from that says nothing."""

    documents: Mapping[str, Source]
    words: Mapping[str, str]
    unless_said: Mapping[str, str]

    def of(self, designation: str) -> Source | None:
        """The document that a designation belongs to: itself, or the one that it is a part or a clause of."""
        plain = designation.replace("IAPWS ", "IAPWS-").rstrip(".-")
        named = {name: source for source in self.documents.values() for name in (source.name, *source.also)}
        fitting = [name for name in named if plain == name or re.match(re.escape(name) + r"[\s.-]", plain)]
        return named[max(fitting, key=len)] if fitting else None

    def cites(self, text: str) -> bool:
        """Whether a text says where something is from: a document of the list, or one of the words."""
        lower = text.lower()
        return any(word in lower for word in self.words) or any(self.of(each) for each in designations(text))


@lru_cache(maxsize=2)
def load_sources(folder: Path | None = None) -> Sources:
    """Read the sources; raises FileError with every problem."""
    folder = folder or knowledge_folder()
    path = folder / "sources.yaml"
    collect = Collector()
    keys = collect.mapping(read(path, shown(path, folder)), required=("standards", "words", "unless_said"))
    collect.raise_errors()
    documents = {}
    for key, node in collect.entries(keys["standards"]):
        each = collect.mapping(node, required=("title", "edition", "came"), optional=("also",))
        if {"title", "edition", "came"} <= each.keys():
            came = collect.choice(each["came"], CAME) or "memory"
            also = tuple(collect.text(item) for item in collect.sequence(each["also"])) if "also" in each else ()
            documents[key.text] = Source(
                key.text, collect.text(each["title"]), collect.text(each["edition"]), came, also
            )
    words = {key.text: collect.text(node) for key, node in collect.entries(keys["words"])}
    unless_said = {key.text: collect.text(node) for key, node in collect.entries(keys["unless_said"])}
    for key, node in collect.entries(keys["unless_said"]):
        if not any(word in unless_said[key.text] for word in words):
            collect.error(node, f"'{unless_said[key.text]}' says no source", f"one of {', '.join(words)}")
    collect.raise_errors()
    return Sources(MappingProxyType(documents), MappingProxyType(words), MappingProxyType(unless_said))


def designations(text: str) -> Iterator[str]:
    """Every designation of a document in a text."""
    return (match.group() for match in DESIGNATION.finditer(text))
