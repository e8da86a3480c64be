"""What is wrong and where: problems with a place in a file, and the exceptions that carry them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

Level = Literal["error", "warning", "note"]
LONGEST_MESSAGE = 1000  # characters: a text of a file may be in it, and that may be a megabyte long


@dataclass(frozen=True, slots=True, order=True)
class Place:
    """A position in a text file; lines and columns count from 1."""

    file: str
    line: int = 1
    column: int = 1

    def __str__(self) -> str:
        return f"{self.file}:{self.line}:{self.column}"


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing that is wrong, where, and what was expected instead."""

    message: str
    expected: str = ""
    place: Place | None = None
    level: Level = "error"
    rule: str = ""

    def __str__(self) -> str:
        where = f"{self.place}: " if self.place else ""
        level = "" if self.level == "error" else f"{self.level}: "
        expected = f"; expected {self.expected}" if self.expected else ""
        message = self.message if len(self.message) <= LONGEST_MESSAGE else f"{self.message[:LONGEST_MESSAGE]} ..."
        return f"{where}{level}{message}{expected}"


class DiagnoseError(Exception):
    """Something that the user can mend. Its text is one line for each problem."""

    def __init__(self, *problems: Problem | str) -> None:
        self.problems: tuple[Problem, ...] = tuple(
            Problem(problem) if isinstance(problem, str) else problem for problem in problems
        )
        super().__init__("\n".join(str(problem) for problem in self.problems))


class FileError(DiagnoseError):
    """A panel, a knowledge file, a case or a saved session that can't be used as it is."""


class UsageError(DiagnoseError):
    """A command line option or argument that can't be used."""


class AnswerError(DiagnoseError):
    """An answer to a question that can't be read as what was asked for."""


class CircuitError(DiagnoseError):
    """A panel whose circuit can't be solved, said in terms of its parts."""


def printable(text: str) -> str:
    """One line of a text from outside, with nothing in it that could steer a terminal or turn its direction."""
    return "".join(char if char.isprintable() else "?" for char in text)


def raise_errors(problems: Iterable[Problem], kind: type[DiagnoseError] = FileError) -> None:
    """Raise `kind` with all problems of level error, sorted by place, if there are any."""
    errors = [problem for problem in problems if problem.level == "error"]
    if errors:
        raise kind(*sorted(errors, key=lambda problem: (problem.place or Place(""), problem.message)))
