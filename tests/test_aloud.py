"""Words for somebody else at the panel: over every panel's checks, in whole sessions, as files and as messages."""

from __future__ import annotations

import io
import json
import re
import subprocess
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import replace
from functools import lru_cache
from pathlib import Path

import pytest

from diagnose.checks import Check, offered_checks
from diagnose.circuit.netlist import build
from diagnose.errors import FileError
from diagnose.friend import Friend
from diagnose.knowledge.library import knowledge_folder
from diagnose.knowledge.never import findings_in
from diagnose.knowledge.regions import foreign_words
from diagnose.opening import Recorded, bundled_panels, open_panel
from diagnose.panel.records import Panel
from diagnose.protocol import serve
from diagnose.proving import AskProof, AskRepair, AskWorks, Closing, ProofQuestion, ProofStep
from diagnose.safety import COMPETENCES, PLAIN_STOP, lower_of
from diagnose.screen.console import PlainConsole, wrapped
from diagnose.screen.conversation import Conversation
from diagnose.screen.friendly import Phone
from diagnose.screen.messages import MessageFolder
from diagnose.session import AskCheck, ConfirmStep, Verdict, start
from diagnose.setups import named_setups
from diagnose.wording import check_cautions, own_words, proof_cautions, region_of, regional
from diagnose.wording.actions import change_actions, is_action, single_actions
from diagnose.wording.aloud import STOP_LINE, WIDEST, Aloud, aloud, check_said, message_lines, message_text
from diagnose.wording.aloud_proofs import proof_aloud
from diagnose.wording.changes import assumed
from tests.screen.helpers import COMMAND, ENVIRONMENT, START, proof_reply, recorded, shared_model, step_on

PANELS = [entry.name for entry in bundled_panels()]
EVERY = 15  # one in so many checks is looked at: all setups and quantities of a panel are among them
# An own list, so that what cuts lines into actions is not held against itself.
VERBS = (
    "turn|set|unplug|plug|put|take|open|close|press|read|hold|mark|check|look|listen|wait|stir|find|measure|move|bend|fill|"
    "heat|lock|pull|switch|tell|say|keep|touch|exchange"
)
PLAIN = {"NOT", "ON", "OFF", "LIVE", "STOP", "CHECK", "STEP", "THE", "END", "OF", "CHECKS", "TEST"}
SPOKEN = {"AC", "DC"}  # on the dial, said with what the sign looks like


@lru_cache(maxsize=8)
def offered(name: str) -> tuple[Panel, tuple[Check, ...]]:
    """A panel, and every check on all of its parts about its last element."""
    circuit = build(open_panel(name))
    panel = circuit.panel
    subject = panel.of_role("heater")[-1]
    setups = named_setups(circuit, subject)
    return panel, offered_checks(panel, setups, list(setups), [*panel.parts, *panel.wires_by_name], subject)


def said(panel: Panel, check: Check) -> Aloud:
    outcomes = panel.kind_of(check.part).signs[check.sign].outcomes if check.quantity == "sign" else ()
    return check_said(panel, None, check, outcomes, 7, "9.6–12.1 Ω")


@lru_cache(maxsize=8)
def sampled(name: str) -> list[tuple[Panel, Check, Aloud, list[str]]]:
    panel, checks = offered(name)
    told = [(check, said(panel, check)) for check in some_of(checks)]
    return [(panel, check, each, message_lines(each)) for check, each in told]


def some_of(checks: Sequence[Check]) -> list[Check]:
    """One in so many of each setup and quantity, at least one of each."""
    sorts: dict[tuple[str, str], list[Check]] = {}
    for check in checks:
        sorts.setdefault((check.setup_name, check.quantity), []).append(check)
    return [check for alike in sorts.values() for check in alike[::EVERY]]


@pytest.mark.parametrize("name", PANELS)
def test_the_sample_has_every_setup_and_quantity(name: str) -> None:
    _, checks = offered(name)
    some = some_of(checks)
    assert {check.setup_name for check in some} == {check.setup_name for check in checks}
    assert {check.exposure for check in some} == {"outside", "isolated", "live"}
    assert {check.quantity for check in some} >= {"sign", "voltage_ac", "resistance", "insulation"}


@pytest.mark.parametrize("name", PANELS)
def test_every_check_as_a_message(name: str) -> None:
    """Narrow, one action a line, named, with what to leave alone, what to say back, and its cautions."""
    for panel, check, told, lines in sampled(name):
        where, text = check.id, " ".join(" ".join(lines).split())
        assert max(map(len, lines)) <= WIDEST, where
        assert all(line.isprintable() for line in lines), where
        for action in (*told.lines, *told.asks):
            assert actions_in(action) <= 1, (where, action)
        names = [panel.label(check.part)] if check.part else []
        ends = [panel.terminal_label(end) for end in (check.tail, check.head) if end]
        wires = [panel.label(wire) for wire, _ in check.around]
        assert all(regional(panel, each) in text for each in (ends or wires or names)), where
        if check.exposure == "outside":
            assert "Do NOT open the box." in lines, where
        else:
            assert "Do NOT touch anything in the box but what I named" in text, where
        if check.setup.unplugged:
            assert "Do NOT touch the pins of a plug" in text, where
        assert any(ask.startswith(("Read me", "Tell me", "Say one of")) for ask in told.asks), where
        if check.quantity in ("resistance", "insulation"):
            assert "O L on the display" in text, where
        assert lines[-1] == STOP_LINE
        for caution in check_cautions(panel, check):
            assert caution in text, where


@pytest.mark.parametrize("name", PANELS)
def test_no_message_has_letters_that_nobody_explains(name: str) -> None:
    """Capitals are on the part itself, on the dial, plain words, or explained where they first stand."""
    for panel, check, _, lines in sampled(name):
        text = " ".join(" ".join(lines).split())
        labels = " ".join([*map(panel.label, panel.parts), panel.title])
        marks = " ".join(terminal.title for part in panel.parts.values() for terminal in part.kind.terminals.values())
        known = set(re.findall(r"\w+", labels + " " + marks)) | PLAIN | SPOKEN
        for word in set(re.findall(r"\b[A-Z][A-Z0-9]+\b", text)) - known:
            assert f"({word}: " in text or f"marked {word}" in text, (check.id, word)
        if re.search(r"\b(GFCI|RCD)\b", text):
            assert "RCD: the device with a TEST" in text or "GFCI: the device with a TEST" in text, check.id


@pytest.mark.parametrize("name", PANELS)
def test_no_message_advises_what_is_never_done_or_speaks_of_elsewhere(name: str) -> None:
    for panel, check, _, lines in sampled(name):
        text = "\n".join(" ".join(line.split()) for line in lines)
        assert findings_in(" ".join(lines)) == (), check.id
        assert foreign_words(region_of(panel), text, own_words(panel)) == (), check.id


def actions_in(sentence: str) -> int:
    """How many things a sentence asks for: clauses that begin with a verb that tells someone to do something."""
    clauses = re.split(r"[.;]\s+|,\s+(?:and\s+|then\s+)?|\s+and\s+then\s+|\s+then\s+|\s+and\s+", sentence)
    return sum(bool(re.match(rf"(?:{VERBS})\b", clause.strip(), re.IGNORECASE)) for clause in clauses)


def test_the_counting_of_actions_counts() -> None:
    assert actions_in("Turn the switch off and pull the plug.") == 2
    assert actions_in("Stir, wait a minute.") == 2
    assert actions_in("Turn boil switch to ON.") == 1


@pytest.mark.parametrize(
    ("text", "actions"),
    [
        ("Hold both in the same water, stir, wait a minute. Within 2 °C is right.",
         ["Hold both in the same water.", "Stir.", "Wait a minute.", "Within 2 °C is right."]),
        ("Set it once. If it trips at once, leave it off - do not set it again.",
         ["Set it once.", "If it trips at once, leave it off.", "Do not set it again."]),
        ("Turn off the breaker that feeds the panel, and lock it or tape and tag it.",
         ["Turn off the breaker that feeds the panel.", "Lock it or tape and tag it."]),
        ("If the plug is too hot to hold, leave it and type danger.",
         ["If the plug is too hot to hold, leave it and tell me at once."]),
    ],
)  # fmt: skip
def test_lines_are_cut_into_single_actions(text: str, actions: list[str]) -> None:
    assert single_actions(text) == actions


@pytest.mark.parametrize("name", PANELS)
def test_each_handle_that_moves_has_a_line_of_its_own(name: str) -> None:
    """From the start to each setup: as many turns as handles differ, none lost in the wording."""
    panel, checks = offered(name)
    for check in {check.setup_name: check for check in checks}.values():
        lines = change_actions(panel, None, check.setup)
        before = assumed(panel, None, check.setup)
        protection = () if check.setup.supply_on else panel.supply.protection
        moved = [n for n, at in check.setup.positions if before.position(n) != at and n not in protection]
        turns = [line for line in lines if line.startswith("Turn ")]
        assert len(turns) == len(moved), (check.setup_name, lines)
        assert all(any(panel.label(n) in line for line in turns) for n in moved)


# Sessions -------------------------------------------------------------------------------------------------


def test_the_lower_of_two_competences_counts() -> None:
    for one in COMPETENCES:
        for other in COMPETENCES:
            both = lower_of(one, other)
            assert COMPETENCES.index(both) == min(COMPETENCES.index(one), COMPETENCES.index(other))
            assert both == lower_of(other, one)


def test_a_whole_session_read_aloud_finds_the_fault(tmp_path: Path) -> None:
    """Every step and check goes through its words, each kept as a file; the hidden fault is found all the same."""
    going, _ = recorded("isolated")
    phone = Phone(opening_friend(tmp_path))
    seen: list[type] = []
    while not isinstance(question := going.question, Verdict):
        told = aloud(going.session, question, 1)
        assert told.lines and told.asks and told.hear
        assert max(map(len, message_lines(told))) <= WIDEST
        if isinstance(question, ConfirmStep):
            actions = [line for line in told.lines if is_action(line)]
            assert actions and all(actions_in(line) <= 1 for line in actions), told.lines
            opened = going.session.state.open or "open" in question.step
            assert any("anything in the box" in line for line in told.leave) == opened
        phone.send(going.session, question)
        seen.append(type(question))
        step_on(going)
    phone.send(going.session, question)
    assert question.kind == "found" and question.part == "element"
    assert {ConfirmStep, AskCheck} == set(seen)
    files = sorted(path.name for path in tmp_path.iterdir())
    assert files == [f"{number:03d}.txt" for number in range(1, len(seen) + 2)]
    last = (tmp_path / files[-1]).read_text(encoding="utf-8")
    assert "Leave the supply off." in last and "Replace the element" in last


def opening_friend(folder: Path | None) -> Friend:
    return Friend(None, folder)


def talked(lines: str, folder: Path | None = None) -> str:
    """What the screen shows when these lines are typed, with somebody else at the panel."""
    out = io.StringIO()
    going, _ = recorded("isolated")
    with suppress(EOFError):
        Conversation(PlainConsole(io.StringIO(lines), out), going, "log", Phone(opening_friend(folder))).run()
    return out.getvalue()


def test_the_screen_reads_aloud_and_says_what_to_listen_for() -> None:
    shown = talked("")
    assert "read aloud" in shown and "You should hear: " in shown
    assert "They hesitate or can't find it: stop them." in shown
    assert max(map(len, shown.splitlines())) <= 80


def test_the_word_text_prints_the_message_alone() -> None:
    """Nothing of the screen is in it: it is the very text that would be sent."""
    shown = talked("text\n")
    going, _ = recorded("isolated")
    message = message_text(aloud(going.session, going.question, 1))
    assert message in shown
    assert "You should hear" not in message and "> " not in message


def test_danger_is_sent_ahead_of_anything_else(tmp_path: Path) -> None:
    talked("smoke\n", tmp_path)
    last = (tmp_path / "002.txt").read_text(encoding="utf-8")
    assert last.startswith("STOP\n") and "cut the supply at the far end" in " ".join(last.split())
    assert "call 112" in last


def test_every_question_fits_a_screen_of_24_lines_but_the_first() -> None:
    """The first one has the state to begin from as well."""
    going, _ = recorded("isolated")
    phone = Phone(opening_friend(None))
    count = 0
    while not isinstance(question := going.question, Verdict):
        page = phone.page(going.session, question, "")
        shown = wrapped([page.title, *page.lines], 80)
        assert len(shown) <= (24 if count else 28), shown
        count += 1
        step_on(going)


def test_a_plain_stop_is_no_danger() -> None:
    going, _ = recorded("isolated")
    going.do("stop", PLAIN_STOP)
    told = aloud(going.session, going.question, 1)
    assert "We stop here, and go on later." in told.lines and told.title != "STOP"


# Files ----------------------------------------------------------------------------------------------------


def test_messages_are_numbered_on_and_nothing_is_written_over(tmp_path: Path) -> None:
    (tmp_path / "002.txt").write_text("mine", encoding="utf-8")
    (tmp_path / "notes.txt").write_text("mine", encoding="utf-8")
    folder = MessageFolder(tmp_path)
    folder.prepare()
    assert folder.write("one").name == "003.txt"
    assert folder.write("two").name == "004.txt"
    assert (tmp_path / "002.txt").read_text(encoding="utf-8") == "mine"


def test_a_link_that_leads_elsewhere_is_not_written_through(tmp_path: Path) -> None:
    """Whoever puts a link where the next message would go gets no message through it."""
    inside, outside = tmp_path / "messages", tmp_path / "elsewhere.txt"
    inside.mkdir()
    (inside / "001.txt").symlink_to(outside)
    assert MessageFolder(inside).write("one").name == "002.txt"
    assert not outside.exists()


def test_a_folder_that_is_a_file_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "file"
    path.write_text("", encoding="utf-8")
    with pytest.raises(FileError, match="file exists; expected a folder for the messages that can be written to"):
        MessageFolder(path).prepare()


# Front ends -----------------------------------------------------------------------------------------------


def test_the_line_protocol_carries_the_words(tmp_path: Path) -> None:
    """In every message that asks for something, as the schema says; without a friend there are none."""
    jsonschema = pytest.importorskip("jsonschema", reason="jsonschema is in the test extra")
    schema = json.loads((knowledge_folder() / "protocol.schema.json").read_text(encoding="utf-8"))
    options = ["--json-lines", "--competence", "live", "--friend", "--friend-competence", "isolated"]
    ended = subprocess.run(
        [*COMMAND, *START, *options, "--log", str(tmp_path / "log.yaml")],
        input=b'{"answer": 1}\n{"skip": true}\n{"stop": "smoke"}\n', capture_output=True, env=ENVIRONMENT, timeout=120,
    )  # fmt: skip
    messages = [json.loads(line) for line in ended.stdout.splitlines()]
    assert messages[0]["friend"] is True and messages[0]["competence"] == "isolated"
    for message in messages:
        jsonschema.Draft202012Validator({"$ref": f"#/$defs/{message['type']}", "$defs": schema["$defs"]}).validate(
            message
        )
        assert ("aloud" in message) == (message["type"] in ("step", "check", "verdict"))
    assert messages[-1]["aloud"][0] == "STOP"


def test_without_a_friend_no_words_are_sent() -> None:
    model = shared_model()
    out: list[bytes] = []
    serve(Recorded(start(model, "outside"), lambda event: None), {"type": "hello"}, io.BytesIO(b""), out.append)
    assert "aloud" not in json.loads(out[1])


def test_both_are_asked_and_the_lower_counts(tmp_path: Path) -> None:
    """Yours first, then theirs; what is typed for one is never taken for the other."""
    ended = subprocess.run(
        [*COMMAND, *START, "--friend", "--instruments", "multimeter", "--log", str(tmp_path / "log.yaml")],
        input="yes\nyes\nyes\nyes\nno\nno\nstop\n", capture_output=True, text=True, env=ENVIRONMENT, timeout=120,
    )  # fmt: skip
    assert "For the two of you, the lower counts: outside." in ended.stdout
    assert "competence: outside" in (tmp_path / "log.yaml").read_text(encoding="utf-8")
    assert "read aloud" in ended.stdout and ended.returncode == 0


# After the verdict ------------------------------------------------------------------------------------------


def proofs_aloud(competence: str) -> list[tuple[ProofQuestion, Aloud, Recorded]]:
    """All that comes after the verdict, read aloud, with the session as it was."""
    going, _ = recorded(competence)  # type: ignore[arg-type]
    while not isinstance(verdict := going.question, Verdict):
        step_on(going)
    told = []
    while (question := going.proof) is not None:
        now = Recorded(going.session, lambda event: None)
        told.append((question, proof_aloud(going.session, question, verdict.part), now))
        if isinstance(question, Closing):
            break
        what, text = proof_reply(question)
        going.prove(text) if what == "proof" else going.do(what, text)
    return told


@pytest.mark.parametrize("competence", ["isolated", "live"])
def test_proof_checks_are_read_aloud_one_action_a_line(competence: str) -> None:
    told = proofs_aloud(competence)
    assert {type(question) for question, _, _ in told} == {AskRepair, ProofStep, AskProof, AskWorks, Closing}
    for question, said_of, going in told:
        lines = message_lines(said_of)
        text = " ".join(" ".join(lines).split())
        assert max(map(len, lines)) <= WIDEST and lines[-1] == STOP_LINE
        for action in said_of.lines:
            assert actions_in(action) <= 1, action
        if not isinstance(question, ProofStep | AskProof):
            continue
        panel, verdict = going.session.model.panel, going.question
        assert isinstance(verdict, Verdict)
        for caution in proof_cautions(panel, verdict.part, question.proof, going.session.model.complaint):
            assert caution in text
        assert any(ask.startswith(("Say 'done'", "Read me", "Tell me")) for ask in said_of.asks)
        if isinstance(question, ProofStep) and not question.state.open and question.step != "open_box":
            assert "Do NOT open the box." in lines
        if isinstance(question, AskProof) and question.limits and not question.by_other:
            assert any("It passes within" in text for text in said_of.hear)


def test_a_proof_check_that_is_not_theirs_is_not_read_to_them_as_work() -> None:
    """Who leaves the box shut is told that somebody else does it, and not how."""
    (question, said_of, going) = next(
        each for each in proofs_aloud("isolated") if isinstance(each[0], AskProof) and each[0].proof.name == "gfci_test"
    )
    assert isinstance(question, AskProof) and not question.by_other
    other = proof_aloud(going.session, replace(question, by_other=True), "element")
    assert "This is not for you" in other.lines[0] and len(other.lines) < len(said_of.lines)


def test_the_screen_of_who_reads_aloud_goes_on_after_the_verdict(tmp_path: Path) -> None:
    """Each step to a proof check is read aloud too, sent with text, and kept in the folder."""
    going, _ = recorded("isolated")
    lines = []
    while not isinstance(going.question, Verdict):
        step_on(going)
    beside = Recorded(going.session, lambda event: None)
    while not isinstance(beside.proof, Closing):
        what, text = proof_reply(beside.proof)
        lines += ["text"] if isinstance(beside.proof, AskProof) else []
        lines.append(text)
        beside.prove(text) if what == "proof" else beside.do(what, text)
    out = io.StringIO()
    phone = Phone(Friend("isolated", tmp_path))
    Conversation(PlainConsole(io.StringIO("\n".join(lines) + "\n"), out, 100), going, "log", phone).run()
    said_all = out.getvalue()
    assert "STEP: Switch off - read aloud" in said_all
    assert said_all.count("BEFORE IT IS USED AGAIN: Ground") + said_all.count("BEFORE IT IS USED AGAIN: Earth") == 2
    kept = [path.read_text(encoding="utf-8") for path in sorted(tmp_path.iterdir())]
    assert kept[1].startswith("MENDED?") and kept[-1].startswith("THE END\n")
    assert len(kept) == 2 + len(lines) - lines.count("text")


def test_a_program_gets_the_words_after_the_verdict_too() -> None:
    going, _ = recorded("isolated")
    while not isinstance(going.question, Verdict):
        step_on(going)
    out: list[bytes] = []
    requests = b'{"answer": "yes"}\n{"answer": "done"}\n'
    serve(going, {"type": "hello"}, io.BytesIO(requests), out.append, friend=True)
    messages = [json.loads(line) for line in out]
    assert {message["type"] for message in messages[2:]} == {"repair", "step"}
    assert all(message["aloud"][-1] == STOP_LINE for message in messages[1:])
