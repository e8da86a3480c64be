"""Reads a panel file: parts by kind, wires as `from - to` lines, repeated channels as a block."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from itertools import pairwise
from pathlib import Path
from types import MappingProxyType

from diagnose.errors import AnswerError, Place
from diagnose.knowledge.library import Library
from diagnose.knowledge.records import Kind
from diagnose.panel import floating
from diagnose.panel.kettles import read_kettles
from diagnose.panel.rates import read_rates
from diagnose.panel.records import Panel, Part, Supply, Wire
from diagnose.panel.sizes import read_bounded as read_yaml
from diagnose.physics.conductors import flexible_ohms_per_metre
from diagnose.units import awg_area, to_si
from diagnose.yamlfile import Collector, Node, Scalar, Sequence
from diagnose.yamlfile import Mapping as MappingNode

REGIONS = (
    "north_america",
    "europe",
    "united_kingdom",
    "australia",
)  # as in knowledge/regions.yaml; a test holds them equal
BUILT = ("used", "new")
DEFAULT_WIRE = ("14 AWG", 0.4)
Block = tuple[Mapping[str, Node], Mapping[str, str]]  # parts, wires and plugs, and what its placeholders stand for


def read_panel(path: Path, library: Library, shown_as: str | None = None) -> Panel:
    """Read a panel file; raises FileError with every problem, each with its line and column."""
    collector = Collector()
    panel = _PanelReader(collector, library).panel(read_yaml(path, shown_as))
    collector.raise_errors()
    if panel is None:
        raise AssertionError("a panel without problems was not built")
    for problem in floating.problems(panel):
        collector.problems.append(problem)
    collector.raise_errors()
    return panel


@dataclass(slots=True)
class _Draft:
    parts: dict[str, Part] = field(default_factory=dict)
    wires: list[Wire] = field(default_factory=list)
    plugs: dict[str, str] = field(default_factory=dict)
    broken: set[str] = field(default_factory=set)  # parts with a problem of their own: told once is enough


class _PanelReader:
    def __init__(self, collector: Collector, library: Library) -> None:
        self.collect = collector
        self.library = library
        self.draft = _Draft()
        self.wire_size, self.wire_length = DEFAULT_WIRE

    def panel(self, node: Node) -> Panel | None:
        keys = self.collect.mapping(
            node,
            required=("panel", "title", "region", "supply", "parts", "wires", "references"),
            optional=("story", "labels", "wire", "channels", "plugs", "built", "kettles", "altitude", "rates"),
        )
        if "wire" in keys:
            self.wire_size, self.wire_length, _ = self._size(keys["wire"], self.collect.text(keys["wire"]))
        supply = self._supply(keys["supply"]) if "supply" in keys else None
        blocks: list[Block] = [(keys, {})]
        for channel in self._sequence(keys.get("channels")):
            blocks += self._channel(channel)
        for block, names in blocks:
            self._parts(block, names)
        for block, names in blocks:  # all parts are known by now, so that any wire may name any of them
            self._joins(block, names)
        labels = self._labels(keys.get("labels"))
        references = self._references(keys.get("references"))
        heaters = [name for name, part in self.draft.parts.items() if part.kind.role == "heater"]
        kettles = read_kettles(self.collect, keys.get("kettles"), heaters)
        rates = read_rates(self.collect, keys.get("rates"), self.draft.parts)
        if supply is None or self.collect.problems:
            self.collect.raise_errors()
        if supply is None:
            return None
        parts = {
            name: Part(name, labels.get(name, part.label), part.kind, part.ratings, part.choices, part.place)
            for name, part in self.draft.parts.items()
        }
        return Panel(
            name=self.collect.word(keys["panel"]),
            title=self.collect.text(keys["title"]),
            story=self.collect.text(keys["story"]) if "story" in keys else "",
            region=self.collect.choice(keys["region"], REGIONS) or REGIONS[0],
            supply=supply,
            parts=MappingProxyType(parts),
            wires=tuple(self.draft.wires),
            plugs=MappingProxyType(self.draft.plugs),
            references=MappingProxyType(references),
            place=node.place,
            built=(self.collect.choice(keys["built"], BUILT) if "built" in keys else None) or BUILT[0],
            kettles=kettles,
            rates=rates,
            altitude_metres=self.collect.quantity(keys["altitude"], "length") if "altitude" in keys else None,
            wire_kind=self.library.kinds["wire"],
            feed_wire_kind=self.library.kinds["feed_wire"],
        )

    # Blocks: the file's own parts, wires and plugs, and each channel's -------------------------------------

    def _parts(self, keys: Mapping[str, Node], names: Mapping[str, str]) -> None:
        parts = keys.get("parts")
        if isinstance(parts, MappingNode):
            for key, value in parts.entries:
                self._part(key, _fill(key.text, names), value, names)
        elif parts is not None:
            self.collect.error(parts, "the parts are not a mapping", "part names, each with its kind and ratings")

    def _joins(self, keys: Mapping[str, Node], names: Mapping[str, str]) -> None:
        for line in self._sequence(keys.get("wires")):
            self._wire(line, names)
        for line in self._sequence(keys.get("plugs")):
            self._plug(line, names)

    def _channel(self, node: Node) -> list[Block]:
        """What a channel stands for: its parts, wires and plugs with each set of names."""
        if not isinstance(node, MappingNode):
            self.collect.error(node, "a channel is not a mapping", "names with lists, and parts, wires, plugs")
            return []
        block = {"parts", "wires", "plugs"}
        keys = {key.text: value for key, value in node.entries}
        unknown = {
            name: [self.collect.text(item) for item in self._sequence(value)]
            for name, value in keys.items()
            if name not in block
        }
        lengths = {len(values) for values in unknown.values()}
        if len(lengths) != 1 or 0 in lengths:
            self.collect.error(node, "a channel's lists differ in length", "one value for each channel in each list")
            return []
        own = {name: keys[name] for name in block & keys.keys()}
        return [(own, {name: values[index] for name, values in unknown.items()}) for index in range(lengths.pop())]

    def _sequence(self, node: Node | None) -> list[Node]:
        if node is None:
            return []
        if not isinstance(node, Sequence):
            self.collect.error(node, "this is not a list", "lines that begin with '- '")
            return []
        return list(node.items)

    # Parts -------------------------------------------------------------------------------------------------

    def _part(self, key: Scalar, name: str, node: Node, names: Mapping[str, str]) -> None:
        if not re.fullmatch(r"[a-z][a-z0-9_]*", name):
            self.collect.error(key, f"'{name}' is no part name", "small letters, digits and _, a letter first")
            return
        if name in self.draft.parts:
            first = self.draft.parts[name].place
            self.collect.error(key, f"there are two parts named '{name}' (the other is on line {first.line})",
                               "a name of its own for each part")  # fmt: skip
            return
        if isinstance(node, Scalar):
            part = self._short_part(key, name, node, _fill(self.collect.text(node), names))
        else:
            part = self._long_part(key, name, node, names)
        if part is None:
            self.draft.broken.add(name)
        else:
            self.draft.parts[name] = part

    def _kind(self, node: Node, name: str) -> Kind | None:
        kind = self.library.kinds.get(name)
        if kind is None or name in ("wire", "feed_wire"):
            hint = self.library.nearest_kind(name)
            self.collect.error(node, f"there is no kind of part '{name}'", f"a kind from knowledge/parts{hint}")
            return None
        return kind

    def _short_part(self, key: Scalar, name: str, node: Node, text: str) -> Part | None:
        """`hlt_breaker: breaker_2, 30 A, ul489`: ratings are told apart by their units."""
        kind_name, *values = [piece.strip() for piece in text.split(",")]
        kind = self._kind(node, kind_name)
        if kind is None:
            return None
        given: dict[str, str] = {}
        for value in values:
            rating = next((r for r in kind.ratings if r not in given and self._fits(kind, r, value)), None)
            if rating is None:
                wanted = ", ".join(f"{r.name} ({r.dimension})" for r in kind.ratings.values()) or "no ratings"
                self.collect.error(node, f"{kind_name} {name}: '{value}' fits none of its ratings", wanted)
                return None
            given[rating] = value
        return self._build(key, name, kind, dict.fromkeys(given, node), given, "")

    def _fits(self, kind: Kind, rating: str, value: str) -> bool:
        wanted = kind.ratings[rating]
        if wanted.choices:
            return value in wanted.choices
        try:
            to_si(value, wanted.dimension)
        except AnswerError:
            return False
        return True

    def _long_part(self, key: Scalar, name: str, node: Node, names: Mapping[str, str]) -> Part | None:
        if not isinstance(node, MappingNode) or node.get("kind") is None:
            self.collect.error(node, f"part {name} has no kind", "kind: and its ratings, or a line 'kind, rating'")
            return None
        nodes = {child.text: value for child, value in node.entries}
        kind = self._kind(nodes["kind"], self.collect.text(nodes["kind"]))
        if kind is None:
            return None
        self.collect.mapping(node, required=("kind",), optional=("label", *kind.ratings))
        given = {r: _fill(self.collect.text(nodes[r]), names) for r in kind.ratings if r in nodes}
        label = _fill(self.collect.text(nodes["label"]), names) if "label" in nodes else ""
        return self._build(key, name, kind, nodes, given, label)

    def _build(
        self, key: Scalar, name: str, kind: Kind, nodes: Mapping[str, Node], given: Mapping[str, str], label: str
    ) -> Part | None:
        ratings: dict[str, float] = {}
        choices: dict[str, str] = {}
        for rating in kind.ratings.values():
            if rating.name not in given:
                self._default(key, name, kind, rating.name, ratings, choices)
            elif rating.choices:
                if given[rating.name] not in rating.choices:
                    self.collect.error(
                        nodes[rating.name],
                        f"{kind.name} {name}, {rating.name}: '{given[rating.name]}' is not known",
                        f"one of {', '.join(rating.choices)}",
                    )
                choices[rating.name] = given[rating.name]
            else:
                value = self._rating(nodes[rating.name], f"{kind.name} {name}, {rating.name}",
                                     given[rating.name], rating.dimension)  # fmt: skip
                if value is None:
                    return None
                ratings[rating.name] = value
        return Part(name, label or name.replace("_", " "), kind, MappingProxyType(ratings),
                    MappingProxyType(choices), key.place)  # fmt: skip

    def _default(
        self, key: Scalar, name: str, kind: Kind, rating: str, ratings: dict[str, float], choices: dict[str, str]
    ) -> None:
        wanted = kind.ratings[rating]
        if wanted.choices:
            choices[rating] = wanted.choices[0]
        elif wanted.default is not None:
            ratings[rating] = wanted.default
        else:
            self.collect.error(key, f"{kind.name} {name} has no {rating}", f"{rating}: {wanted.dimension}")

    def _rating(self, node: Node, where: str, text: str, dimension: str) -> float | None:
        try:
            value = to_si(text, dimension)
        except AnswerError as error:
            problem = error.problems[0]
            self.collect.error(node, f"{where}: {problem.message}", problem.expected)
            return None
        if value <= 0:
            self.collect.error(node, f"{where}: '{text}' is not above zero", "a value above zero")
            return None
        return value

    # Wires and plugs ---------------------------------------------------------------------------------------

    def _size(self, node: Node, text: str) -> tuple[str, float, float]:
        """`10 AWG, 2 m` -> size text, length in metres, area in square metres."""
        size, length = self.wire_size, self.wire_length
        try:
            for piece in (piece.strip() for piece in text.split(",")):
                if re.search(r"awg|mm", piece, re.IGNORECASE):
                    awg_area(piece)
                    size = piece
                elif piece:
                    length = to_si(piece, "length")
            if not 0 < length < 1000:
                self.collect.error(node, f"a wire of {length:g} m", "a length above zero and below 1000 m")
                length = 1.0
            return size, length, awg_area(size)
        except AnswerError as error:
            self.collect.error(node, error.problems[0].message, "a size and a length, such as '10 AWG, 2 m'")
            return size, length, awg_area(DEFAULT_WIRE[0])

    def _wire(self, node: Node, names: Mapping[str, str]) -> None:
        text = _fill(self.collect.text(node), names)
        run, _, detail = text.partition(",")
        stops = [stop.strip() for stop in run.split(" - ")]
        if len(stops) < 2 or not all(stops):
            self.collect.error(node, f"'{text}' is no wire", "'part.terminal - part.terminal, size, length'")
            return
        size, length, area = self._size(node, detail)
        ends = [self._ends(node, stop) for stop in stops]
        for before, after in pairwise(ends):
            if before is not None and after is not None:
                self._join(before[1], after[0], area, length, size, node.place)

    def _join(self, a: str, b: str, area: float, length: float, size: str, place: Place) -> None:
        name = f"wire_{a}_to_{b}".replace(".", "_")
        while any(wire.name == name for wire in self.draft.wires):
            name += "_again"
        ohms = flexible_ohms_per_metre(size, area) * length
        self.draft.wires.append(Wire(name, a, b, area, length, ohms, size, place))

    def _ends(self, node: Node, stop: str) -> tuple[str, str] | None:
        """Where a wire that comes to `stop` lands, and where it goes on from."""
        name, _, terminal = stop.partition(".")
        part = self.draft.parts.get(name)
        if part is None:
            self._no_part(node, name)
            return None
        terminals = part.kind.terminals
        if terminal:
            if terminal not in terminals:
                self.collect.error(node, f"{part.kind.name} {name} has no terminal '{terminal}'",
                                   f"one of {', '.join(terminals)}")  # fmt: skip
                return None
            return stop, stop
        if len(terminals) == 1:
            only = f"{name}.{next(iter(terminals))}"
            return only, only
        if part.kind.through:
            return f"{name}.{part.kind.through[0]}", f"{name}.{part.kind.through[1]}"
        self.collect.error(node, f"'{name}' doesn't say which terminal", f"one of {', '.join(terminals)} after a dot")
        return None

    def _no_part(self, node: Node, name: str) -> None:
        if name not in self.draft.broken:
            self.collect.error(node, f"there is no part '{name}'", f"a part of this panel{self._near_part(name)}")

    def _near_part(self, name: str) -> str:
        return Library.suggestion(name, self.draft.parts)

    def _plug(self, node: Node, names: Mapping[str, str]) -> None:
        text = _fill(self.collect.text(node), names)
        sides = [side.strip() for side in text.split(" - ")]
        parts = [self.draft.parts.get(side) for side in sides]
        if len(sides) != 2:
            self.collect.error(node, f"'{text}' is no plug line", "'what is plugged - what it is plugged into'")
            return
        for side, part in zip(sides, parts, strict=True):
            if part is None:
                self._no_part(node, side)
        plug, socket = parts
        if plug is None or socket is None:
            return
        if not plug.kind.plug:
            self.collect.error(node, f"{plug.kind.name} {sides[0]} has no plug", "a kind of part that plugs in")
        elif not set(plug.kind.plug.values()) <= socket.kind.terminals.keys():
            self.collect.error(node, f"{sides[0]} doesn't fit {sides[1]}",
                               f"a socket with {', '.join(plug.kind.plug.values())}")  # fmt: skip
        elif sides[0] in self.draft.plugs:
            self.collect.error(node, f"{sides[0]} is plugged in twice", "one place for each plug")
        elif sides[1] in self.draft.plugs.values():
            self.collect.error(node, f"two plugs are in {sides[1]}", "one plug for each socket")
        else:
            self.draft.plugs[sides[0]] = sides[1]

    # Supply, labels, references ----------------------------------------------------------------------------

    def _supply(self, node: Node) -> Supply | None:
        keys = self.collect.mapping(
            node, required=("system", "protection", "feed"), optional=("cord", "source_impedance")
        )
        if not {"system", "protection", "feed"} <= keys.keys():
            return None
        system_name = self.collect.choice(keys["system"], tuple(self.library.supplies))
        if system_name is None:
            self.draft.broken |= {"service", "wall_point", "feed_cord"}
            return None
        system = self.library.supplies[system_name]
        place = Scalar("service", True, node.place)
        service = Scalar(system.service, True, node.place)
        if "source_impedance" in keys:
            given = keys["source_impedance"]
            ohms = self._rating(given, "supply, source_impedance", self.collect.text(given), "resistance")
            if ohms is not None:
                service = Scalar(f"{system.service}, {ohms!r} ohm", True, given.place)
        self._part(place, "service", service, {})
        protection: list[str] = []
        lines = keys["protection"]
        for line in [lines] if isinstance(lines, Scalar) else self._sequence(lines):
            label, _, rest = self.collect.text(line).partition(":")
            name = label.strip()
            self._part(Scalar(name, True, line.place), name, Scalar(rest.strip(), True, line.place), {})
            if name in self.draft.parts:
                protection.append(name)
        corded = "cord" in keys
        self._part(place, "wall_point", Scalar(system.wall if corded else system.wired, True, node.place), {})
        if corded:
            text = self.collect.text(keys["cord"])
            self._part(place, "feed_cord", Scalar(text, True, keys["cord"].place), {})
            if "feed_cord" in self.draft.parts:
                self.draft.plugs["feed_cord"] = "wall_point"
        size, length, area = self._size(keys["feed"], self.collect.text(keys["feed"]))
        for conductor in system.conductors:
            at = f"service.{conductor.service}"
            for device in protection:
                terminals = self.draft.parts[device].kind.terminals
                pair = next((pair for pair in conductor.protection if set(pair) <= terminals.keys()), None)
                if pair is not None:
                    self._join(at, f"{device}.{pair[0]}", area, 0.5, size, keys["feed"].place)
                    at = f"{device}.{pair[1]}"
            self._join(at, f"wall_point.{conductor.wall}", area, length, size, keys["feed"].place)
        return Supply(
            system=system_name,
            title=system.title,
            frequency_hertz=system.frequency_hertz,
            low=system.low,
            high=system.high,
            service="service",
            protection=tuple(protection),
            isolator="feed_cord" if corded else (protection[0] if protection else "service"),
            unplugs=corded,
        )

    def _labels(self, node: Node | None) -> dict[str, str]:
        labels: dict[str, str] = {}
        if node is None:
            return labels
        if not isinstance(node, MappingNode):
            self.collect.error(node, "the labels are not a mapping", "part: what is written on it")
            return labels
        for key, value in node.entries:
            if key.text not in self.draft.parts:
                self.collect.error(key, f"there is no part '{key.text}'", f"a part{self._near_part(key.text)}")
            labels[key.text] = self.collect.text(value)
        return labels

    def _references(self, node: Node | None) -> dict[str, str]:
        if node is None:
            return {}
        keys = self.collect.mapping(node, required=("neutral", "earth", "leg_1"), optional=("leg_2", "leg_3"))
        found = {}
        for name, value in keys.items():
            ends = self._ends(value, self.collect.text(value))
            if ends is not None:
                found[name] = ends[0]
        return found


def _fill(text: str, names: Mapping[str, str]) -> str:
    for name, value in names.items():
        text = text.replace(f"<{name}>", value)
    return text
