"""Coverage of the core in lines and branches: `python -m tests.covered` prints the table from the last measurement.

The core is what a front end is built on: all layers from `errors` down to `session`, as tests/test_layers.py has them.
"""

from __future__ import annotations

import json
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

from tests.test_layers import LAYERS

CORE = LAYERS[: LAYERS.index("session") + 1]
# What one row of the table sums up; single modules make one row together.
PACKAGES = ("knowledge", "physics", "panel", "safety", "belief", "plan", "circuit", "choose")
REST = "single modules"
COUNTS = ("num_statements", "covered_lines", "num_branches", "covered_branches")
HEADER = ("| core | lines | covered | branches | covered | both |", "|---|---|---|---|---|---|")


def layer_of(path: str) -> str:
    """The layer that a source file belongs to, by its path below the package."""
    return Path(path.partition("diagnose/")[2]).with_suffix("").parts[0]


def table(measured: dict[str, dict[str, int]]) -> Iterator[str]:
    """The lines of the table from what was counted per file: statements and branches, each with those covered."""
    rows = {name: [0, 0, 0, 0] for name in (*PACKAGES, REST, "all")}
    for path, summary in measured.items():
        layer = layer_of(path)
        if path.startswith("diagnose/") and layer in CORE:  # a copy that lies elsewhere is not what is measured
            for row in (rows[layer if layer in PACKAGES else REST], rows["all"]):
                for column, name in enumerate(COUNTS):
                    row[column] += summary[name]
    yield from HEADER
    for name, (lines, lines_seen, branches, branches_seen) in rows.items():
        both = (lines_seen + branches_seen) / max(lines + branches, 1)
        yield (
            f"| {name} | {lines} | {share(lines_seen, lines)} | {branches} | {share(branches_seen, branches)} | "
            f"{100 * both:.1f} % |"
        )


def share(part: int, whole: int) -> str:
    """A share in percent; all of nothing is all."""
    return f"{100 * part / whole if whole else 100:.1f} %"


def main() -> None:
    """Print the table from `.coverage`, or from the file that is named."""
    import coverage

    measurement = coverage.Coverage(data_file=sys.argv[1] if len(sys.argv) > 1 else ".coverage")
    measurement.load()
    with tempfile.TemporaryDirectory() as folder:
        out = Path(folder) / "coverage.json"
        measurement.json_report(outfile=str(out))
        files = json.loads(out.read_text(encoding="utf-8"))["files"]
    for line in table({path: file["summary"] for path, file in files.items()}):
        print(line)


if __name__ == "__main__":
    main()
