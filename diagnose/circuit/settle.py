"""Many causes in one setup: coils move contacts, controllers switch, protection opens, until nothing changes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from diagnose.circuit.netlist import (
    JOINED_OHMS,
    BoolArray,
    ComplexArray,
    FloatArray,
    IndexArray,
    Netlist,
    parts_with,
)
from diagnose.circuit.nodal import Batch, UndeterminedError, solve_batch
from diagnose.circuit.rows import Row, acting_in, changed_states
from diagnose.circuit.sensing import bathe, junction_volts, read_probes
from diagnose.circuit.setup import Setup
from diagnose.circuit.standing import standing_conduction
from diagnose.circuit.trips import AT_ONCE_SECONDS, device_times
from diagnose.circuit.windings import follow_windings
from diagnose.errors import CircuitError
from diagnose.knowledge.records import Coil, Domain

ROUNDS = 24
CYCLE = 6  # a state that still moves in the last rounds is in a cycle
TRIAC_FIT = 0.05  # how near a triac's resistance has to be to what its current makes it
LATCHING_AMPERES = 0.02  # below this a triac conducts only in part: trade data
CLOSED_SIEMENS = 250.0
STALLED_SHARE = 0.45  # of its impedance is left to a small motor that stands; its ohms stay: common practice
STATES = ("coil", "powered", "control", "output", "tripped")
MOVING = ("coil", "powered", "control")  # states that may go on changing for ever


@dataclass
class Settled:
    """What the circuits of all rows came to in one setup. Arrays have a row for each `Row`.

    `trips` holds, for each protective device, (H, 2) earliest and latest seconds to its trip, inf for never.
    `sensed` holds, for each controller, (H,) what it measures, and `shown` the degrees Celsius it makes of that,
    infinite where it shows a message instead: above its range, or below.
    """

    netlist: Netlist
    setup: Setup
    rows: tuple[Row, ...]
    states: dict[str, dict[str, BoolArray]]
    alternating: Batch
    direct: Batch
    y_alternating: ComplexArray
    y_direct: FloatArray
    trips: dict[str, FloatArray]
    sensed: dict[str, FloatArray]
    shown: dict[str, FloatArray]
    chatter: BoolArray
    chattering: dict[str, BoolArray] = field(default_factory=dict)  # the parts that move in rows that don't settle
    worked_out: dict[str, FloatArray] = field(
        default_factory=dict
    )  # what was computed of it once and is asked for often

    def volts(self, part: str, branch: str) -> FloatArray:
        """(H,) volts across a part's branch: alternating, or direct where it exists in that alone."""
        number = self.netlist.branches_of(part, branch)[0]
        network = self.netlist.network
        direct = self.netlist.panel.kind_of(part).branches[branch].domain == "dc"
        solved = self.direct if direct else self.alternating
        return np.abs(solved.between(int(network.tail[number]), int(network.head[number])))

    def amperes(self, part: str, branch: str) -> FloatArray:
        """(H,) magnitude of the alternating current through a part's branch that has no source in it."""
        number = self.netlist.branches_of(part, branch)[0]
        return np.asarray(self.volts(part, branch) * np.abs(self.y_alternating[:, number]))

    def heat_watts(self, part: str) -> FloatArray:
        """(H,) power turned into heat in the branches of a part that heat."""
        total = np.zeros(len(self.rows))
        network = self.netlist.network
        for number, place in enumerate(self.netlist.places):
            if place.part == part and place.heats:
                volts = self.alternating.between(int(network.tail[number]), int(network.head[number]))
                total += np.abs(volts) ** 2 * self.y_alternating[:, number].real
        return total


@dataclass
class _Work:
    """The state of the settling, row by row."""

    states: dict[str, dict[str, BoolArray]]
    triac: FloatArray  # (H, B) siemens of triacs that conduct
    following: ComplexArray  # (H, K) volts of the branches that follow another
    reflected: ComplexArray  # (H, K) siemens that their loads add to the branches that they follow
    reactance: dict[tuple[int, int], float] = field(default_factory=dict)  # of half-wave relays, by (row, branch)


def settle(netlist: Netlist, setup: Setup, rows: Sequence[Row]) -> Settled:
    """Solve every row in one setup until its states stop changing.

    Raises
    ------
    CircuitError
        Where a row's circuit can't be solved.
    """
    return _Settling(netlist, setup, tuple(rows)).run()


class _Settling:
    def __init__(self, netlist: Netlist, setup: Setup, rows: tuple[Row, ...]) -> None:
        self.netlist = netlist
        self.setup = setup
        self.rows = rows
        self.panel = netlist.panel
        self.parts = {what: tuple(parts_with(self.panel, what)) for what in ("coil", "powered", "control")}
        self.acting = acting_in(self.panel, rows)
        self.on_states = changed_states(self.acting)
        self.emf_direct = junction_volts(netlist, setup, len(rows), self.acting)
        self.static = standing_conduction(self.netlist, self.setup)
        self.chatter = np.zeros(len(rows), dtype=bool)
        self.chattering: dict[str, BoolArray] = {}
        self.trips: dict[str, FloatArray] = {}
        self.sensed: dict[str, FloatArray] = {}
        self.shown: dict[str, FloatArray] = {}

    def run(self) -> Settled:
        names = {
            **self.parts,
            "output": tuple(parts_with(self.panel, "output")),
            "tripped": tuple(parts_with(self.panel, "trip")),
        }
        states = {what: {part: np.zeros(len(self.rows), dtype=bool) for part in names[what]} for what in STATES}
        triac = np.zeros((len(self.rows), len(self.netlist.places)))
        triac[:] = np.where(self.netlist.drops > 0, self.netlist.alternating.real, 0)
        follow = (len(self.rows), len(self.netlist.follows))
        work = _Work(states, triac, np.zeros(follow, dtype=np.complex128), np.zeros(follow, dtype=np.complex128))
        every = moving = np.arange(len(self.rows))
        if any(condition.what == "pressed" for place in self.netlist.places for condition in place.closed):
            # All that switches a load is still off; then a finger is on the start button; then it lets go.
            for pressing in (False, True):
                self.static = standing_conduction(self.netlist, self.setup, starting=True, pressing=pressing)
                self._rest(work, moving)
            self.static = standing_conduction(self.netlist, self.setup)
        for _ in range(2 * len(names["tripped"]) + 1):
            self._rest(work, moving)
            y_ac, ac = self._solve(work, "ac")
            moving = self._open_protection(work, y_ac, ac, every)
            if not len(moving):
                moving = self._open_in_turn(work)
            if not len(moving):
                break
        if self.chatter.any():
            y_ac, ac = self._solve(work, "ac")
        y_dc, dc = self._solve(work, "dc")
        return Settled(
            self.netlist, self.setup, self.rows, work.states, ac, dc, y_ac, y_dc.real, self.trips, self.sensed,
            self.shown, self.chatter, self.chattering,
        )  # fmt: skip

    # To rest: contacts, controllers, relays -----------------------------------------------------------------

    def _rest(self, work: _Work, moving: IndexArray) -> None:
        """Solve the rows that still move, again and again, until none does."""
        for chattering in (self.chatter, *self.chattering.values()):
            chattering[moving] = False
        for number in range(ROUNDS):
            y_ac, ac = self._solve(work, "ac", moving)
            before = {name: on.copy() for what in MOVING for name, on in work.states[what].items()}
            _, dc = self._solve(work, "dc", moving)
            if not self.sensed:
                self.sensed, self.shown = read_probes(self.netlist, self.setup, self.acting, dc)
            changed = self._move(work, moving, ac, dc)
            changed |= self._bend_triacs(work, moving, y_ac, ac)
            changed |= follow_windings(self.netlist, moving, y_ac, ac, work.following, work.reflected)
            if number >= ROUNDS - CYCLE:
                self._note_chatter(before, work)
            moving = moving[changed]
            if not len(moving):
                return
        self.chatter[moving] = True

    def _note_chatter(self, before: dict[str, BoolArray], work: _Work) -> None:
        for what in MOVING:
            for name, now in work.states[what].items():
                moved = before[name] != now
                if moved.any():
                    self.chattering[name] = self.chattering.get(name, np.zeros_like(moved)) | moved

    def _solve(self, work: _Work, domain: Domain, rows: IndexArray | None = None) -> tuple[ComplexArray, Batch]:
        y = self._admittance(work, domain)
        if rows is not None:
            y = y[rows]
        try:
            if domain == "ac":
                emf = np.repeat(self.netlist.emf_alternating[None, :], len(y), axis=0) * float(self.setup.supply_on)
                for number, follow in enumerate(self.netlist.follows):
                    emf[:, follow.branch] = work.following[slice(None) if rows is None else rows, number]
                return y, solve_batch(self.netlist.network, y, emf)
            emf_dc = self.emf_direct if rows is None else self.emf_direct[rows]
            return y, solve_batch(self.netlist.network, y.real.copy(), emf_dc)
        except UndeterminedError as error:
            raise CircuitError(self.netlist.unsolved(error.nodes)) from error

    def _move(self, work: _Work, moving: IndexArray, ac: Batch, dc: Batch) -> BoolArray:
        """Let coils, supplies and relay inputs follow their voltages; returns which of the moving rows changed."""
        changed = np.zeros(len(self.rows), dtype=bool)
        for what, parts in self.parts.items():
            for name in parts:
                coil: Coil = getattr(self.panel.parts[name].kind, what)
                volts = self._coil_volts(name, coil, ac if coil.domain == "ac" else dc)
                ratings = self.panel.parts[name].ratings
                was = work.states[what][name]
                now = was.copy()
                made_for = self._made_for(what, name)[moving]
                now[moving] = np.where(
                    was[moving],
                    volts >= made_for * coil.drop_out.value(ratings),
                    volts >= made_for * coil.pull_in.value(ratings),
                )
                now = self._overridden(what, name, now)
                changed |= now != was
                work.states[what][name] = now
        commands = dict(self.setup.commands)
        for name in work.states["output"]:
            powered = work.states["powered"].get(name, np.ones(len(self.rows), dtype=bool))
            sound = np.isfinite(self.shown[name]) if name in self.shown else np.ones(len(self.rows), dtype=bool)
            # A broken probe is taken for far too hot or far too cold, as the controller is made.
            blind = ~sound if self.panel.parts[name].kind.bad_probe == "call" else np.zeros_like(sound)
            now = self._overridden("output", name, powered & (blind | (sound & (commands.get(name) == "call"))))
            changed |= now != work.states["output"][name]
            work.states["output"][name] = now
        return changed[moving]

    def _coil_volts(self, name: str, coil: Coil, batch: Batch) -> FloatArray:
        number = self.netlist.branches_of(name, coil.branch)[0]
        network = self.netlist.network
        volts = batch.between(int(network.tail[number]), int(network.head[number]))
        # A relay's input is a diode: only the right polarity counts.
        return np.abs(volts) if coil.domain == "ac" else np.asarray(volts.real)

    def _made_for(self, what: str, name: str) -> FloatArray:
        """(H,) the voltage that a coil is really made for, as a share of what it should be."""
        share = np.ones(len(self.rows))
        for row, effect, _ in self._state_effects(what, name):
            if effect.startswith("x "):
                share[row] = float(effect[2:])
        return share

    def _overridden(self, what: str, name: str, now: BoolArray) -> BoolArray:
        now = now.copy()
        for row, effect, _ in self._state_effects(what, name):
            if effect in ("never", "always"):
                # A controller that always calls still needs its supply.
                now[row] = effect == "always"
        return now

    def _state_effects(self, what: str, name: str) -> list[tuple[int, str, float | None]]:
        """Rows in which a fault of this part changes this state, how, and at what level."""
        return self.on_states.get((what, name), [])

    # Admittances --------------------------------------------------------------------------------------------

    def _admittance(self, work: _Work, domain: Domain) -> ComplexArray:
        netlist = self.netlist
        on = np.repeat(self.static[None, :], len(self.rows), axis=0)
        for number, place in enumerate(netlist.places):
            for condition in place.closed:
                if condition.what not in ("handle", "pressed"):
                    on[:, number] &= work.states[condition.what][place.part] ^ condition.negated
        conducting: ComplexArray = (netlist.alternating if domain == "ac" else netlist.direct.astype(complex))[None, :]
        conducting = np.repeat(conducting, len(self.rows), axis=0)
        if domain == "ac":
            conducting = np.where(netlist.drops[None, :] > 0, work.triac, conducting)
        bathe(netlist, conducting, self.setup, self.acting)
        y = np.where(on, conducting, 0)
        self._apply_faults(y, on, conducting, work, domain)
        if domain == "ac":
            for number, follow in enumerate(netlist.follows):
                y[:, follow.of] += np.where(y[:, follow.of] != 0, work.reflected[:, number], 0)
        return y

    def _apply_faults(
        self, y: ComplexArray, on: BoolArray, conducting: ComplexArray, work: _Work, domain: Domain
    ) -> None:
        sound = self.netlist.alternating if domain == "ac" else self.netlist.direct
        for acts in self.acting:
            if acts.fault.when_warm and not self.setup.warm:
                continue
            number = acts.row
            for effect in acts.fault.effects:
                for right, wrong in self.netlist.rewired.get((acts.part, effect), ()):
                    ohms = effect.value if effect.value is not None else acts.level
                    y[number, wrong] = y[number, right] if right >= 0 else 1 / (ohms or JOINED_OHMS)
                for right, _ in self.netlist.rewired.get((acts.part, effect), ()):
                    if right >= 0:
                        y[number, right] = 0
                for branch in self.netlist.branches_of(acts.part, effect.target):
                    value = effect.value if effect.value is not None else acts.level
                    if sound[branch] == 0 and self.netlist.places[branch].form != "leak":
                        continue  # nothing of the kind in this domain
                    match effect.change:
                        case "open":
                            y[number, branch] = 0
                        case "closed":
                            y[number, branch] = max(CLOSED_SIEMENS, abs(conducting[number, branch]))
                        case "ohms" if value is not None:
                            leak = self.netlist.places[branch].form == "leak"
                            y[number, branch] = 1 / value if leak or on[number, branch] else 0
                        case "scale" if value is not None:
                            y[number, branch] /= value
                        case "stalled" if domain == "ac":
                            y[number, branch] /= STALLED_SHARE
                        case "half_wave" if domain == "ac" and on[number, branch]:
                            y[number, branch] = 1 / complex(0, work.reactance.get((number, branch), 1e-3))

    # What bends: triacs, half waves, probes -----------------------------------------------------------------

    def _bend_triacs(self, work: _Work, moving: IndexArray, y: ComplexArray, ac: Batch) -> BoolArray:
        """Fit each conducting triac's resistance to its current, and a half-wave relay's reactance to its load.

        The two halves of a cycle that a half-wave relay passes and blocks never overlap, so load and relay voltage add
        as squares, as over a resistance and a reactance in series: a reactance as large as the load makes the current
        1/sqrt 2.
        """
        changed = np.zeros(len(moving), dtype=bool)
        network = self.netlist.network
        for branch in np.flatnonzero(self.netlist.drops > 0):
            tail, head = int(network.tail[branch]), int(network.head[branch])
            amperes = np.abs(ac.between(tail, head) * y[:, branch])
            wanted = np.maximum(amperes, LATCHING_AMPERES) / self.netlist.drops[branch]
            was = work.triac[moving, branch]
            moved = (np.abs(wanted - was) > TRIAC_FIT * was) & (np.abs(y[:, branch].real - was) < 1e-12)
            work.triac[moving[moved], branch] = wanted[moved]
            changed |= moved
            for place in self._half_wave_rows(int(branch), moving, y):
                row = int(moving[place])
                seen = ac.transfer(tail, head)[place]
                impedance = 1 / (1 / (seen[tail] - seen[head]) - y[place, branch])
                before = work.reactance.get((row, int(branch)), 1e-3)
                if abs(abs(impedance) - before) > 0.01 * before:
                    work.reactance[(row, int(branch))] = abs(impedance)
                    changed[place] = True
        return changed

    def _half_wave_rows(self, branch: int, moving: IndexArray, y: ComplexArray) -> list[int]:
        """Places among the moving rows whose fault makes this relay conduct one half-wave only."""
        part = self.netlist.places[branch].part
        half = {
            acts.row
            for acts in self.acting
            if acts.part == part and any(effect.change == "half_wave" for effect in acts.fault.effects)
        }
        return [place for place, row in enumerate(moving) if int(row) in half and y[place, branch] != 0]

    # Protection ---------------------------------------------------------------------------------------------

    def _open_protection(self, work: _Work, y: ComplexArray, ac: Batch, rows: IndexArray) -> IndexArray:
        """Open, in each of these rows, the device that trips soonest, if at once; returns rows where one opened."""
        soonest = np.full(len(rows), np.inf)
        first = np.full(len(rows), -1)
        names = tuple(work.states["tripped"])
        for number, name in enumerate(names):
            trip = self.panel.parts[name].kind.trip
            if trip is None:
                continue
            weak = np.zeros(len(self.rows), dtype=bool)
            weak[[row for row, effect, _ in self._state_effects("tripped", name) if effect == "weak"]] = True
            times = device_times(self.netlist, name, trip, y, ac, weak[rows])
            standing = ~work.states["tripped"][name][rows]
            known = self.trips.setdefault(name, np.full((len(self.rows), 2), np.inf))
            sooner = standing & (times[:, 0] < known[rows, 0])
            known[rows[sooner]] = times[sooner]
            opens = standing & (times[:, 1] <= AT_ONCE_SECONDS) & (times[:, 0] < soonest)
            soonest = np.where(opens, times[:, 0], soonest)
            first = np.where(opens, number, first)
        for number, name in enumerate(names):
            work.states["tripped"][name][rows[first == number]] = True
        return rows[first >= 0]

    def _open_in_turn(self, work: _Work) -> IndexArray:
        """The same for rows that chatter: one state of the cycle may draw what trips where the next one does not."""
        rows = np.flatnonzero(self.chatter)
        for _ in range(CYCLE if len(rows) else 0):
            y, ac = self._solve(work, "ac", rows)
            opened = self._open_protection(work, y, ac, rows)
            if len(opened):
                return opened
            self._move(work, rows, ac, self._solve(work, "dc", rows)[1])
        return rows[:0]
