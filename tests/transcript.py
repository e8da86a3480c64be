"""The session that README.md shows a part of: `python -m tests.transcript` prints all of it."""

from __future__ import annotations

import io

from diagnose.causes import causes_of
from diagnose.opening import Recorded, open_model
from diagnose.proving import Closing
from diagnose.screen.console import PlainConsole
from diagnose.screen.conversation import Conversation
from diagnose.session import AskCheck, ConfirmStep, Verdict, start
from diagnose.study.simulated import SimulatedPanel
from tests.screen.helpers import proof_reply, typed_to_step

SHOWN = ("cellar_two_kettle", "element_cold", "boil_element")
HIDDEN = "boil_element:open"


class _Screen(io.StringIO):
    """Text as on a terminal that shows every character."""

    encoding = "utf-8"


def transcript() -> str:
    """A whole session about a burned-out element, on plain lines of 80 columns, to the end of its proof checks."""
    model = open_model(*SHOWN)
    cause = next(cause for cause in causes_of(model.panel) if cause.key == HIDDEN)
    panel = SimulatedPanel(model.predictor.netlist, cause)
    beside = Recorded(start(model, "isolated", frozenset({"multimeter"})), lambda event: None)
    typed: list[str] = []
    while not isinstance(question := beside.question, Verdict):
        if isinstance(question, ConfirmStep):
            typed.append(typed_to_step(question.step))
            beside.do("confirm", typed[-1])
        else:
            assert isinstance(question, AskCheck)
            typed.append(panel.answer(question.check))
            beside.do("answer", typed[-1])
    while not isinstance(beside.proof, Closing):
        what, text = proof_reply(beside.proof)
        typed.append(text)
        beside.prove(text) if what == "proof" else beside.do(what, text)
    out = _Screen()
    going = Recorded(start(model, "isolated", frozenset({"multimeter"})), lambda event: None)
    Conversation(PlainConsole(io.StringIO("\n".join(typed) + "\n"), out), going, "session.yaml").run()
    return out.getvalue()


if __name__ == "__main__":
    print(transcript(), end="")
