"""After a remedy that was not enough the same conversation goes on: on the screen, by the protocol, from the log."""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence

from diagnose.log import Event
from diagnose.opening import Recorded
from diagnose.play import replayed
from diagnose.protocol import serve
from diagnose.proving import AskProof, AskWorks, Closing, ask_proof
from diagnose.safety import WANTS
from diagnose.screen.conversation import Conversation
from diagnose.session import ConfirmStep, Verdict, ask, start
from diagnose.study.simulated import SimulatedPanel
from tests.screen.helpers import proof_reply
from tests.test_combined import INSTRUMENTS, cause, model, netlist

PAIR, BEHIND = "control_fuse:blown+relay:open", "relay:open"


class _Person:
    """Somebody at a panel with two faults, who mends what is named and says whether it works."""

    def __init__(self) -> None:
        self.kept: list[Event] = []
        self.going = Recorded(start(model("element_cold"), "live", INSTRUMENTS), self.kept.append)
        self.left = [SimulatedPanel(netlist(), cause(BEHIND)), SimulatedPanel(netlist(), None)]
        self.panel = SimulatedPanel(netlist(), cause(PAIR))
        self.named: list[str] = []

    def types(self) -> str:
        """What is typed to what is asked now."""
        question, proof = self.going.question, self.going.proof
        if isinstance(proof, AskWorks):
            assert isinstance(question, Verdict)
            self.named.append(question.part)
            self.panel = self.left.pop(0)
            return "no" if self.left else "yes"
        if proof is not None:
            return proof_reply(proof)[1]
        if isinstance(question, ConfirmStep):
            return {"done": "done", "shows": "yes", "volts": "0.1 V"}[WANTS[question.step]]
        assert not isinstance(question, Verdict)
        return self.panel.answer(question.check)


class _Console:
    width = 80

    def __init__(self, person: _Person) -> None:
        self.person, self.titles = person, []

    def say(self, lines: Iterable[str], title: str = "") -> None:
        """Keep the headings."""
        list(lines)
        self.titles += [title] if title else []

    def read(self, prompt: str, words: Sequence[str] = (), help: object = None) -> str:
        """Type what is asked for."""
        return self.person.types()


class _Source:
    def __init__(self, person: _Person) -> None:
        self.person = person

    def readline(self, most: int = -1) -> bytes:
        """The next request; no more once it is closed."""
        if isinstance(self.person.going.proof, Closing):
            return b""
        text = self.person.types()
        numeric = isinstance(self.person.going.proof, AskProof) and text not in ("pass", "OL")
        return json.dumps({"answer": float(text.split()[0]) if numeric else text}).encode() + b"\n"


def held(person: _Person) -> None:
    assert person.named == ["control_fuse", "relay"]
    closing = person.going.proof
    assert isinstance(closing, Closing) and closing.kind == "closed"
    assert [event.text for event in person.kept if event.what == "works"] == ["no", "yes"]
    again = replayed(start(model("element_cold"), "live", INSTRUMENTS), person.kept)
    assert ask_proof(again) == closing and again.answers == person.going.session.answers
    middle = next(number for number, event in enumerate(person.kept) if event.what == "works")
    cut_off = replayed(start(model("element_cold"), "live", INSTRUMENTS), person.kept[: middle + 1])
    assert ask_proof(cut_off) is None and not isinstance(ask(cut_off), Verdict), "a log that ends there is gone on with"


def test_on_the_screen() -> None:
    person = _Person()
    console = _Console(person)
    assert Conversation(console, person.going, "log.yaml").run() == 0
    assert console.titles.count("Found") == 2 and console.titles.count("Still wrong") == 1
    assert console.titles.index("Found") < console.titles.index("Still wrong")
    held(person)


def test_over_the_line_protocol() -> None:
    person = _Person()
    written: list[bytes] = []
    assert serve(person.going, {"type": "hello"}, _Source(person), written.append)  # type: ignore[arg-type]
    types = [json.loads(line)["type"] for line in written]
    assert types.count("verdict") == types.count("works") == 2 and types[-1] == "closed"
    assert "error" not in types
    after = types[types.index("works") + 1]
    assert after in ("step", "check"), "what comes next is said once, not twice"
    held(person)
