"""Reads knowledge/regions.yaml: words, conductor colours, voltages, emergency number, codes and law of each region."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from types import MappingProxyType

from diagnose.knowledge.library import knowledge_folder, shown
from diagnose.yamlfile import Collector, Node, read
from diagnose.yamlfile import Mapping as MappingNode

FUNCTIONS = ("leg_1", "leg_2", "leg_3", "neutral", "earth", "dc_plus", "dc_minus")
# Letters whose names begin with a vowel: an RCD, but a GFCI.
_VOWEL_NAMES = "AEFHILMNORSX"


@dataclass(frozen=True, slots=True)
class Colour:
    """What a conductor of one function usually looks like, and who says so."""

    usual: str
    source: str


@dataclass(frozen=True, slots=True)
class Region:
    """What is said and done differently in one region."""

    name: str
    title: str
    words: Mapping[str, str]  # what the knowledge base says -> what is said here
    foreign: tuple[str, ...]  # words that are not said here
    colours: Mapping[str, Colour]  # by function, see FUNCTIONS
    volts: str
    emergency: str
    codes: tuple[str, ...]
    law: str
    reserved: bool  # whether the law leaves this work to licensed people


@lru_cache(maxsize=2)
def load_regions(folder: Path | None = None) -> Mapping[str, Region]:
    """Every region by its name; raises FileError with every problem of the file."""
    folder = folder or knowledge_folder()
    path = folder / "regions.yaml"
    collect = Collector()
    node = read(path, shown(path, folder))
    found = {}
    if isinstance(node, MappingNode):
        for key, value in node.entries:
            region = _region(collect, collect.word(key), value)
            if region is not None:
                found[region.name] = region
    else:
        collect.error(node, "this is not a mapping", "names of regions")
    collect.raise_errors()
    return MappingProxyType(found)


_KEYS = ("title", "words", "foreign", "colours", "volts", "emergency", "codes", "law")


def _region(collect: Collector, name: str, node: Node) -> Region | None:
    keys = collect.mapping(node, required=_KEYS)
    if set(_KEYS) - keys.keys():
        return None
    colours = {
        function: _sourced(collect, each, "usual")
        for function, each in collect.mapping(keys["colours"], required=FUNCTIONS).items()
    }
    law = collect.mapping(keys["law"], required=("text", "reserved", "source"))
    return Region(
        name=name,
        title=collect.text(keys["title"]),
        words=MappingProxyType(dict(_words(collect, keys["words"]))),
        foreign=tuple(collect.text(item) for item in collect.sequence(keys["foreign"])),
        colours=MappingProxyType(colours),
        volts=_sourced(collect, keys["volts"], "text").usual,
        emergency=_sourced(collect, keys["emergency"], "number").usual,
        codes=tuple(collect.text(item) for item in collect.sequence(keys["codes"])),
        law=collect.text(law["text"]) if "text" in law else "",
        reserved=collect.boolean(law["reserved"]) if "reserved" in law else True,
    )


def _sourced(collect: Collector, node: Node, key: str) -> Colour:
    keys = collect.mapping(node, required=(key, "source"))
    return Colour(*(collect.text(keys[each]) if each in keys else "" for each in (key, "source")))


def _words(collect: Collector, node: Node) -> Iterable[tuple[str, str]]:
    if not isinstance(node, MappingNode):
        collect.error(node, "the words are not a mapping", "what the knowledge base says: what is said here")
        return
    for key, value in node.entries:
        yield key.text, collect.text(value)


def translator(region: Region, kept: Iterable[str] = ()) -> Callable[[str], str]:
    """A function that says a text in a region's words; what is in `kept`, such as a panel's own labels, stays."""
    stays = {text.lower() for text in kept if text}
    words = {word.lower(): local for word, local in region.words.items()}
    known = sorted({*stays, *words}, key=len, reverse=True)
    if not known:
        return str
    inner = "|".join(re.escape(word) for word in known)
    pattern = re.compile(rf"(?<![\w.-])(?:(an?) )?({inner})(?![\w])", re.IGNORECASE)

    def said(match: re.Match[str]) -> str:
        article, word = match[1], match[2]
        if word.lower() in stays:
            return match[0]
        local = _cased(word, words[word.lower()])
        if article is None:
            return local
        return f"{article[0]}{'n' if _begins_with_vowel(local) else ''} {local}"

    return lambda text: pattern.sub(said, text)


def _cased(word: str, local: str) -> str:
    """The local word with a capital where the other had one; letters that stand for words stay capitals."""
    return local[:1].upper() + local[1:] if word[:1].isupper() and not word[:2].isupper() else local


def _begins_with_vowel(word: str) -> bool:
    first = word.split()[0]
    if first[:2].isupper():
        return first[0] in _VOWEL_NAMES
    return first[0].lower() in "aeio" or first[0] == "u"


def foreign_words(region: Region, text: str, kept: Iterable[str] = ()) -> tuple[str, ...]:
    """The words in a text that are not said in a region; a panel's own labels don't count."""
    for label in sorted((each for each in kept if each), key=len, reverse=True):
        text = re.sub(rf"(?<![\w-]){re.escape(label)}(?!\w)", " ", text, flags=re.IGNORECASE)
    return tuple(
        word for word in region.foreign if re.search(rf"(?<![\w]){re.escape(word)}(?![\w])", text, re.IGNORECASE)
    )
