"""What the rate words of faults stand for, and how far confirmed faults may shift them: knowledge/rates.yaml."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from types import MappingProxyType

from diagnose.knowledge.folder import knowledge_folder, shown
from diagnose.yamlfile import Collector, Node, read
from diagnose.yamlfile import Mapping as MappingNode


@dataclass(frozen=True, slots=True)
class Rates:
    """Relative failure rates by their words, with where they come from.

    `prior_failures` is how many confirmed failures a bundled rate is worth, `most` how many times larger or
    smaller confirmed faults may make it.
    """

    words: Mapping[str, float]
    source: str
    prior_failures: float
    most: float


@lru_cache(maxsize=2)
def load_rates(path: Path | None = None) -> Rates:
    """Read the rates; raises FileError with every problem."""
    folder = knowledge_folder()
    path = path or folder / "rates.yaml"
    collect = Collector()
    keys = collect.mapping(
        read(path, shown(path, folder) if path.is_relative_to(folder) else str(path)),
        required=("source", "words", "learning"),
    )
    collect.raise_errors()
    words = _words(collect, keys["words"])
    source = collect.text(keys["source"])
    learning = collect.mapping(keys["learning"], required=("prior_failures", "most"))
    prior = collect.number(learning["prior_failures"], 0.1, 1000) if "prior_failures" in learning else None
    most = collect.number(learning["most"], 1, 1000) if "most" in learning else None
    collect.raise_errors()
    return Rates(MappingProxyType(words), source, prior or 1.0, most or 1.0)


def _words(collect: Collector, node: Node) -> dict[str, float]:
    if not isinstance(node, MappingNode) or not node.entries:
        collect.error(node, "the rate words are not a mapping", "words with relative rates")
        return {}
    return {key.text: collect.number(value, 1e-6, 1e6) or 1.0 for key, value in node.entries}
