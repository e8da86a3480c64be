"""The most memory that each use takes, and how long a decision sheet takes to compile.

Run as python -m tests.benchmarks.bench_memory [panel ...]. Each use is a process of its own: the greatest resident set
in megabytes of it and of any that it starts, and its processor time as a multiple of that of the bare imports of the
dependencies.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
from collections.abc import Mapping, Sequence
from pathlib import Path

from diagnose.model import each_subject
from diagnose.opening import all_complaints, bundled_panels, open_panel
from tests.benchmarks.bench_start import IMPORTS

MOST_MEGABYTES = 300
CHILD = (
    "import resource, runpy, sys\n"
    "sys.argv = sys.argv[1:]\n"
    "try: runpy.run_module(sys.argv[0], run_name='__main__', alter_sys=True)\n"
    "except SystemExit as end: assert not end.code, end.code\n"
    "used = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]\n"
    "print('used', max(each.ru_maxrss for each in used) / 1024, sum(each.ru_utime + each.ru_stime for each in used), "
    "file=sys.stderr)\n"
)


def uses(panel: str, out: Path) -> Mapping[str, Sequence[str]]:
    """What is run for a panel."""
    part = each_subject(open_panel(panel), all_complaints()["element_cold"])[0] or ""
    about = ("--complaint", "element_cold", "--part", part)
    return {
        "start, to its first check": ("diagnose", "start", "--panel", panel, *about, "--competence", "live"),
        "sheet": ("diagnose", "sheet", panel, *about, "--out", str(out / f"{panel}.txt")),
        "study, 6 faults and a pair": ("diagnose", "study", panel, "--sample", "6", "--pairs", "1", "--workers", "1"),
        "expect": ("diagnose", "expect", panel),
    }


def measured(arguments: Sequence[str]) -> tuple[float, float]:
    """Megabytes and seconds of processor time of one process and those that it starts.

    Raises RuntimeError where it did not do what it was asked for, or did not say.
    """
    ran = subprocess.run(
        [sys.executable, "-c", CHILD, *arguments], stdin=subprocess.DEVNULL, capture_output=True, text=True, check=False
    )
    for line in ran.stderr.splitlines():
        if line.startswith("used "):
            _, megabytes, seconds = line.split()
            return float(megabytes), float(seconds)
    raise RuntimeError(f"{' '.join(arguments)}: {ran.stderr.strip()[-200:]}")


def bare_seconds() -> float:
    """Processor time of the imports alone."""
    script = (
        f"{IMPORTS[1]}\nimport resource\nu = resource.getrusage(resource.RUSAGE_SELF)\nprint(u.ru_utime + u.ru_stime)"
    )
    return float(subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True).stdout)


def main(panels: Sequence[str]) -> None:
    """Print a line for each use."""
    bare = bare_seconds()
    print(f"{'panel':<24}{'use':<30}{'MB':>6}{'imports':>9}   (bar {MOST_MEGABYTES} MB)")
    with tempfile.TemporaryDirectory() as folder:
        for panel in panels or [entry.name for entry in bundled_panels()]:
            for name, arguments in uses(panel, Path(folder)).items():
                megabytes, seconds = measured(arguments)
                print(f"{panel:<24}{name:<30}{megabytes:>6.0f}{seconds / bare:>9.1f}", flush=True)


if __name__ == "__main__":
    main(sys.argv[1:])
