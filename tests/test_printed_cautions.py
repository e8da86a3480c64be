"""Whatever front end prints steps, a table or advice prints the cautions that apply to them. One row a front end."""

from __future__ import annotations

import html
import io
import json
import re
from collections.abc import Callable, Iterable, Iterator
from contextlib import redirect_stdout
from functools import lru_cache
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest

from diagnose.cli import main
from diagnose.friend import Friend
from diagnose.log import Header, LogFile
from diagnose.opening import Recorded, open_panel
from diagnose.protocol import message_of
from diagnose.protocol_proofs import proof_message
from diagnose.proving import AskProof, AskRepair, AskWorks, Closing, ProofStep, ask_proof
from diagnose.safety import Competence, facts_taken
from diagnose.screen.console import PlainConsole
from diagnose.screen.conversation import Conversation
from diagnose.screen.friendly import Phone
from diagnose.session import AskCheck, ConfirmStep, Verdict
from diagnose.texts import load_texts
from diagnose.wording import (
    caution_words,
    check_cautions,
    general_cautions,
    proof_cautions,
    review_cautions,
    step_cautions,
    table_cautions,
)
from diagnose.wording.cautions import caution_names
from tests.screen.helpers import COMPLAINT, PANEL, PART, proof_reply, recorded, reply, step_on

SHED = open_panel(PANEL)
Printed = tuple[str, list[str]]  # what was printed, and the cautions that have to be in it


def typed_lines(competence: Competence, proofs: bool = True) -> list[str]:
    """What a person types in a whole session, to the end of its proof checks."""
    going, _ = recorded(competence)
    lines = []
    while not isinstance(going.question, Verdict):
        lines.append(reply(going.question))
        step_on(going)
    while proofs and not isinstance(going.proof, Closing):
        what, text = proof_reply(going.proof)
        lines.append(text)
        going.prove(text) if what == "proof" else going.do(what, text)
    return lines


def whole_session(competence: Competence) -> Iterator[tuple[Recorded, object]]:
    """Each question of a session, those after the verdict as well, with what it is asked in."""
    going, _ = recorded(competence)
    while True:
        yield going, going.proof or going.question
        if isinstance(going.proof, Closing):
            return
        if isinstance(going.question, Verdict):
            what, text = proof_reply(going.proof)
            going.prove(text) if what == "proof" else going.do(what, text)
        else:
            step_on(going)


def wanted_of(going: Recorded, question: object) -> list[str]:
    """The cautions that apply to one question."""
    model = going.session.model
    match question:
        case AskCheck():
            return check_cautions(model.panel, question.check, model.complaint)
        case ConfirmStep():
            return step_cautions(model.panel, question.step, question.for_check, model.complaint)
        case AskProof() | ProofStep():
            verdict = going.question
            assert isinstance(verdict, Verdict)
            return proof_cautions(model.panel, verdict.part, question.proof, model.complaint)
    return caution_words(model.panel, ["always"])


# The session -------------------------------------------------------------------------------------------------


def screen(competence: Competence, phone: Phone | None = None) -> Printed:
    """A whole session on plain lines: all of its cautions, each at least once."""
    wanted = {caution for going, question in whole_session(competence) for caution in wanted_of(going, question)}
    going, _ = recorded(competence)
    out = io.StringIO()
    Conversation(
        PlainConsole(io.StringIO("\n".join(typed_lines(competence)) + "\n"), out, 10_000), going, "log", phone
    ).run()
    return out.getvalue(), sorted(wanted)


def friend_files() -> Printed:
    """Messages that are kept: each by itself is whole, so each question's are looked for in its own file."""
    with TemporaryDirectory() as folder:
        screen("live", Phone(Friend("live", Path(folder))))
        texts = [" ".join(path.read_text(encoding="utf-8").split()) for path in sorted(Path(folder).iterdir())]
    wanted = [wanted_of(going, question) for going, question in whole_session("live")]
    # The verdict is sent as well as what follows it.
    asked = [each for (_, question), each in zip(whole_session("live"), wanted, strict=True)
             if not isinstance(question, Closing)]  # fmt: skip
    missing = [caution for cautions in asked for caution in cautions if not any(caution in text for text in texts)]
    assert len(texts) >= len(asked)
    return " ".join(texts), missing


def protocol(friend: bool) -> Printed:
    """Each message carries all of its own: what is missing from one is asked of the whole, where it is not found."""
    missing = []
    for going, question in whole_session("live"):
        verdict = going.question
        part = verdict.part if isinstance(verdict, Verdict) else ""
        proof = ask_proof(going.session)
        message = (
            proof_message(going, proof, part, friend)
            if proof is not None
            else message_of(going.session, going.question, friend)
        )
        lines = " ".join(message.get("aloud", [])) if friend else " ".join(message["cautions"])
        assert bool(message.get("aloud")) == friend
        said = " ".join(lines.split())
        missing += [
            f"NOT SAID with {message['type']}: {text}" for text in wanted_of(going, question) if text not in said
        ]
    return "", missing


# Commands ----------------------------------------------------------------------------------------------------


def run(*arguments: str) -> str:
    out = io.StringIO()
    with redirect_stdout(out):
        assert main(list(arguments)) in (0, 1)
    return out.getvalue()


def sheet(suffix: str) -> Printed:
    with TemporaryDirectory() as folder:
        path = Path(folder) / f"sheet{suffix}"
        run("sheet", PANEL, "--complaint", "gfci_trips_with_element", "--competence", "isolated", "--out", str(path))
        text = path.read_text(encoding="utf-8")
    names = caution_names(SHED, ["outside", "isolated"], ["element"], supply_on=True, trips=True, heats=True)
    return text, caution_words(SHED, names)


def report(form: str) -> Printed:
    """A report of a whole session with live work, to the end of its proof checks."""
    going, kept = recorded("live")
    wanted: dict[str, None] = {}
    while not isinstance(going.proof, Closing):
        wanted |= dict.fromkeys(wanted_of(going, going.proof or going.question))
        if isinstance(going.question, Verdict):
            what, text = proof_reply(going.proof)
            going.prove(text) if what == "proof" else going.do(what, text)
        else:
            step_on(going)
    with TemporaryDirectory() as folder:
        log = LogFile(Path(folder) / "log.yaml")
        log.begin(Header(PANEL, COMPLAINT, PART, "live", ("multimeter",), interview=facts_taken("live")))
        for event in kept:
            log.add(event)
        return run("report", str(log.path), f"--{form}"), list(wanted)


def expect(form: str) -> Printed:
    return run("expect", PANEL, "--setup", "running", "--format", form), table_cautions(
        SHED, ["live"], ["outlet"], supply_on=True
    )


def findings(form: str) -> Printed:
    """A panel with something to be mended in its design."""
    panel = open_panel("carport_one_vessel")
    return run("review", "carport_one_vessel", "--format", form), review_cautions(panel)


def finish() -> Printed:
    return run("finish", PANEL, "--fault", "heat_lamp:open"), caution_words(SHED, ["always", "hot_liquid"])


def swing() -> Printed:
    text = run("swing", "0 60, 1 62, 2 64, 3 66, 4 68, 5 70, 6 71, 7 71, 8 70, 9 68, 10 66", "--set", "66C")
    return text, general_cautions("always", "stuck_on")


def kinds(form: str) -> Printed:
    return run("kinds", "--format", form), general_cautions("always", "dead", "live")


def draw(view: str) -> Printed:
    """No step is in it: the one line that goes before any."""
    return run("draw", PANEL, "--view", view, "--fault", "relay:open"), [
        "Supply off and proved dead before the box is opened."
    ]


FRONT_ENDS: dict[str, Callable[[], Printed]] = {
    "screen, outside": lambda: screen("outside"),
    "screen, isolated": lambda: screen("isolated"),
    "screen, live": lambda: screen("live"),
    "screen with a friend": lambda: screen("live", Phone(Friend("live"))),
    "messages to a friend": friend_files,
    "protocol": lambda: protocol(False),
    "protocol with a friend": lambda: protocol(True),
    "sheet, HTML": lambda: sheet(".html"),
    "sheet, text": lambda: sheet(".txt"),
    "expect, text": lambda: expect("text"),
    "expect, Markdown": lambda: expect("markdown"),
    "expect, JSON": lambda: expect("json"),
    "review, text": lambda: findings("text"),
    "review, Markdown": lambda: findings("markdown"),
    "review, JSON": lambda: findings("json"),
    "report, HTML": lambda: report("html"),
    "report, Markdown": lambda: report("markdown"),
    "report, text": lambda: report("text"),
    "finish": finish,
    "swing": swing,
    "kinds, text": lambda: kinds("text"),
    "kinds, Markdown": lambda: kinds("markdown"),
    "drawing, wiring": lambda: draw("wiring"),
    "drawing, one-line": lambda: draw("one-line"),
}
# Commands that print no step, table or advice for someone at a panel: each with its reason.
NONE_TO_CARRY = {
    "resume": "is start, from a log",
    "replay": "counts recorded faults",
    "study": "counts hidden faults",
    "learn": "counts confirmed faults",
    "validate": "lists what is wrong with files",
    "history": "lists what was found before",
    "describe": "writes a panel file; no step",
    "completion": "words for a shell",
    "coverage": "takes a minute: tests/coverage holds its pages against the cautions",
}


@lru_cache(maxsize=64)
def plain(text: str) -> str:
    """Printed text as one line, without a page's or a drawing's marks."""
    if text.lstrip().startswith("{"):
        text = json.dumps(json.loads(text), ensure_ascii=False)
    return " ".join(re.sub(r"\s+", " ", html.unescape(re.sub(r"<[^>]+>", " ", text))).split())


@pytest.mark.parametrize("name", FRONT_ENDS)
def test_what_is_printed_carries_its_cautions(name: str) -> None:
    text, wanted = FRONT_ENDS[name]()
    assert [caution for caution in wanted if caution not in plain(text)] == []


def test_every_command_is_a_row_or_has_a_reason_not_to_be() -> None:
    """A new command that prints something belongs in the table above."""
    from tests.test_documents import _subcommands

    rows = {name.partition(",")[0].partition(" ")[0] for name in FRONT_ENDS}
    named = {"screen": "start", "drawing": "draw"}
    new = set(_subcommands()) - {named.get(row, row) for row in rows} - set(NONE_TO_CARRY)
    assert new == set(), "a row in FRONT_ENDS with its cautions, or a reason in NONE_TO_CARRY"


def test_what_is_asked_after_a_verdict_is_warned_of_when_it_is_asked() -> None:
    """On the screen: live work and tripping devices with the proof check itself, an open box with the step to it."""
    texts = load_texts().cautions
    said: dict[str, str] = {}
    text, _ = screen("live")
    for page in re.split(r"\n\n", text):
        said[page.partition("\n")[0]] = " ".join(page.split())
    gfci = next(page for title, page in said.items() if title.startswith("Before it is used again - RCD"))
    assert texts["trip_once"] in gfci


def asked_after(competence: Competence) -> Iterable[type]:
    return {type(question) for _, question in whole_session(competence)}


def test_the_sessions_above_have_all_kinds_of_questions() -> None:
    assert set(asked_after("live")) == {AskCheck, ConfirmStep, AskRepair, AskProof, ProofStep, AskWorks, Closing}
