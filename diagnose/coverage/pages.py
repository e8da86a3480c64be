"""A panel's coverage as Markdown, HTML or JSON."""

from __future__ import annotations

import json
import re
from collections import Counter
from collections.abc import Iterator, Sequence
from html import escape

from diagnose.coverage.gather import Coverage, FaultRow
from diagnose.coverage.reach import REACHES
from diagnose.errors import printable
from diagnose.units import show
from diagnose.wording import review_cautions

MOST_NAMED = 3
INSTRUMENTS = {
    "clamp": "a current clamp",
    "insulation_tester": "an insulation tester",
    "leakage_clamp": "a leakage clamp",
    "low_impedance": "a meter with low input impedance",
    "infrared_thermometer": "an infrared thermometer",
}
READING = (
    "Each row is a part and a way in which it fails. 'alone' means that within that reach a single check tells it from "
    "every other part; else the parts that it may be mistaken for are named. Nobody goes further than they are trained "
    "for: a referral is as good."
)
FITTING = (
    "A test point is fitted dead, by someone licensed where the law asks for it: a touch-proof socket with its own "
    "fuse, labelled. No protective device, earth or interlock is bridged by it."
)
UNNOTICED = (
    "No complaint leads to these. An earth that is lost is among them: it is measured, with the supply off, before the "
    "panel is used again after any work in it, and now and then without a cause."
)


def as_json(coverage: Coverage) -> str:
    """Everything, for other programs; the keys are stable."""
    return json.dumps(
        {
            "format": 1,
            "panel": coverage.panel.name,
            "cautions": review_cautions(coverage.panel),
            "complaints": coverage.complaints,
            "found_alone": {name: list(pair) for name, pair in coverage.shares().items()},
            "faults": [
                {
                    "part": row.part, "fault": row.fault, "title": row.title, "complaints": list(row.complaints),
                    "mistaken": {reach.name: list(row.mistaken[n]) for n, reach in enumerate(REACHES)},
                }
                for row in coverage.rows
            ],
            "silent": [{"part": part, "fault": fault, "title": title} for part, fault, title in coverage.silent],
            "advice": [
                {"kind": each.kind, "what": each.what, "pairs": [list(pair) for pair in each.pairs]}
                for each in coverage.advice
            ],
        },
        ensure_ascii=False, indent=2,
    )  # fmt: skip


def as_markdown(coverage: Coverage) -> str:
    """For a repository or a wiki."""
    lines = [f"# What can be found: {_cell(coverage.panel.title)}", "", READING, "", *_caution_items(coverage), ""]
    for title, note, head, rows in _tables(coverage):
        lines += [f"## {title}", "", *([note, ""] if note else [])]
        lines += ["| " + " | ".join(head) + " |", "|" + "---|" * len(head)]
        lines += ["| " + " | ".join(_cell(cell) for cell in row) + " |" for row in rows]
        lines.append("")
    return "\n".join(lines).rstrip()


def as_html(coverage: Coverage) -> str:
    """One file without a script, for a screen or to print."""
    body = [f"<h1>What can be found: {_text(coverage.panel.title)}</h1>", f"<p>{_text(READING)}</p>"]
    body += [f"<p>{_text(text)}</p>" for text in _cautions(coverage)]
    for title, note, head, rows in _tables(coverage):
        heads = "".join(f'<th scope="col">{_text(cell)}</th>' for cell in head)
        body += [f"<h2>{_text(title)}</h2>", *([f"<p>{_text(note)}</p>"] if note else [])]
        body.append(f'<div class="wide"><table><thead><tr>{heads}</tr></thead><tbody>')
        body += ["<tr>" + "".join(f"<td>{_text(cell)}</td>" for cell in row) + "</tr>" for row in rows]
        body.append("</tbody></table></div>")
    return _PAGE.format(title=_text(f"What can be found: {coverage.panel.title}"), body="\n".join(body))


def _cautions(coverage: Coverage) -> list[str]:
    return [f"Caution: {text}" for text in review_cautions(coverage.panel)]


def _caution_items(coverage: Coverage) -> list[str]:
    return [f"- {_cell(text)}" for text in _cautions(coverage)]


Table = tuple[str, str, Sequence[str], list[Sequence[str]]]


def _tables(coverage: Coverage) -> Iterator[Table]:
    """Title, note, head and rows of each table."""
    panel = coverage.panel
    names = [reach.name for reach in REACHES]
    counted: list[Sequence[str]] = [
        [name, f"{alone} of {total}" + (f" ({show(alone / total, 'ratio')})" if total else "")]
        for name, (alone, total) in coverage.shares().items()
    ]
    yield "Found alone", "", ["reach", "faults"], counted
    parts: list[Sequence[str]] = [
        [
            panel.label(row.part), row.title, ", ".join(row.complaints),
            *(_mistaken(coverage, row, number) for number in range(len(names))),
        ]
        for row in coverage.rows
    ]  # fmt: skip
    yield "Part by part", "", ["part", "fault", "complaints", *names], parts
    points = _advised(coverage, "test point")
    if points:
        yield "Test points that would help", FITTING, ["brought out", "with the box shut it tells"], points
    instruments = _advised(coverage, "instrument")
    if instruments:
        yield "Instruments that would help", "", ["at hand", "it tells"], instruments
    if coverage.silent:
        silent: list[Sequence[str]] = [[panel.label(part), title] for part, _, title in coverage.silent]
        yield "Faults that nobody would notice", UNNOTICED, ["part", "fault"], silent


def _advised(coverage: Coverage, kind: str) -> list[Sequence[str]]:
    return [
        [INSTRUMENTS.get(each.what, each.what), apart_words(each.pairs)]
        for each in coverage.advice
        if each.kind == kind
    ]


def apart_words(pairs: Sequence[tuple[str, str]]) -> str:
    """Pairs by the part that most of them have in common: 'mash switch from mash contactor, mash relay'."""
    left, told = list(pairs), []
    while left:
        counts = Counter(name for pair in left for name in pair)
        common = max(counts, key=lambda name: (counts[name], name))
        others = [one if other == common else other for one, other in left if common in (one, other)]
        rest = len(others) - 2 * MOST_NAMED
        told.append(f"{common} from {', '.join(others[: 2 * MOST_NAMED])}" + (f" and {rest} more" if rest > 0 else ""))
        left = [pair for pair in left if common not in pair]
    return "; ".join(told)


def _mistaken(coverage: Coverage, row: FaultRow, number: int) -> str:
    labels = [coverage.panel.label(part) for part in row.mistaken[number]]
    if not labels:
        return "alone"
    rest = len(labels) - MOST_NAMED
    return ", ".join(labels[:MOST_NAMED]) + (f" and {rest} more" if rest > 0 else "")


def _cell(text: str) -> str:
    """A text that Markdown shows as it is."""
    return re.sub(r"([\\|`*_\[\]])", r"\\\1", escape(printable(text), quote=False))


def _text(text: str) -> str:
    return escape(printable(text))


_PAGE = """<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>{title}</title>
<style>
body {{ font: 16px/1.4 sans-serif; color: #111; background: #fff; margin: 1rem auto; max-width: 70rem; }}
body {{ padding: 0 1rem; }}
.wide {{ overflow-x: auto; }}
table {{ border-collapse: collapse; width: 100%; font-size: 0.9rem; }}
th, td {{ border: 1px solid #767676; padding: 0.3rem 0.5rem; text-align: left; vertical-align: top; }}
th {{ background: #eee; }}
@media print {{
  body {{ font-size: 9pt; max-width: none; }}
  thead {{ display: table-header-group; }}
  tr {{ break-inside: avoid; }}
}}
</style>
</head>
<body>
{body}
</body>
</html>"""
