"""The tree of a decision sheet: the session itself, run over all that its checks may show, the likeliest ways first."""

from __future__ import annotations

import heapq
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import count

import numpy as np

from diagnose.checks import Check
from diagnose.circuit.netlist import FloatArray
from diagnose.model import Model
from diagnose.proving import proofs_of
from diagnose.safety import WANTS, StepName
from diagnose.session import (
    AskCheck,
    CauseShare,
    ConfirmStep,
    Question,
    Session,
    Verdict,
    ask,
    belief,
    confirm,
    leave_out,
    read_answer,
    shares,
    stop,
    take,
)
from diagnose.sheet.ranges import Possible, Range, possible, united
from diagnose.wording import moved_lines

RAREST = 1e-3  # a way that fewer faults than this take ends in a call for help
WORTH_A_STEP = 2e-3  # a step after which fewer faults than this are found is left to whoever helps
DEEPEST = 30  # no way is longer: a person loses the thread
MOST_STEPS = 60
MOST_LISTED = 6  # an end that lists more parts than this tells nobody what to do
_LINES_ROW, _LINES_STEP = 2.5, 5.0  # what a step takes on paper, about
LONGEST_WAY = 60  # steps between two checks
_GOES_WELL = {"done": "done", "shows": "yes", "volts": "0 V"}  # a step as the sheet takes it; else it says to stop


@dataclass(frozen=True, slots=True)
class Ending:
    """Where a way ends: the parts it may be, what to do, what to measure afterwards; for help, nothing of that.

    `share` is how many of all faults end here, `right` how many of all do and are among the parts named.
    """

    part: str  # that the remedy is for
    parts: tuple[str, ...]
    faults: tuple[tuple[str, str], ...]  # the part's label, and the fault in words
    remedy: str
    proof: tuple[str, ...]
    electrician: bool
    share: float
    right: float
    danger: bool = False  # what was seen is one in itself

    @property
    def helps(self) -> bool:
        """Whether this is the call for help: nothing is named."""
        return not self.parts

    @property
    def key(self) -> tuple[object, ...]:
        """What is the same for two ends that say the same."""
        return (tuple(sorted(self.faults)), self.remedy, self.proof, self.electrician, self.danger)


@dataclass(frozen=True, slots=True)
class Branch:
    """What a check may show, and where that leads."""

    outcomes: tuple[str, ...]
    ranges: tuple[Range, ...]
    share: float
    goes: Step | Ending


@dataclass(frozen=True, slots=True)
class Done:
    """A safety step on the way to a check, and what it says of this panel at this place."""

    step: StepName
    lines: tuple[str, ...]


@dataclass(frozen=True, eq=False, slots=True)
class Step:
    """A numbered step: the safety steps before it, and a check in a session as it stands there."""

    number: int
    safety: tuple[Done, ...]
    question: AskCheck
    session: Session
    share: float
    branches: tuple[Branch, ...]

    @property
    def check(self) -> Check:
        """The check to be done here."""
        return self.question.check


@dataclass(eq=False)
class _Place:
    """A place in the tree while it grows; `rank` says how soon it is worth a step, from 0; -1 where it is none."""

    session: Session
    share: float
    depth: int
    safety: tuple[Done, ...] = ()
    question: Question | None = None
    possible: tuple[Possible, ...] = ()
    rank: int = -1
    ways: list[tuple[Possible, _Place]] = field(default_factory=list)


@dataclass(frozen=True, eq=False)
class Grown:
    """A tree that can still be cut to any number of steps."""

    model: Model
    root: _Place
    steps: int


def grow(session: Session, most_steps: int = MOST_STEPS, rarest: float = RAREST, deepest: int = DEEPEST) -> Grown:
    """Follow a session over all that its checks may show, opening the likeliest place first.

    Parameters
    ----------
    most_steps : int
        So many checks at most.
    rarest : float
        Places that fewer faults than this come to are not opened.
    deepest : int
        No way has more checks.
    """
    root = _Place(session, 1.0, 0)
    waiting: list[tuple[float, int, _Place]] = [(-1.0, 0, root)]
    tie = count(1)
    opened: list[_Place] = []
    while waiting:
        place = heapq.heappop(waiting)[2]
        _arrive(place)
        if not isinstance(place.question, AskCheck) or len(opened) >= most_steps or place.depth >= deepest:
            continue
        opened.append(place)
        for way, after in _ways(place, place.question):
            place.ways.append((way, after))
            if after.share >= rarest:
                heapq.heappush(waiting, (-after.share, next(tie), after))
    _rank(opened)
    return Grown(session.model, root, len(opened))


def _arrive(place: _Place) -> None:
    """Ask what comes next, the steps towards it done on the way; a check that divides nothing is passed over."""
    safety: list[Done] = []
    for _ in range(LONGEST_WAY):
        question = ask(place.session)
        if isinstance(question, ConfirmStep):
            safety.append(Done(question.step, tuple(moved_lines(place.session, question))))
            place.session = confirm(place.session, _GOES_WELL[WANTS[question.step]])
            continue
        if isinstance(question, AskCheck):
            place.possible = possible(place.session.model, question.check, belief(place.session))
            if len(place.possible) < 2:
                place.session = leave_out(place.session)
                continue
        place.question, place.safety = question, tuple(safety)
        return
    place.question = ask(stop(place.session))  # nothing here divides anything


def _ways(place: _Place, question: AskCheck) -> Iterator[tuple[Possible, _Place]]:
    session = replace(place.session, pending=question.check.id)  # chosen already
    now = belief(session)
    for way in place.possible:
        joint = now * way.likelihood
        share = place.share * float(joint.sum())
        if joint.sum() <= 0:
            continue
        after = take(session, question, read_answer(session.model, question, way.typical))
        yield way, _Place(_steered(after, joint / joint.sum()), share, place.depth + 1)


def _rank(opened: Sequence[_Place]) -> None:
    """Order places by what they are worth on paper: again and again the branch that finds least for its lines goes.

    A branch that goes takes all of its places along, the deepest first.
    """
    left = {id(place): place for place in opened}
    rank = len(opened)
    while left:
        worth = {key: _worth(place, left) for key, place in left.items()}
        least = min(worth, key=lambda key: worth[key][0] / worth[key][1])
        for place in reversed(list(_opened_from(left[least], left))):
            rank -= 1
            place.rank = rank
            del left[id(place)]


def _worth(place: _Place, left: Mapping[int, _Place]) -> tuple[float, float]:
    """How many of all faults are found from a place on, and about how many lines it takes to print."""
    found, lines = 0.0, _LINES_ROW if _goes_on(place) else _LINES_STEP
    for _, after in place.ways:
        if isinstance(after.question, Verdict):
            found += _ending(after, after.question).right
        elif id(after) in left:
            more = _worth(after, left)
            found, lines = found + more[0], lines + more[1]
    return found, lines


def _goes_on(place: _Place) -> bool:
    """Whether a place needs nothing but the probes moved from the check before."""
    if place.safety or not isinstance(place.question, AskCheck) or not place.session.answers:
        return False
    check, given = place.question.check, [each for each in place.session.answers if not each.skipped]
    before = place.session.model.checks_by_id[given[-1].check_id] if given else None
    return before is not None and (before.setup, before.quantity) == (check.setup, check.quantity)


def _opened_from(place: _Place, left: Mapping[int, _Place]) -> Iterator[_Place]:
    yield place
    for _, after in place.ways:
        if id(after) in left:
            yield from _opened_from(after, left)


def _steered(session: Session, wanted: FloatArray) -> Session:
    """The session with the belief that a whole range gives, not the one reading that stands for it.

    The prior takes up the difference, so all else that a session does with its answers stays as it is.
    """
    model, now = session.model, belief(session)
    if len(wanted) != len(now):
        return session  # pairs are thought of from here on: the one reading has to stand for its range
    prior = model.prior * np.divide(wanted, now, out=np.zeros_like(now), where=now > 0)
    return replace(session, model=replace(model, prior=prior / prior.sum()))


# Cutting ---------------------------------------------------------------------------------------------------


def cut(grown: Grown, steps: int) -> Step | Ending:
    """The tree with so many of its steps, those worth most; what comes after them ends in a call for help.

    Outcomes that lead to the same are one branch, and a check that all ways from it lead to the same is left out.
    Steps are numbered as they are read: what follows the likeliest outcome stands next.
    """
    top = _cut(grown.root, steps)
    return _numbered(top, count(1)) if isinstance(top, Step) else top


def _cut(place: _Place, steps: int) -> Step | Ending:
    if isinstance(place.question, Verdict):
        return _ending(place, place.question)
    if not isinstance(place.question, AskCheck) or not 0 <= place.rank < steps:
        return call_for_help(place.share)
    merged: dict[tuple[object, ...], Branch] = {}
    for way, after in place.ways:
        goes = _cut(after, steps)
        key = _signature(goes)
        if key in merged:
            first = merged[key]
            merged[key] = Branch(
                (*first.outcomes, *way.outcomes),
                united((*first.ranges, *way.ranges)),
                first.share + after.share,
                _joined(first.goes, goes),
            )
        else:
            merged[key] = Branch(way.outcomes, way.ranges, after.share, goes)
    if len(merged) == 1 and isinstance(next(iter(merged.values())).goes, Ending):
        return next(iter(merged.values())).goes
    if sum(ending.right for branch in merged.values() for ending in endings_of(branch.goes)) < WORTH_A_STEP:
        return call_for_help(place.share)
    return Step(0, place.safety, place.question, place.session, place.share, tuple(merged.values()))


def call_for_help(share: float, danger: bool = False) -> Ending:
    """The end of everything rare: nothing is named."""
    return Ending("", (), (), "", (), True, share, 0.0, danger)


def _ending(place: _Place, verdict: Verdict) -> Ending:
    model, now = place.session.model, belief(place.session)
    listed = shares(model, now)
    parts = tuple(dict.fromkeys(share.part for share in listed))
    if (
        verdict.kind in ("unknown", "stopped")
        or not parts
        or (len(parts) > MOST_LISTED and not _is_building(model, parts))
    ):
        return call_for_help(place.share)
    if verdict.kind == "found":
        listed, parts = tuple(share for share in listed if share.part == listed[0].part), parts[:1]
    right = sum(float(share) for cause, share in zip(model.causes, now, strict=False) if cause.part in parts)
    faults = tuple((model.panel.label(share.part), _fault_title(model, share)) for share in listed)
    proofs = proofs_of(place.session, verdict)
    return Ending(
        verdict.part, parts, faults, verdict.remedy, proofs, verdict.electrician, place.share, place.share * right,
        bool(verdict.danger),
    )  # fmt: skip


def _fault_title(model: Model, share: CauseShare) -> str:
    return share.title.removeprefix(f"{model.panel.label(share.part)}: ")


def _is_building(model: Model, parts: tuple[str, ...]) -> bool:
    return all(model.panel.at_the_service(part) for part in parts)


def _signature(goes: Step | Ending) -> tuple[object, ...]:
    if isinstance(goes, Ending):
        return goes.key
    ways = ((each.outcomes, each.ranges, _signature(each.goes)) for each in goes.branches)
    return (goes.check.id, goes.safety, tuple(ways))


def _joined(first: Step | Ending, second: Step | Ending) -> Step | Ending:
    """Two that say the same, as one that both are counted in."""
    if isinstance(first, Ending) and isinstance(second, Ending):
        return replace(first, share=first.share + second.share, right=first.right + second.right)
    if isinstance(first, Step) and isinstance(second, Step):
        branches = tuple(
            replace(one, share=one.share + two.share, goes=_joined(one.goes, two.goes))
            for one, two in zip(first.branches, second.branches, strict=True)
        )
        return replace(first, share=first.share + second.share, branches=branches)
    raise AssertionError("a step and an end can't say the same")


def _numbered(step: Step, numbers: Iterator[int]) -> Step:
    number = next(numbers)
    order = sorted(range(len(step.branches)), key=lambda k: -step.branches[k].share)
    goes: dict[int, Step | Ending] = {}
    for k in order:
        after = step.branches[k].goes
        goes[k] = _numbered(after, numbers) if isinstance(after, Step) else after
    branches = tuple(replace(branch, goes=goes[k]) for k, branch in enumerate(step.branches))
    return replace(step, number=number, branches=branches)


def steps_of(top: Step | Ending) -> Iterator[Step]:
    """All steps, in no order."""
    if isinstance(top, Step):
        yield top
        for branch in top.branches:
            yield from steps_of(branch.goes)


def endings_of(top: Step | Ending) -> Iterator[Ending]:
    """All ends, one for each way."""
    if isinstance(top, Ending):
        yield top
        return
    for branch in top.branches:
        yield from endings_of(branch.goes)
