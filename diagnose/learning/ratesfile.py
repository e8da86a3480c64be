"""The file of confirmed faults: readable YAML, one entry a kind and fault, each log named by a hash."""

from __future__ import annotations

import hashlib
import json
import math
import os
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType

from diagnose.files import replace_file
from diagnose.knowledge.rates import load_rates
from diagnose.learning.shift import shift_of
from diagnose.yamlfile import Collector, Node, read
from diagnose.yamlfile import Mapping as MappingNode

FORMAT = 1
SUM_TOLERANCE = 1e-3  # exposures are written to six digits, and there may be hundreds
HEADER = """\
# Faults that were confirmed, counted from saved sessions: they shift how likely each fault is taken to be at first.
# 'diagnose learn' keeps this file: --show prints it as a table, --forget LOG and --forget-all take counts back.
# An entry is a kind of part and its fault. count: how often it was the cause. exposure: how often it would have been at
# the bundled rate, the sum over the sessions in which it was possible. logs: the sessions, by a hash of each log.
"""


@dataclass(frozen=True, slots=True)
class Source:
    """One session: what was confirmed, and how much each fault was expected to be it at the bundled rates."""

    log: str  # hash
    confirmed: str  # 'kind.fault'
    exposures: Mapping[str, float]


@dataclass(frozen=True, slots=True)
class Count:
    """One kind's fault: how often it was the cause, and how often it was expected to be."""

    fault: str
    count: int
    exposure: float

    @property
    def shift(self) -> float:
        """By what the bundled rate is multiplied."""
        rates = load_rates()
        return shift_of(self.count, self.exposure, rates.prior_failures, rates.most)


@dataclass(frozen=True, slots=True)
class Learned:
    """All that was learned: the sessions it came from, in the order they were counted."""

    sources: tuple[Source, ...] = ()

    @property
    def counts(self) -> tuple[Count, ...]:
        """Every fault that was possible in some session, the most often confirmed first."""
        exposures: dict[str, float] = {}
        confirmed: dict[str, int] = {}
        for source in self.sources:
            confirmed[source.confirmed] = confirmed.get(source.confirmed, 0) + 1
            for fault, exposure in source.exposures.items():
                exposures[fault] = exposures.get(fault, 0.0) + exposure
        names = sorted(exposures | confirmed, key=lambda name: (-confirmed.get(name, 0), name))
        return tuple(Count(name, confirmed.get(name, 0), exposures.get(name, 0.0)) for name in names)

    @property
    def factors(self) -> Mapping[str, float]:
        """What each kind's fault has its bundled rate multiplied by."""
        return MappingProxyType({count.fault: round(count.shift, 6) for count in self.counts})

    def with_source(self, source: Source) -> Learned:
        """The same with one more session. Raises ValueError where it is counted already."""
        if self.has(source.log):
            raise ValueError(f"{source.log} is counted already")
        return Learned((*self.sources, source))

    def has(self, log: str) -> bool:
        """Whether a session is counted already."""
        return any(source.log == log for source in self.sources)

    def without(self, log: str) -> Learned:
        """The same without a session."""
        return Learned(tuple(source for source in self.sources if source.log != log))


def text_of(learned: Learned) -> str:
    """The file's text."""
    lines = [HEADER.rstrip("\n"), f"format: {FORMAT}", "faults:" if learned.sources else "faults: {}"]
    for count in learned.counts:
        logs = {
            source.log: round(source.exposures.get(count.fault, 0.0), 6)
            for source in learned.sources
            if count.fault in source.exposures
        }
        confirmed = [source.log for source in learned.sources if source.confirmed == count.fault]
        lines += [
            f"  {count.fault}:",
            f"    count: {count.count}",
            f"    exposure: {math.fsum(logs.values()):.6f}",
            f"    confirmed: {json.dumps(confirmed)}",
            f"    logs: {json.dumps(logs)}",
        ]
    return "\n".join(lines) + "\n"


def hash_of(text: str) -> str:
    """A short name for what a file says."""
    return hashlib.sha256(text.encode()).hexdigest()[:16]


def read_learned(path: Path) -> Learned:
    """Read the file.

    Raises
    ------
    FileError
        With every problem, each with its line and column.
    """
    collect = Collector()
    keys = collect.mapping(read(path), required=("format", "faults"))
    collect.raise_errors()
    collect.whole(keys["format"], FORMAT, FORMAT)
    confirmed: dict[str, str] = {}
    exposures: dict[str, dict[str, float]] = {}
    if not isinstance(keys["faults"], MappingNode):
        collect.error(keys["faults"], "the faults are not a mapping", "kinds and faults, as element.open")
    else:
        for key, value in keys["faults"].entries:
            _entry(collect, key.text, value, confirmed, exposures)
    lost = sorted(set(exposures) - set(confirmed))
    if lost:
        collect.error(keys["faults"], f"the log {lost[0]} has no confirmed fault", "it in one fault's 'confirmed'")
    collect.raise_errors()
    order = [*exposures, *(log for log in confirmed if log not in exposures)]
    return Learned(tuple(Source(log, confirmed[log], MappingProxyType(exposures.get(log, {}))) for log in order))


def _entry(
    collect: Collector, fault: str, node: Node, confirmed: dict[str, str], exposures: dict[str, dict[str, float]]
) -> None:
    keys = collect.mapping(node, required=("count", "exposure", "confirmed", "logs"))
    if not {"count", "exposure", "confirmed", "logs"} <= keys.keys():
        return
    count, exposure = collect.whole(keys["count"], 0), collect.number(keys["exposure"], 0)
    logs = [collect.text(item) for item in collect.sequence(keys["confirmed"])]
    for log in logs:
        if log in confirmed:
            collect.error(keys["confirmed"], f"the log {log} confirms '{confirmed[log]}' as well", "one fault a log")
        confirmed[log] = fault
    total = 0.0
    if isinstance(keys["logs"], MappingNode):
        for key, value in keys["logs"].entries:
            share = collect.number(value, 0, 1) or 0.0
            exposures.setdefault(key.text, {})[fault] = share
            total += share
    else:
        collect.error(keys["logs"], "the logs are not a mapping", "hashes with exposures")
    if count is not None and count != len(logs):
        collect.error(keys["count"], f"the count is {count}, but {len(logs)} logs are named", f"{len(logs)}")
    if exposure is not None and abs(exposure - total) > SUM_TOLERANCE:
        collect.error(keys["exposure"], f"the exposure is {exposure:g}, but the logs sum to {total:g}", f"{total:.6f}")


def write_learned(path: Path, learned: Learned) -> None:
    """Write the file whole or not at all: beside it first, on the disk, then in its place.

    Raises FileError where it can't be written; what was there stays.
    """
    replace_file(path, text_of(learned), make_folder=True)


def default_path() -> Path | None:
    """Where the file lies if nothing else is said: in the data folder of the XDG specification; None without a home."""
    data, home = os.environ.get("XDG_DATA_HOME", ""), os.environ.get("HOME", "")
    if data and Path(data).is_absolute():  # the specification says to pass over a relative one
        return Path(data) / "diagnose" / "rates.yaml"
    return Path(home) / ".local" / "share" / "diagnose" / "rates.yaml" if home else None
