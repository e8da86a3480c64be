"""What a coverage report says, as tables of words: the same for every page."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass

from diagnose.coverage.gather import Coverage, FaultRow
from diagnose.coverage.reach import REACHES
from diagnose.units import show

MOST_NAMED = 3
MOST_APART = 6
INSTRUMENTS = {
    "clamp": "a current clamp",
    "insulation_tester": "an insulation tester",
    "leakage_clamp": "a leakage clamp",
    "low_impedance": "a meter with low input impedance",
    "infrared_thermometer": "an infrared thermometer",
}
READING = (
    "Each row is a part and the ways in which it fails. 'alone' means that within that reach a single check tells it "
    "from every other part; else the parts that it may be mistaken for are named. Nobody goes further than they are "
    "trained for: a referral is as good."
)
FITTING = (
    "For whoever builds or rebuilds the panel: bring the two points of a row out to a test point, and what stands "
    "beside them comes apart with a meter and the box shut. A test point is fitted dead, by someone licensed where the "
    "law asks for it: a touch-proof socket with its own fuse, labelled. No protective device, earth or interlock is "
    "bridged by it."
)
TOGETHER = (
    "With all that a multimeter tells, live as well, no single check tells one of these from the others. A session "
    "says so and names them: they are looked over together, the likeliest first."
)
BUILDING = "the supply before the panel"  # its devices and wires: one call to an electrician, whichever it is
UNNOTICED = (
    "No complaint leads to these. An earth that is lost is among them: it is measured, with the supply off, before the "
    "panel is used again after any work in it, and now and then without a cause."
)


@dataclass(frozen=True, slots=True)
class Table:
    """A table of a report; `note` may be empty."""

    title: str
    note: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


def tables(coverage: Coverage) -> Iterator[Table]:
    """All tables in the order of a page; those without rows are left out."""
    names = tuple(reach.name for reach in REACHES)
    counted = (
        (name, f"{alone} of {total}" + (f" ({show(alone / total, 'ratio')})" if total else ""))
        for name, (alone, total) in coverage.shares().items()
    )
    found = (
        Table("Found alone", "", ("reach", "faults"), tuple(counted)),
        Table("Test points that would help", FITTING, ("bring out", "and these come apart"),
              tuple(_advised(coverage, "test point"))),
        Table("Instruments that would help", "", ("at hand", "and these come apart"),
              tuple(_advised(coverage, "instrument"))),
        Table("What stays together", TOGETHER, ("these", "where it is said", "what would help"),
              tuple(_together(coverage))),
        Table("Part by part", "", ("part", "faults", "complaints", *names), tuple(_parts(coverage))),
        Table("Faults that nobody would notice", UNNOTICED, ("fault", "of"), tuple(_silent(coverage))),
    )  # fmt: skip
    yield from (table for table in found if table.rows)


def apart_words(pairs: Sequence[tuple[str, str]], wires: Iterable[str] = ()) -> str:
    """Pairs by the part that most of them have in common: 'mash switch from mash contactor, mash relay'.

    Those that are wires are counted, not named, but for one that is all that another comes apart from.
    """
    left, told, unnamed = list(pairs), [], set(wires)
    while left:
        counts = Counter(name for pair in left for name in pair)
        common = max(counts, key=lambda name: (name not in unnamed, counts[name], name))
        others = list(dict.fromkeys(one if other == common else other for one, other in left if common in (one, other)))
        told.append(f"{common} from {_listed(others, unnamed, MOST_APART)}")
        left = [pair for pair in left if common not in pair]
    return "; ".join(told)


def _listed(names: Sequence[str], wires: set[str], most: int) -> str:
    """Names, the first few of the parts, and how many more and how many wires there are."""
    parts = [name for name in names if name not in wires]
    count = len(names) - len(parts)
    if len(names) == 1:
        return names[0]
    more = f" and {len(parts) - most} more" if len(parts) > most else ""
    told = ", ".join(parts[:most]) + more
    if not count:
        return told
    counted = "1 wire" if count == 1 else f"{count} wires"
    return f"{told}{' and ' if told else ''}{counted}"


def _wires(coverage: Coverage) -> set[str]:
    return {coverage.panel.label(name) for name in coverage.panel.wires_by_name}


def _advised(coverage: Coverage, kind: str) -> Iterator[tuple[str, ...]]:
    for each in coverage.advice:
        if each.kind == kind:
            yield INSTRUMENTS.get(each.what, each.what), apart_words(each.pairs, _wires(coverage))


def _together(coverage: Coverage) -> Iterator[tuple[str, ...]]:
    """Parts that the last reach leaves together, under which complaints, and which instruments split some of them."""
    for parts, complaints in coverage.together:
        labels = {coverage.panel.label(name) for name in parts}
        help_ = (
            INSTRUMENTS.get(each.what, each.what)
            for each in coverage.advice
            if each.kind == "instrument" and any(set(pair) <= labels for pair in each.pairs)
        )
        own = [coverage.panel.label(name) for name in parts if not coverage.panel.at_the_service(name)]
        named = "; ".join([*own, *([BUILDING] if len(own) < len(parts) else [])])
        where = ", ".join(name.replace("_", " ") for name in complaints)
        yield named, where, ", ".join(help_) or "no instrument that is known here"


def _parts(coverage: Coverage) -> Iterator[tuple[str, ...]]:
    """Faults of one part that are told apart from the same parts stand in one row."""
    rows: dict[tuple[object, ...], list[FaultRow]] = {}
    for row in coverage.rows:
        rows.setdefault((row.part, tuple(map(frozenset, row.mistaken))), []).append(row)
    for same in rows.values():
        complaints = dict.fromkeys(name.replace("_", " ") for row in same for name in row.complaints)
        yield (
            coverage.panel.label(same[0].part),
            "; ".join(dict.fromkeys(row.title for row in same)),
            ", ".join(complaints),
            *(_mistaken(coverage, same[0], number) for number in range(len(REACHES))),
        )


def _mistaken(coverage: Coverage, row: FaultRow, number: int) -> str:
    labels = [coverage.panel.label(part) for part in row.mistaken[number]]
    return _listed(labels, _wires(coverage), MOST_NAMED) if labels else "alone"


def _silent(coverage: Coverage) -> Iterator[tuple[str, ...]]:
    """By the fault, with all parts that have it."""
    label: Callable[[str], str] = coverage.panel.label
    titles: dict[str, list[str]] = {}
    for part, _, title in coverage.silent:
        titles.setdefault(title, []).append(label(part))
    yield from ((title, "; ".join(parts)) for title, parts in titles.items())
