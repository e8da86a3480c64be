"""How far a person gets: what may be opened, and what is at hand."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from diagnose.checks import Check
from diagnose.safety import Competence, allowed


@dataclass(frozen=True, slots=True)
class Reach:
    """A competence with instruments, under a name for a table's head."""

    name: str
    competence: Competence
    instruments: frozenset[str]

    def of(self, checks: Iterable[Check]) -> tuple[Check, ...]:
        """The checks within it."""
        return tuple(
            check
            for check in checks
            if allowed(self.competence, check.work)
            and (check.instrument == "none" or check.instrument in self.instruments)
        )


METER = frozenset({"multimeter"})
REACHES = (
    Reach("no meter", "outside", frozenset()),
    Reach("meter, box shut", "outside", METER),
    Reach("opened dead", "isolated", METER),
    Reach("live as well", "live", METER),
)
