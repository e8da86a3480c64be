"""How long the program takes to its first prompt, over the bare imports of what it depends on.

Run as python -m tests.benchmarks.bench_start. Processor time of whole processes, the least of several, as ratios: what
else the machine does is not in it.
"""

from __future__ import annotations

import resource
import subprocess
import sys
from collections.abc import Mapping, Sequence

REPEATS = 5
IMPORTS = ("-c", "import yaml, networkx, prompt_toolkit, pint, numpy")
COMMANDS: Mapping[str, Sequence[str]] = {
    "python itself": ("-c", "pass"),
    "--version": ("-m", "diagnose", "--version"),
    "--help": ("-m", "diagnose", "--help"),
    "start, to its first question": ("-m", "diagnose", "start"),
    "start with a panel and a complaint, to its first question": (
        "-m", "diagnose", "start", "--panel", "shed_single_kettle", "--complaint", "element_cold",
    ),
}  # fmt: skip
MOST = {"--version": 0.25, "--help": 0.25, "start, to its first question": 1.5}


def seconds(arguments: Sequence[str], repeats: int = REPEATS) -> float:
    """The least processor time of a process that is given no answers; it ends at the first question."""
    least = float("inf")
    for _ in range(repeats):
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        subprocess.run([sys.executable, *arguments], stdin=subprocess.DEVNULL, capture_output=True, check=False)
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        least = min(least, after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)
    return least


def ratios(repeats: int = REPEATS) -> Mapping[str, float]:
    """Each command's time over that of the bare imports."""
    bare = seconds(IMPORTS, repeats)
    return {name: seconds(arguments, repeats) / bare for name, arguments in COMMANDS.items()}


def main() -> None:
    """Print a line for each command."""
    print(f"{'over the bare imports of the dependencies':<60}{'ratio':>6}{'bar':>6}")
    for name, ratio in ratios().items():
        print(f"{name:<60}{ratio:>6.2f}{MOST.get(name, ''):>6}")


if __name__ == "__main__":
    main()
