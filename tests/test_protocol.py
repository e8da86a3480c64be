"""The line protocol: requests, messages against their schema, and a whole session over a pipe."""

from __future__ import annotations

import io
import json
import signal
import subprocess
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from diagnose.errors import AnswerError
from diagnose.knowledge.library import knowledge_folder
from diagnose.opening import open_panel
from diagnose.play import asked_for
from diagnose.protocol import (
    LONGEST_LINE,
    PROTOCOL,
    encoded,
    serve,
    setup_data,
)
from diagnose.protocol_requests import Request, read_request
from diagnose.safety import DANGERS, StepName
from diagnose.session import AskCheck
from tests.screen.helpers import COMMAND, ENVIRONMENT, PANEL, START, recorded, reply, shared_model, simulated

SCHEMA = json.loads((knowledge_folder() / "protocol.schema.json").read_text(encoding="utf-8"))
ANY = (
    'one of {"answer": ...}, {"skip": true}, {"back": true}, {"why": true}, {"lower": ...}, {"refer": true}, '
    '{"stop": true}'
)


def _valid(message: dict[str, Any], kind: str) -> None:
    jsonschema = pytest.importorskip("jsonschema", reason="jsonschema is in the test extra")
    jsonschema.Draft202012Validator({"$ref": f"#/$defs/{kind}", "$defs": SCHEMA["$defs"]}).validate(message)


# Requests -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("line", "request_"),
    [
        ('{"answer": "118 V"}', Request("answer", "118 V")),
        ('{"answer": 118}', Request("answer", 118.0)),
        ('{"answer": 1.5e3}', Request("answer", 1500.0)),
        ('{"answer": "OL"}', Request("answer", "OL")),
        ('{"skip": true}', Request("skip")),
        ('{"back": true}', Request("back")),
        ('{"why": true}', Request("why")),
        ('{"stop": true}', Request("stop", "stopped")),
        ('{"stop": "smoke"}', Request("stop", "smoke")),
        (' {"skip":true} \r\n', Request("skip")),
    ],
)
def test_a_request_is_read(line: str, request_: Request) -> None:
    assert read_request(line.encode()) == request_
    _valid(json.loads(line), "request")


@pytest.mark.parametrize(
    ("line", "message"),
    [
        ("", f"this is not JSON: Expecting value at column 1; expected {ANY}"),
        ("hello", f"this is not JSON: Expecting value at column 1; expected {ANY}"),
        ("[]", f"this is a list; expected {ANY}"),
        ("null", f"this is null; expected {ANY}"),
        ("{}", f"there is no request; expected {ANY}"),
        ('{"answer": 1, "skip": true}', f"there is more than one request; expected {ANY}"),
        ('{"answer": 1, "answer": 2}', f"a key is there twice; expected {ANY}"),
        ('{"replay": true}', f"unknown key 'replay'; expected {ANY}"),
        ('{"skip": false}', "'skip' is false; expected true"),
        ('{"back": 1}', "'back' is a number; expected true"),
        ('{"answer": null}',
         "'answer' is null; expected a number in SI, or text: a reading, an outcome, OL, done"),
        ('{"answer": true}',
         "'answer' is true; expected a number in SI, or text: a reading, an outcome, OL, done"),
        ('{"answer": [1]}',
         "'answer' is a list; expected a number in SI, or text: a reading, an outcome, OL, done"),
        ('{"answer": NaN}', "NaN is no number; expected a number in SI, or OL as text"),
        ('{"answer": -Infinity}', "-Infinity is no number; expected a number in SI, or OL as text"),
        ('{"stop": "bored"}', f"'bored' is no reason to stop; expected true, or one of {', '.join(DANGERS)}"),
        ('{"stop": 0}', "'stop' is a number; expected true, or a danger's name"),
        ("[" * 60000, f"this is nested too deep, or has a number that is too long; expected {ANY}"),
        ('{"answer": ' + "9" * 9000 + "}",
         f"this is nested too deep, or has a number that is too long; expected {ANY}"),
        ('{"answer": ' + "9" * 400 + "}", "the number is too large; expected a number in SI, or text"),
    ],
)  # fmt: skip
def test_what_is_no_request_is_explained(line: str, message: str) -> None:
    with pytest.raises(AnswerError) as caught:
        read_request(line.encode())
    assert str(caught.value) == message


def test_bytes_that_are_no_text_are_refused() -> None:
    with pytest.raises(AnswerError, match=r"^this is not UTF-8; expected one of"):
        read_request(b'{"answer": "\xff"}')


def test_a_message_never_has_a_number_that_json_has_not() -> None:
    with pytest.raises(ValueError, match="not JSON compliant"):
        encoded({"type": "check", "value": float("nan")})


# Served in this process -----------------------------------------------------------------------------------


def _talk(*lines: str | bytes, competence: str = "isolated") -> tuple[list[dict[str, Any]], bool]:
    going, _ = recorded(competence)  # type: ignore[arg-type]
    source = io.BytesIO(b"".join(line if isinstance(line, bytes) else line.encode() + b"\n" for line in lines))
    written: list[bytes] = []
    ended = serve(going, {"type": "hello"}, source, written.append)
    assert all(line.endswith(b"\n") and line.count(b"\n") == 1 for line in written)
    return [json.loads(line) for line in written], ended


def test_an_error_is_followed_by_the_question_again() -> None:
    messages, ended = _talk("nonsense")
    assert [message["type"] for message in messages] == ["hello", "check", "error", "check"]
    assert messages[1] == messages[3]
    assert not ended


def test_an_answer_that_does_not_fit_is_an_error() -> None:
    messages, _ = _talk('{"answer": "ten"}', '{"answer": 3}', '{"back": true}')
    outcomes = messages[1]["outcomes"]
    choices = ", ".join(f"{number} {outcome}" for number, outcome in enumerate(outcomes, start=1))
    assert messages[2] == {"type": "error", "message": "'ten' is none of the answers", "expected": choices}
    wanted = f"one of {', '.join(outcomes)}"
    assert messages[4] == {"type": "error", "message": "a number is no outcome", "expected": wanted}
    assert messages[6]["message"] == "there is no answer to go back to"


def test_a_line_that_is_too_long_is_refused_once_and_the_next_is_read() -> None:
    long = b'{"answer": "' + b"x" * (3 * LONGEST_LINE) + b'"}\n'
    messages, _ = _talk(long, '{"why": true}')
    assert [message["type"] for message in messages] == ["hello", "check", "error", "check", "why"]
    assert messages[2]["message"] == f"the line is longer than {LONGEST_LINE} bytes"


def test_why_names_causes_and_what_outcomes_would_leave() -> None:
    messages, _ = _talk('{"why": true}')
    why = messages[2]
    _valid(why, "why")
    assert why["id"] == messages[1]["id"]
    assert {outcome["outcome"] for outcome in why["outcomes"]} <= set(messages[1]["outcomes"])
    shares = [cause["probability"] for cause in why["causes"]]
    assert shares == sorted(shares, reverse=True) and 0 < sum(shares) <= 1


@pytest.mark.parametrize("reason", [True, "smoke", "shock"])
def test_a_stop_ends_with_a_verdict(reason: object) -> None:
    messages, ended = _talk(json.dumps({"stop": reason}), '{"why": true}')
    verdict = messages[-1]
    _valid(verdict, "verdict")
    assert ended and len(messages) == 3
    assert verdict["kind"] == "stopped"
    assert ("lines" in verdict) == (reason is not True)


def test_every_check_is_as_the_schema_says() -> None:
    """Each check that is offered, OL among what is expected, is plain JSON."""
    from diagnose.protocol import check_message

    model = shared_model()
    over_range = 0
    for check in model.checks:
        prediction = model.predict(check)
        outcomes: tuple[str, ...] = ()
        if prediction.table is not None:
            outcomes = model.panel.kind_of(check.part).signs[check.sign].outcomes
        sound = (float(prediction.value[0]), float(prediction.low[0]), float(prediction.high[0]))
        message = check_message(model.panel, AskCheck(check, prediction, 0.0, None, sound, outcomes))
        _valid(json.loads(encoded(message)), "check")
        handles = {name for name, part in model.panel.parts.items() if part.kind.positions}
        assert set(message["setup"]["positions"]) == handles
        over_range += message["expected"].get("over_range", False)
    assert over_range > 0


def test_a_supply_that_is_off_is_never_told_to_be_on() -> None:
    """A panel that is wired in is isolated by its breaker: that is off while the supply is."""
    from dataclasses import replace

    from diagnose.circuit.setup import at_rest

    panel = open_panel(PANEL)
    wired = replace(panel, supply=replace(panel.supply, unplugs=False, isolator="feed_breaker"))
    positions = setup_data(wired, "isolated", replace(at_rest(wired), supply_on=False))["positions"]
    assert positions["feed_breaker"] == "off"
    assert positions["main_switch"] == "on"


def test_the_schema_knows_every_danger_and_step() -> None:
    """The schema is written by hand, so it is held against the code."""
    from typing import get_args

    stop = next(form for form in SCHEMA["$defs"]["request"]["oneOf"] if "stop" in form["properties"])
    assert stop["properties"]["stop"]["enum"] == [True, "stopped", *DANGERS]
    assert SCHEMA["$defs"]["step"]["properties"]["id"]["enum"] == list(get_args(StepName))
    assert SCHEMA["$defs"]["hello"]["properties"]["protocol"]["const"] == PROTOCOL


# Over a pipe ----------------------------------------------------------------------------------------------


class _Peer:
    """The command as another program sees it."""

    def __init__(self, *arguments: str) -> None:
        self.process = subprocess.Popen(
            [*COMMAND, *arguments],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            env=ENVIRONMENT,
        )

    def read(self) -> dict[str, Any]:
        assert self.process.stdout is not None
        line = self.process.stdout.readline()
        assert line, self.process.stderr.read() if self.process.stderr else ""
        message: dict[str, Any] = json.loads(line, parse_constant=lambda name: pytest.fail(name))
        _valid(message, message["type"])
        return message

    def send(self, request: dict[str, Any]) -> None:
        assert self.process.stdin is not None
        self.process.stdin.write(json.dumps(request).encode() + b"\n")
        self.process.stdin.flush()


@pytest.fixture
def log(tmp_path: Path) -> Path:
    return tmp_path / "session.yaml"


def _answers(peer: _Peer, message: dict[str, Any]) -> Iterator[dict[str, Any]]:
    """Answer as the simulated panel would, until the verdict; yields each message."""
    model = shared_model()
    while message["type"] != "verdict":
        yield message
        if message["type"] == "step":
            peer.send({"answer": {"done": "done", "shows": "yes", "volts": 0.1}[message["wants"]]})
        else:
            peer.send({"answer": simulated().answer(model.checks_by_id[message["id"]])})
        message = peer.read()
    yield message


def _mended(peer: _Peer) -> Iterator[dict[str, Any]]:
    """Answer all that comes after the verdict as for a repair that is whole; yields each message."""
    while (message := peer.read())["type"] != "closed":
        yield message
        if message["type"] == "repair":
            peer.send({"answer": "yes"})
        elif message["type"] == "step":
            peer.send({"answer": {"done": "done", "shows": "yes", "volts": 0.0}[message["wants"]]})
        elif message["type"] == "works":
            peer.send({"answer": "yes"})
        elif message["reads"]:
            low, high = message["expected"]["low"], message["expected"]["high"]
            peer.send({"answer": low * 1.01 + 0.01 if high is None else (low + high) / 2})
        else:
            peer.send({"answer": "pass"})
    yield message


def test_a_whole_session_over_a_pipe(log: Path) -> None:
    peer = _Peer(*START, "--competence", "isolated", "--json-lines", "--log", str(log))
    hello = peer.read()
    assert (hello["panel"], hello["part"], hello["log"]) == (PANEL, "element", str(log))
    messages = list(_answers(peer, peer.read()))
    verdict = messages[-1]
    assert verdict["kind"] == "found"
    assert verdict["causes"][0]["part"] == "element" and verdict["causes"][0]["fault"] == "open"
    assert verdict["remedy"] and verdict["proof"] and verdict["cautions"]
    assert {evidence["id"] for evidence in verdict["evidence"]} == {
        message["id"] for message in messages if message["type"] == "check"
    }
    steps = [message["id"] for message in messages if message["type"] == "step"]
    assert "isolate" in steps
    assert log.read_text(encoding="utf-8").count("did") == len(messages) - 1
    after = list(_mended(peer))
    assert after[-1]["kind"] == "closed" and after[-1]["passed"] == [proof["id"] for proof in verdict["proof"]]
    assert after[-1]["failed"] == after[-1]["declined"] == []
    assert peer.process.wait(30) == 0
    assert log.read_text(encoding="utf-8").count('"did": "passed"') == len(verdict["proof"])


def test_a_session_that_was_killed_goes_on_where_it_was(log: Path) -> None:
    """Each answer is on disk before the next question: a kill costs nothing. A torn last line is left out."""
    peer = _Peer(*START, "--competence", "isolated", "--json-lines", "--log", str(log))
    peer.read()
    answers = _answers(peer, peer.read())
    for _ in range(3):
        next(answers)
    next(answers)  # the fourth question: three answers were taken
    peer.process.send_signal(signal.SIGKILL)
    peer.process.wait(30)
    kept = log.read_text(encoding="utf-8")
    assert kept.count("did") == 3
    log.write_text(kept + '  - {"did": "ans', encoding="utf-8")

    again = _Peer("resume", "--json-lines", str(log))
    assert again.read()["type"] == "hello"
    message = again.read()
    going, _ = recorded()
    for _ in range(3):
        question = going.question
        going.do("answer" if isinstance(question, AskCheck) else "confirm", reply(question))
    expected = going.question
    assert message["id"] == asked_for(expected)
    assert list(_answers(again, message))[-1]["kind"] == "found"
    again.send({"answer": "no"})
    assert again.read()["type"] == "repair"
    assert again.read()["kind"] == "open"
    assert again.process.wait(30) == 0


def test_the_end_of_the_input_is_a_polite_end(log: Path) -> None:
    peer = _Peer(*START, "--json-lines", "--log", str(log))
    _, errors = peer.process.communicate(b"", timeout=60)
    assert peer.process.returncode == 0
    assert errors.decode() == f"The input ended; to go on: diagnose resume --json-lines {log}\n"


def test_a_reader_that_goes_away_is_no_bug(log: Path) -> None:
    peer = _Peer(*START, "--json-lines", "--log", str(log))
    peer.read()
    assert peer.process.stdout is not None and peer.process.stderr is not None
    peer.process.stdout.close()
    try:
        for _ in range(3):
            peer.send({"why": True})
    except BrokenPipeError:
        pass
    assert peer.process.wait(60) == 0
    assert peer.process.stderr.read() == b""
