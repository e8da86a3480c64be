"""One panel and one complaint, made ready to be asked about: causes that explain it, setups, checks, predictions."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from copy import copy
from dataclasses import dataclass, field, replace
from functools import cached_property
from math import inf
from types import MappingProxyType
from typing import Any, TypeVar

import numpy as np

from diagnose.causes import AS_BUILT, AS_BUNDLED, Cause, causes_of, fault_of
from diagnose.checks import Check, offered_checks
from diagnose.circuit.netlist import BoolArray, FloatArray, Netlist
from diagnose.circuit.setup import Setup
from diagnose.complained import as_complained, most_watts
from diagnose.controller_signs import CHANGES
from diagnose.costs import need_of
from diagnose.errors import Problem, UsageError
from diagnose.expect import Prediction, Predictor
from diagnose.expectation import RULE as EXPECTATION
from diagnose.expectation import expectations
from diagnose.findings import explaining
from diagnose.knowledge.records import Complaint, Fault, Observation, Remedy
from diagnose.loading import Finding
from diagnose.meter import reader_of
from diagnose.panel.records import Panel, part_of
from diagnose.safety import Need
from diagnose.setups import named_setups, plug_of
from diagnose.some_causes import SomePredictor, WholePredictor
from diagnose.topology import beside, upstream
from diagnose.watt_density import density_factor

EXPLAINS = 0.03  # a cause under which the complaint is less likely than this does not explain it
BETTER_THAN_SOUND = 3.0  # nor does one that explains it hardly better than no fault at all
DESIGN_RATE = 10.0  # where the design itself makes the complaint, it is the first thing to believe
ON_PATH = ("breaker", "residual", "contactor", "relay", "plug", "display")  # only those on the way to the subject
MOST_KNOWN = 4096  # likelihoods and beliefs of a session with long detours: some hundred bytes each
UNKNOWN_SHARE = 0.01  # belief kept for a cause that nothing here knows

Found = TypeVar("Found")


@dataclass(frozen=True)
class Model:
    """Everything about one panel and one complaint that does not change while the questions are asked.

    `prior` is (H + 1,): the causes, then the cause that nothing here knows. `everything` predicts for all causes of the
    panel, also those that don't make the complaint by themselves, and `weight` is the sum of rate times likelihood of
    the complaint that the single causes' priors were scaled by. A model with pairs has the one without as `narrow`.
    """

    panel: Panel
    complaint: Complaint
    subject: str | None
    setups: Mapping[str, Setup]
    causes: tuple[Cause, ...]
    prior: FloatArray
    checks: tuple[Check, ...]
    predictor: Predictor
    designs: Mapping[str, Finding]
    everything: Predictor
    weight: float
    narrow: Model | None = None
    mended: frozenset[str] = frozenset()  # parts that were put right, and are sound now
    grows: bool = True  # whether two causes at once are thought of, where no single one explains the answers
    grown: dict[str, Model] = field(default_factory=dict, compare=False, repr=False)  # models with pairs made so far
    tables: dict[str, FloatArray] = field(default_factory=dict, compare=False, repr=False)  # outcomes worked out so far
    kept: dict[str, object] = field(init=False, default_factory=dict, compare=False, repr=False)  # by those who choose
    known: dict[object, Any] = field(init=False, default_factory=dict, compare=False, repr=False)  # about answers
    _seen: dict[str, Prediction] = field(init=False, default_factory=dict, compare=False, repr=False)

    def remembered(self, key: object, work_out: Callable[[], Found]) -> Found:
        """What was worked out for a key before, or else now. It is all forgotten once there is much of it."""
        if key not in self.known:
            if len(self.known) >= MOST_KNOWN:
                self.known.clear()
            self.known[key] = work_out()
        found: Found = self.known[key]
        return found

    @cached_property
    def checks_by_id(self) -> Mapping[str, Check]:
        """The offered checks by their ids."""
        return {check.id: check for check in self.checks}

    @cached_property
    def needs(self) -> Mapping[str, Need]:
        """What each check needs of the panel's state, by the check's id; what is the same is one object."""
        known: dict[Need, Need] = {}
        needs = ((check.id, need_of(check)) for check in self.checks)
        return {name: known.setdefault(need, need) for name, need in needs}

    @cached_property
    def groups(self) -> tuple[tuple[str, str], ...]:
        """What would be done about each cause: the part, and the remedy. The unknown cause is a group of its own.

        Everything in the building's own supply is one group, since all of it ends with the same call.
        """
        return (*(self._group(cause) for cause in self.causes), ("", "unknown"))

    def without_pairs(self) -> Model:
        """The same, never thinking of two causes at once; what is worked out for the one is known to the other."""
        twin = copy(self)
        object.__setattr__(twin, "grows", False)
        return twin

    def _group(self, cause: Cause) -> tuple[str, str]:
        if self.panel.at_the_service(cause.part):
            return ("", "building")
        return (cause.part, self.fault(cause).remedy.text)

    @cached_property
    def group_numbers(self) -> np.ndarray[tuple[int], np.dtype[np.int64]]:
        """(H + 1,) the group of each cause as a number."""
        known: dict[tuple[str, str], int] = {}
        return np.array([known.setdefault(group, len(known)) for group in self.groups], dtype=np.int64)

    def fault(self, cause: Cause) -> Fault:
        """The knowledge behind a cause."""
        return _as_built(self.designs[cause.fault]) if cause.as_built else fault_of(self.panel, cause)

    def title(self, cause: Cause) -> str:
        """A cause in words: part and fault, and of a pair both."""
        return ", and ".join(f"{self.panel.label(member.part)}: {self.fault(member).title}" for member in cause.members)

    def predict(self, check: Check) -> Prediction:
        """What a check would show under each cause, which made this complaint."""
        if check.id not in self._seen:
            self._seen[check.id] = self._predicted(check)
        return self._seen[check.id]

    def _predicted(self, check: Check) -> Prediction:
        most = most_watts(self.panel, self.complaint, self.subject, check)
        error = 0.0 if most == inf else reader_of(check.quantity, check.instrument).error(most)
        return as_complained(self.predictor.predict(check), most + error, self.broken)

    @cached_property
    def broken(self) -> BoolArray:
        """(1 + H,) the causes under which something is broken, row 0 being the sound panel."""
        return np.array([False, *(not cause.as_built for cause in self.causes)])


def _design_rate(finding: Finding, complaint: Complaint) -> float:
    expected_more = complaint.expects_more if finding.rule == EXPECTATION else None
    return expected_more.rate if expected_more is not None else DESIGN_RATE


def _as_built(finding: Finding) -> Fault:
    """A finding of the review, in the form of a fault: nothing is broken, the design itself is at fault."""
    remedy = Remedy(
        f"Have the design put right: {finding.expected}. "
        "Nobody fits a larger breaker or fuse than the wire behind it allows.",
        ("gfci_test", "first_heat"),
        electrician=True,
    )
    expected_more = finding.rule == EXPECTATION
    return Fault(
        name=AS_BUILT + finding.rule,
        title=f"nothing is broken, {'it gives all it can' if expected_more else 'it is built so'}: {finding.message}",
        rate=DESIGN_RATE,
        rate_word="very common",
        levels=(),
        effects=(),
        remedy=Remedy(f"{finding.expected}.", (), electrician=False) if expected_more else remedy,
        signs=MappingProxyType({}),
        stop=False,
        when_warm=False,
        source=finding.source,
    )


def subjects_of(panel: Panel, complaint: Complaint) -> list[str]:
    """The parts that a complaint can be about on this panel; empty where it is about the whole panel.

    A part of the right role that can't show what is complained of is none: an ammeter is a display without volts.
    """
    if not complaint.subject:
        return []
    shown = {each.sign for each in complaint.observed if each.of == "subject"}
    return [name for name in panel.of_role(*complaint.subject) if shown <= panel.kind_of(name).signs.keys()]


def each_subject(panel: Panel, complaint: Complaint) -> list[str | None]:
    """What a complaint can be made about in turn: each of its subjects, or the whole panel, that would show it."""
    subjects: list[str | None] = [*subjects_of(panel, complaint)] if complaint.subject else [None]
    return [subject for subject in subjects if would_show(panel, complaint, subject)]


def would_show(panel: Panel, complaint: Complaint, subject: str | None) -> bool:
    """Whether there are parts for it to be seen on: where there are none, every fault would make it."""
    seen = [(observed_parts(panel, each, subject), each.every) for each in complaint.observed]
    return any(parts for parts, _ in seen) and all(parts or every for parts, every in seen)


def make_model(
    netlist: Netlist,
    complaint: Complaint,
    subject: str | None,
    factors: Mapping[str, float] = AS_BUNDLED,
    predicted: WholePredictor | None = None,
) -> Model:
    """Prepare a panel and a complaint; `factors` multiply the bundled failure rates, by kind and fault.

    `predicted` predicts for all causes of the panel: quicker where many complaints are prepared, most of all where all
    are before the first is asked about.

    Raises
    ------
    UsageError
        Where the panel has no part of the kind that the complaint is about, or the subject is not one.
    """
    panel = netlist.panel
    subjects = subjects_of(panel, complaint)
    if complaint.subject and not subjects:
        raise UsageError(
            Problem(f"this panel has no {' or '.join(complaint.subject)} to be about", "another complaint")
        )
    if complaint.subject and subject not in subjects:
        raise UsageError(
            Problem(f"'{subject}' can't be what '{complaint.name}' is about", f"one of {', '.join(subjects)}")
        )
    subject = subject if complaint.subject else None
    setups = named_setups(netlist, subject)
    found = (*explaining(panel, complaint.name, subject), *expectations(netlist, complaint, subject))
    designs = {AS_BUILT + finding.rule: finding for finding in found}
    all_causes = (
        *(
            replace(each, rate=each.rate * density_factor(panel, each.part, each.fault))
            for each in causes_of(panel, factors)
            if each.at_times == 1 or complaint.comes_and_goes
        ),
        *(
            Cause(finding.parts[0], name, None, 0.0, 0.0, _design_rate(finding, complaint))
            for name, finding in designs.items()
        ),
    )
    everything = Predictor(netlist, all_causes) if predicted is None else SomePredictor(predicted, all_causes)
    sound, *share = complaint_likelihood(everything, complaint, subject, setups)
    # Who expects more than a sound panel gives complains of a sound panel.
    share = [
        1.0 if cause.fault == AS_BUILT + EXPECTATION else value for cause, value in zip(all_causes, share, strict=True)
    ]
    least = max(EXPLAINS, BETTER_THAN_SOUND * sound)
    kept = [
        number for number, value in enumerate(share) if value >= (EXPLAINS if all_causes[number].as_built else least)
    ]
    causes = tuple(all_causes[number] for number in kept)
    weight = np.array([all_causes[number].rate * share[number] for number in kept])
    prior = np.r_[weight / weight.sum() * (1 - UNKNOWN_SHARE), UNKNOWN_SHARE] if kept else np.array([1.0])
    predictor = everything.narrowed(kept)
    checks = checks_for(panel, complaint, subject, setups, causes)
    if isinstance(predictor, SomePredictor):
        predictor.expect(checks)
    return Model(
        panel, complaint, subject, setups, causes, prior, checks, predictor, MappingProxyType(designs), everything,
        float(weight.sum()),
    )  # fmt: skip


def complaint_likelihood(
    predictor: Predictor, complaint: Complaint, subject: str | None, setups: Mapping[str, Setup]
) -> FloatArray:
    """(1 + H,) how likely each cause is to show what the complaint says; row 0 is the sound panel."""
    total, showing = complaint_rows(predictor, complaint, subject, setups)
    return predictor.means(total[:, None], showing)[:, 0]


def complaint_rows(
    predictor: Predictor, complaint: Complaint, subject: str | None, setups: Mapping[str, Setup]
) -> tuple[FloatArray, FloatArray | None]:
    """(R,) how likely each level of each cause is to show what the complaint says, and how often a cause shows at all.

    Multiplied row by row, since what a cause shows in one setup goes with what it shows in the next.
    """
    total = np.ones(len(predictor.rows))
    showing: FloatArray | None = None
    for observation in complaint.observed:
        parts = observed_parts(predictor.netlist.panel, observation, subject)
        if not parts:
            # What all of none do holds; that one of none does something can't be.
            total *= float(observation.every)
            continue
        shares = []
        for part in parts:
            sign = predictor.netlist.panel.kind_of(part).signs[observation.sign]
            setup = setups[observation.setup]
            if observation.against:
                columns = [CHANGES.index(outcome) for outcome in observation.outcomes]
                table = predictor.change_rows(setups[observation.against], setup, part)
            else:
                columns = [sign.outcomes.index(outcome) for outcome in observation.outcomes]
                table = predictor.sign_rows(setup, part, observation.sign)
            shares.append(table[:, columns].sum(axis=1))
        every = np.array(shares)
        showing = predictor.showing(setups[observation.setup])
        total *= every.prod(axis=0) if observation.every else 1 - (1 - every).prod(axis=0)
    total *= _as_it_comes(predictor, complaint)
    # At other times it is not there: that is what is complained of, and no look that found nothing.
    return total, None if complaint.comes_and_goes else showing


def _as_it_comes(predictor: Predictor, complaint: Complaint) -> FloatArray:
    """(R,) 1 for rows of causes that come and go as a complaint says, or that are there always as another one says."""
    panel = predictor.netlist.panel
    there = [True]
    for cause in predictor.causes:
        members = cause.members
        warm = any(not each.as_built and fault_of(panel, each).when_warm for each in members)
        goes = any(each.at_times < 1 for each in members)
        there.append(goes or warm if complaint.comes_and_goes else not goes)
    # The sound panel stays as it is solved: what hardly shows more than it does explains what comes and goes no better.
    return np.asarray(np.array(there, dtype=np.float64)[predictor.owner])


def observed_parts(panel: Panel, observation: Observation, subject: str | None) -> list[str]:
    """The parts that an observation is of: the subject, or those of a role on its path."""
    if observation.of == "subject":
        return [subject] if subject is not None else []
    parts = panel.of_role(observation.of)
    if observation.of == "plug":
        parts = [part for part in panel.parts if panel.parts[part].kind.plug]
    if subject is not None and observation.of in ON_PATH:
        on_path = upstream(panel, subject)
        parts = [part for part in parts if part in on_path]
    elif subject is not None and observation.of == "lamp":
        parts = list(beside(panel, subject, "lamp"))
    return [part for part in parts if observation.sign in panel.parts[part].kind.signs]


def checks_for(
    panel: Panel, complaint: Complaint, subject: str | None, setups: Mapping[str, Setup], causes: Sequence[Cause]
) -> tuple[Check, ...]:
    """The checks on all parts that any of these causes is about, and nothing that the complaint told already."""
    suspects = list(dict.fromkeys(member.part for cause in causes for member in cause.members))
    plug = plug_of(panel, subject)
    parts = [*suspects, *([plug] if plug else [])]
    told = {
        (observation.setup, part, observation.sign)
        for observation in complaint.observed
        for part in observed_parts(panel, observation, subject)
    }
    checks = offered_checks(panel, setups, complaint.setups, [*parts, "wall_point"], subject)
    return tuple(
        check
        for check in checks
        if (check.setup_name, check.part, check.sign) not in told and not at_the_service(panel, check)
    )


def at_the_service(panel: Panel, check: Check) -> bool:
    """Whether the probes would go into the building's own service equipment: an electrician's work, never asked for."""
    return any(panel.at_the_service(part_of(end)) for end in (check.tail, check.head) if end)
