"""Take each guard away in turn and see which tests fail: `python -m tests.mutation.guards` prints the table.

A guard that can go without any test failing guards nothing, or nothing that is tested.
"""

from __future__ import annotations

import contextlib
import io
import sys
from collections.abc import Iterator, Sequence
from pathlib import Path

import pytest

from diagnose.safety import guards

TESTS = Path(__file__).resolve().parents[1] / "safety"
HEADER = ("| guard | without it these fail |", "|---|---|")


class _Failures:
    """Collects the tests that fail, by their names without parameters."""

    def __init__(self) -> None:
        self.names: dict[str, None] = {}

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """Keep the name of a test that failed."""
        if report.failed:
            self.names[report.nodeid.rpartition("::")[2].partition("[")[0]] = None


def failing(without: str) -> tuple[str, ...]:
    """The tests in tests/safety that fail once a guard is gone; all guards stay where `without` names none."""
    kept, failures = guards.GUARDS, _Failures()
    guards.GUARDS = tuple(guard for guard in kept if guard.name != without)
    try:
        _reset()
        with contextlib.redirect_stdout(io.StringIO()), contextlib.redirect_stderr(io.StringIO()):
            pytest.main(["-q", "-p", "no:cacheprovider", "--no-header", str(TESTS)], plugins=[failures])
    finally:
        guards.GUARDS = kept
        _reset()
    return tuple(failures.names)


def _reset() -> None:
    """Forget what was worked out with other guards."""
    module = sys.modules.get("tests.safety.test_machine")
    if module is not None:
        module.reachable.cache_clear()


def table(names: Sequence[str] = ()) -> Iterator[str]:
    """The lines of the table, each once it is known; of all guards where none is named."""
    yield from HEADER
    for name in names or [guard.name for guard in guards.GUARDS]:
        yield f"| `{name}` | {', '.join(f'`{test}`' for test in failing(name)) or '**none**'} |"


if __name__ == "__main__":
    for line in table(sys.argv[1:]):
        print(line, flush=True)
