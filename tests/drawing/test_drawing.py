"""Drawings of every bundled panel: complete, nothing on anything else, power downwards, no markup from files."""

from __future__ import annotations

import re
from dataclasses import replace
from itertools import combinations
from pathlib import Path
from xml.etree import ElementTree

import networkx as nx
import pytest
from hypothesis import given
from hypothesis import strategies as st

from diagnose.cli import main
from diagnose.drawing.crop import cropped
from diagnose.drawing.marks import Marks, ReadingMark
from diagnose.drawing.one_line import conductors, one_line_of
from diagnose.drawing.place import nearest_in_order, placed
from diagnose.drawing.ranks import crossings, longest_path_ranks, ordered, with_passes
from diagnose.drawing.records import Edge, Placed
from diagnose.drawing.svg import (
    AS_EXPECTED,
    FRAME,
    INK,
    PAPER,
    PROBE,
    STROKES,
    SUSPECT,
    TINT,
    Look,
    one_line_svg,
    wiring_svg,
)
from diagnose.drawing.symbols import standard_of, symbol_of
from diagnose.drawing.wiring import wiring_of
from diagnose.opening import bundled_panels, open_panel
from diagnose.panel.records import Panel
from diagnose.topology import commanded_by, upstream
from diagnose.wording import regional
from tests.contrast import TEXT, contrast, texts_on

PANELS = [entry.name for entry in bundled_panels()]
NAMESPACE = "{http://www.w3.org/2000/svg}"


def every_mark(panel: Panel) -> Marks:
    """Every part and wire marked in one of the ways, and a reading at every terminal and of every part."""
    names = [*panel.parts, *panel.wires_by_name]
    ends = [f"{name}.{end}" for name, part in panel.parts.items() for end in part.kind.terminals]
    readings = [ReadingMark(n, (at,), "told", n % 2 == 0) for n, at in enumerate([*ends, *panel.parts], start=1)]
    return Marks(dict.fromkeys(names[::3], "62 %"), {}, tuple(readings), dict.fromkeys(names[1::3], "FOUND"))


def wires_at(panel: Panel, name: str) -> set[str]:
    """The wires that land on the ends of a part's coil, but for those to lamps, which act on nothing."""
    coil = panel.parts[name].kind.coil
    assert coil is not None
    branch = panel.parts[name].kind.branches[coil.branch]
    ends = {f"{name}.{branch.tail}", f"{name}.{branch.head}"}
    found = [wire for wire in panel.wires if {wire.a, wire.b} & ends]
    tell = {"lamp", "alarm", "display"}
    return {
        wire.name for wire in found
        if not tell & {panel.kind_of(end.split(".")[0]).role for end in (wire.a, wire.b)}
    }  # fmt: skip


def loads_of(panel: Panel) -> list[str]:
    """What complaints are about: elements, pumps, fans, controllers."""
    return panel.of_role("heater", "pump", "fan", "controller")


def diagrams(panel: Panel) -> list[Placed]:
    """Every placed diagram of a panel's two drawings."""
    wiring = wiring_of(panel)
    return [placed(diagram) for diagram in (wiring.supply, *wiring.circuits, one_line_of(panel))]


def nets(drawing: Placed) -> dict[int, int]:
    """Lines that share a port, also through passes, by one number: they may lie on each other."""
    joined: nx.Graph[object] = nx.Graph()
    for number, line in enumerate(drawing.lines):
        joined.add_edge(number, ("out", line.edge.upper, line.edge.upper_port))
        joined.add_edge(number, ("in", line.edge.lower, line.edge.lower_port))
    for name, node in drawing.nodes.items():
        if node.form == "pass" and node.bottoms:
            joined.add_edge(("out", name, "through"), ("in", name, "through"))
    return {
        member: number
        for number, group in enumerate(nx.connected_components(joined))
        for member in group
        if isinstance(member, int)
    }


@pytest.mark.parametrize("name", PANELS)
def test_no_box_lies_on_another(name: str) -> None:
    for drawing in diagrams(open_panel(name)):
        boxes = [(drawing.corners[node], drawing.nodes[node]) for node in drawing.nodes]
        for ((x, y), one), ((u, v), two) in combinations(boxes, 2):
            apart = x + one.width <= u or u + two.width <= x or y + one.height < v or v + two.height < y
            assert apart or one.height == 0 or two.height == 0, (one.name, two.name)


@pytest.mark.parametrize("name", PANELS)
def test_no_line_runs_through_a_box(name: str) -> None:
    for drawing in diagrams(open_panel(name)):
        for line in drawing.lines:
            for (x, y), (u, v) in zip(line.corners, line.corners[1:], strict=False):
                for node, (left, top) in drawing.corners.items():
                    box = drawing.nodes[node]
                    across = max(x, u) > left and min(x, u) < left + box.width
                    down = max(y, v) > top and min(y, v) < top + box.height
                    assert not (across and down and box.form != "pass"), (line.edge.name, node)


@pytest.mark.parametrize("name", PANELS)
def test_no_line_lies_on_a_line_of_another_net(name: str) -> None:
    for drawing in diagrams(open_panel(name)):
        net = nets(drawing)
        stretches = [
            (net[number], *sorted((one, two)))
            for number, line in enumerate(drawing.lines)
            for one, two in zip(line.corners, line.corners[1:], strict=False)
            if one != two
        ]
        for (one, a, b), (two, c, d) in combinations(stretches, 2):
            if one == two:
                continue
            upright = a[0] == b[0] == c[0] == d[0] and min(b[1], d[1]) > max(a[1], c[1])
            level = a[1] == b[1] == c[1] == d[1] and min(b[0], d[0]) > max(a[0], c[0])
            assert not upright and not level, (a, b, c, d)


@pytest.mark.parametrize("name", PANELS)
def test_power_runs_downwards(name: str) -> None:
    for drawing in diagrams(open_panel(name)):
        for line in drawing.lines:
            heights = [y for _, y in line.corners]
            assert heights == sorted(heights), line.edge.name


@pytest.mark.parametrize("name", PANELS)
def test_every_wire_and_every_plug_is_drawn(name: str) -> None:
    panel = open_panel(name)
    wiring = wiring_of(panel)
    drawn = {edge.name for diagram in (wiring.supply, *wiring.circuits) for edge in diagram.edges}
    rails = wiring.rails.keys()
    between_rails = {wire.name for wire in panel.wires if {wire.a.split(".")[0], wire.b.split(".")[0]} <= rails}
    assert {wire.name for wire in panel.wires} - between_rails <= drawn
    assert panel.plugs.keys() <= drawn
    parts = {node for diagram in (wiring.supply, *wiring.circuits) for node in diagram.nodes} & panel.parts.keys()
    assert parts == panel.parts.keys() - rails


@pytest.mark.parametrize("name", PANELS)
def test_the_document_names_every_part_as_the_screen_does(name: str) -> None:
    panel = open_panel(name)
    root = ElementTree.fromstring(wiring_svg(panel))
    words = {text.text for text in root.iter(f"{NAMESPACE}text")}
    rails = wiring_of(panel).rails
    labels = {key: regional(panel, part.label) for key, part in panel.parts.items()}
    assert [label for key, label in labels.items() if label not in words and key not in rails] == []
    assert root.get("role") == "img" and root.find(f"{NAMESPACE}title") is not None


def test_one_line_reaches_every_load() -> None:
    panel = open_panel("cellar_two_kettle")
    diagram = one_line_of(panel)
    assert {"hlt_element", "boil_element", "wort_pump", "liquor_pump", "fan"} <= diagram.nodes.keys()
    assert conductors(panel, "hlt_contactor", "hlt_outlet") == 2
    assert conductors(panel, "hlt_outlet", "hlt_cord") == 2


def test_each_role_of_the_knowledge_has_a_symbol_in_both_standards() -> None:
    roles = {part.kind.role for name in PANELS for part in open_panel(name).parts.values()}
    assert [
        role for role in roles for region in ("north_america", "europe") if not symbol_of(role, standard_of(region))
    ] == []


def test_the_standards_differ_where_the_trade_knows_them_to() -> None:
    """Resistor, fuse, lamp, contact and motor letter: IEC 60617 against IEEE 315, from memory."""
    for role in ("heater", "fuse", "lamp", "switch", "breaker", "contactor", "pump"):
        assert symbol_of(role, "IEC 60617") != symbol_of(role, "IEEE 315"), role


@pytest.mark.parametrize(
    "colour", [*(stroke[0] for stroke in STROKES.values()), INK, FRAME, SUSPECT, PROBE, AS_EXPECTED]
)
def test_colours_stand_out_from_white(colour: str) -> None:
    """On paper and on the tint of a marked part, as WCAG 2.1 asks of text."""
    assert contrast(colour, PAPER) >= TEXT and contrast(colour, TINT) >= TEXT


@pytest.mark.parametrize("name", PANELS)
def test_every_text_stands_out_from_what_it_lies_on(name: str) -> None:
    panel = open_panel(name)
    weak = [told for told in texts_on(wiring_svg(panel, every_mark(panel))) if contrast(told[1], told[2]) < TEXT]
    assert weak == []


def test_paths_differ_in_more_than_colour() -> None:
    assert len({dash for _, _, dash in STROKES.values()}) == len(STROKES)


@pytest.mark.parametrize("name", PANELS)
def test_every_mark_is_drawn_with_its_words(name: str) -> None:
    panel = open_panel(name)
    marks = every_mark(panel)
    words = [text.text for text in ElementTree.fromstring(wiring_svg(panel, marks)).iter(f"{NAMESPACE}text")]
    beside = [word for word in words if word in ("FOUND", "? 62 %")]
    diagrams_ = (wiring_of(panel).supply, *wiring_of(panel).circuits)
    # A wire between two terminals of one part is drawn as two lines that meet.
    lines = [edge.name for diagram in diagrams_ for edge in diagram.edges if not edge.plug]
    marked = {*marks.suspects, *marks.culprits}
    assert len(beside) == sum(name in marked for name in (*panel.parts, *lines))
    parts = [mark for mark in marks.readings if mark.terminals[0] in panel.parts]
    assert {str(mark.number) for mark in parts} <= set(words)


def test_what_is_found_and_what_is_suspected_differ_without_colour() -> None:
    """A double frame against a broken one, a square number against a round one."""
    panel = open_panel("shed_single_kettle")
    readings = (ReadingMark(1, ("relay",), "", True), ReadingMark(2, ("contactor",), "", False))
    root = ElementTree.fromstring(wiring_svg(panel, Marks({"relay": "3 %"}, {}, readings, {"element": "FOUND"})))
    frames = [rect for rect in root.iter(f"{NAMESPACE}rect") if rect.get("stroke") == SUSPECT]
    assert sum(rect.get("stroke-dasharray") is not None for rect in frames) == 1
    assert sum(rect.get("fill") == "none" for rect in frames) == 1  # the outer of the double frame
    assert [rect for rect in frames if rect.get("width") == "15"]
    assert [circle for circle in root.iter(f"{NAMESPACE}circle") if circle.get("stroke") == AS_EXPECTED]


@pytest.mark.parametrize("name", PANELS)
def test_a_part_of_a_panel_is_drawn_with_all_that_acts_on_it(name: str) -> None:
    panel = open_panel(name)
    for load in loads_of(panel):
        part = cropped(panel, (load,))
        assert {load, panel.supply.service, *panel.supply.protection} <= part.parts.keys()
        if panel.kind_of(load).role != "controller":
            assert {each for each in upstream(panel, load) if each in panel.parts} <= part.parts.keys()
            assert set(commanded_by(panel, load)) <= part.parts.keys()
        root = ElementTree.fromstring(wiring_svg(part))
        words = {text.text for text in root.iter(f"{NAMESPACE}text")}
        assert regional(panel, panel.label(load)) in words
        for coil in (each for each in part.parts.values() if each.kind.coil is not None):
            assert wires_at(part, coil.name) == wires_at(panel, coil.name), coil.name
    both = cropped(panel, panel.parts)
    assert both.parts.keys() == panel.parts.keys() and len(both.wires) == len(panel.wires)


@pytest.mark.parametrize("name", PANELS)
def test_nothing_lies_on_anything_in_a_part_of_a_panel(name: str) -> None:
    panel = open_panel(name)
    for drawing in (each for load in loads_of(panel) for each in diagrams(cropped(panel, (load,)))):
        boxes = [(drawing.corners[node], drawing.nodes[node]) for node in drawing.nodes]
        for ((x, y), one), ((u, v), two) in combinations(boxes, 2):
            apart = x + one.width <= u or u + two.width <= x or y + one.height < v or v + two.height < y
            assert apart or one.height == 0 or two.height == 0, (one.name, two.name)


def test_a_figure_has_no_heading_no_legend_of_marks_and_no_readings_in_the_one_line_diagram() -> None:
    panel = open_panel("shed_single_kettle")
    marks = Marks({}, {}, (ReadingMark(7, ("relay",), "ohms", False),), {"element": "FOUND"})
    look = Look(heading=False, legend=False)
    for svg in (wiring_svg(panel, marks, look), one_line_svg(panel, marks, look)):
        words = [text.text for text in ElementTree.fromstring(svg).iter(f"{NAMESPACE}text")]
        assert not [word for word in words if word and word.startswith(("Shed", "Numbers", "(7)", "Double"))]
    assert "7" not in [
        text.text for text in ElementTree.fromstring(one_line_svg(panel, marks)).iter(f"{NAMESPACE}text")
    ]


def test_marks_are_told_in_words_too() -> None:
    panel = open_panel("shed_single_kettle")
    marks = Marks(
        {"relay": "62 %"}, {"contactor.l1": "RED"},
        (ReadingMark(1, ("contactor.l1",), "0.0 V, 230 V expected", False),),
    )  # fmt: skip
    words = [text.text for text in ElementTree.fromstring(wiring_svg(panel, marks)).iter(f"{NAMESPACE}text")]
    assert {"? 62 %", "RED", "1"} <= set(words)
    assert any("(1) 0.0 V, 230 V expected - not as it should be" in (word or "") for word in words)


def test_text_of_a_file_never_becomes_markup() -> None:
    panel = open_panel("shed_single_kettle")
    hostile = replace(panel.parts["relay"], label="</text><script>alert(1)</script>\x1b[31m\u202e")
    drawn = wiring_svg(replace(panel, parts={**panel.parts, "relay": hostile}, title="<b>&\x00"))
    root = ElementTree.fromstring(drawn)
    assert not [tag for tag in root.iter() if tag.tag.endswith("script")]
    assert not re.search(r"[\x00-\x08\x0b-\x1f\u202e]", drawn)


def test_a_drawing_is_written_whole(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "panel.svg"
    assert main(["draw", "shed_single_kettle", "--fault", "relay:open", "--out", str(out)]) == 0
    assert "At fault: relay output failed open." in out.read_text(encoding="utf-8")
    assert [path.name for path in tmp_path.iterdir()] == ["panel.svg"]
    assert main(["draw", "shed_single_kettle", "--out", str(tmp_path / "none" / "x.svg")]) == 2
    assert "can't be written" in capsys.readouterr().err
    assert main(["draw", "shed_single_kettle", "--fault", "relay:wrong"]) == 2
    capsys.readouterr()
    assert main(["draw", "shed_single_kettle", "--view", "one-line"]) == 0
    assert capsys.readouterr().out.startswith("<svg")


def edge(upper: str, lower: str) -> Edge:
    """A line between two nodes."""
    return Edge(f"{upper}{lower}", upper, "out", lower, "in", "power")


def test_ranks_are_longest_paths_and_circles_are_refused() -> None:
    edges = [edge("a", "b"), edge("b", "c"), edge("a", "c")]
    assert longest_path_ranks("abc", edges) == {"a": 0, "b": 1, "c": 2}
    with pytest.raises(ValueError, match="the lines run in a circle"):
        longest_path_ranks("ab", [edge("a", "b"), edge("b", "a")])


@pytest.mark.parametrize("name", PANELS)
def test_ordering_leaves_no_more_crossings_than_the_file_s_order(name: str) -> None:
    for diagram in wiring_of(open_panel(name)).circuits:
        passed = with_passes(diagram)
        depth = max(passed.ranks.values()) + 1
        as_told = [[node for node in passed.nodes if passed.ranks[node] == rank] for rank in range(depth)]
        assert crossings(passed, ordered(passed)) <= crossings(passed, as_told)


@given(st.lists(st.tuples(st.floats(-500, 500), st.floats(1, 80)), min_size=1, max_size=12))
def test_places_keep_order_and_room_and_are_the_nearest(pairs: list[tuple[float, float]]) -> None:
    """Against the definition: no place can move, alone or with what it touches, to where it was wanted more."""
    wanted, rooms = [want for want, _ in pairs], [room for _, room in pairs]
    found = nearest_in_order(wanted, rooms)
    for left, right, room in zip(found, found[1:], rooms, strict=False):
        assert right - left >= room - 1e-6
    # Blocks of touching neighbours: the mean of what each block wants is where it stands (least squares).
    start = 0
    for end in range(1, len(found) + 1):
        if end == len(found) or found[end] - found[end - 1] > rooms[end - 1] + 1e-6:
            pull = sum(wanted[number] - found[number] for number in range(start, end))
            assert abs(pull) < 1e-5 * max(1, end - start) * 500
            start = end
