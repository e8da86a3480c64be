"""The shifted rates as sessions use them: the file that is there, and one line that says so."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from types import MappingProxyType

from diagnose.errors import FileError, Problem, UsageError
from diagnose.files import given_path
from diagnose.learning.ratesfile import Learned, default_path, hash_of, read_learned, text_of
from diagnose.model import Model


@dataclass(frozen=True, slots=True)
class Shifted:
    """The factors on the bundled rates, a hash of what they come from, and a line to say; all empty without a file."""

    factors: Mapping[str, float] = field(default_factory=dict)
    name: str = ""
    line: str = ""

    def on(self, model: Model) -> Mapping[str, float]:
        """The factors that matter to one panel and complaint, for its log."""
        kinds = {f"{model.panel.kind_of(cause.part).name}.{cause.fault}" for cause in model.causes}
        return MappingProxyType({name: factor for name, factor in self.factors.items() if name in kinds})


def rates_path(given: str | None) -> Path:
    """The file that was asked for, else the usual one. Raises UsageError where there is no place for one."""
    path = given_path(given) if given is not None else default_path()
    if path is None:
        raise UsageError(Problem("there is no home folder to keep failure rates in", "--rates FILE"))
    return path


def open_learned(path: Path) -> Learned:
    """What a file has learned; nothing where there is none. Raises FileError where it can't be read."""
    return read_learned(path) if path.exists() else Learned()


def shifted_rates(given: str | None) -> Shifted:
    """The rates to start with: those of a file that was asked for, or of the usual one where it is there.

    A usual file that can't be read stops nobody: the line says so, and the bundled rates are used.

    Raises
    ------
    UsageError
        Where the file that was asked for is not there.
    FileError
        Where it can't be read.
    """
    path = given_path(given) if given is not None else default_path()
    if given is not None and (path is None or not path.exists()):
        raise UsageError(Problem(f"{given}: there is no such file", "failure rates as 'diagnose learn' keeps them"))
    if path is None or not path.exists():
        return Shifted()
    try:
        learned = read_learned(path)
    except FileError as error:
        if given is not None:
            raise
        return Shifted(line=f"Bundled failure rates are used: {error.problems[0]}")
    if not learned.sources:
        return Shifted()
    count = len(learned.sources)
    line = f"Failure rates are shifted by {count} confirmed {'fault' if count == 1 else 'faults'}, from {path}"
    return Shifted(learned.factors, hash_of(text_of(learned)), line)
