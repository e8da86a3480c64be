"""What is true of the panel, kept apart from the program: written from the rules, and not from `diagnose.safety`.

It watches what is asked and what is done, and raises AssertionError the moment a rule is broken.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from diagnose.panel.records import Panel
from diagnose.proving import AskProof, ProofStep
from diagnose.session import Answer, AskCheck, ConfirmStep, Session, Verdict

RANK = {"outside": 0, "isolated": 1, "live": 2}
DEAD_ONLY = {"resistance", "insulation"}
# Answers after which nothing more is asked, as a reviewer wrote them down.
DANGEROUS = {
    "burnt",
    "scorched",
    "browned",
    "smoking",
    "wet",
    "water",
    "hot",
    "too hot to touch",
    "smells burnt",
    "acrid",
    "sparks",
}
EARTH_LIMIT_OHMS = 2.0
SAID = ("smoke", "There is smoke!", "I got a shock", "it tingles", "!", "HOT PLUG")
THREE = ("try_meter", "prove_dead", "retry_meter")


@dataclass
class World:
    """The panel, the person and the rules."""

    panel: Panel
    competence: str
    supply: str = "on"  # on, switched off, cut, or not known
    open: bool = False
    waited: bool = False
    proof: list[str] = field(default_factory=list)  # the three parts since the box was opened or the supply touched
    loose: bool = False  # wires are off
    moved: frozenset[tuple[str, str]] = frozenset()
    over: bool = False
    tripped: dict[str, int] = field(default_factory=dict)  # how often each device tripped as soon as it was set

    @property
    def dead(self) -> bool:
        """Isolated, open, and proved dead in three parts in their order."""
        return self.supply == "cut" and self.open and tuple(self.proof) == THREE

    # What is asked ----------------------------------------------------------------------------------------

    def sees(self, session: Session, question: object) -> None:
        """Hold what is asked, and what the session believes of the panel, against the rules."""
        assert RANK[session.competence] <= RANK[self.competence], "competence was raised"
        assert session.competence == self.competence, "competence is not what was said last"
        self._belief(session)
        self._answers(session)
        if self.over:
            assert isinstance(question, Verdict), "something is asked after the end"
            return
        if isinstance(question, AskCheck):
            self._check(question)
            assert self.tripped.get(question.check.part, 0) < 2, "a device that tripped twice is set again"
        elif isinstance(question, ConfirmStep | ProofStep):
            self.may(question.step)
        elif isinstance(question, AskProof) and not question.by_other:
            self._place(question.proof.exposure, question.proof.supply_on, question.proof.reads)

    def _belief(self, session: Session) -> None:
        state = session.state
        assert not state.proved_dead or self.dead, "it takes a panel for proved dead that is not"
        assert state.supply != "isolated" or self.supply == "cut", "it takes a panel for isolated that is not"
        assert state.open or not self.open, "it takes an open box for a shut one"
        assert state.leads_off or not self.loose, "it forgot wires that are off"
        assert state.rewired == self.moved, "it forgot wires that were moved"

    def _answers(self, session: Session) -> None:
        """No answer stands that is a danger, as given, changed or asked for again, with the session going on."""
        trips: dict[str, int] = {}
        for given in session.answers:
            check = session.model.checks_by_id[given.check_id]
            outcomes = self.panel.kind_of(check.part).signs[check.sign].outcomes if check.sign else ()
            outcome = outcomes[given.outcome] if given.outcome is not None else ""
            trips[check.part] = trips.get(check.part, 0) + (outcome == "trips at once")
            assert session.stopped or outcome not in DANGEROUS, f"{outcome} stands, and it goes on"
            assert session.stopped or trips[check.part] < 2, "a device tripped twice, and it goes on"

    def _check(self, question: AskCheck) -> None:
        check = question.check
        self._place(check.exposure, check.setup.supply_on, check.quantity)
        if check.setup.lifted:
            assert self.dead, f"{check.id}: wires are taken off where it is not dead"
            assert not check.setup.supply_on
        for end in (*check.setup.lifted, *(end for pair in check.setup.rewired for end in pair)):
            part, _, name = end.partition(".")
            assert self.panel.kind_of(part).terminals[name].path != "earth", f"{check.id}: an earth is moved"
        assert check.setup.rewired == self.moved, f"{check.id}: wires are elsewhere"

    def _place(self, exposure: str, supply_on: bool, quantity: str) -> None:
        assert RANK[exposure] <= RANK[self.competence], f"{exposure} is more than {self.competence}"
        assert self.supply == ("on" if supply_on else "cut"), "the supply is not as it has to be"
        if exposure == "outside":
            assert not self.open, "from outside, with the box open"
        else:
            assert self.open, "in the box, with the box shut"
        if exposure == "isolated":
            assert self.dead, "hands in a box that was not proved dead"
        if quantity in DEAD_ONLY:
            assert self.supply == "cut", "ohms with the supply on"

    # What is answered -------------------------------------------------------------------------------------

    def answered(self, question: AskCheck, typed: str, given: Answer | None) -> bool:
        """Whether the session has to end by what was typed to a check; `given` is what it was kept as, if it was."""
        check = question.check
        if typed in SAID:
            return True
        if given is None:
            return False
        if given.outcome is not None:
            outcome = question.outcomes[given.outcome]
            if outcome == "trips at once":
                self.tripped[check.part] = self.tripped.get(check.part, 0) + 1
            return outcome in DANGEROUS or self.tripped.get(check.part, 0) >= 2
        along = {self._path(end) for end in (check.tail, check.head) if end} == {"earth"}
        return along and check.quantity == "resistance" and given.value is not None and given.value > EARTH_LIMIT_OHMS

    def _path(self, end: str) -> str:
        part, _, name = end.partition(".")
        return self.panel.kind_of(part).terminals[name].path

    # What is done -----------------------------------------------------------------------------------------

    def may(self, step: str) -> None:
        """Raise AssertionError for a step that is out of its order."""
        match step:
            case "isolate":
                assert self.supply in ("switched off", "cut"), "a plug pulled under load"
            case "wait":
                assert self.supply == "cut"
            case "open_box":
                assert self.supply == "cut" and self.waited, "opened before it was isolated and had time"
                assert self.competence != "outside", "opened by someone who leaves it shut"
            case "try_meter":
                assert self.supply == "cut" and self.open
            case "prove_dead":
                assert self.proof == ["try_meter"], "measured with a meter that was not tried"
            case "retry_meter":
                assert self.proof == ["try_meter", "prove_dead"]
            case "put_back" | "rewire":
                assert self.dead, "hands in a box that was not proved dead"
            case "close_box":
                assert self.supply == "cut" and not self.loose
            case "energise":
                assert not self.open, "energised with the box open"
                assert not self.loose, "energised with wires off"
            case "energise_open":
                assert self.dead and not self.loose, "energised without proving it first"
                assert self.competence == "live", "energised in the open by someone who does not work live"

    def did(self, step: str, moved: frozenset[tuple[str, str]] = frozenset()) -> None:
        """A step was confirmed."""
        self.may(step)
        match step:
            case "switch_off":
                self.supply, self.waited, self.proof = "switched off", False, []
            case "isolate":
                self.supply, self.proof = "cut", []
            case "wait":
                self.waited = True
            case "open_box":
                self.open, self.proof = True, []
            case "try_meter":
                self.proof = ["try_meter"]
            case "prove_dead" | "retry_meter":
                self.proof = [*self.proof, step]
            case "put_back":
                self.loose = False
            case "rewire":
                self.moved = moved
            case "close_box":
                self.open, self.proof = False, []
            case "energise" | "energise_open":
                self.supply, self.waited, self.proof = "on", False, []

    def meter_failed(self) -> None:
        """The meter showed nothing, or the circuit was not dead: nothing is proved."""
        self.proof = []

    def left_alone(self) -> None:
        """Nobody watched: whatever was off may be on."""
        if self.supply != "on":
            self.supply, self.waited, self.proof = "unknown", False, []

    def worked_on(self, opened: bool) -> None:
        """Somebody did something to the panel that nobody asked about."""
        self.supply, self.waited, self.proof, self.open = "unknown", False, [], self.open or opened
