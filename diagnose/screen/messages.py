"""Messages to somebody at the panel, each a numbered text file in one folder: 001.txt, 002.txt ..."""

from __future__ import annotations

import re
from pathlib import Path

from diagnose.errors import FileError, Problem
from diagnose.files import new_file

MOST = 9999


class MessageFolder:
    """Writes each message into a new file of a folder, and nothing anywhere else."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def prepare(self) -> None:
        """Make the folder if it isn't there. Raises FileError where it can't be, or where it is no folder."""
        try:
            self.folder.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise self._refused(error) from error

    def write(self, text: str) -> Path:
        """Write a message into the next free number; returns its file.

        A file that is there, or a link put in its place, is never written through: the next number is taken.

        Raises FileError where it can't be written.
        """
        for number in range(self._last() + 1, MOST + 1):
            path = self.folder / f"{number:03d}.txt"
            try:
                new_file(path, text)
            except FileExistsError:
                continue
            except OSError as error:
                raise self._refused(error) from error
            return path
        raise FileError(Problem(f"{self.folder}: there are {MOST} messages here already", "another folder"))

    def _last(self) -> int:
        """The highest number that is taken."""
        try:
            names = [path.name for path in self.folder.iterdir()]
        except OSError as error:
            raise self._refused(error) from error
        return max((int(name[:-4]) for name in names if re.fullmatch(r"[0-9]{3,4}\.txt", name)), default=0)

    def _refused(self, error: OSError) -> FileError:
        reason = (error.strerror or "it can't be written to").lower()
        return FileError(Problem(f"{self.folder}: {reason}", "a folder for the messages that can be written to"))
