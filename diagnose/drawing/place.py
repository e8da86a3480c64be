"""A place for each node: x by least squares with room between neighbours, y by rank."""

from __future__ import annotations

from collections.abc import Sequence

from diagnose.drawing.ranks import Order, ordered, with_passes, with_ports_in_order
from diagnose.drawing.records import Diagram, Node, Placed
from diagnose.drawing.route import MARGIN, TRACK, Channel, channel_of, routed

GRID = 8.0
SLOT = 80.0  # between two ports of a node; half of it is on the grid, as half of every width is
GAP = 24.0
ROUNDS = 10
PORT_ROUNDS = 3

Xs = dict[str, float]


def port_offset(node: Node, side: str, port: str) -> float:
    """How far to the right of its node's left edge a port is."""
    ports = node.tops if side == "top" else node.bottoms
    index = next(number for number, own in enumerate(ports) if own.name == port)
    return node.width / 2 + (index - (len(ports) - 1) / 2) * SLOT


def snapped(value: float) -> float:
    """The nearest line of the grid."""
    return round(value / GRID) * GRID


def placed(diagram: Diagram) -> Placed:
    """Give everything in a diagram its place, left upper corner at the origin."""
    diagram = with_passes(diagram)
    order = ordered(diagram)
    xs = _packed(diagram, order)
    for _ in range(PORT_ROUNDS):
        xs = _settled(diagram, order, xs)
        diagram = _ports_arranged(diagram, xs)
    xs = {name: snapped(x) for name, x in _settled(diagram, order, xs).items()}
    return _drawn(diagram, order, xs)


def _packed(diagram: Diagram, order: Order) -> Xs:
    xs: Xs = {}
    for rank in order:
        x = 0.0
        for name in rank:
            xs[name] = x
            x += diagram.nodes[name].width + GAP
    return xs


def _settled(diagram: Diagram, order: Order, xs: Xs) -> Xs:
    """Every node near the ports that it is joined to, in its rank's order."""
    xs = dict(xs)
    for turn in range(ROUNDS):
        down = turn % 2 == 1  # downwards at last, so that a chain hangs straight from where it starts
        for names in order if down else reversed(order):
            wanted = [_wanted(diagram, xs, name, down) for name in names]
            for name, x in zip(names, nearest_in_order(wanted, _rooms(diagram, names)), strict=True):
                xs[name] = x
    return xs


def _wanted(diagram: Diagram, xs: Xs, name: str, down: bool) -> float:
    """Where a node would best stand for its lines to be straight: by those above, or by those below."""
    node = diagram.nodes[name]
    places = []
    for edge in diagram.edges:
        if edge.lower == name and down:
            x = xs[edge.upper] + port_offset(diagram.nodes[edge.upper], "bottom", edge.upper_port)
            places.append(x - port_offset(node, "top", edge.lower_port))
        if edge.upper == name and not down:
            x = xs[edge.lower] + port_offset(diagram.nodes[edge.lower], "top", edge.lower_port)
            places.append(x - port_offset(node, "bottom", edge.upper_port))
    return sum(places) / len(places) if places else xs[name]


def _rooms(diagram: Diagram, names: Sequence[str]) -> list[float]:
    return [diagram.nodes[name].width + GAP for name in names]


def nearest_in_order(wanted: Sequence[float], rooms: Sequence[float]) -> list[float]:
    """The places nearest to those wanted, in least squares, that keep the order and leave each its room.

    Less the room of all before it, each place must not be smaller than the one before: an isotonic regression, by
    pooling neighbours that are out of order (Barlow et al. 1972).
    """
    before = [sum(rooms[:number]) for number in range(len(rooms))]
    pools: list[tuple[float, int]] = []
    for want, less in zip(wanted, before, strict=True):
        mean, count = want - less, 1
        while pools and pools[-1][0] > mean:
            last, many = pools.pop()
            mean, count = (last * many + mean * count) / (many + count), many + count
        pools.append((mean, count))
    flat = [mean for mean, count in pools for _ in range(count)]
    return [x + less for x, less in zip(flat, before, strict=True)]


def _ports_arranged(diagram: Diagram, xs: Xs) -> Diagram:
    at: dict[str, dict[tuple[str, str], list[float]]] = {}
    for edge in diagram.edges:
        above, below = diagram.nodes[edge.upper], diagram.nodes[edge.lower]
        low = xs[edge.lower] + port_offset(below, "top", edge.lower_port)
        high = xs[edge.upper] + port_offset(above, "bottom", edge.upper_port)
        at.setdefault(edge.upper, {}).setdefault(("bottom", edge.upper_port), []).append(low)
        at.setdefault(edge.lower, {}).setdefault(("top", edge.lower_port), []).append(high)
    nodes = {}
    for name, node in diagram.nodes.items():
        means = {key: sum(values) / len(values) for key, values in at.get(name, {}).items()}
        nodes[name] = with_ports_in_order(node, means)
    return Diagram(nodes, diagram.ranks, diagram.edges)


def _drawn(diagram: Diagram, order: Order, xs: Xs) -> Placed:
    nodes = diagram.nodes
    left = min(xs.values(), default=0.0)
    ports = {
        (name, side, port.name): xs[name] - left + port_offset(node, side, port.name)
        for name, node in nodes.items()
        for side, own in (("top", node.tops), ("bottom", node.bottoms))
        for port in own
    }
    corners: dict[str, tuple[float, float]] = {}
    channels: list[tuple[Channel, float]] = []
    y = 0.0
    for rank, names in enumerate(order):
        tall = max((nodes[name].height for name in names), default=0.0)
        for name in names:
            corners[name] = (xs[name] - left, y)
        y += tall
        if rank + 1 < len(order):
            channel = channel_of([edge for edge in diagram.edges if diagram.ranks[edge.upper] == rank], ports)
            channels.append((channel, y + MARGIN))
            y += 2 * MARGIN + TRACK * max(channel.tracks - 1, 0)
    feet = {name: corners[name][1] + nodes[name].height for name in nodes}
    heads = {name: corners[name][1] for name in nodes}
    lines = tuple(line for channel, top in channels for line in routed(channel, top, feet, heads))
    width = max((corners[name][0] + node.width for name, node in nodes.items()), default=0.0)
    return Placed(nodes, corners, ports, lines, width, y)
