"""What a check would show under every cause: an interval for a reading, shares of outcomes for a sign."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields

import numpy as np

from diagnose.causes import Cause, fault_of
from diagnose.checks import Check
from diagnose.circuit.asleep import some_of
from diagnose.circuit.netlist import AMBIENT_CELSIUS, FloatArray, IndexArray, Netlist
from diagnose.circuit.rows import Row, rows_of
from diagnose.circuit.sensing import curve_of, set_for, tip_celsius
from diagnose.circuit.settle import Settled, settle
from diagnose.circuit.setup import Setup
from diagnose.controller_signs import change_shares
from diagnose.exchanges import probe_seen
from diagnose.grading import grade_sign
from diagnose.meter import accuracy_text, reader_of, shown_interval
from diagnose.panel.records import Panel
from diagnose.signals import signal_at
from diagnose.site import boiling_interval
from diagnose.variation import (
    COPPER_SHARE,
    UNKNOWN_WARMTH_KELVIN,
    TrueRange,
    across,
    alternating_volts,
    amperes,
    copper_of,
    ends_of,
    relative_of,
    uncertain,
    volts_lost,
)
from diagnose.warmth import surface_warmth

ELSEWHERE_SHARE = 0.2  # 60 or 80 degrees where 70 are asked for, over a room of 20: arithmetic
SHOWS_MOVED = 0.8  # how often one that comes when it is moved does come when it is bent and pulled: common practice
DRIVE_SHARE = 0.15  # a controller's drive is 12 V give or take: common practice


@dataclass(frozen=True, eq=False, slots=True)
class Prediction:
    """What a check shows: the sound panel first (row 0), then one row for each cause.

    For a reading `low`, `high` and `value` are (1 + H,) in SI, inf for OL; for a sign `table` is (1 + H, O).
    `showing` (1 + H,) is the share of looks in which a cause shows itself; in the others the reading is as in row 0. A
    table has that in it already.
    """

    low: FloatArray
    high: FloatArray
    value: FloatArray
    table: FloatArray | None = None
    showing: FloatArray | None = None  # None where every cause always shows


@dataclass(frozen=True, slots=True)
class Contribution:
    """One reason why a reading may be off its nominal value: by how much, in SI, and how a maker puts it."""

    name: str  # 'supply', 'parts', 'copper', 'drive', 'probe', 'meter', 'leads'
    below: float
    above: float
    note: str = ""


class Predictor:
    """Solves each setup once for all causes, and reads every check off the solution."""

    most_settled = 3  # setups: the circuits of some hundred causes take ten megabytes or more in each

    def __init__(self, netlist: Netlist, causes: Sequence[Cause]) -> None:
        self.netlist = netlist
        self.causes = tuple(causes)
        rows: list[Row] = [Row(None)]
        owner = [0]
        for number, cause in enumerate(self.causes, start=1):
            solved = rows_of(cause)
            rows.extend(solved)
            owner.extend([number] * len(solved))
        self.rows = tuple(rows)
        self.owner = np.array(owner)
        self._starts = np.flatnonzero(np.r_[True, np.diff(self.owner) > 0])
        self.middle = self._starts + (np.diff(np.r_[self._starts, len(rows)]) // 2)
        self._at_times = np.array([1.0, *(cause.at_times for cause in self.causes)])
        self._when_moved = np.array([False, *(_when_moved(netlist.panel, cause) for cause in self.causes)])
        self._settled: dict[Setup, Settled] = {}
        self._predictions: dict[str, Prediction] = {}
        self._signs: dict[tuple[Setup | str | None, ...], FloatArray] = {}

    @property
    def joined(self) -> tuple[Predictor, ...]:
        """The predictors whose rows, one after the other, are those of this one; row 0 stands once."""
        return (self,)

    def settled(self, setup: Setup) -> Settled:
        """The circuits of all causes in a setup; of the last few setups they are kept, since they take much room."""
        found = self._settled.pop(setup, None) or settle(self.netlist, setup, self.rows)
        if len(self._settled) >= self.most_settled:
            del self._settled[next(iter(self._settled))]
        self._settled[setup] = found
        return found

    def with_settled(self, setup: Setup, settled: Settled) -> Predictor:
        """This one, told what its causes' circuits came to in a setup."""
        self._settled[setup] = settled
        return self

    def narrowed(self, numbers: Sequence[int]) -> Predictor:
        """The same for some of the causes, by their numbers from 0; what came to rest here is not settled again.

        Where most causes don't explain a complaint, settling all of them once and the rest never is quicker.
        """
        narrow = Predictor(self.netlist, [self.causes[number] for number in numbers])
        kept = [np.flatnonzero(self.owner == owner) for owner in (0, *(number + 1 for number in numbers))]
        index = np.concatenate(kept)
        narrow._settled = {setup: some_rows(settled, index) for setup, settled in self._settled.items()}
        return narrow

    def predict(self, check: Check) -> Prediction:
        """What the check would show under each cause.

        Raises CircuitError where a circuit can't be solved.
        """
        if check.id not in self._predictions:
            self._predictions[check.id] = self._predict(check)
        return self._predictions[check.id]

    def true_interval(self, check: Check) -> tuple[FloatArray, FloatArray]:
        """(1 + H,) the lowest and the highest true values, for a reading that brings its own uncertainty.

        Raises ValueError for a sign.
        """
        there = self._there(check)
        return np.minimum.reduceat(there.low, self._starts), np.maximum.reduceat(there.high, self._starts)

    def interval_parts(self, check: Check, number: int = 0) -> tuple[Contribution, ...]:
        """Why a reading is an interval: on the sound panel, or under cause `number` counted from 1.

        Empty for a sign and for OL.
        """
        if check.quantity == "sign":
            return ()
        return interval_parts(self._there(check), check, int(self.middle[number]))

    def sign_table(self, setup: Setup, part: str, sign: str, looked: Setup | None = None) -> FloatArray:
        """(1 + H, O) shares of a sign's outcomes in a setup, looked at in it or just after it."""
        return self.means(self.sign_rows(setup, part, sign, looked), self.showing(setup))

    def sign_rows(self, setup: Setup, part: str, sign: str, looked: Setup | None = None) -> FloatArray:
        """(R, O) shares of a sign's outcomes in each row of a cause's levels, `owner` (R,) saying whose each is."""
        key = (setup, part, sign, looked)
        if key not in self._signs:
            self._signs[key] = grade_sign(self.settled(setup), part, sign, looked)
        return self._signs[key]

    def change_rows(self, before: Setup, after: Setup, part: str) -> FloatArray:
        """(R, 3) whether a reading's error falls, stays or rises from one setup to another."""
        key = (before, after, part)
        if key not in self._signs:
            self._signs[key] = change_shares(self.settled(before), self.settled(after), part)
        return self._signs[key]

    def level_table(self, check: Check) -> FloatArray:
        """(R, O) shares of the outcomes of a check with eyes and ears, row by row."""
        return self.sign_rows(check.solved_in, check.part, check.sign, check.setup)

    def showing(self, setup: Setup) -> FloatArray | None:
        """(1 + H,) share of looks in which each cause shows itself in a setup; None where all always do."""
        if setup.watched or (self._at_times == 1).all():
            return None
        return np.where(self._when_moved & setup.moved_by_hand, np.maximum(self._at_times, SHOWS_MOVED), self._at_times)

    def means(self, rows: FloatArray, showing: FloatArray | None = None) -> FloatArray:
        """(1 + H, K) means over each cause's rows, and over the looks in which it doesn't show itself."""
        counts = np.diff(np.r_[self._starts, len(self.rows)])
        shown = np.add.reduceat(rows, self._starts, axis=0) / counts[:, None]
        if showing is None:
            return np.asarray(shown)
        return np.asarray(showing[:, None] * shown + (1 - showing[:, None]) * shown[0])

    def _predict(self, check: Check) -> Prediction:
        if check.quantity == "sign":
            table = self.sign_table(check.solved_in, check.part, check.sign, check.setup)
            nothing = np.full(len(table), np.nan)
            return Prediction(nothing, nothing, nothing, table)
        there = self._there(check)
        low = np.minimum.reduceat(there.low, self._starts)
        high = np.maximum.reduceat(there.high, self._starts)
        low, high = shown_interval(reader_of(check.quantity, check.instrument), low, high)
        return Prediction(low, high, there.value[self.middle], None, self.showing(check.setup))

    def _there(self, check: Check) -> TrueRange:
        unloaded = self.settled(check.unloaded) if check.unloaded is not None else None
        return true_range(self.settled(check.solved_in), check, unloaded)


def _when_moved(panel: Panel, cause: Cause) -> bool:
    return not cause.as_built and cause.at_times < 1 and fault_of(panel, cause).when_moved


def some_rows(settled: Settled, index: IndexArray) -> Settled:
    """Some of the rows of a setup, as if settled by themselves."""
    count = len(settled.rows)
    values = {each.name: some_of(getattr(settled, each.name), index, count) for each in fields(settled)}
    values["rows"] = tuple(settled.rows[number] for number in index)
    return Settled(**values)


def interval_parts(there: TrueRange, check: Check, row: int = 0) -> tuple[Contribution, ...]:
    """The named contributions to one row's interval, the meter's own among them; empty where it shows OL."""
    value = float(there.value[row])
    if not np.isfinite(value):
        return ()
    reader = reader_of(check.quantity, check.instrument)
    widths = there.width.items()
    parts = [Contribution(name, float(low[row]), float(high[row])) for name, (low, high) in widths]
    error = reader.error(value)
    note = accuracy_text(reader, value) if error > reader.stray else ""
    parts.append(Contribution("meter", error, error, note))
    if any(reader.lead_ohms):
        parts.append(Contribution("leads", -reader.lead_ohms[0], reader.lead_ohms[1]))
    return tuple(part for part in parts if part.below or part.above)


def true_range(settled: Settled, check: Check, unloaded: Settled | None = None) -> TrueRange:
    """What is there to be read in each row; `unloaded` is the same circuit before, for what a load draws down.

    Raises ValueError for what isn't read off a circuit.
    """
    match check.quantity:
        case "voltage_drop" if unloaded is not None:
            return volts_lost(settled, unloaded, check)
        case "voltage_ac":
            return alternating_volts(settled, check)
        case "voltage_dc":
            return _direct_volts(settled, check)
        case "current_ac":
            return amperes(settled, check)
        case "resistance" | "insulation":
            return _ohms(settled, check)
        case "heat_rate" | "boil_off":
            return _heat(settled, check)
        case "millivolts":
            return _millivolts(settled, check)
        case "temperature" | "temperature_error":
            return _temperature(settled, check)
        case "surface_temperature":
            return _surface(settled, check)
    raise ValueError(f"{check.quantity} is not read off a circuit")


def _direct_volts(settled: Settled, check: Check) -> TrueRange:
    a, b = ends_of(settled, check)
    volts = np.asarray(settled.direct.loaded(a, b, reader_of("voltage_dc").siemens)).real
    width = DRIVE_SHARE * np.abs(volts)
    return TrueRange(volts, {"drive": (width, width)})


def _ohms(settled: Settled, check: Check) -> TrueRange:
    a, b = ends_of(settled, check)
    driven = np.asarray(settled.direct.transfer(a, b)).real
    ohms = np.maximum(driven[:, a] - driven[:, b], 0)
    branches = uncertain(settled)
    shares = across(settled, driven, branches) ** 2 * settled.y_direct[:, branches]
    spread: FloatArray = np.sqrt(shares**2 @ relative_of(settled)[branches] ** 2)
    warmer: FloatArray = COPPER_SHARE * (shares @ copper_of(settled)[branches])
    over = ohms > reader_of(check.quantity).top
    spread, warmer = np.where(over, 0.0, spread), np.where(over, 0.0, warmer)
    return TrueRange(
        np.where(over, np.inf, ohms), {"parts": (spread, spread), "copper": (np.zeros_like(warmer), warmer)}
    )


def _heat(settled: Settled, check: Check) -> TrueRange:
    """Watts in the part's heating branches: the supply squared, its tolerance, what warm copper keeps."""
    netlist, supply = settled.netlist, settled.netlist.panel.supply
    watts = settled.heat_watts(check.part)
    mine = [place.part == check.part and place.heats for place in netlist.places]
    part = watts * netlist.relative[mine].max(initial=0)
    copper = np.flatnonzero(copper_of(settled))
    drops = across(settled, settled.alternating.voltages, copper)
    lost = (np.abs(drops) ** 2 * settled.y_alternating[:, copper].real).sum(axis=1)
    kept = 2 * COPPER_SHARE * watts * lost / np.maximum(watts + lost, 1e-9)
    return TrueRange(
        watts,
        {
            "supply": ((1 - supply.low**2) * watts, (supply.high**2 - 1) * watts),
            "parts": (part, part),
            "copper": (kept, np.zeros_like(kept)),
        },
        # The supply's volts know nothing of the element's ohms: all of it at its worst at once is not met with.
        independent=True,
    )


def _millivolts(settled: Settled, check: Check) -> TrueRange:
    """A thermocouple's volts at its pins: its own tolerance, and how well the warmth of its cold end is known."""
    a, b = ends_of(settled, check)
    volts = np.asarray(settled.direct.loaded(a, b, reader_of("millivolts").siemens)).real
    curve = curve_of(settled.netlist.panel, check.part)
    if curve is None or curve.gives != "volts":
        return TrueRange(volts, {})
    tip = tip_celsius(settled.setup, check.part)
    slopes = [signal_at(curve, at + 1) - signal_at(curve, at) for at in (tip, AMBIENT_CELSIUS)]
    probe = np.full_like(volts, slopes[0] * curve.tolerance_kelvin(tip))
    room = np.full_like(volts, slopes[1] * UNKNOWN_WARMTH_KELVIN)
    return TrueRange(volts, {"probe": (probe, probe), "room": (room, room)})


def _temperature(settled: Settled, check: Check) -> TrueRange:
    """What is shown, or how far that is off the known thermometer."""
    shown = np.where(settled.states["powered"][check.part], settled.shown[check.part], np.nan)
    # A display without a number is no reading: it stands above every temperature, as OL does above ohms.
    shown = np.where(np.isfinite(shown), shown, np.inf)
    panel, swapped = settled.netlist.panel, settled.setup.swapped
    true = tip_celsius(settled.setup, probe_seen(panel, check.part, swapped) or "")
    finite = np.isfinite(shown)
    probe = np.where(finite, set_for(panel, check.part).tolerance_kelvin(true), 0.0)
    width = {"probe": (probe, probe)}
    if check.quantity == "temperature_error":
        # The liquid is not quite as warm as is asked for, and an error that grows with it is other by so much.
        other = np.where(finite, ELSEWHERE_SHARE * np.abs(np.where(finite, shown - true, 0.0)), 0.0)
        return TrueRange(shown - true, {**width, "liquid": (other, other)})
    if check.setup_name == "boiled":
        low, high = boiling_interval(panel)
        site = np.where(finite, (high - low) / 2, 0.0)
        width["site"] = (site, site)
    return TrueRange(shown, width)


def _surface(settled: Settled, check: Check) -> TrueRange:
    off, opened = not check.setup.supply_on, check.exposure != "outside"
    there = surface_warmth(settled, check.part, check.surface, off=off, opened=opened)
    return TrueRange(there.middle, {"heat": (there.middle - there.low, there.high - there.middle)})
