"""What became of the mutants that `mutmut run` made: `python -m tests.mutation.survivors` prints the table.

With `--list` come the survivors themselves, as lines before and after. It reads the folder that mutmut leaves.
"""

from __future__ import annotations

import ast
import difflib
import json
import sys
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

PACKAGES = ("belief", "plan", "safety", "circuit")
HEADER = ("| package | mutants | tried | killed | by time | survived | in no test |", "|---|---|---|---|---|---|---|")
# How mutmut writes down what became of a mutant: the exit code of the tests, or the signal that ended them.
KILLED, SURVIVED, IN_NO_TEST = {1, 3}, {0}, {33, 5}
BY_TIME = {24, -24, 36, 152, 255, -9}


def outcomes(folder: Path) -> Iterator[tuple[str, int | None]]:
    """Each mutant of a package's folder with its code; None where it was not tried."""
    for meta in sorted(folder.glob("*.meta")):
        yield from json.loads(meta.read_text(encoding="utf-8"))["exit_code_by_key"].items()


def row(name: str, codes: Counter[int | None]) -> str:
    """One line of the table."""
    counts = [sum(codes[code] for code in group) for group in (KILLED, BY_TIME, SURVIVED, IN_NO_TEST)]
    return f"| {name} | {codes.total()} | {codes.total() - codes[None]} | {' | '.join(map(str, counts))} |"


def table(mutants: Path) -> Iterator[str]:
    """The lines of the table."""
    yield from HEADER
    for name in PACKAGES:
        yield row(f"`{name}`", Counter(code for _, code in outcomes(mutants / "diagnose" / name)))


def survivors(mutants: Path) -> Iterator[str]:
    """The lines that each survivor changes: its name, what stood there and what stands there now."""
    for package in PACKAGES:
        folder = mutants / "diagnose" / package
        for name, code in outcomes(folder):
            if code in SURVIVED | IN_NO_TEST:
                module, _, function = name.rpartition(".")
                yield f"{module}.{function}"
                yield from _changes(folder / f"{module.rpartition('.')[2]}.py", function)


def _changes(source: Path, function: str) -> Iterator[str]:
    text = source.read_text(encoding="utf-8")
    lines = text.splitlines()
    bodies = {
        node.name: [line.strip() for line in lines[node.lineno : node.end_lineno]]
        for node in ast.walk(ast.parse(text))
        if isinstance(node, ast.FunctionDef)
    }
    before = bodies[f"{function.rpartition('__mutmut_')[0]}__mutmut_orig"]
    for line in difflib.unified_diff(before, bodies[function], n=0, lineterm=""):
        if line[:2] not in ("--", "++", "@@"):
            yield f"    {line[0]} {line[1:]}"


if __name__ == "__main__":
    for line in (survivors if "--list" in sys.argv else table)(Path("mutants")):
        print(line)
