"""The report as plain text of at most 78 columns."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator

from diagnose.report.html import HEADINGS, OUTCOMES
from diagnose.report.records import Course, Entry, Report
from diagnose.wording import percent

COLUMNS = 78


def text_of(report: Report) -> str:
    """The whole report."""
    return "\n".join(line.rstrip() for line in _lines(report)) + "\n"


def _lines(report: Report) -> Iterator[str]:
    yield from (*_wrapped(report.title.upper()), "")
    for line in report.alarms:
        yield from _wrapped(f"!! {line}", "   ")
    yield from (*_wrapped(f"=> {report.result}", "   "),)
    for line in report.result_lines:
        yield from _wrapped(f"   {line}", "   ")
    yield ""
    for key, value in report.facts:
        yield from _wrapped(f"{key + ':':<15}{value}", " " * 15)
    done = [line for entry in report.entries for line in _entry(entry)]
    yield from _section("done", done or ["Nothing yet."])
    yield from _section("conclusion", _conclusion(report))
    yield from _section("drawing", _path(report))
    yield from _section("work", _work(report))
    yield from _section("parts", _parts(report))
    yield from _section("proofs", _proofs(report))
    yield from _section("cautions", (each for line in report.cautions for each in _wrapped(f"! {line}", "  ")))
    yield from _section("sign", (each for line in report.sign_off for each in _signed(line)))
    yield from ("", *_wrapped(report.foot))


def _wrapped(text: str, indent: str = "") -> list[str]:
    start = text[: len(text) - len(text.lstrip())]
    return textwrap.wrap(text.lstrip(), COLUMNS, initial_indent=start, subsequent_indent=indent, break_on_hyphens=False)


def _section(name: str, lines: Iterable[str]) -> Iterator[str]:
    made = list(lines)
    if made:
        yield from ("", HEADINGS[name], "-" * len(HEADINGS[name]), *made)


def _entry(entry: Entry) -> Iterator[str]:
    mark = f"{entry.number:>3} " if entry.number else "  - "
    what = {
        "taken back": "TAKEN BACK: ",
        "left out": "not done: ",
        "asked again": "asked again: ",
        "before": "before the remedy: ",
    }
    tag = f" [{entry.exposure}]" if entry.exposure else ""
    typed = f": {entry.found}" if entry.found and entry.kind in ("step", "note") else ""
    yield from _wrapped(f"{mark}{what.get(entry.kind, '')}{entry.title}{tag}{typed}", "    ")
    if entry.kind in ("reading", "taken back", "before", "asked again"):
        for line in entry.before:
            yield from _wrapped(f"      {line}", "      ")
        told = " (as expected)" if entry.as_expected else " (NOT as expected)"
        yield from _wrapped(f"      found {entry.found}{told if entry.kind == 'reading' else ''}; sound "
                            f"{entry.expected}", "      ")  # fmt: skip
    for line in entry.says:
        yield from _wrapped(f"      {line}", "      ")


def _conclusion(report: Report) -> Iterator[str]:
    yield from (each for line in report.conclusion[:1] for each in _wrapped(line))
    for cause in report.causes:
        yield from _wrapped(f"  {cause.percent:>9}  {cause.letter or ' '}  {cause.title}", " " * 16)
    yield from (each for line in report.conclusion[1:] for each in _wrapped(line))
    yield from _course(report.course)


def _course(course: Course) -> Iterator[str]:
    if len(course.numbers) < 2:
        return
    yield from ("", "Belief in each after each reading:")
    yield "  reading  " + "".join(f"{series.letter:>10}" for series in course.series)
    for place, number in enumerate(course.numbers):
        shares = "".join(f"{percent(series.shares[place]):>10}" for series in course.series)
        yield f"  {number or 'start':>7}  {shares}"
    for series in course.series:
        yield from _wrapped(f"  {series.letter}  {series.title}", "     ")


def _path(report: Report) -> Iterator[str]:
    if report.path:
        yield "The way of the power, and back; readings by their numbers:"
    for step in report.path:
        numbers = f" [{', '.join(str(number) for number in step.numbers)}]" if step.numbers else ""
        yield from _wrapped(f"  {step.part}{numbers}{f'  <-- {step.mark}' if step.mark else ''}", "    ")


def _work(report: Report) -> Iterator[str]:
    for work in report.work:
        why = f" ({work.why})" if work.why else ""
        yield from _wrapped(f"{work.part}{why}: {work.text}", "  ")
        for line in work.measure:
            yield from _wrapped(f"  - {line}", "    ")
    for note in report.work_notes:
        yield from _wrapped(note)


def _parts(report: Report) -> Iterator[str]:
    yield from _wrapped(report.purchase_note)
    for each in report.purchases:
        yield from _wrapped(f"- {each.part}: {each.what}", "  ")
        for key, value in each.ratings:
            yield from _wrapped(f"    {key}: {value}", "      ")


def _proofs(report: Report) -> Iterator[str]:
    yield from _wrapped(report.proof_note)
    for line in report.proofs:
        found = f": {line.found}" if line.found else ""
        yield from _wrapped(f"{OUTCOMES[line.outcome]}{found} - {line.title}", "  ")
        yield from _wrapped(f"    {line.text}", "    ")


def _signed(line: str) -> Iterator[str]:
    yield from ("", "_" * 50 + "  " + "_" * 20)
    yield from _wrapped(f"{line}; date", "")
