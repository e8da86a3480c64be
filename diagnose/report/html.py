"""The report as one page of HTML: no script, nothing loaded from anywhere, every text escaped."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from html import escape

from diagnose.report.plot import plot_of
from diagnose.report.records import Entry, Figure, ProofLine, Purchase, Report
from diagnose.report.style import STYLE

HEADINGS = {
    "done": "What was done",
    "conclusion": "Conclusion",
    "drawing": "Where",
    "work": "What to do",
    "parts": "Parts to buy",
    "proofs": "Measured before it is used again",
    "cautions": "Cautions",
    "sign": "Signed",
}
OUTCOMES = {"passed": "✓ passed", "failed": "✗ FAILED", "declined": "– declined", "not yet": "☐ not yet"}


def html_of(report: Report) -> str:
    """The whole page."""
    return "\n".join(
        [
            "<!DOCTYPE html>",
            '<html lang="en"><head><meta charset="utf-8">',
            '<meta name="viewport" content="width=device-width, initial-scale=1">',
            f"<title>{escape(report.title)}</title>",
            f"<style>{STYLE}</style></head><body>",
            *_head(report),
            "<main>",
            *_section("done", _entries(report.entries)),
            *_section("conclusion", _conclusion(report)),
            *_section("drawing", _drawing(report)),
            *_section("work", _work(report)),
            *_section("parts", _parts(report)),
            *_section("proofs", _proofs(report)),
            *_section("cautions", [_list(report.cautions)]),
            *_section("sign", _sign(report.sign_off)),
            "</main>",
            f"<footer><p>{escape(report.foot)}</p></footer></body></html>",
            "",
        ]
    )


def _section(name: str, lines: Iterable[str]) -> Iterator[str]:
    made = list(lines)
    if made:
        yield f'<section aria-labelledby="{name}"><h2 id="{name}">{escape(HEADINGS[name])}</h2>'
        yield from made
        yield "</section>"


def _p(text: str, kind: str = "") -> str:
    return f"<p{_kind(kind)}>{escape(text)}</p>" if text else ""


def _kind(kind: str) -> str:
    return f' class="{kind}"' if kind else ""


def _list(lines: Iterable[str]) -> str:
    lines = tuple(lines)
    return "" if not lines else "<ul>" + "".join(f"<li>{escape(line)}</li>" for line in lines) + "</ul>"


def _pairs(pairs: Iterable[tuple[str, str]], kind: str) -> str:
    told = "".join(f"<dt>{escape(key)}</dt><dd>{escape(value)}</dd>" for key, value in pairs)
    return f'<dl class="{kind}">{told}</dl>'


def _head(report: Report) -> Iterator[str]:
    yield f"<header><h1>{escape(report.title)}</h1>"
    if report.alarms:
        yield '<div class="alarm" role="alert">' + "".join(_p(f"! {line}") for line in report.alarms) + "</div>"
    yield f'<div class="result">{_p(report.result, "end")}{"".join(_p(line) for line in report.result_lines)}</div>'
    yield _pairs(report.facts, "facts")
    yield "</header>"


def _entries(entries: tuple[Entry, ...]) -> Iterator[str]:
    if not entries:
        yield _p("Nothing yet.")
        return
    yield '<ol class="done">'
    yield from (_entry(entry) for entry in entries)
    yield "</ol>"


_MARKS = {
    "taken back": "Taken back: ",
    "left out": "Not done: ",
    "asked again": "Asked again: ",
    "before": "Before the remedy: ",
}


def _entry(entry: Entry) -> str:
    kind = entry.kind.replace(" ", "-")
    if entry.number:
        mark = f'<span class="number{"" if entry.as_expected else " off"}">{entry.number}</span>'
    else:
        mark = '<span class="dash" aria-hidden="true">–</span>'
    tag = f' <span class="tag">{escape(entry.exposure)}</span>' if entry.exposure else ""
    title = f'{_MARKS.get(entry.kind, "")}<span class="title">{escape(entry.title)}</span>{tag}'
    lines = [
        f"<p>{title}</p>" if entry.kind not in ("step", "note") else f"<p>{escape(entry.title)}{_typed(entry)}</p>"
    ]
    if entry.kind not in ("step", "note", "left out"):
        lines += [_p(" ".join(entry.before), "small")] if entry.before else []
        told = "" if entry.kind != "reading" else " – as expected" if entry.as_expected else " – NOT as expected"
        lines.append(
            f'<p class="both"><b>Found: {escape(entry.found)}{told}</b> '
            f"<span>Sound: {escape(entry.expected)}</span></p>"
        )
    lines += [_p(" ".join(entry.says), "small")] if entry.says else []
    return f'<li class="{kind}">{mark}{"".join(lines)}</li>'


def _typed(entry: Entry) -> str:
    return f": {escape(entry.found)}" if entry.found else ""


def _conclusion(report: Report) -> Iterator[str]:
    yield from (_p(line) for line in report.conclusion[:1])
    rows = [
        f"<li><b>{escape(cause.letter)}</b><span>{escape(cause.percent)}</span><span>{escape(cause.title)}</span></li>"
        for cause in report.causes
    ]
    yield f'<ul class="causes">{"".join(rows)}</ul>'
    yield from (_p(line) for line in report.conclusion[1:])
    plot = plot_of(report.course)
    if plot:
        also = [
            series for series in report.course.series if series.title not in {cause.title for cause in report.causes}
        ]
        led = f" On the way: {'; '.join(f'{each.letter} {each.title}' for each in also)}." if also else ""
        yield '<figure class="plot">'
        yield f"<figcaption>Belief in the leading causes, by letter, after each reading.{escape(led)}</figcaption>"
        yield f"{plot}</figure>"


def _drawing(report: Report) -> Iterator[str]:
    if report.figures and report.figure_notes:
        yield _list(report.figure_notes)
    for figure in report.figures:
        yield from _figure(figure)


def _figure(figure: Figure) -> Iterator[str]:
    caption = escape(figure.caption)
    kind = "" if figure.wide else ' class="line"'
    yield f"<figure{kind}><figcaption>{caption}</figcaption>"
    if figure.wide:
        yield f'<div class="wide" role="region" tabindex="0" aria-label="{escape(figure.caption, quote=True)}">'
    yield figure.svg
    yield ("</div>" if figure.wide else "") + "</figure>"


def _work(report: Report) -> Iterator[str]:
    for work in report.work:
        why = f" ({escape(work.why)})" if work.why else ""
        yield f'<div class="box"><h3>{escape(work.part)}{why}</h3>{_p(work.text)}{_list(work.measure)}</div>'
    yield from (_p(note) for note in report.work_notes)


def _parts(report: Report) -> Iterator[str]:
    yield _p(report.purchase_note)
    yield from (_purchase(each) for each in report.purchases)


def _purchase(purchase: Purchase) -> str:
    head = f"<h3>{escape(purchase.part)}: {escape(purchase.what)}</h3>"
    ratings = _pairs(purchase.ratings, "ratings") if purchase.ratings else _p("As the one that is there.")
    return f'<div class="box">{head}{ratings}</div>'


def _proofs(report: Report) -> Iterator[str]:
    yield _p(report.proof_note)
    yield from (_proof(line) for line in report.proofs)


def _proof(line: ProofLine) -> str:
    found = f": {escape(line.found)}" if line.found else ""
    return (
        f'<div class="proof"><p><span class="outcome">{escape(OUTCOMES[line.outcome])}{found}</span> '
        f'<span class="title">{escape(line.title)}</span></p>{_p(line.text, "small")}</div>'
    )


def _sign(lines: tuple[str, ...]) -> Iterator[str]:
    rows = "".join(f"<div><span>{escape(line)}</span><span>date</span></div>" for line in lines)
    yield f'<div class="sign">{rows}</div>'
