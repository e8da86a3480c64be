"""The wiring of a panel as diagrams: supply above, rails of the bars between, circuits below, power downwards.

Bars that the panel's references name are drawn as rails. What lands on one further down bears its tag instead of a line
across the whole sheet, as schematics have it (IEC 61082-1, from memory).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from math import ceil

import networkx as nx

from diagnose.drawing.place import SLOT
from diagnose.drawing.ranks import longest_path_ranks
from diagnose.drawing.records import Diagram, Edge, Node, Port
from diagnose.panel.records import Panel, part_of
from diagnose.topology import carrying_graph, source_terminals

PORT_ROW = 34.0
MIDDLE_ROW = 42.0
TAG_WIDTH, TAG_HEIGHT = 48.0, 20.0
CHARACTER = 6.2  # of the labels' type, in drawing units

# Between two that are as far from the supply as each other, the one that acts on the other stands above.
FIRST = (
    "service", "inlet", "feed", "breaker", "residual", "isolator", "fuse", "transformer", "bar", "emergency_stop",
    "switch", "dial", "controller", "control_relay", "relay", "contactor", "socket", "probe_socket", "connector",
    "heater", "pump", "fan", "exchanger", "probe", "lamp", "display", "alarm", "enclosure",
)  # fmt: skip


Stage = tuple[int, int, int]
FAR = 99
TELLERS = ("lamp", "display", "alarm")


@dataclass(frozen=True, slots=True)
class Wiring:
    """The diagrams of one panel, and the rails that join them: bar -> its tag, from the top down."""

    supply: Diagram
    circuits: tuple[Diagram, ...]
    rails: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class _Link:
    """A wire or a plug's blade between two terminals of drawn parts."""

    name: str
    a: str
    b: str
    plug: bool


@dataclass(frozen=True, slots=True)
class Stages:
    """How far each part is from the supply: by power alone, and by anything that carries current or signals."""

    power: Mapping[str, Stage]
    any_path: Mapping[str, Stage]


def wiring_of(panel: Panel) -> Wiring:
    """The wiring of a panel, ready to be placed."""
    rails = rails_of(panel)
    links = [link for link in _links(panel) if not {part_of(link.a), part_of(link.b)} & rails.keys()]
    drawn = [name for name in panel.parts if name not in rails]
    together: nx.Graph[str] = nx.Graph()
    together.add_nodes_from(drawn)
    stages = []
    for paths in (("power",), ("power", "control", "sensing"), ("power", "control", "sensing", "earth")):
        some = [link for link in links if _path(panel, link.a, link.b) in paths]
        together.add_edges_from((part_of(link.a), part_of(link.b)) for link in some)
        stages.append(_stages(panel, together, rails))
    stage = Stages(*stages[:2])
    place = {name: number for number, name in enumerate(panel.parts)}
    groups = [sorted(group, key=place.__getitem__) for group in nx.connected_components(together)]
    supply = next(group for group in groups if panel.supply.service in group)
    others = sorted((group for group in groups if group is not supply), key=lambda group: place[group[0]])
    return Wiring(
        _diagram(panel, supply, links, rails, stage, feeding=True),
        tuple(_diagram(panel, group, links, rails, stage, feeding=False) for group in others),
        rails,
    )


def rails_of(panel: Panel) -> Mapping[str, str]:
    """Bars that are drawn as rails, each with its tag: earth and neutral first, then the lines."""
    tags = {"earth": "PE", "neutral": "N", "leg_3": "L3", "leg_2": "L2", "leg_1": "L1"}
    rails = {}
    for reference, tag in tags.items():
        part = part_of(panel.references.get(reference, ""))
        if part in panel.parts and panel.parts[part].kind.role in ("bar", "earth"):
            rails[part] = "L" if tag == "L1" and "leg_2" not in panel.references else tag
    return rails


def _links(panel: Panel) -> Iterable[_Link]:
    for wire in panel.wires:
        yield _Link(wire.name, wire.a, wire.b, False)
    for plug, socket in panel.plugs.items():
        for own, its in panel.parts[plug].kind.plug.items():
            yield _Link(plug, f"{socket}.{its}", f"{plug}.{own}", True)


def _stages(panel: Panel, together: nx.Graph[str], rails: Mapping[str, str]) -> Mapping[str, Stage]:
    """A rank of who comes first on the way of the power: parts away from the service or from a live rail, then role."""
    live = {rail for rail, tag in rails.items() if tag.startswith("L")}
    fed = {
        part_of(mine)
        for wire in panel.wires
        for mine, other in ((wire.a, wire.b), (wire.b, wire.a))
        if part_of(other) in live and part_of(mine) not in rails
    }
    supply = nx.node_connected_component(together, panel.supply.service)
    away: dict[str, int] = {}
    starts = (fed - supply) or {panel.supply.service}
    away.update({name: round(far) for name, far in nx.multi_source_dijkstra_path_length(together, starts).items()})
    away.update(nx.single_source_shortest_path_length(together, panel.supply.service))
    role = {name: FIRST.index(panel.parts[name].kind.role) for name in together}
    return {name: (away.get(name, FAR), role[name], number) for number, name in enumerate(panel.parts) if name in role}


def _diagram(
    panel: Panel, group: list[str], links: list[_Link], rails: Mapping[str, str],
    stage: Stages, feeding: bool,
) -> Diagram:  # fmt: skip
    own = [link for link in links if part_of(link.a) in group]
    edges = _edges(panel, [link for link in own if part_of(link.a) != part_of(link.b)], stage)
    ranks = longest_path_ranks(group, edges)
    lowest = max(ranks.values())
    nodes: dict[str, Node] = {}
    for link in own:
        if part_of(link.a) == part_of(link.b):
            edges += _bridge(panel, link)
            top = (Port("through", ""),)
            nodes[link.name] = Node(link.name, "pass", "", "", "", top, (), 16.0, 0.0)
            ranks[link.name] = ranks[part_of(link.a)] + 1
    for wire in panel.wires:
        for mine, bar in ((wire.a, wire.b), (wire.b, wire.a)):
            if part_of(bar) in rails and part_of(mine) in group:
                edge, node, rank = _tag(panel, wire.name, mine, part_of(bar), rails, ranks, lowest, feeding)
                edges.append(edge)
                nodes[node.name], ranks[node.name] = node, rank
    for name in group:
        nodes[name] = _part_node(panel, name, edges)
    first = min(ranks.values())
    return Diagram(nodes, {name: rank - first for name, rank in ranks.items()}, tuple(edges))


def _edges(panel: Panel, links: list[_Link], stage: Stages) -> list[Edge]:
    """Every link with its upper end first: what acts on a coil above it, else what is nearer to the supply.

    The ways of power come first. A link that would close a circle is turned round: where the one way makes a circle,
    the other can't.
    """
    above: nx.DiGraph[str] = nx.DiGraph()
    edges = []
    by_path = {link: _path(panel, link.a, link.b) for link in links}
    for link in sorted(links, key=lambda link: by_path[link] != "power"):
        away = stage.power if by_path[link] == "power" else stage.any_path
        keys = {end: (_acted_on(panel, end), away[part_of(end)]) for end in (link.a, link.b)}
        ends = sorted(keys, key=keys.__getitem__)
        one, two = (part_of(end) for end in ends)
        if above.has_node(one) and above.has_node(two) and nx.has_path(above, two, one):
            ends.reverse()
        above.add_edge(part_of(ends[0]), part_of(ends[1]))
        (upper, upper_port), (lower, lower_port) = (end.split(".", 1) for end in ends)
        edges.append(Edge(link.name, upper, upper_port, lower, lower_port, by_path[link], link.plug))
    return edges


def _acted_on(panel: Panel, end: str) -> int:
    """2 for what only tells, 1 for an end of a coil that something other than a teller is wired to, else 0."""
    part, _, terminal = end.partition(".")
    kind = panel.parts[part].kind
    if kind.role in TELLERS:
        return 2
    coils = [kind.branches[coil.branch] for coil in (kind.coil, kind.control) if coil is not None]
    return int(any(terminal in (branch.tail, branch.head) for branch in coils))


def _bridge(panel: Panel, link: _Link) -> list[Edge]:
    """A wire from one terminal of a part to another of the same part: both ends meet below it."""
    ends = [end.split(".", 1) for end in (link.a, link.b)]
    path = _path(panel, link.a, link.b)
    return [Edge(link.name, part, terminal, link.name, "through", path) for part, terminal in ends]


def _path(panel: Panel, *ends: str) -> str:
    """The path of a line: the weaker of its ends' (a bar's is anything)."""
    paths = {panel.parts[part_of(end)].kind.terminals[end.partition(".")[2]].path for end in ends}
    return next((path for path in ("earth", "sensing", "control") if path in paths), "power")


def _tag(
    panel: Panel, wire: str, mine: str, bar: str, rails: Mapping[str, str], ranks: Mapping[str, int],
    lowest: int, feeding: bool,
) -> tuple[Edge, Node, int]:  # fmt: skip
    """The tag of a rail at a terminal, or the tap that a line to the rail itself starts or ends with."""
    part, _, terminal = mine.partition(".")
    tag, path = rails[bar], _path(panel, mine)
    name = f"{wire}>{bar}"
    if feeding and _feeds(panel, mine, bar):
        top = (Port("tap", ""),)
        node = Node(name, "rail_tap", tag, bar, "", top, (), 16.0, 0.0)
        return Edge(wire, part, terminal, name, "tap", path), node, lowest + 1
    if tag.startswith("L"):
        tapped = ranks[part] == 0 and not feeding
        bottom = (Port("tap", ""),)
        size = (16.0, 0.0) if tapped else (TAG_WIDTH, TAG_HEIGHT)
        node = Node(name, "rail_tap" if tapped else "tag", tag, bar, "", (), bottom, *size)
        return Edge(wire, name, "tap", part, terminal, path), node, ranks[part] - 1
    node = Node(name, "tag", tag, bar, "earth" if tag == "PE" else "", (Port("tap", ""),), (), TAG_WIDTH, TAG_HEIGHT)
    return Edge(wire, part, terminal, name, "tap", path), node, ranks[part] + 1


def _feeds(panel: Panel, mine: str, bar: str) -> bool:
    """Whether a terminal lies between the service and a bar, and not behind it."""
    graph = carrying_graph(panel)
    service = panel.supply.service
    sources = [*source_terminals(panel), f"{service}.earth"]
    without = graph.subgraph(node for node in graph if part_of(node) != bar)
    return any(source in without and mine in without and nx.has_path(without, source, mine) for source in sources)


def _part_node(panel: Panel, name: str, edges: list[Edge]) -> Node:
    part = panel.parts[name]
    down = {edge.upper_port for edge in edges if edge.upper == name}
    up = {edge.lower_port for edge in edges if edge.lower == name}
    terminals = part.kind.terminals.values()
    tops = tuple(Port(terminal.name, terminal.title) for terminal in terminals if terminal.name in up)
    bottoms = tuple(Port(terminal.name, terminal.title) for terminal in terminals if terminal.name in down)
    if part.kind.role in ("bar", "earth"):
        tops, bottoms = (tuple(Port(port.name, "") for port in ports) for ports in (tops, bottoms))
    detail = rating_text(panel, name)
    wide = max(len(part.label), len(detail)) * CHARACTER + 52
    width = max(wide, SLOT * max(len(tops), len(bottoms), 1))
    height = MIDDLE_ROW + PORT_ROW * (bool(tops) + bool(bottoms))
    return Node(name, "part", part.label, detail, part.kind.role, tops, bottoms, 16 * ceil(width / 16), height)


def rating_text(panel: Panel, name: str) -> str:
    """A part's main ratings in a few words."""
    from diagnose.units import show  # late: pint is loaded only where something is shown

    part = panel.parts[name]
    shown = [
        show(part.ratings[rating.name], rating.dimension)
        for rating in part.kind.ratings.values()
        if rating.dimension in ("power", "voltage", "current") and rating.name in part.ratings
    ]
    return ", ".join(shown[:3])
