"""The test points of a panel in its usual setups, and what a meter should read there, sound or faulty."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from math import isfinite

from diagnose.causes import Cause
from diagnose.checks import Check, offered_checks
from diagnose.circuit.netlist import Netlist
from diagnose.circuit.setup import Setup, at_rest, isolated
from diagnose.expect import Contribution, Predictor
from diagnose.knowledge.records import Exposure
from diagnose.loading import way_to
from diagnose.panel.records import Panel, part_of
from diagnose.setups import named_setups, plug_of
from diagnose.topology import beside, commanded_by, upstream

QUANTITIES: Mapping[str, str] = {
    "voltage_ac": "V", "voltage_dc": "V", "resistance": "ohm", "insulation": "ohm", "millivolts": "V",
}  # fmt: skip
METERS = (
    "multimeter",
    "insulation_tester",
)  # a low-impedance reading is a check of its own, not a test point
NAMES = ("idle", "running", "unswitched", "resting", "isolated", "parted", "lifted")
USUAL_NAMES = ("idle", "running", "isolated", "parted")
WHOLE_PANEL = ("idle", "isolated")


@dataclass(frozen=True, slots=True)
class TableSetup:
    """A setup in the table, what it is about ('' for the whole panel), and the parts whose points it has."""

    name: str
    subject: str
    setup: Setup
    parts: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Shown:
    """What a meter shows: SI values, infinity for OL."""

    value: float
    low: float
    high: float

    def as_data(self) -> dict[str, object]:
        """For JSON: null where it is OL, since infinity has no place there."""
        ends = {"value": self.value, "low": self.low, "high": self.high}
        data: dict[str, object] = {key: end if isfinite(end) else None for key, end in ends.items()}
        return {**data, "over_range": not isfinite(self.high)}


@dataclass(frozen=True, slots=True)
class ExpectedRow:
    """One test point in one setup; `faulty` is what it shows with the fault, where one was asked for."""

    place: TableSetup
    part: str
    tail: str
    head: str
    quantity: str
    exposure: Exposure
    sound: Shown
    why: tuple[Contribution, ...]
    faulty: Shown | None = None

    @property
    def differs(self) -> bool:
        """Whether a reading tells the fault from a sound panel: the intervals don't meet."""
        if self.faulty is None:
            return False
        return self.faulty.low > self.sound.high or self.faulty.high < self.sound.low

    def as_data(self) -> dict[str, object]:
        """For JSON; the keys are stable."""
        data: dict[str, object] = {
            "name": self.place.name, "subject": self.place.subject, "setup": self.place.setup.as_data(),
            "part": self.part, "from": self.tail, "to": self.head, "quantity": self.quantity,
            **self.sound.as_data(), "unit": QUANTITIES[self.quantity], "exposure": self.exposure,
            "why": [
                {"name": each.name, "below": each.below, "above": each.above, "note": each.note}
                for each in self.why
            ],
        }  # fmt: skip
        if self.faulty is not None:
            data |= {"faulty": self.faulty.as_data(), "differs": self.differs}
        return data


# Rows -----------------------------------------------------------------------------------------------------


def expected_rows(
    netlist: Netlist, setups: Sequence[TableSetup], fault: Cause | None = None
) -> tuple[ExpectedRow, ...]:
    """A row for each test point in each setup; with a fault, those that tell it from a sound panel are first.

    Raises CircuitError where a circuit can't be solved.
    """
    predictor = Predictor(netlist, [fault] if fault is not None else [])
    rows = [
        _row(predictor, place, check)
        for place in setups
        for check in offered_checks(
            netlist.panel, {place.name: place.setup}, [place.name], place.parts, place.subject or None
        )
        if check.part in place.parts and _is_point(netlist.panel, check)
    ]
    return tuple(sorted(rows, key=lambda row: not row.differs))


def _is_point(panel: Panel, check: Check) -> bool:
    """Whether it is volts or ohms on the panel itself: the building's service is an electrician's."""
    ends = [part_of(end) for end in (check.tail, check.head)]
    plain = check.quantity in QUANTITIES and check.instrument in METERS
    return plain and not any(panel.at_the_service(end) for end in ends)


def _row(predictor: Predictor, place: TableSetup, check: Check) -> ExpectedRow:
    # One setup's name can stand for several subjects' setups, and predictions are kept by their checks' ids.
    prediction = predictor.predict(replace(check, id=f"{place.subject}:{check.id}"))
    ends = zip(prediction.value, prediction.low, prediction.high, strict=True)
    sound, *faulty = [Shown(float(value), float(low), float(high)) for value, low, high in ends]
    return ExpectedRow(
        place, check.part, check.tail, check.head, check.quantity, check.exposure, sound,
        predictor.interval_parts(check), faulty[0] if faulty else None,
    )  # fmt: skip


# Setups ---------------------------------------------------------------------------------------------------


def table_setups(
    netlist: Netlist, names: Iterable[str] = USUAL_NAMES, subject: str | None = None
) -> tuple[TableSetup, ...]:
    """The named setups: once for the whole panel, or for each element, or for one subject if it is given."""
    panel = netlist.panel
    wanted = list(names)
    found = [
        TableSetup(name, "", at_rest(panel) if name == "idle" else isolated(panel), tuple(panel.parts))
        for name in wanted
        if name in WHOLE_PANEL and subject is None
    ]
    for own in [subject] if subject is not None else panel.of_role("heater"):
        mine = [name for name in wanted if subject is not None or name not in WHOLE_PANEL]
        setups = named_setups(netlist, own) if mine else {}
        for name in mine:
            parts = plugged_parts(panel, own) if name in ("parted", "lifted") else channel_parts(panel, own)
            found.append(TableSetup(name, own, setups[name], parts))
    return tuple(found)


def channel_parts(panel: Panel, subject: str) -> tuple[str, ...]:
    """A subject's channel: the parts on its way, what drives it, its lamp, what feeds a contactor's coil."""
    found = [subject]
    if panel.parts[subject].kind.role != "controller":
        found += [*upstream(panel, subject), *commanded_by(panel, subject), *beside(panel, subject, "lamp")]
    for name in [name for name in found if name in panel.parts]:
        coil = panel.parts[name].kind.coil
        branch = panel.parts[name].kind.branches[coil.branch] if coil is not None else None
        for end in (branch.tail, branch.head) if branch is not None else ():
            found += [step.part for step in way_to(panel, f"{name}.{end}")]
    known = set(panel.parts) - set(panel.supply.protection) - {panel.supply.service}
    return tuple(name for name in panel.parts if name in set(found) & known)


def plugged_parts(panel: Panel, subject: str) -> tuple[str, ...]:
    """What is of interest with a subject's plug pulled: the plug, what it goes into, and the subject."""
    plug = plug_of(panel, subject)
    around = [plug, panel.plugs[plug]] if plug is not None and plug in panel.plugs else []
    return tuple(dict.fromkeys([subject, *around]))
