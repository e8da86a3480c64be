"""Every fault of a panel against every complaint that it leads to, and every reach."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field

import numpy as np

from diagnose.circuit.netlist import BoolArray, build
from diagnose.costs import need_of
from diagnose.coverage.apart import splitting, told_apart
from diagnose.coverage.reach import REACHES, Reach
from diagnose.knowledge.records import Complaint
from diagnose.model import Model, make_model, subjects_of
from diagnose.panel.records import Panel, part_of
from diagnose.safety import PanelState, way


@dataclass(frozen=True, slots=True)
class FaultRow:
    """One way in which one part fails: what is complained of, and what it is mistaken for within each reach.

    `mistaken` holds, for each reach, the parts that no check within it tells from this fault, over all complaints.
    """

    part: str
    fault: str
    title: str
    complaints: tuple[str, ...]
    mistaken: tuple[tuple[str, ...], ...]


@dataclass(frozen=True, slots=True)
class Advice:
    """What would tell parts apart that now are not: a test point brought out, or an instrument."""

    kind: str  # 'test point' or 'instrument'
    what: str
    pairs: tuple[tuple[str, str], ...]  # labels of the parts that come apart


@dataclass(frozen=True, slots=True)
class Coverage:
    """A panel's report."""

    panel: Panel
    rows: tuple[FaultRow, ...]
    silent: tuple[tuple[str, str, str], ...]  # part, fault, title: nothing is complained of
    complaints: int
    advice: tuple[Advice, ...]
    unreachable: tuple[str, ...] = ()  # checks that no guard lets anybody come to
    together: tuple[tuple[tuple[str, ...], tuple[str, ...]], ...] = ()  # parts that the last reach leaves, complaints

    def shares(self) -> Mapping[str, tuple[int, int]]:
        """For each reach: how many faults are found alone, and of how many."""
        return {
            reach.name: (sum(not row.mistaken[number] for row in self.rows), len(self.rows))
            for number, reach in enumerate(REACHES)
        }


@dataclass(slots=True)
class _Found:
    complaints: dict[tuple[str, str], dict[str, None]] = field(default_factory=dict)
    mistaken: dict[tuple[str, str], list[dict[str, None]]] = field(default_factory=dict)
    titles: dict[tuple[str, str], str] = field(default_factory=dict)
    points: dict[str, dict[tuple[str, str], float]] = field(default_factory=dict)
    instruments: dict[str, dict[tuple[str, str], float]] = field(default_factory=dict)
    unreachable: dict[str, None] = field(default_factory=dict)
    together: dict[frozenset[str], dict[str, None]] = field(default_factory=dict)


MOST_ADVICE = 6


def cover(panel: Panel, complaints: Mapping[str, Complaint], say: Callable[[str], None] = lambda _: None) -> Coverage:
    """Work out a panel's report; `say` is told each complaint as its turn comes.

    Raises CircuitError where the panel's circuit can't be solved.
    """
    netlist = build(panel)
    found = _Found()
    every: dict[tuple[str, str], str] = {}
    asked = [
        (complaint, subject)
        for complaint in complaints.values()
        for subject in (subjects_of(panel, complaint) if complaint.subject else [None])
    ]
    for number, (complaint, subject) in enumerate(asked, start=1):
        say(f"{number} of {len(asked)}: {complaint.title}" + (f" ({panel.label(subject)})" if subject else ""))
        model = make_model(netlist, complaint, subject)
        for cause in model.everything.causes:
            if not cause.as_built and not panel.at_the_service(cause.part):
                every.setdefault((cause.part, cause.fault), model.fault(cause).title)
        _note(found, model)
    rows = tuple(
        FaultRow(
            part, fault, found.titles[part, fault], tuple(found.complaints[part, fault]),
            tuple(tuple(names) for names in found.mistaken[part, fault]),
        )
        for part, fault in every
        if (part, fault) in found.complaints
    )  # fmt: skip
    silent = tuple((*key, title) for key, title in every.items() if key not in found.complaints)
    return Coverage(
        panel, rows, silent, len(asked), tuple(_advice(panel, found)), tuple(found.unreachable), _together(found)
    )


def _note(found: _Found, model: Model) -> None:
    """Add what one complaint tells."""
    found.unreachable.update(
        dict.fromkeys(check.id for check in model.checks if way(PanelState(), need_of(check), "live") is None)
    )
    aparts = _aparts(model)
    for number, cause in enumerate(model.causes):
        if cause.as_built or model.panel.at_the_service(cause.part):
            continue
        key = (cause.part, cause.fault)
        found.titles[key] = model.fault(cause).title
        found.complaints.setdefault(key, {})[model.complaint.name] = None
        mistaken = found.mistaken.setdefault(key, [{} for _ in REACHES])
        for place, apart in enumerate(aparts):
            mistaken[place].update(dict.fromkeys(_others(model, apart, number)))
        if others := frozenset(_others(model, aparts[-1], number)):
            found.together.setdefault(others | {cause.part}, {})[model.complaint.name] = None
    _note_advice(found, model, aparts[1], found.points, REACHES[2])
    _note_advice(found, model, aparts[-1], found.instruments, None)


def _together(found: _Found) -> tuple[tuple[tuple[str, ...], tuple[str, ...]], ...]:
    """Each group once, with its complaints, but for those that lie within another one of the same complaints."""
    groups = found.together
    largest = (
        group
        for group, where in groups.items()
        if not any(group < other and where.keys() <= its.keys() for other, its in groups.items())
    )
    return tuple((tuple(sorted(group)), tuple(groups[group])) for group in largest)


def _aparts(model: Model) -> list[BoolArray]:
    """(H, H) for each reach; each one holds the checks of the one before, so only what it adds is looked at."""
    aparts: list[BoolArray] = []
    seen: set[str] = set()
    for reach in REACHES:
        added = [check for check in reach.of(model.checks) if check.id not in seen]
        seen.update(check.id for check in added)
        aparts.append(told_apart(model, added, aparts[-1] if aparts else None))
    return aparts


def _others(model: Model, apart: BoolArray, number: int) -> Iterator[str]:
    own = model.causes[number].part
    for other in np.flatnonzero(~apart[number]):
        part = model.causes[other].part
        if part != own:
            yield part


def _note_advice(
    found: _Found, model: Model, apart: BoolArray, notes: dict[str, dict[tuple[str, str], float]], within: Reach | None
) -> None:
    """For parts that are not apart: which test points within a further reach, or which instruments, split them."""
    panel = model.panel
    parts = [cause.part for cause in model.causes]
    if within is not None:
        checks = [check for check in within.of(model.checks) if check.tail and check.exposure != "outside"]
    else:
        checks = [check for check in model.checks if check.instrument not in ("none", "multimeter")]
    for one, other in zip(*np.nonzero(np.triu(~apart)), strict=True):
        if parts[one] == parts[other] or panel.at_the_service(parts[one]) or panel.at_the_service(parts[other]):
            continue
        pair = (panel.label(parts[one]), panel.label(parts[other]))
        weight = float(min(model.prior[one], model.prior[other]))
        for check in splitting(model, checks, int(one), int(other)):
            what = _points(panel, check.tail, check.head) if within is not None else check.instrument
            known = notes.setdefault(what, {})
            known[pair] = max(known.get(pair, 0.0), weight)


def _points(panel: Panel, tail: str, head: str) -> str:
    """Two terminals to bring out, as 'pump: line and neutral' where both are of one part."""
    one, other = sorted((tail, head))
    part = part_of(one)
    if part == part_of(other) and panel.kind_of(part).role not in ("bar", "earth"):
        titles = (panel.kind_of(part).terminals[end.partition(".")[2]].title for end in (one, other))
        return f"{panel.label(part)}: {' and '.join(titles)}"
    return f"{panel.terminal_label(one)} and {panel.terminal_label(other)}"


def _advice(panel: Panel, found: _Found) -> Iterator[Advice]:
    """What splits the most, the likeliest first; then what splits the most of the rest."""
    for kind, notes in (("test point", found.points), ("instrument", found.instruments)):
        left = {what: dict(pairs) for what, pairs in notes.items()}
        for _ in range(MOST_ADVICE):
            best = max(left, key=lambda what: (sum(left[what].values()), what), default=None)
            if best is None or not left[best]:
                break
            split = left.pop(best)
            yield Advice(kind, best, tuple(sorted(split, key=lambda pair: -split[pair])))
            left = {what: {pair: w for pair, w in pairs.items() if pair not in split} for what, pairs in left.items()}
