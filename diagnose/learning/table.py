"""What was learned as a table, and the command that counts, shows and forgets."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import nullcontext
from pathlib import Path

from diagnose.errors import DiagnoseError, Problem, UsageError, printable
from diagnose.files import alone
from diagnose.knowledge.library import load_library
from diagnose.knowledge.rates import load_rates
from diagnose.learning.ratesfile import Learned, write_learned
from diagnose.learning.sessions import log_hash, source_of
from diagnose.learning.using import open_learned, rates_path
from diagnose.log import read_log

HARDLY = 0.1  # a shift by less than a tenth is not worth a line


def table_of(learned: Learned) -> str:
    """Each fault with its bundled rate, its counts and its shifted rate.

    Those that were never the cause and are hardly shifted are only counted.
    """
    kinds, rates = load_library().kinds, load_rates()
    lines = [
        f"A bundled rate is worth {rates.prior_failures:g} confirmed failures; nothing moves it by more than "
        f"x{rates.most:g} or /{rates.most:g}.",
        f"{'kind.fault':<36}{'bundled':<12}{'rate':>6}{'count':>7}{'expected':>10}{'shifted':>9}",
    ]
    left = 0
    for count in learned.counts:
        kind, _, name = count.fault.partition(".")
        fault = kinds[kind].faults.get(name) if kind in kinds else None
        if not count.count and abs(count.shift - 1) <= HARDLY:
            left += 1
            continue
        word, rate = (fault.rate_word, fault.rate) if fault is not None else ("(unknown)", float("nan"))
        lines.append(
            f"{count.fault:<36}{word:<12}{rate:>6.3g}{count.count:>7}{count.exposure:>10.2f}{rate * count.shift:>9.3g}"
        )
    if left:
        lines.append(f"and {left} faults that are shifted by a tenth at most.")
    lines.append(f"Bundled rates: {rates.source}.")
    return "\n".join(lines)


def main_learn(
    logs: Sequence[str],
    confirmed: str | None,
    cured: bool,
    rates: str | None,
    show: bool,
    forget: Sequence[str],
    forget_all: bool,
) -> int:
    """Count sessions, show what is counted, or take it back; returns the exit code.

    Nothing is written unless all of it can be.
    """
    if not (logs or show or forget or forget_all):
        raise UsageError(Problem("there is nothing to do", "LOG, --show, --forget LOG or --forget-all"))
    if confirmed and len(logs) != 1:
        raise UsageError(Problem(f"--confirmed is about one session, and there are {len(logs)}", "one LOG"))
    path = rates_path(rates)
    with alone(path) if logs or forget or forget_all else nullcontext():
        before = Learned() if forget_all else open_learned(path)
        learned, said = _forgotten(before, forget)
        if forget_all:
            said.append("All counts are forgotten.")
        learned, counted = _counted(learned, logs, confirmed or "", cured)
        if (learned != before or forget_all) and (path.exists() or learned.sources):
            write_learned(path, learned)
    for line in (*said, *counted):
        print(printable(line))
    if show:
        print(table_of(learned) if learned.sources else f"Nothing is learned yet: bundled rates alone ({path}).")
    return 0


def _forgotten(learned: Learned, forget: Sequence[str]) -> tuple[Learned, list[str]]:
    said = []
    for name in forget:
        log = log_hash(*read_log(Path(name))) if Path(name).exists() else name
        if not learned.has(log):
            raise UsageError(Problem(f"{name}: this is not among what was counted", "a log, or its hash in the file"))
        learned = learned.without(log)
        said.append(f"Forgotten: {name}")
    return learned, said


def _counted(learned: Learned, logs: Sequence[str], confirmed: str, cured: bool) -> tuple[Learned, list[str]]:
    problems: list[Problem] = []
    said = []
    for name in dict.fromkeys(logs):
        try:
            log = log_hash(*read_log(Path(name)))
            if learned.has(log):
                said.append(f"Counted already: {name}")
                continue
            source = source_of(Path(name), confirmed, cured)
        except DiagnoseError as error:
            problems += error.problems
            continue
        learned = learned.with_source(source)
        said.append(f"Counted: {source.confirmed}, from {name}")
    if problems:
        raise UsageError(*problems)
    return learned, said
