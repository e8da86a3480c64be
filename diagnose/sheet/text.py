"""A decision sheet as plain text, 80 columns wide."""

from __future__ import annotations

from collections.abc import Iterator
from textwrap import wrap

from diagnose.sheet.words import STOP, Box, Card, Way, Words

WIDTH = 80
INDENT = 5


def text_of(words: Words) -> str:
    """The whole sheet; no line is longer than 80 characters."""
    lines = ["=" * WIDTH, *_wrapped(words.title.upper(), ""), *_wrapped(words.subtitle, ""), "=" * WIDTH]
    for rule in words.rules:
        lines += _wrapped(rule, "- ", "  ")
    lines += ["", "CAUTIONS"]
    for caution in words.cautions:
        lines += _wrapped(caution, "! ", "  ")
    lines += ["", *_wrapped(f"{words.stop.name} - {STOP}", "")]
    for line in words.stop.lines:
        lines += _wrapped(line, "- ", "  ")
    lines += _section("BEFORE A STEP THAT NAMES THEM", words.safety)
    lines += ["", _ruled("STEPS")]
    for card in words.cards:
        lines += _card(card)
    lines += _section("WHAT TO DO - supply off and proved dead first", words.repairs)
    lines += _section("MEASURE BEFORE IT IS USED AGAIN", words.proofs)
    lines += _section("", (words.help,))
    return "\n".join(line.rstrip() for line in lines) + "\n"


def _ruled(title: str) -> str:
    return f"-- {title} ".ljust(WIDTH, "-") if title else "-" * WIDTH


def _section(title: str, boxes: tuple[Box, ...]) -> Iterator[str]:
    if not boxes:
        return
    yield ""
    yield _ruled(title)
    for box in boxes:
        head = f"{box.name:<{INDENT - 1}} "
        texts = [f"{box.title}: {box.lines[0]}" if box.title else box.lines[0], *box.lines[1:]]
        yield from _wrapped(" ".join(texts), head, " " * INDENT)


def _card(card: Card) -> Iterator[str]:
    gap = " " * INDENT
    if not card.row:
        yield ""
        yield f"{card.number:<{INDENT - 1}} {card.badge} - {card.state}"
        if card.first:
            yield from _wrapped(f"FIRST: {card.first}.", gap, gap)
        for line in (card.changes, card.doing):
            yield from _wrapped(line, gap, gap) if line else ()
    else:
        yield from _wrapped(card.doing, f"{card.number:<{INDENT - 1}} ", gap)
    ways = [_way(way) for way in card.ways]
    for line in ["; ".join(ways)] if card.row else ways:
        yield from _wrapped(line, f"{gap}* ", f"{gap}  ")


def _way(way: Way) -> str:
    sound = f" ({way.sound})" if way.sound else ""
    meaning = f" {way.means}" if way.means else ""
    return f"{way.seen}{sound} -> {way.target}{meaning}"


def _wrapped(text: str, first: str, later: str = "") -> list[str]:
    return wrap(text, WIDTH, initial_indent=first, subsequent_indent=later, break_on_hyphens=False) or [first]
