"""The setups that checks are done in, each by its name."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from functools import lru_cache
from itertools import product

from diagnose.circuit.netlist import Netlist
from diagnose.circuit.rows import Row
from diagnose.circuit.settle import settle
from diagnose.circuit.setup import Lead, Setup, at_rest, cut_off, isolated
from diagnose.exchanges import load_on, partners
from diagnose.grading import grade_sign
from diagnose.panel.records import Panel, part_of
from diagnose.site import boiling_middle
from diagnose.topology import commanded_by, drivers_of, sensing_probe, upstream

ICE_CELSIUS = 0.0
COLD_CELSIUS, HOT_CELSIUS = 15.0, 70.0  # tap water, and a mash or hot liquor: common practice
PROBE_SETUPS = ("bathed", "boiled", "cold", "hot", "busy")  # about what a controller shows, and nothing else
RUNNING_SIGNS = {
    "heater": ("heat", "full"),
    "pump": ("runs", "yes"),
    "fan": ("runs", "yes"),
    "alarm": ("sounds", "loud"),
}
RUNNING_SHARE = 0.5


@lru_cache(maxsize=32)
def named_setups(netlist: Netlist, subject: str | None) -> Mapping[str, Setup]:
    """All setups that make sense for a subject, by name.

    `running` has the subject switched on and called for, `unswitched` the same with every plain switch off,
    `unplugged` the same with its plug pulled (the panel's own plug, where it is about the whole panel), `resting` the
    same with its controller content and a power dial at nought, `off` both of these, `warm` is `running` for ten
    minutes, `cooling` is just after that with the supply cut off, `isolated` has the supply cut off with the handles as
    in `running`, `parted` is
    `isolated` with the subject's own plug pulled (a probe then lies in ice water), `lifted` is `parted` with the
    cord's wires taken off the subject, `bathed` is `idle` with the subject's probe in ice water, `boiled`
    the same in boiling water; `cold` and `hot` are `idle` with the probe in its own place and liquid of those
    temperatures around it, `busy` has every load on. `exchanged` is `idle`
    with the probe of another controller in this one's socket and in ice water. `crossed` is `running` with the control
    wires of the subject's relay exchanged for those of another, whose controller calls; `crossed_resting` the same
    with all controllers content. `traded` has the subject's plug in the outlet of a like load, and that one switched
    on. These four are there only where there is something alike to exchange. For what comes and goes: `caught` is
    `warm` at the moment when it is there, `moved` is `parted` and `shaken` is `isolated` with cords and joints bent and
    pulled by hand meanwhile, `warm_parted` is `parted` just after ten minutes on load.
    """
    panel = netlist.panel
    idle = at_rest(panel)
    setups = {"idle": idle}
    running = running_setup(netlist, subject) if subject is not None else idle
    controllers = _controllers(panel, subject)
    setups["running"] = running.commanding("call", *controllers)
    # Where there is no plain switch, what else is turned by hand to get heat is turned off.
    switches = [name for name, _ in running.positions if panel.parts[name].kind.name == "switch"]
    switches = switches or [name for name, _ in running.positions if panel.parts[name].kind.role in ("switch", "dial")]
    setups["unswitched"] = setups["running"].moved(**{name: panel.parts[name].kind.rest for name in switches})
    # Where a dial is all that commands the heat, it is turned down instead.
    dials = {
        name: panel.parts[name].kind.rest for name, _ in running.positions if panel.parts[name].kind.role == "dial"
    }
    setups["resting"] = running.commanding("rest", *controllers).moved(**dials)
    setups["off"] = setups["unswitched"].commanding("rest", *controllers).moved(**dials)
    setups["warm"] = replace(setups["running"], warm=True)
    off = isolated(panel)
    setups["isolated"] = cut_off(panel, replace(off, positions=running.positions))
    setups["cooling"] = replace(setups["isolated"], warm=True)
    own = plug_of(panel, subject)
    pulled = own if subject is not None else (panel.supply.isolator if panel.supply.unplugs else None)
    setups["unplugged"] = setups["running"].unplugging(*([pulled] if pulled else []))
    setups["parted"] = setups["isolated"].unplugging(*([own] if own else []))
    probe = sensing_probe(panel, subject) if subject is not None else None
    if probe is not None and probe == own:
        setups["parted"] = setups["parted"].bathing(probe, ICE_CELSIUS)
    setups["lifted"] = replace(setups["parted"], lifted=lifted_ends(panel, subject, own))
    setups["caught"] = replace(setups["warm"], watched=True)
    setups["moved"] = replace(setups["parted"], moved_by_hand=True)
    setups["shaken"] = replace(setups["isolated"], moved_by_hand=True)
    setups["warm_parted"] = replace(setups["parted"], warm=True)
    setups["bathed"] = idle.bathing(probe, ICE_CELSIUS) if probe else idle
    if probe is not None:
        setups["boiled"] = replace(idle.bathing(probe, boiling_middle(panel)), warm=True)
        setups["cold"] = idle.placing(probe, COLD_CELSIUS)
        setups["hot"] = replace(idle.placing(probe, HOT_CELSIUS), warm=True)
        every = {name: panel.parts[name].kind.run for name, _ in idle.positions}
        setups["busy"] = idle.commanding("call", *panel.of_role("controller")).moved(**every)
    if probe is not None:
        for other, exchange in partners(panel, probe)[:1]:
            setups["exchanged"] = idle.exchanging(*exchange).bathing(other, ICE_CELSIUS)
    if subject is not None and (crossed := _crossed(panel, running, subject)):
        setups["crossed"] = crossed
        setups["crossed_resting"] = crossed.commanding("rest", *panel.of_role("controller"))
    if subject is not None and own is not None and panel.parts[subject].kind.role in RUNNING_SIGNS:
        for other, exchange in partners(panel, own)[:1]:
            if load := load_on(panel, other):
                theirs = running_setup(netlist, load).commanding("call", *_controllers(panel, load))
                setups["traded"] = theirs.exchanging(*exchange)
    return setups


def _crossed(panel: Panel, running: Setup, subject: str) -> Setup | None:
    """A relay driven by the controller of another: whether the heat comes now tells on which side the fault is."""
    if panel.parts[subject].kind.role not in RUNNING_SIGNS:
        return None
    for relay in upstream(panel, subject):
        own = drivers_of(panel, relay)
        if relay not in panel.parts or not own:
            continue
        for other, exchange in partners(panel, relay):
            drivers = drivers_of(panel, other)
            wires = [(Lead(panel, one), Lead(panel, two)) for one, two in exchange]
            if drivers and not set(drivers) & set(own):
                return running.commanding("rest", *own).commanding("call", *drivers).exchanging(*wires)
    return None


def running_setup(netlist: Netlist, subject: str) -> Setup:
    """Handles such that the subject gets its power on the sound panel, and nothing else is switched on.

    Where no position of the handles powers the subject, all handles are at their run positions.
    """
    panel = netlist.panel
    controllers = _controllers(panel, subject)
    idle = at_rest(panel).commanding("call", *controllers)
    loose = [name for name, at in idle.positions if at == panel.parts[name].kind.rest]
    choices = [[p for p in panel.parts[name].kind.positions if p != panel.parts[name].kind.rest] for name in loose]
    for positions in product(*choices):
        setup = idle.moved(**dict(zip(loose, positions, strict=True)))
        if _runs(netlist, setup, subject):
            return _only_needed(netlist, setup, subject, loose)
    return idle.moved(**{name: panel.parts[name].kind.run for name in loose})


def _only_needed(netlist: Netlist, setup: Setup, subject: str, loose: list[str]) -> Setup:
    """The setup with all of these handles at rest that the subject does without, many at a time."""
    without = setup.moved(**{name: netlist.panel.parts[name].kind.rest for name in loose})
    if not loose or _runs(netlist, without, subject):
        return without
    if len(loose) > 1:
        half = len(loose) // 2
        for some in (loose[:half], loose[half:]):
            setup = _only_needed(netlist, setup, subject, some)
    return setup


def _runs(netlist: Netlist, setup: Setup, subject: str) -> bool:
    role = netlist.panel.parts[subject].kind.role
    if role not in RUNNING_SIGNS:
        return True
    sign, outcome = RUNNING_SIGNS[role]
    settled = settle(netlist, setup, [Row(None)])
    shares = grade_sign(settled, subject, sign)
    outcomes = netlist.panel.parts[subject].kind.signs[sign].outcomes
    return bool(shares[0, outcomes.index(outcome)] > RUNNING_SHARE)


def _controllers(panel: Panel, subject: str | None) -> tuple[str, ...]:
    if subject is None:
        return ()
    if panel.parts[subject].kind.role == "controller":
        return (subject,)
    if panel.parts[subject].kind.role not in RUNNING_SIGNS:
        return ()
    return commanded_by(panel, subject)


def lifted_ends(panel: Panel, subject: str | None, plug: str | None) -> frozenset[Lead]:
    """The subject's terminals that its cord lands on, but never its earth."""
    if subject is None or plug is None or plug == subject:
        return frozenset()
    terminals = panel.parts[subject].kind.terminals
    ends = {f"{subject}.{name}" for name, terminal in terminals.items() if terminal.path not in ("earth", "sensing")}
    joined = {
        mine
        for wire in panel.wires
        for mine, other in ((wire.a, wire.b), (wire.b, wire.a))
        if mine in ends and part_of(other) == plug
    }
    return frozenset(Lead(panel, end) for end in joined)


def plug_of(panel: Panel, subject: str | None) -> str | None:
    """The plug to pull that takes the subject off the panel: its cord, or the probe of a controller."""
    if subject is None:
        return None
    if panel.parts[subject].kind.plug:
        return subject
    if panel.parts[subject].kind.role == "controller":
        return sensing_probe(panel, subject)
    ends = {f"{subject}.{terminal}" for terminal in panel.parts[subject].kind.terminals}
    for wire in panel.wires:
        for mine, other in ((wire.a, wire.b), (wire.b, wire.a)):
            part = part_of(other)
            if mine in ends and part in panel.plugs and part != panel.supply.isolator:
                return part
    return None
