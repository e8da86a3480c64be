"""What a session asks, what it takes for an answer, and how it ends: records, and the reading of what was typed."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

from diagnose.checks import Check
from diagnose.errors import AnswerError, Problem
from diagnose.expect import Prediction
from diagnose.heat_checks import HEAT_QUANTITIES, Width, read_heat
from diagnose.model import Model
from diagnose.probe_checks import read_boiling, read_pair
from diagnose.readings import Reading, parse_drop, parse_reading
from diagnose.safety import PanelState, StepName
from diagnose.temperature_log import outcome_of_log

if TYPE_CHECKING:
    from diagnose.evidence import Evidence


@dataclass(frozen=True, slots=True)
class Answer:
    """What was answered to a check: a reading, an outcome, or nothing."""

    check_id: str
    text: str
    value: float | None  # SI, inf for OL; None for a sign or a skip
    outcome: int | None
    skipped: bool = False
    doubted: bool = False  # nothing explained it the first time
    width: Width | None = None  # how far off it may be, where that was typed with it

    @property
    def said(self) -> tuple[str, float | None, int | None, Width | None]:
        """What belief follows from: the same check with the same reading says the same, however it was typed."""
        return self.check_id, self.value, self.outcome, self.width


@dataclass(frozen=True, slots=True)
class Proved:
    """How a proof check after a repair came out."""

    proof: str
    text: str  # as typed
    outcome: Literal["passed", "failed", "declined"]


@dataclass(frozen=True, slots=True)
class Doubt:
    """Why an answer is asked for once more, and the usual slips: the likely one first."""

    why: Literal["unexplained", "overturns", "decides"]
    slips: tuple[str, ...]
    likely: bool  # whether the first slip would make the answer fit what was believed before


@dataclass(frozen=True, slots=True)
class ConfirmStep:
    """A step that changes the panel's state, to be done and confirmed before the next check."""

    step: StepName
    for_check: Check
    state: PanelState = field(default_factory=PanelState)  # where it starts from

    @property
    def only_live(self) -> bool:
        """Whether it leads to a check on live parts, since no single other one tells as much."""
        return self.for_check.exposure == "live"


@dataclass(frozen=True, eq=False, slots=True)
class AskCheck:
    """A check to be done now, and what it is expected to show."""

    check: Check
    prediction: Prediction
    bits: float
    doubted: Answer | None
    sound: tuple[float, float, float]  # value, low, high on the sound panel
    outcomes: tuple[str, ...]
    doubt: Doubt | None = None  # why it is asked once more

    @property
    def only_live(self) -> bool:
        """Whether it is done on live parts, since no single other one tells as much."""
        return self.check.exposure == "live"


@dataclass(frozen=True, slots=True)
class CauseShare:
    """A cause and how much belief it has."""

    part: str
    fault: str
    level: float | None
    probability: float
    title: str
    also_part: str = ""  # of a pair: the other cause
    also_fault: str = ""


@dataclass(frozen=True, slots=True)
class Further:
    """What else is to be seen to: the second cause of a pair, or a part that may have gone with the one at fault."""

    part: str
    why: str
    remedy: str  # '' where it only has to be checked
    proof: tuple[str, ...]
    sure: bool  # believed to be at fault as well


@dataclass(frozen=True, slots=True)
class Conflict:
    """Answers that exclude each other, and the one that stands against all others, where there is such a one."""

    check_ids: tuple[str, ...]  # the fewest that no cause explains together; empty where a few are not enough
    odd: str  # without this one something known explains all the others; '' where that is none
    without: str  # what that would be, in words
    together: tuple[str, ...] = ()  # where it takes more than one wrong answer: the likeliest of the fewest that do


@dataclass(frozen=True, slots=True)
class Verdict:
    """How a session ends."""

    kind: Literal["found", "group", "unknown", "stopped", "referred"]
    causes: tuple[CauseShare, ...]
    part: str
    remedy: str
    proof: tuple[str, ...]
    electrician: bool
    evidence: tuple[Evidence, ...]
    reason: str
    danger: str = ""  # what is done about a danger comes before all else
    further: tuple[Further, ...] = ()  # after the remedy, in this order
    conflict: Conflict | None = None  # where nothing known explains the answers


Question = ConfirmStep | AskCheck | Verdict


def read_answer(model: Model, question: AskCheck, text: str) -> Answer:
    """What was typed, as an answer to a check. Raises AnswerError with what was expected."""
    check = question.check
    if check.quantity == "sign":
        told = outcome_of_log(text) if check.sign == "course" else text
        return Answer(check.id, text, None, _outcome(question.outcomes, told))
    if check.quantity == "temperature_error":
        return Answer(check.id, text, read_pair(check, text), None)
    if check.quantity == "voltage_drop":
        return Answer(check.id, text, parse_drop(text), None)
    if check.setup_name == "boiled":
        shown, width = read_boiling(model.panel, text)
        return Answer(check.id, text, shown, None, width=width)
    if check.quantity == "temperature" and text.strip().lower() in ("none", "no number"):
        return Answer(check.id, text, float("inf"), None)
    if check.quantity in HEAT_QUANTITIES:
        watts, width = read_heat(model, check, text)
        return Answer(check.id, text, watts, None, width=width)
    reading: Reading = parse_reading(text, check.quantity)  # type: ignore[arg-type]
    return Answer(check.id, text, float("inf") if reading.over_range else reading.value, None)


def _outcome(outcomes: tuple[str, ...], text: str) -> int:
    plain = " ".join(text.lower().replace("-", " ").replace("_", " ").split())
    if text.strip().isdigit() and 1 <= int(plain) <= len(outcomes):
        return int(plain) - 1
    starting = [number for number, outcome in enumerate(outcomes) if plain and outcome.startswith(plain)]
    exact = [number for number, outcome in enumerate(outcomes) if outcome == plain]
    if len(exact or starting) == 1:
        return (exact or starting)[0]
    choices = ", ".join(f"{number} {outcome}" for number, outcome in enumerate(outcomes, start=1))
    raise AnswerError(Problem(f"'{text}' is none of the answers", choices))
