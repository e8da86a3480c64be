"""A panel as data."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property

from diagnose.errors import Place
from diagnose.knowledge.records import Kind
from diagnose.physics.vessel import Kettle


def part_of(terminal: str) -> str:
    """The part that a terminal, written `part.terminal`, belongs to."""
    return terminal.partition(".")[0]


@dataclass(frozen=True, slots=True)
class Part:
    """A thing that can be replaced. Ratings are in SI units; `choices` are ratings that are words."""

    name: str
    label: str
    kind: Kind
    ratings: Mapping[str, float]
    choices: Mapping[str, str]
    place: Place


@dataclass(frozen=True, slots=True)
class Wire:
    """A run of copper between two terminals, each written `part.terminal`."""

    name: str
    a: str
    b: str
    area_square_metres: float
    length_metres: float
    resistance_ohms: float  # at 20 degrees Celsius
    size: str  # as written in the file: '10 AWG', '2.5 mm2'
    place: Place


@dataclass(frozen=True, slots=True)
class Supply:
    """Where the panel gets its power, and how it is cut off before anyone opens the box."""

    system: str
    title: str
    frequency_hertz: float
    low: float  # smallest and largest share of the nominal voltage
    high: float
    service: str
    protection: tuple[str, ...]
    isolator: str  # the part that isolates: a feed cord to unplug, else a protective device to switch off and lock
    unplugs: bool


@dataclass(frozen=True, eq=False)
class Panel:
    """A panel: everything that the circuit is built from."""

    name: str
    title: str
    story: str
    region: str
    supply: Supply
    parts: Mapping[str, Part]  # wires not among them
    wires: tuple[Wire, ...]
    plugs: Mapping[str, str]  # what is plugged -> what it is plugged into
    references: Mapping[str, str]  # neutral, earth, leg_1, leg_2 -> part.terminal
    place: Place
    wire_kind: Kind
    feed_wire_kind: Kind
    altitude_metres: float | None = None  # where it stands, if told
    built: str = "used"  # 'new': wired and never worked yet, so wiring mistakes are among the causes
    kettles: Mapping[str, Kettle] = field(
        default_factory=dict
    )  # heater -> the kettle that it sits in, where the file says
    rates: Mapping[str, float] = field(default_factory=dict)  # 'part.fault' -> its rate where it is not the kind's

    @cached_property
    def wires_by_name(self) -> Mapping[str, Wire]:
        """The wires by their names."""
        return {wire.name: wire for wire in self.wires}

    def kind_of(self, name: str) -> Kind:
        """The kind of a part or a wire; raises KeyError if there is no such thing."""
        return self.parts[name].kind if name in self.parts else self._wire_kind_of(name)

    def _wire_kind_of(self, name: str) -> Kind:
        if name not in self.wires_by_name:
            raise KeyError(name)
        return self.feed_wire_kind if self.at_the_service(name) else self.wire_kind

    def at_the_service(self, name: str) -> bool:
        """Whether a part or wire belongs to the building's own service equipment: an electrician's work."""
        beyond = {self.supply.service, *self.supply.protection}
        if name in self.wires_by_name:
            wire = self.wires_by_name[name]
            return bool(beyond & {part_of(wire.a), part_of(wire.b)})
        return name in beyond

    def label(self, name: str) -> str:
        """What a person calls the part or wire."""
        if name in self.parts:
            return self.parts[name].label
        wire = self.wires_by_name[name]
        return f"wire from {self.terminal_label(wire.a)} to {self.terminal_label(wire.b)}"

    def terminal_label(self, terminal: str) -> str:
        """`hlt_contactor.t1` as 'HLT contactor T1'."""
        part, _, name = terminal.partition(".")
        kind = self.kind_of(part)
        if kind.role in ("bar", "earth"):
            return self.label(part)
        return f"{self.label(part)}, {kind.terminals[name].title}"

    def of_role(self, *roles: str) -> list[str]:
        """Names of the parts with one of these roles, in the file's order."""
        return [name for name, part in self.parts.items() if part.kind.role in roles]
