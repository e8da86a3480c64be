"""Drawings as SVG. Built as an XML tree, so that no text of a file can become markup."""

from __future__ import annotations

import textwrap
from collections.abc import Mapping, Sequence
from xml.etree import ElementTree

from diagnose.drawing.marks import Marks
from diagnose.drawing.one_line import conductors, one_line_of
from diagnose.drawing.place import placed
from diagnose.drawing.records import Line, Placed
from diagnose.drawing.symbols import Standard, standard_of, symbol_of
from diagnose.drawing.wiring import PORT_ROW, wiring_of
from diagnose.panel.records import Panel
from diagnose.wording import clean

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
TYPE = "Helvetica, Arial, 'Liberation Sans', sans-serif"

Element = ElementTree.Element


def wiring_svg(panel: Panel, marks: Marks | None = None) -> str:
    """The wiring of a panel as one SVG document."""
    marks = marks or Marks()
    wiring = wiring_of(panel)
    supply = placed(wiring.supply)
    circuits = [placed(diagram) for diagram in wiring.circuits]
    top = HEAD + supply.height
    first_rail = top + RAIL_STEP
    start = first_rail + RAIL_STEP * max(len(wiring.rails), 1)
    wide = sum(circuit.width for circuit in circuits) + BETWEEN * max(len(circuits) - 1, 0)
    width = max(wide, supply.width, 560.0) + 2 * MARGIN + 60
    tall = start + max((circuit.height for circuit in circuits), default=0.0) + BETWEEN
    sheet = _Sheet(panel, f"{panel.title}: wiring", marks)
    rail_y = {bar: first_rail + number * RAIL_STEP for number, bar in enumerate(wiring.rails)}
    for bar, tag in wiring.rails.items():
        sheet.rail(bar, tag, rail_y[bar], width)
    sheet.diagram(supply, MARGIN + 60, HEAD, rail_y)
    x = MARGIN + 60
    for circuit in circuits:
        sheet.diagram(circuit, x, start, rail_y)
        x += circuit.width + BETWEEN
    return sheet.finished(width, tall, [*_line_legend(), *_rail_legend(panel, wiring.rails)])


def one_line_svg(panel: Panel, marks: Marks | None = None) -> str:
    """The one-line diagram of a panel as one SVG document."""
    diagram = placed(one_line_of(panel))
    sheet = _Sheet(panel, f"{panel.title}: one-line diagram", marks or Marks())
    sheet.one_line(diagram, MARGIN, HEAD)
    legend = ["A stroke across a line with a number: that many conductors, earths not counted."]
    return sheet.finished(max(diagram.width, 560.0) + 2 * MARGIN, HEAD + diagram.height + 24, legend)


def _line_legend() -> list[str]:
    return ["Lines: power solid and heavy; control long dashes; sensing dots; earth dash and dot."]


def _rail_legend(panel: Panel, rails: Mapping[str, str]) -> list[str]:
    named = ", ".join(f"{tag} {panel.label(bar)}" for bar, tag in rails.items())
    return [f"Tags: {named}. A tag stands for a wire to that bar."] if rails else []


class _Sheet:
    """An SVG that is being drawn."""

    def __init__(self, panel: Panel, title: str, marks: Marks) -> None:
        self.panel, self.marks = panel, marks
        self.standard: Standard = standard_of(panel.region)
        self.root = ElementTree.Element("svg", {"xmlns": "http://www.w3.org/2000/svg", "role": "img"})
        self.title = clean(title)
        ElementTree.SubElement(self.root, "title").text = self.title
        ElementTree.SubElement(self.root, "desc").text = clean(f"Symbols after {self.standard}. {panel.story}")
        self.body = ElementTree.SubElement(self.root, "g", {"font-family": TYPE, "fill": INK})
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
        made.text = clean(words)

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
        if bar in self.marks.suspects:
            self.text(MARGIN + 48, y - 5, f"? {self.marks.suspects[bar]}", 11, weight="bold", fill=SUSPECT)

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
        if line.edge.name in self.marks.suspects and not line.edge.plug:
            way = "M" + "L".join(f"{across:g} {down:g}" for across, down in corners)
            self.add("path", d=way, fill="none", stroke=SUSPECT, stroke_width=7, stroke_opacity=0.35)
            across, down = corners[-1]
            self.text(across + 4, down - 4, f"? {self.marks.suspects[line.edge.name]}", 9, weight="bold", fill=SUSPECT)
        self.path(corners, line.edge.path)
        if line.edge.plug:
            across, down = corners[-1]
            for higher in (4.0, 9.0):
                way = f"M{across - 5:g} {down - higher - 5:g}l5 5l5 -5"
                self.add("path", d=way, fill="none", stroke=STROKES[line.edge.path][0], stroke_width=1.6)

    def _tag(self, label: str, symbol: str, x: float, y: float) -> None:
        if symbol:
            self.symbol(symbol, x + 24, y + 10)
            return
        self.add("rect", x=x + 6, y=y, width=36, height=20, fill="white", stroke=INK, stroke_width=1.2, rx=9)
        self.text(x + 24, y + 14.5, label, 12, "middle", "bold")

    def _box(self, diagram: Placed, name: str, x: float, y: float) -> None:
        node, (left, top) = diagram.nodes[name], diagram.corners[name]
        left, top = x + left, y + top
        suspect = self.marks.suspects.get(name)
        style: dict[str, str | float] = {"stroke": FRAME, "stroke_width": 1.2, "fill": "#ffffff"}
        if suspect is not None:
            style = {"stroke": SUSPECT, "stroke_width": 3.5, "fill": "#fff2f6", "stroke_dasharray": "9 4"}
        self.add("rect", x=left, y=top, width=node.width, height=node.height, rx=4, **style)
        middle = (
            top + (PORT_ROW if node.tops else 0) + (node.height - PORT_ROW * (bool(node.tops) + bool(node.bottoms))) / 2
        )
        self.symbol(node.symbol, left + 26, middle)
        self.text(left + 50, middle - 1, node.label, 11.5, weight="bold")
        self.text(left + 50, middle + 13, node.detail, 10)
        if suspect is not None:
            self.text(left + node.width - 6, middle - 12, f"? {suspect}", 11, "end", "bold", SUSPECT)
        for side, ports in (("top", node.tops), ("bottom", node.bottoms)):
            for port in ports:
                column = x + diagram.ports[name, side, port.name]
                self._port(f"{name}.{port.name}", column, top if side == "top" else top + node.height, side, port.label)

    def _port(self, terminal: str, x: float, y: float, side: str, label: str) -> None:
        self.add("circle", cx=x, cy=y, r=3, fill="white", stroke=INK, stroke_width=1.3)
        words = textwrap.wrap(clean(label), PORT_CHARACTERS, max_lines=PORT_LINES, placeholder=" …")
        first = y + 11 if side == "top" else y - 5 - (PORT_TYPE + 0.5) * (len(words) - 1)
        for number, line in enumerate(words):
            self.text(x, first + number * (PORT_TYPE + 0.5), line, PORT_TYPE, "middle")
        if terminal in self.marks.probes:
            self.add("circle", cx=x, cy=y, r=8, fill="none", stroke=PROBE, stroke_width=2.5)
            self.text(
                x + 11, y - 3 if side == "top" else y + 11, self.marks.probes[terminal], 10, weight="bold", fill=PROBE
            )
        numbers = [mark for mark in self.marks.readings if terminal in mark.terminals]
        for place, mark in enumerate(numbers):
            across = x - 11 - 17 * place
            down = y - 8 if side == "top" else y + 9
            colour = AS_EXPECTED if mark.as_expected else SUSPECT
            self.add("circle", cx=across, cy=down, r=7.5, fill="white", stroke=colour, stroke_width=1.8)
            self.text(across, down + 3.4, str(mark.number), 10, "middle", "bold", colour)

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
        upper = line.edge.upper.partition(".")[0]
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
        suspect = self.marks.suspects.get(name)
        self.symbol(node.symbol, column, middle, upright=True)
        if suspect is not None:
            self.add("rect", x=column - 22, y=middle - 18, width=44, height=36, rx=5, fill="none", stroke=SUSPECT,
                     stroke_width=3, stroke_dasharray="9 4")  # fmt: skip
        self.text(column + 24, middle - 1, node.label, 11.5, weight="bold")
        words = node.detail if suspect is None else f"{node.detail}  ? {suspect}"
        self.text(column + 24, middle + 13, words, 10, fill=INK if suspect is None else SUSPECT)

    # The whole --------------------------------------------------------------------------------------------

    def finished(self, width: float, height: float, legend: Sequence[str]) -> str:
        """The document, with the legend below."""
        lines = [f"Symbols after {self.standard}. Supply off and proved dead before the box is opened.", *legend]
        lines += self._mark_legend()
        y = height + 8
        for line in lines:
            for part in textwrap.wrap(clean(line), max(40, int((width - 2 * MARGIN) / 6))):
                self.text(MARGIN, y, part, 11.5)
                y += LEGEND_LINE
        full = y + 8
        self.root.set("viewBox", f"0 0 {width:g} {full:g}")
        self.root.set("width", f"{width:g}")
        self.root.set("height", f"{full:g}")
        self.root.insert(2, ElementTree.Element("rect", {"width": "100%", "height": "100%", "fill": "#ffffff"}))
        return ElementTree.tostring(self.root, encoding="unicode") + "\n"

    def _mark_legend(self) -> list[str]:
        lines = []
        if self.marks.suspects:
            lines.append("Broken heavy frame and a question mark: under suspicion.")
        if self.marks.probes:
            lines.append("Ring: where a probe goes.")
        for mark in self.marks.readings:
            lines.append(f"({mark.number}) {mark.text}{'' if mark.as_expected else ' - not as it should be'}")
        return lines
