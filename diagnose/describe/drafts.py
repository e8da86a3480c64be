"""Answers that were given so far, on the disk after each, so that nothing typed is lost."""

from __future__ import annotations

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

    def read(self) -> dict[str, str]:
        """What was answered before, as far as it can be read still; empty where there is nothing."""
        for path in self.paths:
            try:
                found = json.loads(path.read_text(encoding="utf-8"))
            except (OSError, ValueError):
                continue
            if isinstance(found, dict):
                return kept({str(key): str(value) for key, value in found.items()})
        return {}

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
