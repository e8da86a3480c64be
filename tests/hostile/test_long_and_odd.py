"""Long sessions, large files, and terminals, locales and interpreters that are not what one would wish for."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
import time
from pathlib import Path

import pexpect
import pytest

from diagnose.cases import read_case
from diagnose.errors import FileError
from diagnose.knowledge.complaints import read_complaints
from diagnose.knowledge.kinds import read_kind
from diagnose.knowledge.library import knowledge_folder, load_library
from diagnose.learning.ratesfile import Learned, Source, read_learned, text_of
from diagnose.log import Event, Header, LogFile, read_log
from diagnose.opening import Recorded, open_model, reopened
from diagnose.panel.reader import read_panel
from diagnose.panel.sizes import MOST
from diagnose.session import AskCheck, Verdict, start
from diagnose.temperature_log import log_text, parse_log
from tests.screen.helpers import COMMAND, ENVIRONMENT
from tests.screen.terminal import Terminal

ROOT = Path(__file__).resolve().parents[2]
PANEL, COMPLAINT = "vicarage_dial_box", "element_cold"  # the smallest
OPTIONS = ["--panel", PANEL, "--complaint", COMPLAINT, "--competence", "outside", "--instruments", "none"]
BARE = {
    "PATH": os.environ["PATH"],
    "PYTHONPATH": str(ROOT),
    "PYTHONDONTWRITEBYTECODE": "1",
    "OPENBLAS_NUM_THREADS": "1",
}
SIGNS = r"or its word>"


def _run(
    arguments: list[str], typed: bytes = b"", before: tuple[str, ...] = (), cwd: Path | None = None, **environment: str
) -> subprocess.CompletedProcess[bytes]:
    return subprocess.run(
        [sys.executable, *before, "-m", "diagnose", *arguments],
        input=typed, capture_output=True, env={**BARE, **environment}, cwd=cwd, timeout=240,
    )  # fmt: skip


# Long ------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("events", [60, pytest.param(500, marks=pytest.mark.slow)])
def test_hundreds_of_answers_with_back_and_forth(events: int, tmp_path: Path) -> None:
    """The log has every one, it is gone on with where it was, and late questions take no longer than early ones."""
    model = open_model(PANEL, COMPLAINT)
    log = LogFile(tmp_path / "log.yaml")
    header = Header(PANEL, COMPLAINT, "element", "outside", (), "2026-03-14T19:20:00")
    log.begin(header)
    going, kept, spent = Recorded(start(model, "outside", frozenset()), log.add), 0, []
    while kept < events:
        begun = time.process_time()
        question = going.question
        if isinstance(question, Verdict) or kept % 7 == 6:
            going.do("back")
        elif isinstance(question, AskCheck) and question.outcomes and kept % 5 != 4:
            going.do("answer", question.outcomes[0])
            if going.session.stopped:
                pytest.fail(f"a danger ended it: {going.session.stopped}")
        else:
            going.do("skip")
        kept += 1
        spent.append(time.process_time() - begun)
    read, found = read_log(log.path)
    assert read == header and len(found) == events
    again = reopened(read, found)
    assert (again.answers, again.competence, again.state) == (
        going.session.answers, going.session.competence, going.session.state,
    )  # fmt: skip
    early, late = sorted(spent[: events // 3]), sorted(spent[-events // 3 :])
    assert late[len(late) // 2] < 10 * early[len(early) // 2] + 0.05


def _large(lamps: int) -> str:
    text = (knowledge_folder() / "panels" / f"{PANEL}.yaml").read_text(encoding="utf-8")
    parts = "".join(f"  lamp_{number}: lamp, 230 V\n" for number in range(lamps))
    wires = "".join(f"  - line_bar - lamp_{n}.a\n  - lamp_{n}.b - neutral_bar\n" for n in range(lamps))
    return text.replace("wires:\n", f"{parts}wires:\n{wires}", 1)


def test_a_panel_of_ten_thousand_lines_is_refused_at_once(tmp_path: Path) -> None:
    path = tmp_path / "large.yaml"
    path.write_text(_large(3400), encoding="utf-8")
    assert path.read_text(encoding="utf-8").count("\n") > 10_000
    begun = time.process_time()
    with pytest.raises(FileError, match=r"there are 3,4\d\d parts; expected 600 at most, of one panel"):
        read_panel(path, load_library())
    assert time.process_time() - begun < 3


@pytest.mark.parametrize("what", ["parts", "wires", "plugs"])
def test_channels_count_as_often_as_they_are_there(what: str, tmp_path: Path) -> None:
    """A short file may say a great deal."""
    names = ", ".join(f"n{number}" for number in range(40))
    lines = "".join(
        f"      a{n}: bar\n" if what == "parts" else f"      - a{n} - b\n" for n in range(MOST[what] // 40 + 1)
    )
    path = tmp_path / "panel.yaml"
    path.write_text(f"panel: x\nchannels:\n  - name: [{names}]\n    {what}:\n{lines}", encoding="utf-8")
    with pytest.raises(
        FileError, match=f"there are {40 * (MOST[what] // 40 + 1):,} {what}; expected {MOST[what]:,} at most"
    ):
        read_panel(path, load_library())


# Windows' line ends, in every sort of file and in what is typed ------------------------------------------------------


def test_windows_line_ends_in_every_sort_of_file(tmp_path: Path) -> None:
    knowledge = knowledge_folder()
    log = LogFile(tmp_path / "log.yaml")
    log.begin(Header(PANEL, COMPLAINT, "element", "outside", ()))
    log.add(Event("answer", "a", "lit"))
    rates = tmp_path / "rates.yaml"
    rates.write_text(text_of(Learned((Source("a" * 16, "element.open", {"element.open": 0.5}),))), encoding="utf-8")
    csv = tmp_path / "course.csv"
    csv.write_text("minute,temperature\n" + "".join(f"{n},{60 + n}\n" for n in range(8)), encoding="utf-8")

    def told(path: Path) -> list[object]:
        name = path.name
        if name == "log.yaml":
            return [read_log(path)[0], [(each.what, each.of, each.text) for each in read_log(path)[1]]]
        if name == "rates.yaml":
            return [read_learned(path).counts]
        if name == "course.csv":
            return [each.tolist() for each in parse_log(log_text(str(path)))]
        if path.parent.name.startswith("panels"):
            panel = read_panel(path, load_library(), "p")
            return [sorted(panel.parts), [wire.name for wire in panel.wires], panel.title]
        if path.parent.name.startswith("parts"):
            return [read_kind(path, "k")]
        if path.parent.name.startswith("complaints"):
            return [read_complaints(path, "c")]
        case = read_case(path, "c")
        return [case.title, dict(case.answers), case.notes]

    real = [
        log.path, rates, csv, knowledge / "panels" / f"{PANEL}.yaml", knowledge / "parts" / "relay.yaml",
        sorted((knowledge / "complaints").glob("*.yaml"))[0], ROOT / "cases" / "times_heat_cord_core.yaml",
    ]  # fmt: skip
    for path in real:
        (tmp_path / f"{path.parent.name}_w").mkdir(exist_ok=True)
        windows = tmp_path / f"{path.parent.name}_w" / path.name
        windows.write_bytes(path.read_bytes().replace(b"\n", b"\r\n"))
        assert told(windows) == told(path), path.name


# Odd surroundings -------------------------------------------------------------------------------------------------

TYPED = b"why\n1\nback\n1\n2\nhelp\nskip\n"


@pytest.mark.slow
def test_without_home_locale_or_encoding(tmp_path: Path) -> None:
    """No HOME, LC_ALL=C taken at its word, answers with Windows' line ends: nothing but ASCII."""
    options = ["start", *OPTIONS, "--log", "session.yaml"]
    plain_c = {"LC_ALL": "C", "PYTHONCOERCECLOCALE": "0", "PYTHONUTF8": "0"}
    done = _run(options, TYPED.replace(b"\n", b"\r\n"), cwd=tmp_path, **plain_c)
    assert (done.returncode, done.stderr) == (0, b"")
    assert done.stdout.isascii() and b"\r" not in done.stdout
    beside = tmp_path / "beside"
    beside.mkdir()
    assert _run([*options, "--ascii"], TYPED, cwd=beside).stdout == done.stdout
    one, other = (read_log(folder / "session.yaml")[1] for folder in (tmp_path, beside))
    assert [(each.what, each.of, each.text) for each in one] == [(each.what, each.of, each.text) for each in other]


@pytest.mark.slow
def test_a_home_that_can_t_be_written_to(tmp_path: Path) -> None:
    """The log goes to where one stands; where that can't be written to either, it is said before anything is asked."""
    done = _run(["start", *OPTIONS], b"1\n", cwd=tmp_path, HOME="/proc/self")
    assert done.returncode == 0 and len(list(tmp_path.glob("*.yaml"))) == 1
    nowhere = _run(["start", *OPTIONS], b"1\n", cwd=Path("/proc"), HOME="/proc/self")
    assert nowhere.returncode == 2
    assert nowhere.stderr.decode() == (
        "no place for the log: neither the state folder nor this one can be written to; expected --log FILE\n"
    )


@pytest.mark.parametrize(
    "option", [pytest.param("-O", marks=pytest.mark.slow), pytest.param("-OO", marks=pytest.mark.slow), "-Werror"]
)
def test_optimised_and_with_every_warning_an_error(option: str, tmp_path: Path) -> None:
    """A session to its end of the input, as without; and help."""
    before = (option,) if option != "-Werror" else ("-W", "error")
    done = _run(["start", *OPTIONS], TYPED, before, cwd=tmp_path, PYTHONIOENCODING="utf-8")
    assert (done.returncode, done.stderr) == (0, b"")
    assert b"Left here. Nothing is lost." in done.stdout
    helped = _run(["--help"], b"", before)
    assert (helped.returncode, helped.stderr) == (0, b"") and helped.stdout.startswith(b"usage: diagnose")


@pytest.mark.slow
def test_an_answer_without_its_line_end_counts(tmp_path: Path) -> None:
    """A pipe that ends early, in the middle of a line."""
    log = tmp_path / "log.yaml"
    done = _run(["start", *OPTIONS, "--log", str(log)], b"1\n2", cwd=tmp_path)
    assert (done.returncode, done.stderr) == (0, b"")
    assert [(each.what, each.text) for each in read_log(log)[1]] == [("answer", "1"), ("answer", "2")]


@pytest.mark.parametrize(
    "arguments",
    [pytest.param(["kinds"], marks=pytest.mark.slow), pytest.param(["start", *OPTIONS], marks=pytest.mark.slow)],
    ids=["kinds", "start"],
)
def test_whoever_read_the_output_went_away(arguments: list[str], tmp_path: Path) -> None:
    """`| head -1`: no traceback, no noise, and what was answered is in the log."""
    line = " ".join(f"'{each}'" for each in [sys.executable, "-m", "diagnose", *arguments])
    done = subprocess.run(
        ["sh", "-c", f"(echo 1; echo 1; sleep 1; echo 1) | {line} | head -1; exit 0"],
        capture_output=True, env={**BARE, "HOME": str(tmp_path)}, cwd=tmp_path, timeout=120,
    )  # fmt: skip
    assert done.stderr == b"" and done.stdout.count(b"\n") == 1


@pytest.mark.parametrize(
    "closed", [">&-", *(pytest.param(each, marks=pytest.mark.slow) for each in ("<&-", "2>&-", "<&- >&- 2>&-"))]
)
def test_streams_that_are_closed(closed: str, tmp_path: Path) -> None:
    line = f"'{sys.executable}' -m diagnose start {' '.join(OPTIONS)} {closed}"
    done = subprocess.run(["sh", "-c", line], capture_output=True, env={**BARE, "HOME": str(tmp_path)}, cwd=tmp_path,
                          timeout=120, stdin=subprocess.DEVNULL)  # fmt: skip
    assert done.returncode == 0 and b"Traceback" not in done.stderr and b"bug" not in done.stderr


# Terminals ----------------------------------------------------------------------------------------------------------


def test_a_terminal_that_is_closed_loses_nothing(tmp_path: Path) -> None:
    """SIGHUP: the process ends by itself, what was answered is kept, and it is gone on with."""
    log = tmp_path / "log.yaml"
    terminal = Terminal(80, ["start", *OPTIONS, "--log", str(log)])
    terminal.wait(SIGNS)
    terminal.press("1")
    terminal.wait_for(r"^Check 2 - ")
    terminal.wait(SIGNS)
    process = terminal.child.pid
    terminal.child.close(force=False)
    assert _ended(process)
    assert [each.text for each in read_log(log)[1]] == ["1"]
    again = _run(["resume", str(log)], b"", HOME=str(tmp_path))
    assert again.returncode == 0 and b"Check 2 - " in again.stdout


def _ended(process: int) -> bool:
    for _ in range(300):
        try:
            if os.waitpid(process, os.WNOHANG) != (0, 0):
                return True
            os.kill(process, 0)
        except (ChildProcessError, ProcessLookupError):
            return True
        time.sleep(0.1)
    os.kill(process, signal.SIGKILL)
    return False


@pytest.mark.slow
def test_it_is_suspended_and_goes_on(tmp_path: Path) -> None:
    """Ctrl-Z in a shell, and fg: the same question, and its answer is taken."""
    log = tmp_path / "log.yaml"
    line = " ".join(f"'{each}'" for each in [*COMMAND, "start", *OPTIONS, "--log", str(log)])
    environment = {**ENVIRONMENT, "PS1": "shell$ ", "PROMPT_TOOLKIT_NO_CPR": "1", "HISTFILE": ""}
    shell = pexpect.spawn("bash", ["--norc", "--noprofile", "-i"], env=environment, dimensions=(40, 100), timeout=90)
    shell.expect_exact("shell$ ")
    shell.sendline(line)
    shell.expect(SIGNS)
    shell.sendcontrol("z")
    shell.expect("Stopped")
    shell.expect_exact("shell$ ")
    shell.sendline("fg")
    shell.expect(SIGNS)
    shell.send("1")
    shell.expect("Check 2 - ")
    shell.expect(SIGNS)
    shell.sendcontrol("d")
    shell.expect("To go on:")
    shell.expect_exact("shell$ ")
    shell.sendline("exit")
    shell.expect(pexpect.EOF)
    shell.close()
    assert [(each.what, each.text) for each in read_log(log)[1]] == [("answer", "1")]


@pytest.mark.slow
def test_twenty_columns(tmp_path: Path) -> None:
    """A window that is made as narrow as a finger: nothing wider than it, and one key still answers."""
    log = tmp_path / "log.yaml"
    terminal = Terminal(80, ["start", *OPTIONS, "--log", str(log)], rows=60)
    terminal.wait(SIGNS)
    terminal.resize(20)
    terminal.press("1")
    terminal.wait_for(r"^Check 2 - ")
    terminal.wait(r"word>$")
    lines = terminal.lines()
    first = max(row for row, line in enumerate(lines) if re.match(r"Check 2 - ", line))
    assert max(map(len, lines[first:])) <= 20
    terminal.child.sendcontrol("d")
    assert terminal.end() == 0
    assert [each.text for each in read_log(log)[1]] == ["1"]
