"""Hostile input by hand: `python -m tests.hostile.run --inputs 100000` prints a table of what came of it.

One process. `--seed` draws others, `--only` one target. Times are of the processor, peak memory is the process's own.
"""

from __future__ import annotations

import argparse
import resource
import shutil
import sys
import time
import traceback
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import partial
from typing import Any

from hypothesis import HealthCheck, Phase, given, seed, settings

from tests.hostile.targets import TARGETS, Target, scratch

LONGEST_SECONDS = 10.0  # of one input: what takes longer is a defect


@dataclass(slots=True)
class Tally:
    """What came of a target's inputs."""

    inputs: int = 0
    taken: int = 0
    refused: int = 0
    worst: float = 0.0
    worst_input: object = None
    failed: Counter[str] = field(default_factory=Counter)
    examples: dict[str, object] = field(default_factory=dict)


def where(error: BaseException) -> str:
    """The exception and the last line of the project that it came through."""
    frames = [frame for frame in traceback.extract_tb(error.__traceback__) if "/diagnose/" in frame.filename]
    last = frames[-1] if frames else traceback.extract_tb(error.__traceback__)[-1]
    return f"{type(error).__name__} at {last.filename.rpartition('/diagnose/')[2]}:{last.lineno}: {str(error)[:90]}"


def one(target: Target, tally: Tally, value: Any) -> None:
    """Give a target one input and count what came of it."""
    before = time.process_time()
    try:
        taken = target.run(value)
    except Exception as error:
        name = where(error)
        tally.failed[name] += 1
        held = tally.examples.get(name)
        if held is None or len(repr(value)) < len(repr(held)):
            tally.examples[name] = value
    else:
        tally.taken, tally.refused = tally.taken + taken, tally.refused + (not taken)
    spent = time.process_time() - before
    tally.inputs += 1
    if spent > tally.worst:
        tally.worst, tally.worst_input = spent, value
    if spent > LONGEST_SECONDS:
        tally.failed[f"longer than {LONGEST_SECONDS:g} s"] += 1
        tally.examples[f"longer than {LONGEST_SECONDS:g} s"] = value


def driven(target: Target, inputs: int, number: int, take: Callable[[Any], None]) -> None:
    """Draw so many inputs of a target from a seed."""

    @seed(number)
    @settings(
        max_examples=inputs,
        deadline=None,
        database=None,
        phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    @given(target.inputs())
    def drive(value: Any) -> None:
        take(value)

    drive()


def peak_megabytes() -> float:
    """The most memory that this process has had."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def row(name: str, tally: Tally) -> str:
    """A line of the table; the memory is what the process has had at most until then."""
    counts = f"{tally.inputs:>8,}{tally.taken:>8,}{tally.refused:>9,}{sum(tally.failed.values()):>8,}"
    return f"{name:<32}{counts}{1e3 * tally.worst:>10.0f}{peak_megabytes():>6.0f}"


def main() -> int:
    """Run and print; 1 where anything failed."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--inputs", type=int, default=10_000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", default="")
    options = parser.parse_args()
    targets = [target for target in TARGETS if options.only in target.name]
    shares = sum(target.share for target in targets)
    print(f"{'target':<32}{'inputs':>8}{'taken':>8}{'refused':>9}{'failed':>8}{'worst ms':>10}{'MB':>6}", flush=True)
    total, begun = Tally(), time.process_time()
    for target in targets:
        tally = Tally()
        driven(
            target,
            max(round(options.inputs * target.share / shares), 1),
            options.seed,
            partial(one, target, tally),
        )
        print(row(target.name, tally), flush=True)
        for name, count in tally.failed.most_common():
            print(f"    {count} x {name}\n        {repr(tally.examples[name])[:1500]}", file=sys.stderr, flush=True)
        if tally.worst > 1.0:
            print(f"    slowest: {repr(tally.worst_input)[:600]}", file=sys.stderr, flush=True)
        total.inputs, total.taken = total.inputs + tally.inputs, total.taken + tally.taken
        total.refused, total.worst = total.refused + tally.refused, max(total.worst, tally.worst)
        total.failed.update(tally.failed)
    print(row("all", total))
    print(f"{time.process_time() - begun:.0f} s of one core")
    shutil.rmtree(scratch(), ignore_errors=True)
    return 1 if total.failed else 0


if __name__ == "__main__":
    sys.exit(main())
