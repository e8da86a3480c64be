"""Sudden death: some operations of the file layer fail here, all of them by hand; and logs damaged otherwise."""

from __future__ import annotations

import errno
import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import diagnose.files
from diagnose import cli
from diagnose.errors import FileError
from diagnose.files import add_line, new_file
from diagnose.log import Event, Header, LogFile, read_log
from diagnose.log_places import going_on
from diagnose.log_recovery import read_whole_part, recover, whole_part
from diagnose.report.history import logs_in
from diagnose.screen.messages import MessageFolder
from tests.hostile.deaths import FAULTS, SCENARIOS, Scenario, attempt
from tests.hostile.targets import environment, quiet

HEADER = Header("vicarage_dial_box", "element_cold", "element", "outside", (), "2026-03-14T19:20:00")
EVENTS = tuple(Event("answer", f"check:{number}", f"{number} Ω") for number in range(6))


@pytest.fixture
def log(tmp_path: Path) -> Path:
    kept = LogFile(tmp_path / "log.yaml")
    kept.begin(HEADER)
    for event in EVENTS:
        kept.add(event)
    return kept.path


def _kept(path: Path) -> list[str]:
    return [event.text for event in read_log(path)[1]]


TEXTS = [event.text for event in EVENTS]


@pytest.mark.parametrize("scenario", SCENARIOS[4:], ids=lambda scenario: scenario.name)
@pytest.mark.parametrize("fault", ["torn write", "disk full"])
def test_what_was_kept_stays_and_nothing_is_half_there(scenario: Scenario, fault: str) -> None:
    attempt(scenario, fault, 2)


@pytest.mark.parametrize(("fault", "at"), [("torn write", 11), ("folder gone", 12)])
def test_a_session_loses_the_answer_being_typed_at_most(fault: str, at: int) -> None:
    lost, ended = attempt(SCENARIOS[0], fault, at)
    assert lost in ("nothing", "the answer being typed") and ended.acknowledged


@pytest.mark.long
@pytest.mark.parametrize("scenario", SCENARIOS, ids=lambda scenario: scenario.name)
@pytest.mark.parametrize("fault", FAULTS)
def test_every_fault_at_every_operation(scenario: Scenario, fault: str) -> None:
    for at in range(1, attempt(scenario, "", 0)[1].operations + 1):
        attempt(scenario, fault, at)


# Damage --------------------------------------------------------------------------------------------------------------


@given(cut=st.integers(1, 400), junk=st.binary(max_size=12))
@settings(max_examples=40, derandomize=True, deadline=None)
def test_a_log_cut_anywhere_goes_on_from_there(cut: int, junk: bytes, tmp_path_factory: pytest.TempPathFactory) -> None:
    """What is before the cut is kept; where not even the header is whole, it is refused and left."""
    folder = tmp_path_factory.mktemp("cut")
    kept = LogFile(folder / "log.yaml")
    kept.begin(HEADER)
    begun = kept.path.read_bytes()
    for event in EVENTS:
        kept.add(event)
    whole = kept.path.read_bytes()
    left = whole[: max(len(whole) - cut, 0)] + junk
    kept.path.write_bytes(left)
    told = recover(kept.path)
    if len(whole) - cut < len(begun):
        if not told:
            assert kept.path.read_bytes() in (left, left + b"\n")
        return
    texts = _kept(kept.path)
    full = whole[: max(len(whole) - cut, 0)].count(b"\n  - {")
    assert texts[: full - 1] == TEXTS[: full - 1] and len(texts) <= full + 1
    if texts[full - 1 :] != TEXTS[full - 1 : full]:
        assert told or not junk.strip()
    kept.add(Event("answer", "after", "after"))
    assert _kept(kept.path) == [*texts, "after"]


@pytest.mark.parametrize(
    "damage",
    [b"\x00" * 40, b'  - {"did": "answ\x00\xff\n', b"\xff\xfe\n", b'  - {"did": "dance", "of": "", "text": ""}\n'],
)
def test_damage_in_the_middle_ends_the_log_there_and_says_so(damage: bytes, log: Path) -> None:
    lines = log.read_bytes().splitlines(keepends=True)
    at = len(lines) - 3
    was = b"".join([*lines[:at], damage, *lines[at:]])
    log.write_bytes(was)
    kept, told = going_on(log)
    assert _kept(log) == TEXTS[:3]
    assert told[0] == f"The log is damaged from line {at + 1} on. It goes on from the 3 entries before that."
    copy = log.with_name("log.yaml.damaged-1")
    assert told[-1] == f"The file as it was is kept: {copy}" and copy.read_bytes() == was
    kept.add(Event("answer", "again", "again"))
    assert _kept(log) == [*TEXTS[:3], "again"]
    assert recover(log) == []


def test_a_second_damage_has_a_copy_of_its_own(log: Path) -> None:
    for number in (1, 2):
        log.write_bytes(log.read_bytes() + b"\xff\n")
        assert recover(log)[-1].endswith(f"log.yaml.damaged-{number}")


def test_a_damaged_header_is_refused_and_left_as_it_is(log: Path) -> None:
    was = log.read_bytes().replace(b"complaint: ", b"complaint ")
    log.write_bytes(was)
    assert recover(log) == [] and log.read_bytes() == was
    with pytest.raises(FileError, match=r"log\.yaml:\d+:\d+: .*; expected"):
        read_log(log)


def test_a_last_line_without_its_end_counts_if_it_is_whole(log: Path) -> None:
    """An editor may have saved it so."""
    log.write_bytes(log.read_bytes().rstrip(b"\n"))
    assert _kept(log) == TEXTS and recover(log) == []
    LogFile(log).add(EVENTS[0])
    assert _kept(log) == [*TEXTS, TEXTS[0]]


def test_readers_of_logs_say_what_is_left_out_and_change_nothing(log: Path, capsys: pytest.CaptureFixture[str]) -> None:
    log.write_bytes(log.read_bytes() + b"\x00\x00")
    was = log.read_bytes()
    assert read_whole_part(log)[2] is False and len(read_whole_part(log)[1]) == len(EVENTS)
    (found,) = logs_in([log.parent], deep=False)
    assert found.damaged and len(found.events) == len(EVENTS)
    assert cli.main(["history", str(log.parent)]) == 0
    assert "the log is damaged; only what is before the damage counts here." in capsys.readouterr().err
    assert log.read_bytes() == was


def test_resume_lists_a_damaged_session_and_says_what_was_lost(tmp_path: Path) -> None:
    """It was passed over as no log, as though the session had never been."""
    folder = tmp_path / "diagnose"
    folder.mkdir()
    kept = LogFile(folder / "log.yaml")
    kept.begin(HEADER)
    kept.path.write_bytes(kept.path.read_bytes() + b"\xff\xff\n")
    with environment(XDG_STATE_HOME=str(tmp_path), HOME=str(tmp_path)), quiet("1\n") as (out, error):
        assert cli.main(["resume"]) == 0
    shown = " ".join(out.getvalue().split())
    assert "(no answer yet, damaged after that)" in shown
    assert "The log is damaged from line" in shown and error.getvalue() == ""


def test_a_file_larger_than_is_read_is_never_cut(tmp_path: Path) -> None:
    kept = LogFile(tmp_path / "log.yaml")
    kept.begin(HEADER)
    with kept.path.open("ab") as file:
        file.write(b"#" * 4_100_000)
    assert recover(kept.path) == [] and kept.path.stat().st_size > 4_100_000


@pytest.mark.parametrize("data", [b"", b"\nevents:", b"events:\n", b"a: 1\n", b"\xff"])
def test_what_is_no_log_has_no_whole_part(data: bytes) -> None:
    assert whole_part(data) in (0, len(data)) and (not data or whole_part(data) == 0)


# The log is taken away ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("how", ["removed", "renamed", "replaced", "folder"])
def test_a_log_that_is_gone_is_never_begun_anew_and_all_of_it_is_kept_elsewhere(how: str, tmp_path: Path) -> None:
    """Opening it to append made a file of one answer, without a header."""
    folder, other = tmp_path / "here", tmp_path / "other"
    folder.mkdir()
    kept = LogFile(folder / "log.yaml", lambda: [Path("/proc/nowhere"), other])
    kept.begin(HEADER)
    kept.hold()
    for event in EVENTS[:-1]:
        kept.add(event)
    if how == "folder":
        folder.rename(tmp_path / "there")
    elif how == "renamed":
        kept.path.rename(folder / "renamed.yaml")
    else:
        kept.path.unlink()
        if how == "replaced":
            kept.path.write_text("something else", encoding="utf-8")
    with pytest.raises(
        FileError, match=r"the log is gone\. All answers are kept in .*log-kept\.yaml; expected 'diagnose resume"
    ):
        kept.add(EVENTS[-1])
    assert read_log(other / "log-kept.yaml")[0] == HEADER
    assert _kept(other / "log-kept.yaml") == TEXTS
    assert not kept.path.exists() or kept.path.read_text(encoding="utf-8") == "something else"


def test_nothing_of_an_event_that_can_t_be_kept_stays(log: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A full disk takes half of it; the half is taken off again, and the message says what is kept."""
    was = log.read_bytes()

    def half(number: int, data: bytes) -> int:
        if len(data) > 20:
            return os.write(number, data[:20])
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    fake = type(sys)("os")
    fake.__dict__.update({**vars(os), "write": half})
    monkeypatch.setattr(diagnose.files, "os", fake)
    with pytest.raises(FileError, match=r"No space left on device\. This one answer is not kept, all before it are"):
        LogFile(log).add(EVENTS[0])
    assert log.read_bytes() == was


# Promises of the file layer ---------------------------------------------------------------------------------------


def test_a_new_file_is_never_put_over_another(tmp_path: Path) -> None:
    path = tmp_path / "x"
    path.write_text("old", encoding="utf-8")
    with pytest.raises(FileExistsError):
        new_file(path, "new")
    assert path.read_text(encoding="utf-8") == "old" and [each.name for each in tmp_path.iterdir()] == ["x"]
    with pytest.raises(FileNotFoundError):
        add_line(tmp_path / "y", "line")
    assert not (tmp_path / "y").exists()


def test_a_folder_without_links_takes_files_all_the_same(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def no_links(one: object, other: object) -> None:
        raise OSError(errno.EPERM, os.strerror(errno.EPERM))

    monkeypatch.setattr(os, "link", no_links)
    new_file(tmp_path / "x", "new")
    assert (tmp_path / "x").read_text(encoding="utf-8") == "new" and len(list(tmp_path.iterdir())) == 1
    with pytest.raises(FileExistsError):
        new_file(tmp_path / "x", "newer")


def test_a_file_left_by_one_that_was_killed_stops_nobody(tmp_path: Path) -> None:
    """The next process with its number could not write there any more."""
    (tmp_path / f".001.txt.{os.getpid()}.new").write_text("half", encoding="utf-8")
    folder = MessageFolder(tmp_path)
    assert folder.write("message\n").read_text(encoding="utf-8") == "message\n"
    assert [each.name for each in tmp_path.iterdir()] == ["001.txt"]


def test_what_is_promised_is_synced_file_and_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Beginning a log syncs it and its folder; each event syncs the log before anything else is done."""
    synced: list[str] = []
    real = os.fsync

    def noted(number: int) -> None:
        synced.append(str(Path(f"/proc/self/fd/{number}").readlink()))
        real(number)

    if not Path("/proc/self/fd").is_dir():
        pytest.skip("needs /proc")
    monkeypatch.setattr(os, "fsync", noted)
    kept = LogFile(tmp_path / "log.yaml")
    kept.begin(HEADER)
    assert synced[-1] == str(tmp_path) and synced[0].startswith(str(tmp_path / ".log.yaml"))
    synced.clear()
    kept.add(EVENTS[0])
    assert synced == [str(kept.path)]


# Two at once, and clocks ------------------------------------------------------------------------------------------

LEARN = """
import sys, time
from pathlib import Path
from diagnose.files import alone
from diagnose.learning.ratesfile import Learned, Source, read_learned, write_learned
path, name = Path(sys.argv[1]), sys.argv[2]
for number in range(4):
    with alone(path):
        learned = read_learned(path) if path.exists() else Learned()
        time.sleep(0.02)
        write_learned(path, learned.with_source(Source(f"{name}{number}", "element.open", {})))
"""


def test_two_that_count_at_once_lose_no_count(tmp_path: Path) -> None:
    """Each read, counted and wrote: the later one wrote over what the other had counted."""
    from diagnose.learning.ratesfile import read_learned

    path = tmp_path / "rates.yaml"
    both = [subprocess.Popen([sys.executable, "-c", LEARN, str(path), name]) for name in "ab"]
    assert [each.wait(120) for each in both] == [0, 0]
    assert len(read_learned(path).sources) == 8


def test_a_clock_that_goes_backwards_loses_nothing(tmp_path: Path) -> None:
    """Two sessions of one moment have logs of their own; one that began before the last is listed and gone on with."""
    from diagnose.log_list import open_sessions
    from diagnose.log_places import begin_log

    with environment(XDG_STATE_HOME=str(tmp_path)):
        made = [begin_log(HEADER, None), begin_log(HEADER, None)]
        for kept in made:
            kept.add(EVENTS[0])
            os.utime(kept.path, (0, 0))
    assert made[0].path != made[1].path
    assert {each.path for each in open_sessions([tmp_path / "diagnose"])} == {kept.path for kept in made}


def test_a_begun_time_that_is_none_is_listed(log: Path) -> None:
    log.write_bytes(log.read_bytes().replace(b'"2026-03-14T19:20:00"', json.dumps("-9999-99-99 nonsense").encode()))
    with quiet() as (out, _):
        assert cli.main(["history", str(log.parent)]) == 0
    assert out.getvalue()
