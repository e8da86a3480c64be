"""The checks that one panel offers: signs, and readings between two terminals, each in one setup."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

from diagnose.circuit.setup import Setup
from diagnose.knowledge.records import Exposure, Sign
from diagnose.meter import USUAL
from diagnose.panel.records import Panel, part_of
from diagnose.safety.guards import DEAD_QUANTITIES
from diagnose.setups import PROBE_SETUPS, plug_of
from diagnose.topology import commanded_by, load_terminals, power_path, upstream
from diagnose.warmth import in_the_box

# Minutes for a reading once the setup is there: common practice.
MINUTES: Mapping[str, float] = {
    "voltage_ac": 0.5,
    "voltage_dc": 0.7,
    "voltage_drop": 1.5,
    "resistance": 0.7,
    "millivolts": 0.7,
    "insulation": 1.5,
    "current_ac": 0.7,
    "temperature": 3.0,
    "temperature_error": 3.0,
    "heat_rate": 10.0,
    "boil_off": 30.0,
    "surface_temperature": 0.5,
}
WARM = ("warm", "cooling")  # setups in which what is warm is felt for
BY_HAND = ("moved", "shaken")  # setups in which resistance is watched while something is bent and pulled
FRESH = "warm_parted"  # the setup in which it is measured dead while it is still warm
MOVED_MINUTES = 2.0  # to bend and pull one cord or joint after the other while the meter reads: common practice
SENSING_ROLES = ("probe", "probe_socket")  # their own signs are asked for where they are suspects
LIVE = ("leg_1", "leg_2", "leg_3")  # a panel's references that are no earth and no neutral
CLAMPED_ROLES = ("heater", "pump", "fan")


@dataclass(frozen=True, slots=True)
class Check:
    """Something that a person does in one setup, with an instrument or with eyes and ears."""

    id: str
    quantity: str  # 'sign', or what is measured
    part: str
    sign: str
    tail: str  # 'part.terminal', empty for a sign
    head: str
    setup_name: str
    setup: Setup
    exposure: Exposure
    minutes: float
    instrument: str
    surface: str = ""  # of the part, for a surface temperature
    after: Setup | None = None  # what it ran in just before, where the supply was switched off to look
    unloaded: Setup | None = None  # the same with the load off, where two readings are held against each other
    around: tuple[tuple[str, str], ...] = ()  # wires in a clamp's jaws, and the terminal that each leads to

    def __post_init__(self) -> None:
        if self.needs_dead and self.setup.supply_on:
            raise ValueError(f"{self.id}: {self.quantity} is never read with the supply on")
        if self.setup.moved_by_hand and self.setup.supply_on:
            raise ValueError(f"{self.id}: nothing is bent or pulled with the supply on")
        if self.setup.lifted and self.exposure != "isolated":
            raise ValueError(f"{self.id}: wires are taken off only once it is proved dead")
        if self.exposure == "isolated" and self.setup.supply_on:
            raise ValueError(f"{self.id}: the box is not opened with the supply on, but for what shows only live")
        if self.exposure == "live" and not self.setup.supply_on:
            raise ValueError(f"{self.id}: nothing is live with the supply off")

    @property
    def work(self) -> Exposure:
        """What a person is exposed to on the way to it: changing wires is work in the open box, done dead."""
        return "isolated" if self.setup.rewired and self.exposure == "outside" else self.exposure

    @property
    def solved_in(self) -> Setup:
        """The setup whose circuit makes what is found: the one just before, where it was switched off to look."""
        return self.after or self.setup

    @property
    def needs_dead(self) -> bool:
        """True for readings that are only ever taken on a dead circuit."""
        return self.quantity in DEAD_QUANTITIES


def offered_checks(
    panel: Panel, setups: Mapping[str, Setup], names: Sequence[str], parts: Iterable[str], subject: str | None
) -> tuple[Check, ...]:
    """Every check on these parts in these named setups, without repetition."""
    wanted = list(dict.fromkeys(parts))
    found: dict[str, Check] = {}
    for name in names:
        if name not in setups:
            continue  # nothing alike to exchange
        after = setups["warm"] if name == "cooling" else None
        for check in _in_setup(panel, name, setups[name], wanted, subject, after, setups.get("off")):
            found.setdefault(check.id, check)
    return tuple(found.values())


def _in_setup(
    panel: Panel, name: str, setup: Setup, parts: Sequence[str], subject: str | None, after: Setup | None,
    unloaded: Setup | None,
) -> Iterator[Check]:  # fmt: skip
    if setup.swapped:
        yield from _after_exchange(panel, name, setup, subject)
        return
    if name in PROBE_SETUPS:
        yield from _of_probe(panel, name, setup, subject)
        return
    if name in WARM:
        yield from _warmth(panel, name, setup, parts, after)
    if after is not None:
        return
    if setup.supply_on:
        for part in _signed(panel, parts):
            yield from _signs(panel, name, setup, part, subject)
        yield from _on_load(panel, name, setup, subject)
        if name == "running" and unloaded is not None:
            yield from _drawn_down(panel, name, setup, subject, unloaded)
    elif not setup.lifted and name not in (*BY_HAND, FRESH):
        for part in parts:
            yield from _looks(panel, name, setup, part, subject)
    for tail, head, quantity, part in _pairs(panel, parts, subject):
        if (quantity in DEAD_QUANTITIES) != (not setup.supply_on):
            continue
        if quantity in DEAD_QUANTITIES and (stays_live(panel, tail) or stays_live(panel, head)):
            continue
        if name in BY_HAND and quantity != "resistance":
            continue
        exposure = _exposure(panel, setup, tail, head, quantity)
        yield Check(
            f"{name}:{quantity}:{tail}:{head}", quantity, part, "", tail, head, name, setup,
            exposure, MOVED_MINUTES if name in BY_HAND else MINUTES[quantity], USUAL[quantity],
        )  # fmt: skip


def _after_exchange(panel: Panel, name: str, setup: Setup, subject: str | None) -> Iterator[Check]:
    """Whether the fault followed: the subject itself is looked at, and nothing else."""
    if subject is None:
        return
    kind = panel.parts[subject].kind
    for sign in kind.signs.values():
        if sign.dead or sign.setups or sign.measure == "warmth":
            continue
        if sign.measure in ("shown", "error") if kind.sense else sign.measure != "error":
            yield Check(
                f"{name}:sign:{subject}:{sign.name}", "sign", subject, sign.name, "", "", name, setup,
                sign.exposure, sign.minutes, "none",
            )  # fmt: skip
    if kind.sense and setup.baths:
        yield Check(
            f"{name}:temperature:{subject}", "temperature", subject, "", "", "", name, setup,
            "outside", MINUTES["temperature"], "none",
        )  # fmt: skip


def _of_probe(panel: Panel, name: str, setup: Setup, subject: str | None) -> Iterator[Check]:
    """What the subject shows where its probe's temperature is known: the number, or how it compares."""
    if subject is None or not panel.parts[subject].kind.sense:
        return
    for sign in panel.parts[subject].kind.signs.values():
        if (sign.measure == "shown") if name == "busy" else (sign.measure == "error" and name != "boiled"):
            yield Check(
                f"{name}:sign:{subject}:{sign.name}", "sign", subject, sign.name, "", "", name, setup,
                sign.exposure, sign.minutes, "none",
            )  # fmt: skip
    if setup.baths or setup.placed:
        quantity = "temperature" if setup.baths else "temperature_error"
        yield Check(
            f"{name}:{quantity}:{subject}", quantity, subject, "", "", "", name, setup,
            "outside", MINUTES[quantity], USUAL[quantity],
        )  # fmt: skip


def _on_load(panel: Panel, name: str, setup: Setup, subject: str | None) -> Iterator[Check]:
    """What shows only under load: its current, what leaks from it, its heat, and volts that it draws down."""
    if subject is None or panel.parts[subject].kind.role not in CLAMPED_ROLES:
        return
    role = panel.parts[subject].kind.role
    wire, live = line_wire(panel, subject), live_wires(panel, subject)
    if name == "running" and wire is not None:
        yield Check(
            f"{name}:current_ac:{wire[0]}", "current_ac", wire[0], "", "", "", name, setup,
            "live", MINUTES["current_ac"], "clamp", around=(wire,),
        )  # fmt: skip
    if name in ("running", "warm") and len(live) > 1:
        part = plug_of(panel, subject) or subject
        yield Check(
            f"{name}:leakage:{subject}", "current_ac", part, "", "", "", name, setup,
            "live", MINUTES["current_ac"], "leakage_clamp", around=live,
        )  # fmt: skip
    if name == "running" and role == "heater":
        yield Check(
            f"{name}:heat_rate:{subject}", "heat_rate", subject, "", "", "", name, setup,
            "outside", MINUTES["heat_rate"], USUAL["heat_rate"],
        )  # fmt: skip
        yield Check(
            f"{name}:boil_off:{subject}", "boil_off", subject, "", "", "", name, setup,
            "outside", MINUTES["boil_off"], USUAL["boil_off"],
        )  # fmt: skip
    for part, tail, head in ghosts(panel, subject):
        yield Check(
            f"{name}:voltage_ac:low_impedance:{tail}:{head}", "voltage_ac", part, "", tail, head, name, setup,
            "live", MINUTES["voltage_ac"], "low_impedance",
        )  # fmt: skip


def _drawn_down(panel: Panel, name: str, setup: Setup, subject: str | None, unloaded: Setup) -> Iterator[Check]:
    """Volts at the bars without a heater and with it: what it draws down lies before the bars, in cord or house."""
    if subject is None or panel.parts[subject].kind.role != "heater":
        return
    path = power_path(panel, subject)
    carrying = {end for step in (*path.out, *path.back) for end in (step.tail, step.head)}
    bars = [panel.references[key] for key in (*LIVE, "neutral") if key in panel.references]
    for tail, head in combinations(bars, 2):
        if tail in carrying and head in carrying:
            yield Check(
                f"{name}:voltage_drop:{tail}:{head}", "voltage_drop", part_of(head), "", tail, head, name,
                setup, "live", MINUTES["voltage_drop"], USUAL["voltage_drop"], unloaded=unloaded,
            )  # fmt: skip


def ghosts(panel: Panel, subject: str) -> tuple[tuple[str, str, str], ...]:
    """Relays on a load's path, each with the ends between which its snubber alone may hold up a voltage."""
    back = panel.references.get("leg_2") or panel.references["neutral"]
    return tuple(
        (name, f"{name}.{branch.head}", back)
        for name in upstream(panel, subject)
        for branch in panel.kind_of(name).branches.values()
        if branch.form == "snubber" and f"{name}.{branch.head}" != back
    )


def line_wire(panel: Panel, subject: str) -> tuple[str, str] | None:
    """The last wire in the box on the way to a load, with its end towards the load; None if there is none."""
    plug, found = plug_of(panel, subject), None
    for step in power_path(panel, subject).out:
        if step.part == plug:
            break
        if step.part in panel.wires_by_name and not panel.at_the_service(part_of(step.tail)):
            found = (step.part, step.head)
    return found


def live_wires(panel: Panel, subject: str) -> tuple[tuple[str, str], ...]:
    """All wires but earths from within the box to a load's outlet, or to itself where it has no plug."""
    plug = plug_of(panel, subject)
    ends = set(load_terminals(panel, subject))
    if plug is not None:
        kind, socket = panel.parts[plug].kind, panel.plugs[plug]
        ends = {f"{socket}.{its}" for own, its in kind.plug.items() if kind.terminals[own].path != "earth"}
    return tuple((wire.name, end) for wire in panel.wires for end in (wire.a, wire.b) if end in ends)


def _signed(panel: Panel, parts: Sequence[str]) -> list[str]:
    """Parts with signs: those asked for, and the lamps, displays and devices that tell of others."""
    telling = [name for name, part in panel.parts.items() if part.kind.signs and part.kind.role not in SENSING_ROLES]
    return list(dict.fromkeys([*(name for name in parts if name in panel.parts), *telling]))


def _warmth(panel: Panel, name: str, setup: Setup, parts: Sequence[str], after: Setup | None) -> Iterator[Check]:
    """What is warm after ten minutes on load: outside with the supply on or just off, in the box only just after."""
    for part in parts:
        kind = panel.kind_of(part)
        for sign in kind.signs.values():
            if sign.measure == "warmth" and (kind.surfaces[sign.of].outside or after is not None):
                yield Check(
                    f"{name}:sign:{part}:{sign.name}", "sign", part, sign.name, "", "", name, setup,
                    sign.exposure, sign.minutes, "none", after=after,
                )  # fmt: skip
        for surface in kind.surfaces.values():
            if surface.outside or (after is not None and in_the_box(panel, part)):
                yield Check(
                    f"{name}:surface_temperature:{part}:{surface.name}", "surface_temperature", part, "", "", "", name,
                    setup, "outside" if surface.outside else "isolated", MINUTES["surface_temperature"],
                    USUAL["surface_temperature"], surface.name, after,
                )  # fmt: skip


def _looks(panel: Panel, name: str, setup: Setup, part: str, subject: str | None) -> Iterator[Check]:
    """What is seen or tried where no current can flow: on a pulled plug, its outlet, what hangs on it; in the box."""
    pulled = setup.unplugged - {panel.supply.isolator}
    at_hand = part in pulled or part in {panel.plugs.get(plug) for plug in pulled}
    at_hand |= part == subject and plug_of(panel, subject) in pulled
    at_hand |= part == panel.supply.isolator and part in setup.unplugged and name == "isolated"
    # A fan's grille is outside, and its blades stand; a coil lies in its tank.
    at_hand |= panel.kind_of(part).role in ("fan", "exchanger") and name == "isolated"
    for sign in panel.kind_of(part).signs.values():
        if not _dead(panel, part, sign):
            continue
        if at_hand if sign.exposure == "outside" else name == "isolated":
            yield Check(
                f"{name}:sign:{part}:{sign.name}", "sign", part, sign.name, "", "", name, setup,
                sign.exposure, sign.minutes, "none",
            )  # fmt: skip


def _dead(panel: Panel, part: str, sign: Sign) -> bool:
    """Whether a sign is asked for only where no current can flow."""
    return sign.dead or (panel.kind_of(part).role in ("connector", "feed") and sign.measure == "state" and not sign.of)


def _signs(panel: Panel, name: str, setup: Setup, part: str, subject: str | None) -> Iterator[Check]:
    for sign in panel.parts[part].kind.signs.values():
        if sign.measure == "error" and part != subject:
            continue
        if sign.measure == "front" and part != subject and not (subject and part in _told(panel, subject)):
            continue
        if _dead(panel, part, sign):
            continue
        if sign.measure == "course" and (name != "resting" or part != subject or sign.name == "keeps"):
            continue
        if sign.measure == "warmth" or (sign.setups and name not in sign.setups):
            continue
        yield Check(
            f"{name}:sign:{part}:{sign.name}", "sign", part, sign.name, "", "", name, setup,
            sign.exposure, sign.minutes, "none",
        )  # fmt: skip


def _told(panel: Panel, subject: str) -> tuple[str, ...]:
    """The controllers that tell a load what to do."""
    return commanded_by(panel, subject) if panel.parts[subject].kind.role in CLAMPED_ROLES else ()


def _pairs(panel: Panel, parts: Sequence[str], subject: str | None) -> Iterator[tuple[str, str, str, str]]:
    """Pairs worth probing: those that the kinds name, the ends of each wire, the path against its return."""
    for part in parts:
        kind = panel.kind_of(part)
        if part in panel.wires_by_name:
            wire = panel.wires_by_name[part]
            yield wire.a, wire.b, "resistance", part
            if kind.terminals and not _sensing(panel, wire.a):
                yield wire.a, wire.b, "voltage_ac", part
            continue
        for probing in kind.probings:
            tail, head = (_end(panel, part, end, subject) for end in (probing.tail, probing.head))
            if tail and head and tail != head:
                yield tail, head, probing.quantity, part
    yield from _along(panel, subject)


def _along(panel: Panel, subject: str | None) -> Iterator[tuple[str, str, str, str]]:
    """Each terminal on the way to the subject against the panel's other side."""
    if subject is None or subject not in panel.parts or panel.parts[subject].kind.role in ("controller", "exchanger"):
        return
    path = power_path(panel, subject)
    back = panel.references.get("leg_2") or panel.references["neutral"]
    inside = set(panel.parts) - set(panel.supply.protection) - {"service", "wall_point"}
    for steps, reference in ((path.out, back), (path.back, panel.references["leg_1"])):
        for step in steps:
            part = part_of(step.head)
            if part in inside and step.head != reference and part not in (subject, panel.supply.isolator):
                yield step.head, reference, "voltage_ac", part


def stays_live(panel: Panel, terminal: str) -> bool:
    """Whether a terminal has volts with the panel isolated: the building's side, up to the outlet of a pulled plug.

    Ohms are never read there.
    """
    part = part_of(terminal)
    if panel.at_the_service(part):
        return True
    isolator = panel.supply.isolator
    return panel.supply.unplugs and part == panel.plugs.get(isolator)


def _end(panel: Panel, part: str, end: str, subject: str | None) -> str:
    """A probing's end as a terminal; 'neutral', 'earth', 'other_leg', 'return' are the panel's references."""
    if end in panel.parts[part].kind.terminals:
        return f"{part}.{end}"
    if end in ("neutral", "earth"):
        return panel.references[end]
    return panel.references.get("leg_2") or panel.references["neutral"]


def _sensing(panel: Panel, terminal: str) -> bool:
    part, _, name = terminal.partition(".")
    return panel.kind_of(part).terminals[name].path == "sensing"


def _exposure(panel: Panel, setup: Setup, tail: str, head: str, quantity: str) -> Exposure:
    """Live volts are live wherever they are; a pulled plug's pins can be measured with the box shut."""
    if quantity not in DEAD_QUANTITIES:
        return "live"
    if setup.lifted:
        return "isolated"  # a cover is off where the leads are
    ends = [end.partition(".") for end in (tail, head)]
    pulled = all(part in setup.unplugged and part != panel.supply.isolator for part, _, _ in ends)
    faces = all(panel.kind_of(part).terminals[name].outside for part, _, name in ends)
    return "outside" if pulled and faces else "isolated"
