"""The knowledge base that files are held against: the bundled one, or the one that they lie in."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

from diagnose.errors import FileError
from diagnose.knowledge.folder import knowledge_folder
from diagnose.knowledge.library import Library, load_library
from diagnose.knowledge.sources import Sources, load_sources
from diagnose.texts import Texts, load_texts


@dataclass(frozen=True)
class Base:
    """A knowledge base; what of it can't be read is None, and told where its own files are read."""

    folder: Path

    @cached_property
    def library(self) -> Library | None:
        """Its kinds of part and supplies."""
        try:
            return load_library(self.folder)
        except FileError:
            return None

    @cached_property
    def texts(self) -> Texts | None:
        """Its steps, cautions and proof checks."""
        try:
            return load_texts(self.folder)
        except FileError:
            return None

    @cached_property
    def sources(self) -> Sources | None:
        """What its values are from."""
        try:
            return load_sources(self.folder)
        except FileError:
            return None


def base_of(path: Path) -> Base:
    """The knowledge base that a file or a folder lies in, or is; the bundled one where it is in none."""
    resolved = path.resolve()
    for folder in (resolved, *resolved.parents):
        if (folder / "parts").is_dir() and (folder / "supplies.yaml").is_file():
            return Base(folder)
    return Base(knowledge_folder())
