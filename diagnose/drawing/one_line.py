"""The one-line diagram: the way of the power from the service to each load, one line for all its conductors."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from diagnose.drawing.ranks import longest_path_ranks
from diagnose.drawing.records import Diagram, Edge, Node, Port
from diagnose.drawing.wiring import CHARACTER, rating_text
from diagnose.panel.records import Panel, part_of
from diagnose.topology import power_path

LOADS = ("heater", "pump", "fan")
SYMBOL_ROOM = 48.0
HEIGHT = 40.0


def one_line_of(panel: Panel) -> Diagram:
    """The one-line diagram of a panel, ready to be placed."""
    ways = [_way(panel, load) for load in panel.of_role(*LOADS)]
    pairs = dict.fromkeys(pair for way in ways for pair in pairwise(way))
    edges = tuple(
        Edge(f"{above}>{below}", above, "out", below, "in", "power", panel.plugs.get(below) == above)
        for above, below in pairs
    )
    names = list(dict.fromkeys(name for way in ways for name in way))
    nodes = {name: _node(panel, name, edges) for name in names}
    return Diagram(nodes, longest_path_ranks(names, edges), edges)


def _way(panel: Panel, load: str) -> list[str]:
    path = power_path(panel, load)
    parts = [part for step in path.out for part in (part_of(step.tail), part_of(step.head))]
    return list(dict.fromkeys([*parts, load])) if parts else [load]


def conductors(panel: Panel, above: str, below: str) -> int:
    """How many conductors join two parts, earths and signals left out; never less than one."""
    count = sum(
        {part_of(wire.a), part_of(wire.b)} == {above, below} and not _earth(panel, wire.a) for wire in panel.wires
    )
    if panel.plugs.get(below) == above or panel.plugs.get(above) == below:
        plug = below if panel.plugs.get(below) == above else above
        count += sum(panel.parts[plug].kind.terminals[own].path != "earth" for own in panel.parts[plug].kind.plug)
    return max(count, 1)


def _earth(panel: Panel, terminal: str) -> bool:
    return panel.parts[part_of(terminal)].kind.terminals[terminal.partition(".")[2]].path != "power"


def _node(panel: Panel, name: str, edges: Sequence[Edge]) -> Node:
    part = panel.parts[name]
    tops = (Port("in", ""),) if any(edge.lower == name for edge in edges) else ()
    bottoms = (Port("out", ""),) if any(edge.upper == name for edge in edges) else ()
    detail = rating_text(panel, name)
    half = SYMBOL_ROOM / 2 + CHARACTER * max(len(part.label), len(detail)) + 8
    # The symbol stands in the middle on the line, the words to its right.
    width = 16 * round(2 * half / 16)
    return Node(name, "part", part.label, detail, part.kind.role, tops, bottoms, width, HEIGHT)
