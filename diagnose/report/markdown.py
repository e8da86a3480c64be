"""The report as Markdown: tables and lists, every text escaped, nothing linked to."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from diagnose.escaping import markdown_text as plain
from diagnose.report.html import HEADINGS, OUTCOMES
from diagnose.report.records import Course, Entry, Report
from diagnose.wording import percent


def markdown_of(report: Report) -> str:
    """The whole report."""
    return "\n".join(_lines(report)) + "\n"


def _lines(report: Report) -> Iterator[str]:
    yield from (f"# {plain(report.title)}", "")
    for line in report.alarms:
        yield from (f"> **! {plain(line)}**", "")
    yield from (f"**{plain(report.result)}**", "")
    for line in report.result_lines:
        yield from (plain(line), "")
    yield from _table(("", ""), ((key, value) for key, value in report.facts))
    yield from _section("done", list(_done(report.entries)) or ["Nothing yet."])
    yield from _section("conclusion", _conclusion(report))
    yield from _section("drawing", _path(report))
    yield from _section("work", _work(report))
    yield from _section("parts", _parts(report))
    yield from _section("proofs", _proofs(report))
    yield from _section("cautions", (f"- {plain(line)}" for line in report.cautions))
    yield from _section("sign", _table(("", "name", "date"), ((line, "", "") for line in report.sign_off)))
    yield from ("", plain(report.foot))


def _section(name: str, lines: Iterable[str]) -> Iterator[str]:
    made = list(lines)
    if made:
        yield from ("", f"## {HEADINGS[name]}", "", *made)


def _table(head: tuple[str, ...], rows: Iterable[tuple[str, ...]]) -> Iterator[str]:
    made = list(rows)
    if made:
        yield f"| {' | '.join(head)} |"
        yield f"|{'---|' * len(head)}"
        yield from (f"| {' | '.join(plain(cell) for cell in row)} |" for row in made)


def _done(entries: tuple[Entry, ...]) -> Iterator[str]:
    rows = [_row(entry) for entry in entries]
    yield from _table(("#", "what", "found", "sound", "says"), rows)


def _row(entry: Entry) -> tuple[str, ...]:
    told = "" if entry.kind != "reading" else " (as expected)" if entry.as_expected else " (NOT as expected)"
    what = {
        "taken back": "TAKEN BACK: ",
        "left out": "not done: ",
        "asked again": "asked again: ",
        "before": "before the remedy: ",
    }.get(entry.kind, "")
    tag = f" ({entry.exposure})" if entry.exposure else ""
    before = f" {' '.join(entry.before)}" if entry.before else ""
    number = str(entry.number) if entry.number else ""
    return number, f"{what}{entry.title}{tag}.{before}", f"{entry.found}{told}", entry.expected, " ".join(entry.says)


def _conclusion(report: Report) -> Iterator[str]:
    yield from (each for line in report.conclusion for each in (plain(line), ""))
    yield from _table(("", "share", "cause"), ((cause.letter, cause.percent, cause.title) for cause in report.causes))
    yield from _course(report.course)


def _course(course: Course) -> Iterator[str]:
    if len(course.numbers) < 2:
        return
    yield from ("", "Belief in each after each reading:", "")
    rows = (
        (str(number or "start"), *(percent(series.shares[place]) for series in course.series))
        for place, number in enumerate(course.numbers)
    )
    yield from _table(("reading", *(series.letter for series in course.series)), rows)
    yield ""
    yield from (f"- {series.letter}: {plain(series.title)}" for series in course.series)


def _path(report: Report) -> Iterator[str]:
    if report.path:
        yield from ("The way of the power, and back; readings by their numbers:", "")
    for number, step in enumerate(report.path, start=1):
        at = f" ({', '.join(str(each) for each in step.numbers)})" if step.numbers else ""
        mark = f" **{plain(step.mark)}**" if step.mark else ""
        yield f"{number}. {plain(step.part)}{at}{mark}"


def _work(report: Report) -> Iterator[str]:
    for work in report.work:
        why = f" ({work.why})" if work.why else ""
        yield from (f"**{plain(work.part + why)}**: {plain(work.text)}", "")
        yield from (*(f"- {plain(line)}" for line in work.measure), "")
    yield from (each for note in report.work_notes for each in (plain(note), ""))


def _parts(report: Report) -> Iterator[str]:
    yield from (plain(report.purchase_note), "")
    for each in report.purchases:
        yield from (f"**{plain(each.part)}**: {plain(each.what)}", "")
        yield from _table(("", ""), each.ratings)
        yield ""


def _proofs(report: Report) -> Iterator[str]:
    yield from (plain(report.proof_note), "")
    rows = (
        (f"{OUTCOMES[line.outcome]}{f': {line.found}' if line.found else ''}", line.title, line.text)
        for line in report.proofs
    )
    yield from _table(("outcome", "check", "how"), rows)
