"""Drawings as SVG. Built as an XML tree, so that no text of a file can become markup."""

from __future__ import annotations

import textwrap
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from math import hypot
from xml.etree import ElementTree

from diagnose.drawing.marks import Marks, ReadingMark
from diagnose.drawing.one_line import conductors, one_line_of
from diagnose.drawing.place import placed
from diagnose.drawing.records import Line, Placed
from diagnose.drawing.symbols import Standard, standard_of, symbol_of
from diagnose.drawing.wiring import PORT_ROW, wiring_of
from diagnose.panel.records import Panel, part_of
from diagnose.wording import clean, regional

MARGIN = 32.0
HEAD = 56.0
RAIL_STEP = 22.0
BETWEEN = 48.0
LEGEND_LINE = 18.0
PORT_TYPE, PORT_CHARACTERS, PORT_LINES = 8.5, 15, 3

# Contrast with white is over 4.5 to 1, and each has a dash of its own.
STROKES: Mapping[str, tuple[str, float, str]] = {
    "power": ("#111111", 2.0, ""),
    "control": ("#1a4f8b", 1.4, "7 3"),
    "sensing": ("#8a3c00", 1.4, "2 3"),
    "earth": ("#17682a", 1.8, "10 3 2 3"),
}
INK, FRAME, SUSPECT, PROBE, AS_EXPECTED = "#111111", "#555555", "#a3003f", "#5b2a86", "#17682a"
PAPER, TINT, HALO = "#ffffff", "#fff2f6", "#f2a8c1"  # text lies on the first two only
NUMBER_STEP = 17.0  # from the middle of one number to the next
TYPE = "Helvetica, Arial, 'Liberation Sans', sans-serif"

Element = ElementTree.Element


@dataclass(frozen=True, slots=True)
class Look:
    """What is drawn around and of a diagram: on a sheet of its own everything, as a figure in a page less."""

    heading: bool = True
    legend: bool = True  # of the marks: in a page they are explained beside the figure
    least_width: float = 560.0
    supply: bool = True  # what lies ahead of the rails
    circuits: bool = True  # what lies behind them


SHEET = Look()


def wiring_svg(panel: Panel, marks: Marks | None = None, look: Look = SHEET) -> str:
    """The wiring of a panel as one SVG document."""
    marks = marks or Marks()
    wiring = wiring_of(panel)
    supply = placed(wiring.supply)
    circuits = [placed(diagram) for diagram in wiring.circuits] if look.circuits else []
    head = HEAD if look.heading else MARGIN
    top = head + (supply.height if look.supply else 0.0)
    first_rail = top + RAIL_STEP
    start = first_rail + RAIL_STEP * max(len(wiring.rails), 1)
    wide = sum(circuit.width for circuit in circuits) + BETWEEN * max(len(circuits) - 1, 0)
    width = max(wide, supply.width if look.supply else 0.0, look.least_width) + 2 * MARGIN + 60
    tall = start + max((circuit.height for circuit in circuits), default=0.0) + BETWEEN
    sheet = _Sheet(panel, f"{panel.title}: wiring", marks, look)
    rail_y = {bar: first_rail + number * RAIL_STEP for number, bar in enumerate(wiring.rails)}
    for bar, tag in wiring.rails.items():
        sheet.rail(bar, tag, rail_y[bar], width)
    if look.supply:
        sheet.diagram(supply, MARGIN + 60, head, rail_y)
    x = MARGIN + 60
    for circuit in circuits:
        sheet.diagram(circuit, x, start, rail_y)
        x += circuit.width + BETWEEN
    return sheet.finished(width, tall, [*_line_legend(), *_rail_legend(panel, wiring.rails)])


def one_line_svg(panel: Panel, marks: Marks | None = None, look: Look = SHEET) -> str:
    """The one-line diagram of a panel as one SVG document; readings belong to the wiring, and are left out."""
    diagram = placed(one_line_of(panel))
    head = HEAD if look.heading else MARGIN
    sheet = _Sheet(panel, f"{panel.title}: one-line diagram", replace(marks or Marks(), readings=()), look)
    sheet.one_line(diagram, MARGIN, head)
    legend = ["A stroke across a line with a number: that many conductors, earths not counted."]
    return sheet.finished(max(diagram.width, look.least_width) + 2 * MARGIN, head + diagram.height + 24, legend)


def _line_legend() -> list[str]:
    return ["Lines: power solid and heavy; control long dashes; sensing dots; earth dash and dot."]


def _rail_legend(panel: Panel, rails: Mapping[str, str]) -> list[str]:
    named = ", ".join(f"{tag} {panel.label(bar)}" for bar, tag in rails.items())
    return [f"Tags: {named}. A tag stands for a wire to that bar."] if rails else []


class _Sheet:
    """An SVG that is being drawn."""

    def __init__(self, panel: Panel, title: str, marks: Marks, look: Look) -> None:
        self.panel, self.marks, self.look = panel, marks, look
        self.standard: Standard = standard_of(panel.region)
        self.root = ElementTree.Element("svg", {"xmlns": "http://www.w3.org/2000/svg", "role": "img"})
        self.title = clean(title)
        ElementTree.SubElement(self.root, "title").text = self.title
        ElementTree.SubElement(self.root, "desc").text = clean(
            f"Symbols after {self.standard}. {panel.story if look.heading else ''}"
        )
        self.body = ElementTree.SubElement(self.root, "g", {"font-family": TYPE, "fill": INK})
        if look.heading:
            self.text(MARGIN, 30, self.title, 17, weight="bold")

    # Pieces -----------------------------------------------------------------------------------------------

    def add(self, name: str, **attributes: str | float) -> Element:
        """One shape; underscores in names stand for hyphens."""
        shown = {key.replace("_", "-"): f"{value:g}" if isinstance(value, float | int) else value
                 for key, value in attributes.items()}  # fmt: skip
        return ElementTree.SubElement(self.body, name, shown)

    def text(
        self, x: float, y: float, words: str, size: float, anchor: str = "start", weight: str = "normal",
        fill: str = INK,
    ) -> None:  # fmt: skip
        """A line of text with its base line at y."""
        made = self.add("text", x=x, y=y, font_size=size, text_anchor=anchor, font_weight=weight, fill=fill)
        made.text = regional(self.panel, clean(words))

    def path(self, corners: Sequence[tuple[float, float]], path: str) -> None:
        """A line of a kind of path through its corners."""
        colour, width, dash = STROKES[path]
        way = "M" + "L".join(f"{x:g} {y:g}" for x, y in corners)
        attributes: dict[str, str | float] = {"stroke_dasharray": dash} if dash else {}
        self.add("path", d=way, fill="none", stroke=colour, stroke_width=width, stroke_linejoin="round", **attributes)

    def symbol(self, role: str, x: float, y: float, upright: bool = False) -> None:
        """A part's symbol about a point; upright for lines that run downwards."""
        symbol = symbol_of(role, self.standard)
        if symbol is None:
            return
        turn = f"translate({x:g} {y:g})" + (" rotate(90)" if upright else "")
        if symbol.filled:
            self.add("path", d=symbol.filled, fill=INK, transform=turn)
        if symbol.path:
            self.add("path", d=symbol.path, fill="none", stroke=INK, stroke_width=1.6, transform=turn)
        if symbol.text:
            self.text(x, y + symbol.size * 0.35, symbol.text, symbol.size, "middle")

    # The wiring -------------------------------------------------------------------------------------------

    def rail(self, bar: str, tag: str, y: float, width: float) -> None:
        """A bar across the whole sheet."""
        colour, _, dash = STROKES["earth" if tag == "PE" else "power"]
        more: dict[str, str | float] = {"stroke_dasharray": dash} if tag == "PE" else {}
        self.add("path", d=f"M{MARGIN + 44:g} {y:g}H{width - MARGIN:g}", stroke=colour, stroke_width=3.5, **more)
        self.text(MARGIN, y + 4, tag, 13, weight="bold")
        at = [mark for name, part in self.panel.parts.items() if name == bar for end in part.kind.terminals
              for mark in self.marks.readings_at(f"{bar}.{end}")]  # fmt: skip
        numbers = list(dict.fromkeys([*at, *self.marks.readings_at(bar)]))
        for place, mark in enumerate(numbers):
            self.number(mark, MARGIN + 56 + NUMBER_STEP * place, y)
        if beside := self.marks.beside(bar):
            self.text(MARGIN + 56 + NUMBER_STEP * len(numbers), y - 5, beside, 11, weight="bold", fill=SUSPECT)

    def diagram(self, diagram: Placed, x: float, y: float, rail_y: Mapping[str, float]) -> None:
        """A placed diagram with its left upper corner at a point; its taps run on to the rails."""
        for line in diagram.lines:
            self._line(line, x, y)
        for name, node in diagram.nodes.items():
            left, top = diagram.corners[name]
            if node.form == "part":
                self._box(diagram, name, x, y)
            elif node.form == "tag":
                self._tag(node.label, node.symbol, x + left, y + top)
            elif node.form == "rail_tap":
                side = "bottom" if node.bottoms else "top"
                column = x + diagram.ports[name, side, "tap"]
                path = next(line.edge.path for line in diagram.lines if name in (line.edge.upper, line.edge.lower))
                self.path([(column, y + top), (column, rail_y[node.detail])], path)
                self.add("circle", cx=column, cy=rail_y[node.detail], r=4, fill=STROKES[path][0])

    def _line(self, line: Line, x: float, y: float) -> None:
        corners = [(x + across, y + down) for across, down in line.corners]
        ends = line.edge.lower.rpartition("@")[1] == ""  # and does not pass on through the next rank
        beside = "" if line.edge.plug else self.marks.beside(line.edge.name)
        if beside:
            way = "M" + "L".join(f"{across:g} {down:g}" for across, down in corners)
            dash: dict[str, str | float] = {} if line.edge.name in self.marks.culprits else {"stroke_dasharray": "9 4"}
            self.add("path", d=way, fill="none", stroke=HALO, stroke_width=9, **dash)
            across, down = corners[-1]
            if ends:
                self.text(across + 7, down - 4, beside, 9, weight="bold", fill=SUSPECT)
        self.path(corners, line.edge.path)
        if ends and not line.edge.plug:
            (x0, y0), (x1, y1) = max(
                pairwise(corners), key=lambda two: hypot(two[1][0] - two[0][0], two[1][1] - two[0][1])
            )
            for place, mark in enumerate(self.marks.readings_at(line.edge.name)):
                self.number(mark, (x0 + x1) / 2 + NUMBER_STEP * place, (y0 + y1) / 2)
        if line.edge.plug:
            across, down = corners[-1]
            for higher in (4.0, 9.0):
                way = f"M{across - 5:g} {down - higher - 5:g}l5 5l5 -5"
                self.add("path", d=way, fill="none", stroke=STROKES[line.edge.path][0], stroke_width=1.6)

    def _tag(self, label: str, symbol: str, x: float, y: float) -> None:
        if symbol:
            self.symbol(symbol, x + 24, y + 10)
            return
        self.add("rect", x=x + 6, y=y, width=36, height=20, fill=PAPER, stroke=INK, stroke_width=1.2, rx=9)
        self.text(x + 24, y + 14.5, label, 12, "middle", "bold")

    def _box(self, diagram: Placed, name: str, x: float, y: float) -> None:
        node, (left, top) = diagram.nodes[name], diagram.corners[name]
        left, top = x + left, y + top
        beside = self.marks.beside(name)
        self._frame(name, left, top, node.width, node.height)
        middle = (
            top + (PORT_ROW if node.tops else 0) + (node.height - PORT_ROW * (bool(node.tops) + bool(node.bottoms))) / 2
        )
        self.symbol(node.symbol, left + 26, middle)
        self.text(left + 50, middle - 1, node.label, 11.5, weight="bold")
        self.text(left + 50, middle + 13, node.detail, 10)
        if beside:
            self.text(left + node.width - 13, middle - 13, beside, 11, "end", "bold", SUSPECT)
        for place, mark in enumerate(self.marks.readings_at(name)):
            self.number(mark, left + node.width, middle - NUMBER_STEP / 2 + NUMBER_STEP * place)
        for side, ports in (("top", node.tops), ("bottom", node.bottoms)):
            for port in ports:
                column = x + diagram.ports[name, side, port.name]
                self._port(f"{name}.{port.name}", column, top if side == "top" else top + node.height, side, port.label)

    def _frame(self, name: str, left: float, top: float, width: float, height: float) -> None:
        """A part's frame: broken and heavy under suspicion, double and heavy where it was found."""
        style: dict[str, str | float] = {"stroke": FRAME, "stroke_width": 1.2, "fill": PAPER}
        if name in self.marks.culprits:
            style = {"stroke": SUSPECT, "stroke_width": 3.5, "fill": TINT}
            self.add("rect", x=left - 5, y=top - 5, width=width + 10, height=height + 10, rx=7, fill="none",
                     stroke=SUSPECT, stroke_width=1.6)  # fmt: skip
        elif name in self.marks.suspects:
            style = {"stroke": SUSPECT, "stroke_width": 3.5, "fill": TINT, "stroke_dasharray": "9 4"}
        self.add("rect", x=left, y=top, width=width, height=height, rx=4, **style)

    def number(self, mark: ReadingMark, x: float, y: float) -> None:
        """A reading's number about a point: round where it was as it should be, else square and heavy."""
        if mark.as_expected:
            self.add("circle", cx=x, cy=y, r=7.5, fill=PAPER, stroke=AS_EXPECTED, stroke_width=1.4)
        else:
            self.add("rect", x=x - 7.5, y=y - 7.5, width=15, height=15, fill=PAPER, stroke=SUSPECT, stroke_width=2.6)
        colour = AS_EXPECTED if mark.as_expected else SUSPECT
        self.text(x, y + 3.4, str(mark.number), 10, "middle", "bold", colour)

    def _port(self, terminal: str, x: float, y: float, side: str, label: str) -> None:
        self.add("circle", cx=x, cy=y, r=3, fill=PAPER, stroke=INK, stroke_width=1.3)
        words = textwrap.wrap(clean(label), PORT_CHARACTERS, max_lines=PORT_LINES, placeholder=" …")
        first = y + 11 if side == "top" else y - 5 - (PORT_TYPE + 0.5) * (len(words) - 1)
        for number, line in enumerate(words):
            self.text(x, first + number * (PORT_TYPE + 0.5), line, PORT_TYPE, "middle")
        if terminal in self.marks.probes:
            self.add("circle", cx=x, cy=y, r=8, fill="none", stroke=PROBE, stroke_width=2.5)
            self.text(
                x + 11, y - 3 if side == "top" else y + 11, self.marks.probes[terminal], 10, weight="bold", fill=PROBE
            )
        for place, mark in enumerate(self.marks.readings_at(terminal)):
            row, column = divmod(place, 2)
            away = 9 + NUMBER_STEP * row
            self.number(mark, x - 11 - NUMBER_STEP * column, y - away if side == "top" else y + away)

    # The one-line diagram ---------------------------------------------------------------------------------

    def one_line(self, diagram: Placed, x: float, y: float) -> None:
        """Symbols on lines, with the number of conductors across each."""
        for line in diagram.lines:
            self._line(line, x, y)
            if line.edge.lower in self.panel.parts:
                self._strokes(line, x, y)
        for name, node in diagram.nodes.items():
            if node.form == "part":
                self._one_line_node(diagram, name, x, y)

    def _strokes(self, line: Line, x: float, y: float) -> None:
        upper = part_of(line.edge.upper)
        count = conductors(self.panel, upper, line.edge.lower)
        across, down = line.corners[-1]
        across, down = x + across, y + down - 9
        self.add("path", d=f"M{across - 5:g} {down + 3:g}l10 -6", stroke=INK, stroke_width=1.4)
        self.text(across + 8, down + 3, str(count), 9)

    def _one_line_node(self, diagram: Placed, name: str, x: float, y: float) -> None:
        node, top = diagram.nodes[name], diagram.corners[name][1]
        column = x + (diagram.ports[name, "top", "in"] if node.tops else diagram.ports[name, "bottom", "out"])
        top, middle = y + top, y + top + node.height / 2
        if node.tops:
            self.path([(column, top), (column, middle - 18)], "power")
        if node.bottoms:
            self.path([(column, middle + 18), (column, top + node.height)], "power")
        beside = self.marks.beside(name)
        if beside:
            self._frame(name, column - 20, middle - 18, 40, 36)
            if node.tops:
                self.path([(column, middle - 18), (column, middle - 16)], "power")
        self.symbol(node.symbol, column, middle, upright=True)
        self.text(column + 30 if beside else column + 24, middle - 1, node.label, 11.5, weight="bold")
        words = " - ".join(each for each in (node.detail, beside) if each)
        self.text(column + 30 if beside else column + 24, middle + 13, words, 10, fill=SUSPECT if beside else INK)

    # The whole --------------------------------------------------------------------------------------------

    def finished(self, width: float, height: float, legend: Sequence[str]) -> str:
        """The document, with the legend below."""
        lines = [f"Symbols after {self.standard}. Supply off and proved dead before the box is opened.", *legend]
        if not self.look.legend:
            lines = list(legend)
        lines += self._mark_legend() if self.look.legend else []
        y = height + 8
        for line in lines:
            for part in textwrap.wrap(clean(line), max(40, int((width - 2 * MARGIN) / 6))):
                self.text(MARGIN, y, part, 11.5)
                y += LEGEND_LINE
        full = y + 8
        self.root.set("viewBox", f"0 0 {width:g} {full:g}")
        self.root.set("width", f"{width:g}")
        self.root.set("height", f"{full:g}")
        self.root.insert(2, ElementTree.Element("rect", {"width": "100%", "height": "100%", "fill": PAPER}))
        return ElementTree.tostring(self.root, encoding="unicode") + "\n"

    def _mark_legend(self) -> list[str]:
        lines = []
        if self.marks.culprits:
            lines.append("Double heavy frame: at fault.")
        if self.marks.suspects:
            lines.append("Broken heavy frame and a question mark: under suspicion.")
        lines += self.marks.notes
        if self.marks.probes:
            lines.append("Ring: where a probe goes.")
        if self.marks.readings:
            lines.append("Numbers: readings, where they were taken. Round: as it should be. Square: not.")
        for mark in self.marks.readings:
            lines.append(f"({mark.number}) {mark.text}{'' if mark.as_expected else ' - not as it should be'}")
        return lines
