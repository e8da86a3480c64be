"""What is drawn, before it has a place, and after."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

NodeForm = Literal["part", "tag", "rail_tap", "pass"]
PortKey = tuple[str, str]  # node, and its port: a terminal's name and the side it is on


@dataclass(frozen=True, slots=True)
class Port:
    """A place on a node's upper or lower edge where lines end."""

    name: str
    label: str


@dataclass(frozen=True, slots=True)
class Node:
    """A box, a tag, or the place where a long line passes a rank. Sizes are in drawing units."""

    name: str
    form: NodeForm
    label: str
    detail: str
    symbol: str
    tops: tuple[Port, ...]
    bottoms: tuple[Port, ...]
    width: float
    height: float


@dataclass(frozen=True, slots=True)
class Edge:
    """A line from a port on the lower edge of one node to one on the upper edge of a node further down."""

    name: str  # the wire, or the plug
    upper: str
    upper_port: str
    lower: str
    lower_port: str
    path: str  # power, control, earth, sensing
    plug: bool = False


@dataclass(frozen=True, slots=True)
class Diagram:
    """Nodes in ranks from the top down, and the lines between them."""

    nodes: Mapping[str, Node]
    ranks: Mapping[str, int]
    edges: tuple[Edge, ...]


@dataclass(frozen=True, slots=True)
class Line:
    """A routed line: corners from its upper port to its lower one."""

    edge: Edge
    net: int  # lines of one net share a port and may lie on each other
    corners: tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class Placed:
    """A diagram with a place for everything: left upper corners, the x of each port, routed lines."""

    nodes: Mapping[str, Node]
    corners: Mapping[str, tuple[float, float]]
    ports: Mapping[tuple[str, str, str], float]  # node, 'top' or 'bottom', port -> x
    lines: tuple[Line, ...]
    width: float
    height: float
