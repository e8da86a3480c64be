"""Each guard is needed: without it some test fails, as the table in the contributors' guide says."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import pytest

from diagnose.safety import GUARDS

CHECKOUT = Path(__file__).resolve().parents[2]
ROW = re.compile(r"^\| `(\w+)` \| (.*) \|$", re.MULTILINE)


def written() -> dict[str, list[str]]:
    """The table as it stands in DEVELOPERS.md: guards, and the tests that fail without each."""
    text = (CHECKOUT / "DEVELOPERS.md").read_text(encoding="utf-8")
    part = text.partition("| guard | without it these fail |")[2].partition("\n\n")[0]
    return {name: re.findall(r"`(\w+)`", tests) for name, tests in ROW.findall(part)}


def test_the_table_has_every_guard_and_tests_that_are_there() -> None:
    rows = written()
    assert list(rows) == [guard.name for guard in GUARDS]
    text = "".join(path.read_text(encoding="utf-8") for path in (CHECKOUT / "tests" / "safety").glob("test_*.py"))
    for name, tests in rows.items():
        assert tests, f"no test fails without {name}"
        assert [test for test in tests if f"def {test}(" not in text] == [], name


@pytest.mark.long
def test_each_guard_that_is_taken_away_makes_the_tests_fail_that_the_table_names() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "tests.mutation.guards"], capture_output=True, text=True, cwd=CHECKOUT, check=True
    )
    assert {name: re.findall(r"`(\w+)`", tests) for name, tests in ROW.findall(done.stdout)} == written()
