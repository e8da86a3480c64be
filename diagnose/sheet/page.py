"""A decision sheet as a page of HTML that prints on A4 and Letter: one file, no script, no network, no colour."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from html import escape
from math import ceil

from diagnose.sheet.words import STOP, Box, Card, Way, Words

# What a page holds, measured on the print of a browser: a column of 8 pt text on the smaller of both papers each way.
LINES = 78  # lines of text in one column of one page
TITLE, WIDE, NARROW = 70, 134, 68  # characters in a line of the title, of the head, of a column
COLUMNS = 2
HEADING_LINES = 1.7
RULE_LINES = 0.3  # the rule above what a step may show
GAP_LINES = 0.6  # what the edges and gaps of a box take, in lines

STYLE = """
@page { size: auto; margin: 7mm; }
* { box-sizing: border-box; }
html { font: 8pt/1.18 Arial, Helvetica, "Liberation Sans", sans-serif; color: #000; background: #fff; }
body { margin: 0 auto; max-width: 196mm; }
h1 { font-size: 13pt; margin: 0; }
h2 { font-size: 9.5pt; margin: 1.2mm 0 .8mm; border-bottom: .5mm solid #000; break-after: avoid; }
p, ul { margin: 0; padding: 0; }
ul { list-style: none; }
header { border: .6mm solid #000; padding: 1.2mm 1.8mm; margin-bottom: 1.2mm; }
header .caution { font-weight: bold; }
.columns { columns: 2; column-gap: 4mm; }
.box { break-inside: avoid; border: .25mm solid #000; padding: .3mm 1mm; margin: 0 0 .6mm; }
.row { border-style: dotted; }
.plain { border: 0; padding-left: 0; }
.stop { border: .9mm double #000; }
.number { display: inline-block; min-width: 4.5mm; padding: 0 .8mm; font-weight: bold; font-size: 9pt;
  line-height: 1; border: .35mm solid #000; text-align: center; }
.badge { font-weight: bold; letter-spacing: .2mm; }
.first { font-weight: bold; }
.ways { border-top: .2mm solid #000; margin-top: .3mm; }
.row .ways { border-top: 0; margin-top: 0; }
.inline .way { display: inline; padding: 0 1mm 0 0; text-indent: 0; }
.way { padding-left: 3.5mm; text-indent: -3.5mm; }
.seen { font-weight: bold; }
.sound::before { content: "\\2713\\00a0"; }
.other::before { content: "\\2022\\00a0"; }
.go { font-weight: bold; border: .25mm solid #000; padding: 0 .7mm; white-space: nowrap; line-height: 1; }
@media screen { body { padding: 9mm; } }
"""


def html_of(words: Words) -> str:
    """The whole page. Every text is escaped; nothing is loaded from anywhere."""
    title = escape(words.title)
    return "\n".join(
        [
            "<!DOCTYPE html>",
            '<html lang="en"><head><meta charset="utf-8">',
            '<meta name="viewport" content="width=device-width">',
            f"<title>{title}</title>",
            f"<style>{STYLE}</style></head><body>",
            *_head(words),
            '<main class="columns">',
            *_section("Before a step that names them", words.safety, "box"),
            "<h2>Steps. Begin at 1.</h2>",
            *(_card(card) for card in words.cards),
            *_section("What to do. Supply off and proved dead first.", words.repairs, "box plain"),
            *_section("Measure before it is used again", words.proofs, "box plain"),
            *_section("", (words.help,), "box stop"),
            "</main></body></html>",
            "",
        ]
    )


def _head(words: Words) -> Iterator[str]:
    yield f"<header><h1>{escape(words.title)}</h1><p>{escape(words.subtitle)}</p>"
    yield f"<p>{_joined(words.rules)}</p>"
    yield from (f'<p class="caution">! {escape(caution)}</p>' for caution in words.cautions)
    name = f'<span class="number">{escape(words.stop.name)}</span>'
    yield f"<p>{name} <b>{escape(STOP)}</b> {_joined(words.stop.lines)}</p>"
    yield "</header>"


def _joined(lines: Iterable[str]) -> str:
    return escape(" ".join(lines))


def _section(title: str, boxes: tuple[Box, ...], style: str) -> Iterator[str]:
    if boxes and title:
        yield f"<h2>{escape(title)}</h2>"
    for box in boxes:
        head = f"<b>{escape(box.title)}.</b> " if box.title else ""
        yield f'<div class="{style}"><span class="number">{escape(box.name)}</span> {head}{_joined(box.lines)}</div>'


def _card(card: Card) -> str:
    number, kind = f'<span class="number">{card.number}</span>', "ways inline" if _inline(card) else "ways"
    ways = f'<ul class="{kind}">{"".join(_way(way) for way in card.ways)}</ul>'
    if card.row:
        return f'<div class="box row">{number} {escape(card.doing)}{ways}</div>'
    first = f' <span class="first">First {escape(card.first)}.</span>' if card.first else ""
    lines = "".join(f"<p>{escape(line)}</p>" for line in (card.changes, card.doing) if line)
    badge = f'<span class="badge">{escape(card.badge)}</span> {escape(card.state)}.'
    return f'<div class="box">{number} {badge}{first}{lines}{ways}</div>'


def _inline(card: Card) -> bool:
    """Whether what a step may show stands on one line: in a row of like steps, or where it is short."""
    return card.row or len(" ".join(_plain(way) for way in card.ways)) <= NARROW


def _plain(way: Way) -> str:
    return f"   {way.seen} ({way.sound}) > {way.target}  {way.means}"


def _way(way: Way) -> str:
    means = f" {escape(way.means)}" if way.means else ""
    sound = f" ({escape(way.sound)})" if way.sound else ""
    kind = "sound" if way.sound else "other"
    return (
        f'<li class="way {kind}"><span class="seen">{escape(way.seen)}</span>{sound} '
        f'&#8594; <span class="go">{escape(way.target)}</span>{means}</li> '
    )


# How long it is ---------------------------------------------------------------------------------------------


def pages_of(words: Words) -> float:
    """How many pages the print takes: its boxes, as long as they are, put into columns one after the other."""
    head = 2 + ceil(len(words.title) / TITLE) * 2
    head += sum(_lines(text, WIDE) for text in (words.subtitle, " ".join(words.rules), *words.cautions))
    head += _lines(f"{STOP} {' '.join(words.stop.lines)}", WIDE)
    column, left = 0, float(LINES - head)
    for length in _lengths(words):
        if length > left:
            column, left = column + 1, LINES - (head if column + 1 < COLUMNS else 0)
        left -= length
    return (column + 1 - max(left, 0) / LINES) / COLUMNS


def _lengths(words: Words) -> Iterator[float]:
    """What may not be broken, in order: a heading goes with what follows it."""
    groups = (
        [_box_lines(box) for box in words.safety],
        [_card_lines(card) for card in words.cards],
        [_box_lines(box) for box in words.repairs],
        [_box_lines(box) for box in words.proofs],
    )
    for group in groups:
        if group:
            yield HEADING_LINES + group[0]
            yield from group[1:]
    yield _box_lines(words.help)


def _lines(text: str, width: int) -> int:
    return ceil(len(text) / width) if text else 0


def _box_lines(box: Box) -> float:
    return _lines(f"{box.name:<5}{box.title}. {' '.join(box.lines)}", NARROW) + GAP_LINES


def _card_lines(card: Card) -> float:
    texts = [_plain(way) for way in card.ways]
    ways = _lines(" ".join(texts), NARROW) if _inline(card) else sum(_lines(text, NARROW) for text in texts)
    if card.row:
        return _lines(f"     {card.doing}", NARROW) + ways + GAP_LINES
    head = f"     {card.badge} {card.state}. First {card.first}."
    return sum(_lines(line, NARROW) for line in (head, card.changes, card.doing)) + ways + GAP_LINES + RULE_LINES
