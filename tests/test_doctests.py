"""The examples in docstrings hold: whoever reads them takes them at their word."""

from __future__ import annotations

import doctest
import importlib
from pathlib import Path

import pytest

PACKAGE = Path(__file__).resolve().parents[1] / "diagnose"
# Those of the formulas run in tests/physics, where each function needs one.
WITH_EXAMPLES = sorted(
    ".".join(path.relative_to(PACKAGE.parent).with_suffix("").parts)
    for path in PACKAGE.rglob("*.py")
    if ">>> " in path.read_text(encoding="utf-8") and path.parent.name != "physics"
)


@pytest.mark.parametrize("name", WITH_EXAMPLES)
def test_examples_run(name: str) -> None:
    result = doctest.testmod(importlib.import_module(name))
    assert result.attempted > 0
    assert result.failed == 0
