"""What is given hostile input: a strategy for each, and what to do with one of its inputs.

Each target's `run` returns whether the input was taken; a refusal is a `DiagnoseError` with a message that can be
shown.
Anything else that is raised is a defect.
"""

from __future__ import annotations

import contextlib
import io
import json
import os
import re
import sys
import tempfile
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

from hypothesis import strategies as st

from diagnose import cli
from diagnose.cases import read_case
from diagnose.circuit.netlist import build
from diagnose.describe.compose import compose
from diagnose.describe.drafts import NAME, Draft
from diagnose.describe.lines import lines_of, with_value
from diagnose.describe.questions import QUESTIONS
from diagnose.drawing.svg import one_line_svg, wiring_svg
from diagnose.errors import DiagnoseError
from diagnose.expected_table import read_fault, read_setup, read_subject
from diagnose.findings import design_findings
from diagnose.finish_text import read_job
from diagnose.heat_answers import parse_heat
from diagnose.knowledge.chains import load_chains
from diagnose.knowledge.complaints import read_complaints
from diagnose.knowledge.curves import load_curves
from diagnose.knowledge.expressions import parse_expression
from diagnose.knowledge.kinds import read_kind
from diagnose.knowledge.library import knowledge_folder, load_library
from diagnose.knowledge.rates import load_rates
from diagnose.knowledge.regions import load_regions
from diagnose.knowledge.slips import load_slips
from diagnose.knowledge.sources import load_sources
from diagnose.learning.ratesfile import Learned, Source, read_learned, text_of
from diagnose.log import Header, LogFile, read_log
from diagnose.opening import Recorded, open_panel
from diagnose.panel.reader import read_panel
from diagnose.protocol import serve
from diagnose.protocol_requests import read_request
from diagnose.readings import parse_drop, parse_reading
from diagnose.safety import danger_said, facts_taken
from diagnose.screen.console import PlainConsole
from diagnose.screen.conversation import Conversation
from diagnose.session import Verdict
from diagnose.temperature_log import judge, log_text, outcome_of_log, parse_log
from diagnose.texts import load_texts
from diagnose.units import to_si
from diagnose.validate.command import main_validate
from diagnose.yamlfile import parse
from tests.hostile.mutate import ESCAPE, TOKENS, changed, junk_yaml, lines_like, rubbish
from tests.screen.helpers import recorded, step_on

ROOT = Path(__file__).resolve().parents[2]
KNOWLEDGE = knowledge_folder()
# What may never come out: what steers a terminal, or turns its direction.
STEERING = re.compile(r"[\x00-\x08\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]")
QUANTITIES = (
    "voltage_ac",
    "voltage_dc",
    "resistance",
    "insulation",
    "current_ac",
    "millivolts",
    "temperature",
    "surface_temperature",
    "heat_rate",
    "boil_off",
)


class Defect(AssertionError):
    """Something that no input may do."""


@dataclass(frozen=True, slots=True)
class Target:
    """One reader: its inputs, what is done with one, and its share of a run."""

    name: str
    inputs: Callable[[], st.SearchStrategy[Any]]
    run: Callable[[Any], bool]
    share: float


@lru_cache(maxsize=1)
def scratch() -> Path:
    """A folder for one file at a time, in memory where there is such a place."""
    return Path(tempfile.mkdtemp(prefix="hostile-", dir="/dev/shm" if os.access("/dev/shm", os.W_OK) else None))


def refused(error: DiagnoseError) -> None:
    """A refusal is a message that can be shown, and says what was expected."""
    for problem in error.problems:
        text = str(problem)
        if not problem.message or len(text) > 6000:
            raise Defect(f"a refusal of {len(text)} characters")


def taking(run: Callable[[Any], object]) -> Callable[[Any], bool]:
    """Whether an input was taken; a refusal is a DiagnoseError."""

    def target(given: Any) -> bool:
        try:
            run(given)
        except DiagnoseError as error:
            refused(error)
            return False
        return True

    return target


def _file(name: str, data: bytes) -> Path:
    path = scratch() / name
    path.write_bytes(data)
    return path


def _bases(folder: str, keys: tuple[str, ...]) -> Callable[[], st.SearchStrategy[bytes]]:
    """Files under a folder of the project, changed; and junk with their keys."""

    def strategy() -> st.SearchStrategy[bytes]:
        given = ROOT / folder
        paths = sorted(given.rglob("*.yaml")) if given.is_dir() else [given]
        bases = [path.read_bytes() for path in paths]
        return changed(bases) | changed(bases, 1) | changed(bases, 8) | junk_yaml(keys) | rubbish()

    return strategy


# Files of people ---------------------------------------------------------------------------------------------


def _panel(data: bytes) -> None:
    read_panel(_file("panel.yaml", data), load_library())


def _panel_used(data: bytes) -> None:
    """What the reader takes, all else can work with."""
    panel = read_panel(_file("panel.yaml", data), load_library())
    for drawing in (wiring_svg(panel), one_line_svg(panel)):
        if STEERING.search(drawing) or "<script" in drawing:
            raise Defect("a drawing with what steers a terminal or a browser")
    design_findings(panel)
    build(panel)
    lines_of(data.decode("utf-8", "replace"))


def _log(data: bytes) -> None:
    read_log(_file("log.yaml", data))


@lru_cache(maxsize=1)
def logs() -> list[bytes]:
    """Logs as they are written: a session with a few answers, one brought to its end, one of rates that shifted."""
    path = scratch() / "made.yaml"
    made = []
    for answers in (0, 3, 12):
        path.unlink(missing_ok=True)
        log = LogFile(path)
        log.begin(
            Header(
                "shed_single_kettle",
                "element_cold",
                "element",
                "isolated",
                ("multimeter",),
                "2026-03-14T19:20:00",
                "abc",
                {"element.open": 2.0},
                facts_taken("isolated"),
            )
        )
        going, events = recorded()
        for _ in range(answers):
            if isinstance(going.question, Verdict):
                break
            step_on(going)
        for event in events:
            log.add(event)
        made.append(path.read_bytes())
    return made


def _logs() -> st.SearchStrategy[bytes]:
    keys = (
        "format",
        "panel",
        "complaint",
        "subject",
        "competence",
        "instruments",
        "events",
        "did",
        "of",
        "text",
        "rates",
    )
    return changed(logs()) | changed(logs(), 1) | changed(logs(), 8) | junk_yaml(keys) | rubbish()


def _case(data: bytes) -> None:
    read_case(_file("case.yaml", data))


def _rates_files() -> st.SearchStrategy[bytes]:
    learned = Learned(
        tuple(Source(f"{n:016x}", "element.open", {"element.open": 0.2, "relay.shorted": 0.1}) for n in range(4))
    )
    keys = ("format", "faults", "count", "exposure", "confirmed", "logs")
    return changed([text_of(learned).encode()]) | changed([text_of(learned).encode()], 1) | junk_yaml(keys) | rubbish()


def _learned(data: bytes) -> None:
    learned = read_learned(_file("rates.yaml", data))
    text_of(learned)
    dict(learned.factors)


def _drafts() -> st.SearchStrategy[bytes]:
    whole = {
        "region": "europe",
        "system": "single_phase_230",
        "heaters": "hlt, boil",
        "powers": "3 kW, 3 kW",
        "feed_amperes": "16",
        "residual": "yes",
        "connection": "plug",
        "feed_metres": "12",
        "control": "both",
        "plugged": "yes",
        "selector": "yes",
        "probe": "1",
        "pumps": "wort",
        "lamps": "yes",
        "built": "used",
        "title": "Mine",
    }
    base = json.dumps(whole, indent=1).encode()
    word = st.sampled_from([*(question.key for question in QUESTIONS), *TOKENS])
    value = (
        st.sampled_from([*whole.values(), *TOKENS])
        | st.integers()
        | st.none()
        | st.lists(st.text(max_size=3), max_size=2)
    )
    odd = st.dictionaries(word, value, max_size=18).map(
        lambda made: json.dumps({**whole, **made}).encode("utf-8", "replace")
    )
    return changed([base]) | odd | rubbish() | st.sampled_from([b"[" * 100_000, b"1" * 10_000, b'{"a":' * 50_000])


def _draft(data: bytes) -> None:
    with environment(XDG_STATE_HOME=str(scratch() / "state"), HOME=str(scratch() / "home")):
        folder = scratch() / "state" / "diagnose"
        folder.mkdir(parents=True, exist_ok=True)
        (folder / NAME).write_bytes(data)
        answers = Draft().read()
        if len(answers) == len(QUESTIONS):
            compose(answers)


def _temperatures() -> st.SearchStrategy[bytes]:
    bases = [
        b"minute,temperature\n" + b"".join(b"%d, %.1f\n" % (n, 60 + n % 7) for n in range(30)),
        b"0 62.1, 1 64.0, 2 65.8, 3 66.9, 4 67.2",
        b"0;20 C\n1;21,5 C\n2;23\n3;25\n4;29\n",
    ]
    pair = st.tuples(st.integers(-2, 100), st.floats(-30, 130)).map(lambda both: f"{both[0]} {both[1]}")
    return changed(bases) | st.lists(pair, max_size=40).map(lambda made: ", ".join(made).encode()) | rubbish()


def _swing(data: bytes) -> None:
    judge(*parse_log(log_text(str(_file("swing.csv", data)))), 66.0)
    outcome_of_log("set 66: " + data.decode("utf-8", "replace"))


def _edits() -> st.SearchStrategy[tuple[int, str]]:
    return st.tuples(
        st.integers(0, 200), lines_like(["relay, 40 A", "5.5 kW, 240 V", "Mine"], "abc0 ,.:#\"'[]{}|\x1b\u202e")
    )


@lru_cache(maxsize=1)
def _whole_panel() -> str:
    return (KNOWLEDGE / "panels" / "shed_single_kettle.yaml").read_text(encoding="utf-8")


def _edit(given: tuple[int, str]) -> None:
    lines = lines_of(_whole_panel())
    read_panel(
        _file(
            "edited.yaml", with_value(_whole_panel(), lines, given[0] % len(lines), given[1]).encode("utf-8", "replace")
        ),
        load_library(),
    )


# The knowledge base --------------------------------------------------------------------------------------------


def _kind(data: bytes) -> None:
    read_kind(_file("kind.yaml", data), "kind.yaml")


def _complaints(data: bytes) -> None:
    read_complaints(_file("complaints.yaml", data), "complaints.yaml")


WORDS: Mapping[str, Callable[[Path], object]] = {
    "chains": load_chains.__wrapped__,
    "curves": load_curves.__wrapped__,
    "slips": load_slips.__wrapped__,
    "regions": load_regions.__wrapped__,
    "sources": load_sources.__wrapped__,
    "supplies": load_library.__wrapped__,
    "steps": load_texts.__wrapped__,
    "cautions": load_texts.__wrapped__,
    "proofs": load_texts.__wrapped__,
    "competence": load_texts.__wrapped__,
    "rates": lambda folder: load_rates.__wrapped__(folder / "rates.yaml"),
}


def _word_files() -> st.SearchStrategy[tuple[str, bytes]]:
    def of(name: str) -> st.SearchStrategy[tuple[str, bytes]]:
        base = [(KNOWLEDGE / f"{name}.yaml").read_bytes()]
        keys = sorted(set(re.findall(r"[a-z_]+(?=:)", base[0].decode())))[:40] or ["a"]
        return (changed(base) | changed(base, 1) | junk_yaml(keys) | rubbish()).map(lambda data: (name, data))

    return st.one_of(*(of(name) for name in WORDS))


@lru_cache(maxsize=1)
def _word_folder() -> Path:
    folder = scratch() / "knowledge"
    (folder / "parts").mkdir(parents=True)
    return folder


def _words(given: tuple[str, bytes]) -> None:
    name, data = given
    folder = _word_folder()
    for each in WORDS:
        (folder / f"{each}.yaml").write_bytes(data if each == name else (KNOWLEDGE / f"{each}.yaml").read_bytes())
    WORDS[name](folder)


def _validated(given: tuple[str, bytes]) -> bool:
    """The command over one file of any sort: 0 or 2, and nothing that steers a terminal."""
    name, data = given
    with quiet() as (out, _):
        code = main_validate([str(_file(name, data))], "text", strict=False)
    if code not in (0, 2) or STEERING.search(out.getvalue()):
        raise Defect(f"code {code}, or what steers a terminal")
    return code == 0


def _any_files() -> st.SearchStrategy[tuple[str, bytes]]:
    bases = [
        path.read_bytes() for folder in ("cases", "knowledge") for path in sorted((ROOT / folder).rglob("*.yaml"))
    ][::6]
    names = st.sampled_from(["any.yaml", "rates.yaml", "curves.yaml", "steps.yaml", "chains.yaml"])
    return st.tuples(names, changed(bases) | changed(logs()) | rubbish())


# What is typed --------------------------------------------------------------------------------------------------

TYPED = [
    "118 V",
    "4k7",
    "OL",
    "O.L",
    "10.4 ohm",
    "0.5 MΩ",
    "231.4 VAC",
    "-3.3 mV",
    "65 °C",
    "150 F",
    "> 200M",
    "about 12",
    "232, 224",
    "~5",
    "4.5 kW",
    "40 L, 20 to 31 C, 15 min",
    "10 gal from 60 F to 100 F in 20 min",
    "97 at 800 m",
    "97 at 930 hPa",
    "boiled off 2 L in 30 min",
    "set 66: 0 60, 1 62, 2 64, 3 66, 4 68",
]
LETTERS = "0123456789.,kKMmGΩVAWCFhlLabtominsgal °-+~<>=/%:eE \t\x1b\u202e\u0663½"


def _readings() -> st.SearchStrategy[tuple[str, str]]:
    return st.tuples(st.sampled_from(QUANTITIES), lines_like(TYPED, LETTERS))


def _reading(given: tuple[str, str]) -> bool:
    quantity, text = given
    taken = taking(lambda typed: parse_reading(typed, quantity))(text)
    danger_said(text)
    return taking(parse_drop)(text) or taken


def _heat(text: str) -> bool:
    both = [taking(lambda typed: parse_heat(typed, quantity))(text) for quantity in ("heat_rate", "boil_off")]  # noqa: B023
    return any(both)


def _names() -> st.SearchStrategy[str]:
    return lines_like(
        [
            "relay:open",
            "element:leak_at_end@7000",
            "idle",
            "running",
            "main_switch=on,element=out",
            "element",
            "30",
            "8 gal",
            "1500 m",
            "voltage ** 2 / power",
            "20 C",
        ],
        "abc_:@=,.0123456789 -+*/()\x1b\u202e",
    )


@lru_cache(maxsize=1)
def _opened() -> Any:
    return open_panel("shed_single_kettle")


def _name(text: str) -> bool:
    readers: tuple[Callable[[str], object], ...] = (
        lambda typed: read_fault(_opened(), typed),
        lambda typed: read_setup(_opened(), typed),
        lambda typed: read_subject(_opened(), typed),
        lambda typed: read_job(typed, typed, "100 C", None, typed),
        lambda typed: to_si(typed, "length"),
    )
    taken = [taking(reader)(text) for reader in readers]
    return any(taken)


def _expression(text: str) -> bool:
    try:
        parse_expression(text).value({"voltage": 240.0, "power": 5500.0})
    except (ValueError, DiagnoseError):
        return False
    return True


@lru_cache(maxsize=1)
def _standing() -> tuple[Recorded, ...]:
    """A session before each of its questions, so that each sort of prompt is typed at."""
    going, _ = recorded()
    found = []
    while not isinstance(going.question, Verdict) and len(found) < 14:
        found.append(_copy(going))
        step_on(going)
    for _ in range(8):
        found.append(_copy(going))
        question = going.proof
        if question is None:
            break
        with contextlib.suppress(DiagnoseError):
            going.do("repaired", "yes")
            continue
        with contextlib.suppress(DiagnoseError):
            going.do("confirm", "done")
            continue
        with contextlib.suppress(DiagnoseError):
            going.prove("pass")
    return tuple(found)


def _copy(going: Recorded) -> Recorded:
    made = Recorded(going.session, lambda event: None)
    made._question = going.question
    return made


PROMPTS = [
    "why",
    "path",
    "if OL",
    "if 2",
    "grounds",
    "out",
    "answers",
    "change 2",
    "change 1 OL",
    "skip",
    "later",
    "can't reach",
    "back",
    "text",
    "lower",
    "help",
    "done",
    "yes",
    "no",
    "0.0 V",
    "1",
    "2",
    "OL",
    "9.6 ohm",
    "no smoke",
    "pass",
    "fail",
    "leave",
]


def _prompts() -> st.SearchStrategy[tuple[int, list[str]]]:
    return st.tuples(st.integers(0, 20), st.lists(lines_like(PROMPTS, LETTERS), min_size=1, max_size=2))


def _prompt(given: tuple[int, list[str]]) -> bool:
    """Lines at a prompt, then the end of the input: nothing that steers a terminal comes back."""
    where, lines = given
    going = _copy(_standing()[where % len(_standing())])
    out = io.StringIO()
    before = going.session
    with contextlib.suppress(EOFError):
        Conversation(PlainConsole(io.StringIO("".join(f"{line}\n" for line in lines)), out), going, "log.yaml").run()
    if STEERING.search(out.getvalue()):
        raise Defect("what steers a terminal was shown")
    return going.session is not before


# The line protocol -----------------------------------------------------------------------------------------------

REQUESTS = [
    '{"answer": 231.4}',
    '{"answer": "OL"}',
    '{"answer": "done"}',
    '{"skip": true}',
    '{"back": true}',
    '{"why": true}',
    '{"stop": "smoke"}',
    '{"lower": "outside"}',
    '{"refer": true}',
    '{"answer": 1e999}',
    '{"answer": "yes"}',
]


def _requests() -> st.SearchStrategy[bytes]:
    value = st.recursive(
        st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8) | st.sampled_from(TOKENS),
        lambda deeper: st.lists(deeper, max_size=3),
        max_leaves=5,
    )
    key = st.sampled_from(["answer", "skip", "back", "why", "lower", "refer", "stop", "x", ""])
    made = st.dictionaries(key, value, min_size=1, max_size=2).map(lambda data: json.dumps(data).encode())
    odd = [
        b"[" * 60_000,
        b'{"answer": ' + b"9" * 9000 + b"}",
        b'{"answer": "' + b"x" * 70_000 + b'"}',
        b'{"answer": "\\ud800"}',
        b'{"answer": "\\u001b[2J"}',
        b'{"answer": NaN}',
        b"\xff\xfe",
        b'{"answer": -0.0}',
        b'{"answer": 1' + b"0" * 400 + b"}",
    ]
    typed = lines_like(TYPED, LETTERS).map(lambda text: json.dumps({"answer": text}).encode())
    return made | typed | changed([each.encode() for each in REQUESTS]) | st.sampled_from(odd) | st.binary(max_size=40)


def _served(line: bytes) -> bool:
    """One line at each sort of question: one JSON object a line comes back."""
    where = len(line) + sum(line[:8])
    going = _copy(_standing()[where % len(_standing())])
    written: list[bytes] = []
    before = going.session
    serve(going, {"type": "hello"}, io.BytesIO(line.replace(b"\n", b" ") + b"\n"), written.append)
    for each in written:
        json.loads(each, parse_constant=_no_constant)
    return going.session is not before


def _no_constant(name: str) -> None:
    raise Defect(f"{name} in the line protocol")


# The command line --------------------------------------------------------------------------------------------------


@contextlib.contextmanager
def environment(**values: str) -> Iterator[None]:
    """Variables set for a while."""
    before = {name: os.environ.get(name) for name in values}
    os.environ.update(values)
    try:
        yield
    finally:
        for name, value in before.items():
            if value is None:
                os.environ.pop(name, None)
            else:
                os.environ[name] = value


@contextlib.contextmanager
def quiet(typed: str = "") -> Iterator[tuple[io.StringIO, io.StringIO]]:
    """Standard streams in memory."""
    before = sys.stdin, sys.stdout, sys.stderr
    out, error = io.StringIO(), io.StringIO()
    sys.stdin, sys.stdout, sys.stderr = io.StringIO(typed), out, error
    try:
        yield out, error
    finally:
        sys.stdin, sys.stdout, sys.stderr = before


def _arguments() -> st.SearchStrategy[tuple[list[str], str]]:
    files = scratch() / "given"
    files.mkdir(exist_ok=True)
    (files / "log.yaml").write_bytes(logs()[1])
    (files / "junk.yaml").write_bytes(b"panel: [" + ESCAPE.encode())
    (files / "not.yaml").write_bytes(b"\xff\xfe\x00\x01" * 50)
    (files / "empty").write_bytes(b"")
    paths = [str(files / name) for name in ("log.yaml", "junk.yaml", "not.yaml", "empty", "none.yaml")] + [
        str(files),
        "/dev/null",
    ]
    odd = [token for token in TOKENS if "\x00" not in token and "\ud7ff" not in token and token != "/dev/zero"]
    word = st.sampled_from(
        [*odd, *paths, "element_cold", "element", "outside", "live", "multimeter", "none", "relay:open", "idle", "66C"]
    )
    flags = st.sampled_from(
        [
            "--panel",
            "--complaint",
            "--part",
            "--competence",
            "--instruments",
            "--spares",
            "--log",
            "--json-lines",
            "--rates",
            "--friend",
            "--plain",
            "--ascii",
            "--ladder",
            "--setup",
            "--fault",
            "--format",
            "--counts",
            "--view",
            "--litres",
            "--from",
            "--to",
            "--lid",
            "--altitude",
            "--set",
            "--strict",
            "--show",
            "--cured",
            "--confirmed",
            "--forget",
            "--html",
            "--text",
            "--markdown",
            "--logs",
            "--messages",
            "--help",
            "--version",
            "--sample",
            "--seed",
            "--slips",
            "--noise",
            "--",
            "-",
        ]
    )
    command = st.sampled_from(
        [
            "start",
            "resume",
            "expect",
            "draw",
            "review",
            "finish",
            "swing",
            "validate",
            "report",
            "history",
            "learn",
            "completion",
            "describe",
            "replay",
            "study",
            "sheet",
            "coverage",
            "strat",
            "",
        ]
    )
    rest = st.lists(word | flags | st.text(max_size=8).filter(lambda text: "\x00" not in text), max_size=5)
    typed = st.sampled_from(["", "\n", "1\n1\n", f"{ESCAPE}\n", "smoke\n", "back\n\n\nno\n"])
    return st.tuples(st.tuples(command, rest).map(lambda both: [both[0], *both[1]]), typed)


SLOW = {
    "study",
    "sheet",
    "coverage",
    "replay",
    "expect",
    "kinds",
}  # with what they may be given here they work for seconds


def _command(given: tuple[list[str], str]) -> bool:
    """A command: exit code 0, 1, 2 or 130, no traceback, and nothing that steers a terminal."""
    arguments, typed = given
    if arguments[0] in SLOW and not any("/" in each or each.startswith("-") for each in arguments[1:]):
        arguments = [*arguments, "--nonsense"]
    home = scratch() / "home"
    home.mkdir(exist_ok=True)
    here = Path.cwd()
    with (
        environment(HOME=str(home), XDG_STATE_HOME=str(home / "state"), XDG_DATA_HOME=str(home / "data")),
        quiet(typed) as (out, error),
    ):
        os.chdir(home)
        try:
            code = cli.main(arguments)
        except SystemExit as ended:  # --help and --version
            code = ended.code if isinstance(ended.code, int) else 0
        finally:
            os.chdir(here)
    shown = out.getvalue() + error.getvalue()
    if code not in (0, 1, 2, 130) or "Traceback" in shown:
        raise Defect(f"exit code {code}: {error.getvalue()[-300:]}")
    if found := STEERING.search(shown):
        raise Defect(f"{found[0]!r} was shown: {shown[max(found.start() - 80, 0) : found.end() + 20]!r}")
    return code != 2


# All of them ---------------------------------------------------------------------------------------------------------

TARGETS = (
    Target("YAML", lambda: rubbish() | _bases("cases", ("a",))(), taking(lambda data: parse(data, "f")), 5),
    Target(
        "panel files",
        _bases(
            "knowledge/panels",
            (
                "panel",
                "title",
                "region",
                "supply",
                "parts",
                "wires",
                "references",
                "channels",
                "kettles",
                "labels",
                "plugs",
            ),
        ),
        taking(_panel),
        3,
    ),
    Target(
        "panels drawn, reviewed, built",
        _bases("knowledge/panels/shed_single_kettle.yaml", ("panel",)),
        taking(_panel_used),
        1,
    ),
    Target("changes by describe", _edits, taking(_edit), 1),
    Target("logs", _logs, taking(_log), 6),
    Target(
        "cases",
        _bases("cases", ("case", "panel", "complaint", "answers", "confirmed", "provenance", "part", "fault")),
        taking(_case),
        6,
    ),
    Target("learned rates", _rates_files, taking(_learned), 4),
    Target("drafts", _drafts, taking(_draft), 5),
    Target("temperature logs", _temperatures, taking(_swing), 9),
    Target(
        "kinds of part",
        _bases(
            "knowledge/parts",
            (
                "kind",
                "title",
                "role",
                "terminals",
                "branches",
                "faults",
                "signs",
                "handle",
                "measure",
                "coil",
                "ratings",
                "through",
                "surfaces",
            ),
        ),
        taking(_kind),
        4,
    ),
    Target(
        "complaints",
        _bases("knowledge/complaints", ("title", "says", "subject", "setups", "observed")),
        taking(_complaints),
        4,
    ),
    Target("words of the knowledge base", _word_files, taking(_words), 5),
    Target("validate", _any_files, _validated, 1.5),
    Target("readings", _readings, _reading, 16),
    Target("heat", lambda: lines_like(TYPED, LETTERS), _heat, 7),
    Target("faults, setups, quantities", _names, _name, 3),
    Target(
        "expressions",
        lambda: lines_like(["voltage ** 2 / power", "0.5 * (1 + 2)"], "0123456789.+-*/() voltagepw_"),
        _expression,
        4,
    ),
    Target("prompts", _prompts, _prompt, 1),
    Target("requests", _requests, taking(read_request), 10),
    Target("line protocol", _requests, _served, 2),
    Target("command line", _arguments, _command, 2),
)
