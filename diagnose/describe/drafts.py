"""Answers that were given so far, on the disk after each, so that nothing typed is lost."""

from __future__ import annotations

import contextlib
import json
from pathlib import Path

from diagnose.describe.questions import Answers, kept
from diagnose.errors import FileError
from diagnose.files import replace_file
from diagnose.log_places import log_folders

NAME = "description.draft.json"


class Draft:
    """Where answers are kept until the file is written; the first folder that can be written to."""

    def __init__(self) -> None:
        self.paths = [folder / NAME for folder in log_folders()]
        self.set_aside: Path | None = None  # a draft that could not be read, kept as it was
        self.told = False  # whether it was said that nothing can be kept

    def read(self) -> dict[str, str]:
        """What was answered before, as far as it can be read still; empty where there is nothing."""
        for path in self.paths:
            try:
                found = json.loads(path.read_text(encoding="utf-8"))
            except OSError:
                continue
            except (ValueError, RecursionError):
                found = None
            if isinstance(found, dict):
                return kept({str(key): str(value) for key, value in found.items()})
            self._aside(path)
        return {}

    def _aside(self, path: Path) -> None:
        """A draft that can't be read makes room for the next, and is not thrown away."""
        aside = path.with_name(f"{path.name}.damaged")
        with contextlib.suppress(OSError):
            path.replace(aside)
            self.set_aside = aside

    def keep(self, answers: Answers) -> Path | None:
        """Put the answers on the disk; returns where, or None where there is no place for them."""
        for path in self.paths:
            try:
                replace_file(path, json.dumps(dict(answers), ensure_ascii=False, indent=1) + "\n", make_folder=True)
            except FileError:
                continue
            return path
        return None

    def drop(self) -> None:
        """The file is written: the draft is not needed any more."""
        for path in self.paths:
            path.unlink(missing_ok=True)
