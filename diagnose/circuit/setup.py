"""A setup: everything a person decides about the panel before a reading is taken."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType

from diagnose.panel.records import Panel

NOTHING: Mapping[str, str] = MappingProxyType({})


class Lead(str):
    """A terminal whose wires may be taken off for a check: never an earth.

    Raises ValueError for an earth, on either end of the wires there.
    """

    __slots__ = ()

    def __new__(cls, panel: Panel, terminal: str) -> Lead:
        ends = {terminal} | {end for wire in panel.wires for end in (wire.a, wire.b) if terminal in (wire.a, wire.b)}
        if any(_on_earth(panel, end) for end in ends):
            raise ValueError(f"{terminal}: an earth is never taken off")
        return super().__new__(cls, terminal)


def _on_earth(panel: Panel, end: str) -> bool:
    part, _, name = end.partition(".")
    return panel.kind_of(part).terminals[name].path == "earth" or end == panel.references.get("earth")


@dataclass(frozen=True)
class Setup:
    """Handles, plugs, lifted leads and commands. What isn't named is at rest.

    Raises ValueError where leads are off with the supply on, or one was not looked at for being an earth.
    """

    supply_on: bool
    positions: tuple[tuple[str, str], ...]  # part with a handle -> position
    unplugged: frozenset[str] = frozenset()
    lifted: frozenset[Lead] = frozenset()  # terminals whose wires are taken off
    commands: tuple[tuple[str, str], ...] = ()  # controller -> 'call' or 'rest'
    baths: tuple[tuple[str, float], ...] = ()  # probe -> degrees Celsius around it
    placed: tuple[tuple[str, float], ...] = ()  # probe in its own place -> degrees Celsius of the liquid there
    warm: bool = False  # ran for ten minutes before the reading
    swapped: frozenset[tuple[str, str]] = frozenset()  # plugs, or terminals with their wires, that changed places
    moved_by_hand: bool = False  # cords and plugs are bent and pulled while it is read
    watched: bool = False  # read at the moment when what comes and goes is there

    def __post_init__(self) -> None:
        if self.lifted and self.supply_on:
            raise ValueError("leads are taken off on a dead panel only")
        if self.earth_lifted:
            raise ValueError("an earth is never taken off")

    @property
    def earth_lifted(self) -> bool:
        """Whether a wire that is moved may be an earth: it was not made as a `Lead`, which refuses them."""
        return not all(isinstance(end, Lead) for end in (*self.lifted, *(end for pair in self.rewired for end in pair)))

    def position(self, part: str) -> str | None:
        """Where a handle stands, or None for a part that has none."""
        return dict(self.positions).get(part)

    def moved(self, **positions: str) -> Setup:
        """The same with some handles elsewhere."""
        return replace(self, positions=tuple(sorted({**dict(self.positions), **positions}.items())))

    def unplugging(self, *parts: str) -> Setup:
        """The same with some plugs pulled."""
        return replace(self, unplugged=self.unplugged | set(parts))

    def commanding(self, command: str, *controllers: str) -> Setup:
        """The same with controllers told to call for heat, or to rest."""
        commands = {**dict(self.commands), **dict.fromkeys(controllers, command)}
        return replace(self, commands=tuple(sorted(commands.items())))

    def bathing(self, probe: str, celsius: float) -> Setup:
        """The same with a probe held in water of a known temperature."""
        return replace(self, baths=tuple(sorted({**dict(self.baths), probe: celsius}.items())))

    def placing(self, probe: str, celsius: float) -> Setup:
        """The same with a probe in its own place, and liquid of a known temperature there."""
        return replace(self, placed=tuple(sorted({**dict(self.placed), probe: celsius}.items())))

    @property
    def heated(self) -> bool:
        """Whether the panel ran to get warm: a probe in hot liquid is warm without that."""
        return self.warm and not self.baths and not self.placed

    def exchanging(self, *pairs: tuple[str, str]) -> Setup:
        """The same with plugs in each other's sockets, or the wires at two terminals landed on each other."""
        return replace(self, swapped=self.swapped | set(pairs))

    @property
    def rewired(self) -> frozenset[tuple[str, str]]:
        """Terminals whose wires changed places: work in the open box, done dead."""
        return frozenset(pair for pair in self.swapped if "." in pair[0])

    def as_data(self) -> dict[str, object]:
        """For logs and the line protocol."""
        return {
            "supply": "on" if self.supply_on else "off",
            "positions": dict(self.positions),
            "unplugged": sorted(self.unplugged),
            "lifted": sorted(self.lifted),
            "controllers": dict(self.commands),
            "baths": dict(self.baths),
            "placed": dict(self.placed),
            "warm": self.warm,
            "swapped": sorted(list(pair) for pair in self.swapped),
            "moved_by_hand": self.moved_by_hand,
            "watched": self.watched,
        }


def at_rest(panel: Panel) -> Setup:
    """Supply on, protective devices and main switch on, everything that starts a load off."""
    positions = {
        name: part.kind.run if part.kind.role in PROTECTIVE_ROLES else part.kind.rest
        for name, part in panel.parts.items()
        if part.kind.positions
    }
    return Setup(True, tuple(sorted(positions.items()))).commanding("rest", *panel.of_role("controller"))


def isolated(panel: Panel) -> Setup:
    """Supply cut off before the panel, everything in it off."""
    setup = at_rest(panel)
    positions = {name: panel.parts[name].kind.rest for name, _ in setup.positions}
    off = Setup(False, tuple(sorted(positions.items())), commands=setup.commands)
    return off.unplugging(panel.supply.isolator) if panel.supply.unplugs else off


def cut_off(panel: Panel, setup: Setup) -> Setup:
    """The same with what isolates a panel that is wired in turned off: its ohms don't go through the building."""
    kind = panel.parts[panel.supply.isolator].kind
    return setup if panel.supply.unplugs or not kind.positions else setup.moved(**{panel.supply.isolator: kind.rest})


PROTECTIVE_ROLES = ("breaker", "residual", "isolator", "emergency_stop")


def left_at(before: Setup | None, now: Setup) -> Setup:
    """How the panel stands after a check: without supply, controllers keep what they were told."""
    return now if now.supply_on or before is None else replace(now, commands=before.commands)
