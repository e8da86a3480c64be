"""A small plot of belief over time, as SVG. Lines differ in dash and in the shape of points, not only in colour."""

from __future__ import annotations

from collections.abc import Sequence
from xml.etree import ElementTree

from diagnose.drawing.place import nearest_in_order
from diagnose.report.records import Course, Series

WIDTH, HEIGHT = 360.0, 230.0
LEFT, RIGHT, TOP, BOTTOM = 40.0, 336.0, 14.0, 188.0  # of the plotted field
TYPE_SIZE, LETTER_ROOM = 11.0, 13.0
MOST_TICKS = 12
INK, GRID, PAPER = "#111111", "#767676", "#ffffff"
# Each with a dash and a shape of its own; contrast with white is over 4.5 to 1.
STYLES = (
    ("#111111", "", "circle"),
    ("#a3003f", "7 3", "square"),
    ("#1a4f8b", "2 3", "triangle"),
    ("#17682a", "9 3 2 3", "diamond"),
    ("#5b2a86", "4 2", "cross"),
)
_SHAPES = {
    "circle": "M-3 0a3 3 0 1 0 6 0a3 3 0 1 0 -6 0",
    "square": "M-3 -3h6v6h-6z",
    "triangle": "M0 -3.6L3.6 3h-7.2z",
    "diamond": "M0 -4L4 0L0 4L-4 0z",
    "cross": "M-3 -3L3 3M-3 3L3 -3",
}


def plot_of(course: Course) -> str:
    """The plot as one SVG document; empty where there was no answer yet."""
    if len(course.numbers) < 2:
        return ""
    root = ElementTree.Element(
        "svg", {"xmlns": "http://www.w3.org/2000/svg", "role": "img", "viewBox": f"0 0 {WIDTH:g} {HEIGHT:g}",
                "width": f"{WIDTH:g}", "height": f"{HEIGHT:g}"},
    )  # fmt: skip
    ElementTree.SubElement(root, "title").text = "Belief in the leading causes after each reading"
    ElementTree.SubElement(root, "desc").text = "; ".join(_told(series) for series in course.series)
    ElementTree.SubElement(root, "rect", {"width": "100%", "height": "100%", "fill": PAPER})
    group = ElementTree.SubElement(
        root, "g", {"font-family": "Helvetica, Arial, 'Liberation Sans', sans-serif", "font-size": f"{TYPE_SIZE:g}"}
    )
    xs = _places(len(course.numbers))
    _frame(group, course.numbers, xs)
    for series, style in reversed(list(zip(course.series, STYLES, strict=False))):
        _line(group, series, style, xs)
    _letters(group, course.series)
    return ElementTree.tostring(root, encoding="unicode")


def _told(series: Series) -> str:
    return f"{series.letter}: from {100 * series.shares[0]:.0f} % to {100 * series.shares[-1]:.0f} %"


def _places(count: int) -> list[float]:
    return [LEFT + (RIGHT - LEFT - 18) * number / max(count - 1, 1) for number in range(count)]


def _y(share: float) -> float:
    return BOTTOM - (BOTTOM - TOP) * share


def _text(group: ElementTree.Element, x: float, y: float, words: str, anchor: str, fill: str = INK) -> None:
    made = ElementTree.SubElement(
        group, "text", {"x": f"{x:.4g}", "y": f"{y:.4g}", "text-anchor": anchor, "fill": fill}
    )
    made.text = words


def _path(group: ElementTree.Element, way: str, stroke: str, width: float, dash: str = "", fill: str = "none") -> None:
    more = {"stroke-dasharray": dash} if dash else {}
    ElementTree.SubElement(
        group, "path", {"d": way, "fill": fill, "stroke": stroke, "stroke-width": f"{width:g}", **more}
    )


def _frame(group: ElementTree.Element, numbers: Sequence[int], xs: Sequence[float]) -> None:
    for share in (0.0, 0.25, 0.5, 0.75, 1.0):
        _path(group, f"M{LEFT - 4:g} {_y(share):g}H{RIGHT - 10:g}", GRID, 0.9 if share == 0 else 0.35)
        _text(group, LEFT - 7, _y(share) + 4, f"{100 * share:.0f} %", "end")
    step = -(-len(numbers) // MOST_TICKS)
    for place, (number, x) in enumerate(zip(numbers, xs, strict=True)):
        if place % step == 0 or place == len(numbers) - 1:
            _path(group, f"M{x:.4g} {BOTTOM:g}v4", GRID, 0.9)
            _text(group, x, BOTTOM + 16, str(number) if number else "start", "middle")
    _text(group, (LEFT + RIGHT) / 2, HEIGHT - 8, "after reading number", "middle")


def _line(group: ElementTree.Element, series: Series, style: tuple[str, str, str], xs: Sequence[float]) -> None:
    colour, dash, shape = style
    points = [(x, _y(share)) for x, share in zip(xs, series.shares, strict=True)]
    _path(group, "M" + "L".join(f"{x:.4g} {y:.4g}" for x, y in points), colour, 2.2 if not dash else 1.6, dash)
    for x, y in points:
        made = ElementTree.SubElement(
            group, "path", {"d": _SHAPES[shape], "fill": PAPER, "stroke": colour, "stroke-width": "1.5",
                            "transform": f"translate({x:.4g} {y:.4g})"},
        )  # fmt: skip
        made.tail = ""


def _letters(group: ElementTree.Element, series: Sequence[Series]) -> None:
    """Each line's letter at its end, moved apart where lines end together."""
    styled = sorted(zip(series, STYLES, strict=False), key=lambda each: -each[0].shares[-1])
    last = len(styled) - 1
    # Never below the field, where the numbers stand: each leaves room for those that come after it.
    lowest = [BOTTOM + 4 - LETTER_ROOM * (last - number) for number in range(last + 1)]
    wanted = [min(_y(each.shares[-1]) + 4, low) for (each, _), low in zip(styled, lowest, strict=True)]
    places = nearest_in_order(wanted, [LETTER_ROOM] * len(styled))
    for (each, (colour, _, _)), y in zip(styled, places, strict=True):
        _text(group, RIGHT - 6, y, each.letter, "start", colour)
