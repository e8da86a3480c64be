"""What the session's chooser costs over the exact optimum, on small problems cut out of each bundled panel.

Run as python -m tests.benchmarks.bench_optimum [panel ...]. A problem has three to seven causes, each with another
thing to do, and up to seven checks that tell something of them; its optimum is that of the AND/OR search.
"""

from __future__ import annotations

import sys

import numpy as np

from diagnose.opening import bundled_panels
from tests.choose.small import COMPLAINTS, model_of, ratios

SEEDS = range(8)


def main(panels: list[str]) -> None:
    """Print a line for each panel, and one for all."""
    print(f"{'panel':<24}{'complaints':>11}{'problems':>10}{'mean':>8}{'worst':>8}")
    everything: list[float] = []
    for panel in panels or [entry.name for entry in bundled_panels()]:
        models = [known for known in (model_of(panel, name) for name in COMPLAINTS) if known is not None]
        found = [ratio for known in models for ratio in ratios(known, SEEDS)]
        everything += found
        _print(panel, str(len(models)), found)
    _print("all", "", everything)


def _print(name: str, complaints: str, found: list[float]) -> None:
    mean, worst = (np.mean(found), max(found)) if found else (np.nan, np.nan)
    print(f"{name:<24}{complaints:>11}{len(found):>10}{mean:>8.3f}{worst:>8.3f}", flush=True)


if __name__ == "__main__":
    main(sys.argv[1:])
