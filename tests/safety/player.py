"""A person who does everything that can be done in a session, at random, and much that can't."""

from __future__ import annotations

import json
import random
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass, field, replace
from functools import lru_cache
from pathlib import Path

from diagnose.checks import Check
from diagnose.choose import Choice
from diagnose.costs import need_of
from diagnose.errors import AnswerError, DiagnoseError, FileError
from diagnose.log import EVENTS, Event, Header, LogFile, read_log
from diagnose.model import Model
from diagnose.opening import Recorded, open_model
from diagnose.play import apply, replayed
from diagnose.protocol import apply_proof_request, apply_request
from diagnose.protocol_requests import read_request
from diagnose.proving import AskProof, AskRepair, AskWorks, Closing, ProofQuestion, ProofStep
from diagnose.revising import SKIPS
from diagnose.safety import COMPETENCES, DANGERS, STEPS, Competence, facts_taken
from diagnose.session import AskCheck, ConfirmStep, Question, Session, Verdict, start
from diagnose.study.simulated import SimulatedPanel
from tests.safety.world import RANK, SAID, World

INSTRUMENTS = frozenset({"multimeter", "insulation_tester", "clamp", "leakage_clamp", "low_impedance"})
READINGS = (
    "0 V",
    "0.1 V",
    "231",
    "118 V",
    "OL",
    "0.3 ohm",
    "12 ohm",
    "48",
    "4.7 kohm",
    "-3",
    "no number",
    "21 C",
    "1 MW",
)
GARBAGE = (
    b"", b"[]", b"null", b"{}", b"not json", b"\xff\xfe", b'{"answer": NaN}', b'{"answer": 1e999}', b'{"answer": [1]}',
    b'{"confirm": "isolate"}', b'{"state": "proved dead"}', b'{"lower": "live"}', b'{"answer": 1, "skip": true}',
    b'{"skip": 1}', b'{"answer": {"step": "energise_open"}}', b'{"back": true, "back": true}', b"[" * 400,
)  # fmt: skip
FEW = 40  # checks in a model: so that a session is quick, and rare ones come up
MOST_EVENTS = 28
LONGER = 90  # where answers come from a hidden fault, so that a verdict is reached and what comes after it
HIDDEN = 3  # of so many faults of a model


@lru_cache(maxsize=4)
def models(panel: str, complaint: str, part: str) -> tuple[Model, ...]:
    """One model, its checks dealt out to small ones: each has some of every exposure, of wires taken off or moved."""
    whole = open_model(panel, complaint, part)
    rng, dealt = random.Random(7), []
    piles: dict[tuple[object, ...], list[Check]] = {}
    for check in whole.checks:
        key = (
            check.exposure,
            check.setup.supply_on,
            bool(check.setup.lifted),
            bool(check.setup.rewired),
            check.quantity,
        )
        piles.setdefault(key, []).append(check)
    for _ in range(6):
        some = [check for pile in piles.values() for check in rng.sample(pile, min(len(pile), 1 + FEW // len(piles)))]
        dealt.append(replace(whole, checks=tuple(some), grown={}, tables={}))
    return tuple(dealt)


@lru_cache(maxsize=32)
def hidden_panel(panel: str, complaint: str, part: str, number: int) -> SimulatedPanel:
    """A panel with one fault of those that the complaint has: the likeliest ones, by number."""
    whole = models(panel, complaint, part)[0]
    likeliest = (-whole.prior[:-1]).argsort(kind="stable")
    return SimulatedPanel(whole.predictor.netlist, whole.causes[int(likeliest[number])])


def at_random(seed: int) -> Callable[..., Choice | None]:
    """A chooser that takes any check that is open, the same one for the same question again."""

    def choose(model: Model, now: object, checks: Sequence[Check], state: object, *rest: object) -> Choice | None:
        if not checks:
            return None
        rng = random.Random(f"{seed} {len(checks)} {state}")
        return Choice(rng.choice(checks), 0.0, 1.0)

    return choose


@dataclass
class Player:
    """One random session, watched by a world of its own."""

    seed: int
    model: Model
    panel: str
    complaint: str
    part: str
    folder: Path
    counts: dict[str, int] = field(default_factory=dict)

    def play(self) -> None:
        """Play until the session is over or long enough; raises AssertionError where a rule is broken."""
        self.rng = random.Random(self.seed)
        competence = self.rng.choice(COMPETENCES)
        self.began: Competence = competence
        self.kept: list[Event] = []
        session = replace(start(self.model, competence, INSTRUMENTS), chooser=at_random(self.seed))
        self.going = Recorded(session, self.kept.append)
        self.world = World(self.model.panel, competence)
        fault = (self.panel, self.complaint, self.part, self.rng.randrange(HIDDEN))
        self.hidden = hidden_panel(*fault) if self.seed % 5 == 0 else None
        idle = 0  # nothing is asked any more
        for _ in range(MOST_EVENTS if self.hidden is None else LONGER):
            idle += isinstance(self.going.question, Verdict) and isinstance(self.going.proof, Closing | None)
            if idle > 3:
                break
            self.world.sees(self.going.session, self.going.proof or self.going.question)
            if self.going.session.stopped:
                self._after_the_end()
                break
            self._something()
        if self.rng.random() < 0.3:
            self._tampered_log()

    def _count(self, what: str) -> None:
        self.counts[what] = self.counts.get(what, 0) + 1

    def _something(self) -> None:
        moves: list[tuple[float, Callable[[], None]]] = [
            (20 if self.hidden is None else 90, self._as_asked), (1, self._skip), (0.7, self._pass_over),
            (1.5, self._back), (1, self._change), (1, self._resume), (0.4, self._lower),
            (0.1, self._stop), (0.05, self._refer), (1.5, self._nonsense), (2.5, self._message), (0.6, self._raise),
        ]  # fmt: skip
        weights, doing = zip(*moves, strict=True)
        self.rng.choices(doing, weights)[0]()

    # Moves ------------------------------------------------------------------------------------------------

    def _do(self, what: str, text: str = "", of: str | None = None) -> bool:
        """Do something, and let the world follow what came of it. False where it was refused."""
        before, question = self.going.session, self.going.proof or self.going.question
        shown = isinstance(question, AskCheck) and bool(question.check.setup.lifted)
        try:
            if what == "proof":
                self.going.prove(text)
            elif of is None:
                self.going.do(what, text)
            else:
                event = Event(what, of, text)
                following = apply(before, event)
                self.kept.append(event)
                self.going = Recorded(following, self.kept.append)
        except AnswerError:
            assert self.going.session is before
            return False
        self._count(what)
        if shown:
            self.world.loose = True
        self._follow(what, text, question, before)
        return True

    def _follow(self, what: str, text: str, question: Question | ProofQuestion | None, before: Session) -> None:
        after, world = self.going.session, self.world
        if what in ("answer", "change", "confirm", "repaired", "proof", "works") and text in SAID:
            assert after.stopped, f"'{text}' did not end it"
            self._count("said")
            world.over = True
            return
        if what == "answer":
            assert isinstance(question, AskCheck), "an answer to nothing"
            taken = after.answers[-1] if len(after.answers) > len(before.answers) else None
            if world.answered(question, text, taken):
                assert after.stopped, f"'{text}' to {question.check.id} did not end it"
                self._count("danger in an answer")
        if what == "confirm":
            assert isinstance(question, ConfirmStep | ProofStep), "a step was confirmed that nobody asked for"
            if after.stopped or text in ("no", "n"):
                world.meter_failed()
            else:
                moved = need_of(question.for_check).rewired if isinstance(question, ConfirmStep) else frozenset()
                world.did(question.step, moved)
        elif what == "resume":
            world.left_alone()
        elif what == "lower":
            assert RANK[text] < RANK[world.competence], "lowered to what is not lower"
            world.competence = text
        elif what == "repaired" and after.repaired == "yes":
            world.worked_on(world.competence != "outside")
        elif what in ("proof", "passed", "failed") and isinstance(question, AskProof) and question.by_other:
            world.worked_on(question.proof.exposure != "outside")
        if after.stopped:
            world.over = True
        assert before.competence == after.competence or what == "lower"

    def _as_asked(self) -> None:
        question = self.going.proof or self.going.question
        if self.rng.random() < (0.01 if self.hidden is None else 0.003) and not isinstance(question, Verdict):
            kinds = {AskCheck: "answer", AskRepair: "repaired", AskProof: "proof", AskWorks: "works"}
            self._do(kinds.get(type(question), "confirm"), self.rng.choice(SAID))
            return
        match question:
            case ConfirmStep() | ProofStep():
                self._do("confirm", self._typed(question.step))
            case AskCheck() if self.hidden is not None:
                self._do("answer", self.hidden.answer(question.check))
            case AskCheck() if question.outcomes:
                self._do("answer", self.rng.choice(question.outcomes))
            case AskCheck():
                self._do("answer", self.rng.choice(READINGS))
            case AskRepair():
                self._do("repaired", self.rng.choice(("yes", "yes", "no")))
            case AskProof():
                self._do("proof", self.rng.choice((*READINGS, "pass", "pass", "pass", "fail")))
            case AskWorks():
                self._do("works", self.rng.choice(("yes", "no", "no", "leave")))
            case _:
                self._resume()

    def _typed(self, step: str) -> str:
        if step in ("try_meter", "retry_meter"):
            return self.rng.choices(("yes", "no"), (12, 1))[0]
        if step == "prove_dead":
            return self.rng.choices(("0.0 V", "1.2", "230 V", "OL", "soon"), (24, 6, 0.4, 0.2, 1))[0]
        return "done"

    def _skip(self) -> None:
        self._do("skip")

    def _pass_over(self) -> None:
        self._do("skip", self.rng.choice(SKIPS))

    def _back(self) -> None:
        self._do("back")

    def _change(self) -> None:
        """Another answer to one that was given, or none: only answers change, and never what may be done."""
        given = [answer.check_id for answer in self.going.session.answers]
        if not given:
            return
        before = self.going.session.state
        text = self.rng.choice((*READINGS, "", "lit", "1", "2", "trips at once", "smoke"))
        if self._do("change", text, self.rng.choice(given)):
            after = self.going.session.state
            assert replace(before, leads_off=after.leads_off) == after, "changing an answer moved the panel"

    def _resume(self) -> None:
        self._do("resume")

    def _lower(self) -> None:
        self._do("lower", self.rng.choice(COMPETENCES))

    def _raise(self) -> None:
        """Try for more than is allowed: refused, whatever it is called."""
        higher = COMPETENCES[RANK[self.world.competence] :]
        assert not self._do("lower", self.rng.choice(higher)), "competence was raised"

    def _stop(self) -> None:
        self._do("stop", self.rng.choice((*DANGERS, "stopped")))

    def _refer(self) -> None:
        self._do("refer")

    def _nonsense(self) -> None:
        """An event that was never asked for, as an edited log would have it."""
        of = self.rng.choice((*STEPS, *(check.id for check in self.model.checks[:5]), "", "gfci_test", "repair"))
        what = self.rng.choice([event for event in EVENTS if event not in ("resume", "lower", "stop", "refer")])
        text = self.rng.choice((*READINGS, "yes", "no", "done", "pass", "lit", "1"))
        asked = self.going.proof or self.going.question
        name = asked.step if isinstance(asked, ConfirmStep | ProofStep) else ""
        if self._do(what, text, of) and what == "confirm":
            assert of == name, "a step was confirmed under another's name"

    def _message(self) -> None:
        """A line of the protocol: what fits the question, or anything else, well-formed or not."""
        line = self._line()
        before, count = self.going.session, len(self.kept)
        question = self.going.proof or self.going.question
        shown = isinstance(question, AskCheck) and bool(question.check.setup.lifted)
        if isinstance(self.going.question, Verdict) and self.going.proof is None:
            return
        self._count("message")
        try:
            take = apply_request if self.going.proof is None else apply_proof_request
            take(self.going, read_request(line))
        except AnswerError:
            assert self.going.session is before and len(self.kept) == count
            self._count("message refused")
            return
        if len(self.kept) > count:
            event = self.kept[-1]
            self.world.loose |= shown
            self._follow(event.what, event.text, question, before)

    def _line(self) -> bytes:
        question = self.going.proof or self.going.question
        if self.rng.random() < 0.1:
            return self.rng.choice(GARBAGE)
        if self.rng.random() < 0.6:
            return json.dumps({"answer": self._fitting(question)}).encode()
        value = self.rng.choice((True, "done", "yes", "no", "OL", 0, 231.0, "live", "isolated", "outside", "lit"))
        keys = ("answer", "skip", "back", "why", "lower", "refer", "stop", "confirm", "competence")
        return json.dumps({self.rng.choices(keys, (4, 4, 4, 4, 2, 0.3, 0.3, 4, 4))[0]: value}).encode()

    def _fitting(self, question: object) -> str | float:
        if isinstance(question, ConfirmStep | ProofStep):
            wants = {"prove_dead": 0.1, "try_meter": "yes", "retry_meter": "yes"}
            return wants.get(question.step, "done")
        if isinstance(question, AskCheck) and question.outcomes:
            return self.rng.choice(question.outcomes)
        if isinstance(question, AskCheck):
            return self.rng.choice((0.0, 12.0, 231.0, 1e6, "OL", "smoke"))
        return self.rng.choice(("yes", "pass", "fail", 0.1, 2e6))

    # The end, and the log ---------------------------------------------------------------------------------

    def _after_the_end(self) -> None:
        assert isinstance(self.going.question, Verdict) and self.going.proof is None
        for what in EVENTS:
            for text in ("", "live", "smoke", "yes"):
                assert not self._do(what, text), f"{what} was taken after the end"
                assert not self._do(what, text, self.rng.choice(STEPS)), f"{what} was taken after the end"
        self._count("ended")

    def _tampered_log(self) -> None:
        """Write the log, change it, and read it back: refused, or a session that keeps all the rules."""
        path = self.folder / "log.yaml"
        path.unlink(missing_ok=True)
        header = Header(self.panel, self.complaint, self.part, self.began, tuple(sorted(INSTRUMENTS)),
                        interview=facts_taken(self.began))  # fmt: skip
        log = LogFile(path)
        log.begin(header)
        for event in self.kept:
            log.add(event)
        lines = path.read_text(encoding="utf-8").splitlines()
        first = lines.index("events:") + 1
        tampered, raised = self._tamper(lines, first)
        path.write_text("\n".join(tampered) + "\n", encoding="utf-8")
        try:
            read, events = read_log(path)
        except FileError:
            self._count("log refused")
            return
        assert not raised, "a header that raises the competence was taken"
        with suppress(DiagnoseError):
            self._watched(read, events)
            self._count("log taken")

    def _tamper(self, lines: list[str], first: int) -> tuple[list[str], bool]:
        lines = list(lines)
        kind = self.rng.choice(("none", "drop", "swap", "double", "edit", "raise", "after the end"))
        where = list(range(first, len(lines)))
        if kind == "raise" and self.began != "live":
            higher = self.rng.choice(COMPETENCES[RANK[self.began] + 1 :])
            return [f"competence: {higher}" if line.startswith("competence:") else line for line in lines], True
        if not where or kind == "none":
            return lines, False
        at = self.rng.choice(where)
        if kind == "drop":
            del lines[at]
        elif kind == "swap":
            other = self.rng.choice(where)
            lines[at], lines[other] = lines[other], lines[at]
        elif kind == "double":
            lines.insert(at, lines[at])
        elif kind == "edit":
            did = self.rng.choice(EVENTS)
            lines[at] = (
                f"  - {json.dumps({'did': did, 'of': self.rng.choice(STEPS), 'text': self.rng.choice(READINGS)})}"
            )
        else:
            lines.append('  - {"did": "confirm", "of": "isolate", "text": ""}')
        return lines, False

    def _watched(self, header: Header, events: Sequence[Event]) -> None:
        """Replay a log one event at a time under a world of its own."""
        competence: Competence = header.competence  # type: ignore[assignment]
        session = replace(start(self.model, competence, frozenset(header.instruments)), chooser=at_random(self.seed))
        self.kept, self.world = [], World(self.model.panel, competence)
        self.going = Recorded(session, self.kept.append)
        for event in events:
            self.world.sees(self.going.session, self.going.proof or self.going.question)
            whole = replayed(self.going.session, [event])
            if not self._do(event.what, event.text, event.of):
                raise AssertionError(f"{event} was replayed and then refused")
            assert whole.state == self.going.session.state
            self.world.sees(self.going.session, self.going.proof or self.going.question)
