"""Confirmed faults shift the rates: counted once, bounded, shown, taken back; a log goes on as it began."""

from __future__ import annotations

import doctest
import re
from pathlib import Path
from types import MappingProxyType

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from diagnose.cli import DONE, USER, main
from diagnose.errors import FileError
from diagnose.knowledge.library import load_library
from diagnose.knowledge.rates import load_rates
from diagnose.learning import shift
from diagnose.learning.ratesfile import Learned, Source, hash_of, read_learned, text_of, write_learned
from diagnose.learning.sessions import exposures_of, log_hash
from diagnose.learning.shift import shift_of
from diagnose.learning.using import shifted_rates
from diagnose.log import Event, Header, LogFile, read_log
from diagnose.opening import open_model, reopened
from diagnose.safety import facts_taken
from diagnose.session import AskCheck, ConfirmStep, Verdict, ask
from tests.screen.helpers import COMPLAINT, PANEL, PART, START, recorded, reply, shared_model

FAULTS = ("element.open", "fuse.blown", "relay.open")


def source(log: str, confirmed: str = "element.open", **exposures: float) -> Source:
    return Source(log, confirmed, MappingProxyType({name.replace("__", "."): e for name, e in exposures.items()}))


# Rates ----------------------------------------------------------------------------------------------------


def test_every_rate_has_its_word_and_its_source() -> None:
    """Nothing in the knowledge base has a rate that comes from nowhere."""
    rates = load_rates()
    faults = [fault for kind in load_library().kinds.values() for fault in kind.faults.values()]
    assert faults
    assert [fault.name for fault in faults if rates.words[fault.rate_word] != fault.rate] == []
    known = re.compile(r"^(common practice|invented|from memory|[A-Z]{2,}\b)")
    assert [(fault.name, fault.source) for fault in faults if not known.match(fault.source)] == []


def test_rates_rise_by_about_half_an_order_of_magnitude() -> None:
    rates = list(load_rates().words.values())
    steps = np.diff(np.log10(rates))
    assert np.all((steps > 0.4) & (steps < 0.6))


def test_a_rates_file_with_mistakes_says_where(tmp_path: Path) -> None:
    path = tmp_path / "rates.yaml"
    path.write_text("source: invented\nwords: {rare: 0}\nlearning: {prior_failures: x, most: 10}\n", encoding="utf-8")
    with pytest.raises(FileError) as raised:
        load_rates(path)
    assert str(raised.value).splitlines() == [
        f"{path}:2:15: '0' is out of range; expected a number from 1e-06 to 1e+06",
        f"{path}:3:28: 'x' is not a number; expected a number from 0.1 to 1000",
    ]


# Shifting -------------------------------------------------------------------------------------------------


@given(st.integers(0, 50), st.floats(0, 50), st.floats(0.5, 20), st.floats(1, 20))
def test_a_shift_is_bounded_and_points_where_the_counts_do(
    count: int, expected: float, prior: float, most: float
) -> None:
    shift = shift_of(count, expected, prior, most)
    assert 1 / most <= shift <= most
    assert (shift - 1) * (count - expected) >= 0
    assert shift_of(count + 1, expected, prior, most) >= shift
    assert shift_of(count, expected + 1, prior, most) <= shift


def test_many_counts_lead_to_the_rate_that_was_seen() -> None:
    assert shift_of(300, 100.0, 2.0, 10.0) == pytest.approx(3.0, rel=0.02)
    assert shift_of(1000, 1.0, 2.0, 10.0) == 10.0
    assert shift_of(0, 1000.0, 2.0, 10.0) == 0.1


# The file -------------------------------------------------------------------------------------------------


@given(st.lists(st.tuples(st.sampled_from(FAULTS), st.lists(st.floats(0, 0.3), min_size=3, max_size=3)), max_size=6))
def test_a_file_is_read_back_as_it_was(entries: list[tuple[str, list[float]]]) -> None:
    learned = Learned()
    for number, (confirmed, shares) in enumerate(entries):
        exposures = {name: round(share, 6) for name, share in zip(FAULTS, shares, strict=True)}
        learned = learned.with_source(Source(f"{number:016x}", confirmed, MappingProxyType(exposures)))
    import tempfile

    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "rates.yaml"
        write_learned(path, learned)
        again = read_learned(path)
        assert [file.name for file in Path(folder).iterdir()] == ["rates.yaml"]
    assert text_of(again) == text_of(learned)
    assert again.factors == learned.factors
    for log in [each.log for each in learned.sources]:
        again = again.without(log)
    assert again == Learned()


def test_the_same_log_is_never_counted_twice() -> None:
    learned = Learned().with_source(source("a", element__open=0.1))
    with pytest.raises(ValueError, match="a is counted already"):
        learned.with_source(source("a", element__open=0.1))


def test_a_file_that_was_edited_into_nonsense_says_where(tmp_path: Path) -> None:
    path = tmp_path / "rates.yaml"
    learned = Learned().with_source(source("a", element__open=0.1)).with_source(source("b", element__open=0.2))
    path.write_text(text_of(learned).replace("count: 2", "count: 5").replace("0.300000", "0.5"), encoding="utf-8")
    with pytest.raises(FileError) as raised:
        read_learned(path)
    assert str(raised.value).splitlines() == [
        f"{path}:8:12: the count is 5, but 2 logs are named; expected 2",
        f"{path}:9:15: the exposure is 0.5, but the logs sum to 0.3; expected 0.300000",
    ]


def test_a_usual_file_that_is_broken_stops_nobody(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    path = tmp_path / "diagnose" / "rates.yaml"
    path.parent.mkdir()
    path.write_text("nonsense", encoding="utf-8")
    shifted = shifted_rates(None)
    assert shifted.factors == {}
    assert shifted.line.startswith(f"Bundled failure rates are used: {path}:1:1:")
    with pytest.raises(FileError):
        shifted_rates(str(path))


# Sessions -------------------------------------------------------------------------------------------------


def test_what_was_expected_sums_to_one() -> None:
    exposures = exposures_of(shared_model())
    assert sum(exposures.values()) == pytest.approx(1.0, abs=0.01)
    assert exposures["element.open"] == max(exposures.values())


def test_a_log_is_known_however_it_is_called_and_resumed() -> None:
    header = Header(
        PANEL, COMPLAINT, PART, "isolated", ("multimeter",), "2026-01-01T10:00:00", interview=facts_taken("isolated")
    )
    events = [Event("answer", "x", "1"), Event("resume", "", "")]
    assert log_hash(header, events) == log_hash(header, events[:1])
    later = Header(
        PANEL, COMPLAINT, PART, "isolated", ("multimeter",), "2026-01-01T11:00:00", interview=facts_taken("isolated")
    )
    assert log_hash(later, events) != log_hash(header, events)


def test_shifted_rates_move_the_prior_and_nothing_else() -> None:
    before = shared_model()
    model = open_model(PANEL, COMPLAINT, PART, {"element.open": 5.0})
    assert [cause.key for cause in model.causes] == [cause.key for cause in before.causes]
    number = next(n for n, cause in enumerate(model.causes) if cause.key == "element:open")
    odds = model.prior / before.prior
    assert odds[number] == pytest.approx(5 * odds[(number + 1) % len(model.causes)])
    assert model.prior.sum() == pytest.approx(1.0)


@pytest.fixture(scope="module")
def finished(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The log of a session that found the burned element, begun with shifted rates."""
    path = tmp_path_factory.mktemp("logs") / "found.yaml"
    log = LogFile(path)
    log.begin(
        Header(
            PANEL,
            COMPLAINT,
            PART,
            "isolated",
            ("multimeter",),
            "2026-01-01T10:00:00",
            interview=facts_taken("isolated"),
        )
    )
    held, kept = recorded()
    while not isinstance(held.question, Verdict):
        step = isinstance(held.question, ConfirmStep)
        held.do("confirm" if step else "answer", reply(held.question))
    for event in kept:
        log.add(event)
    return path


def test_learning_is_asked_for_shown_and_taken_back(
    finished: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    rates = tmp_path / "data" / "rates.yaml"
    with_file = ["--rates", str(rates)]
    assert main(["learn", str(finished), *with_file]) == USER
    assert capsys.readouterr().err == (
        f"{finished}: nobody has confirmed what was found, element:open; expected --cured if the repair of element "
        "cured it, else --confirmed PART:FAULT\n"
    )
    assert not rates.exists()
    assert main(["learn", str(finished), "--cured", *with_file]) == DONE
    assert main(["learn", str(finished), "--cured", "--show", *with_file]) == DONE
    out = capsys.readouterr().out
    assert f"Counted: element.open, from {finished}\nCounted already: {finished}\n" in out
    row = next(line for line in out.splitlines() if line.startswith("element.open "))
    words = row.split()
    assert words[1:4] == ["common", "3", "1"]
    expected = exposures_of(shared_model())["element.open"]
    assert float(words[5]) == pytest.approx(3 * (2 + 1) / (2 + expected), rel=0.01)
    assert main(["learn", "--forget", str(finished), "--show", *with_file]) == DONE
    assert "Nothing is learned yet" in capsys.readouterr().out
    assert read_learned(rates) == Learned()


def test_what_it_was_in_the_end_may_differ_from_the_verdict(
    finished: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    rates = tmp_path / "rates.yaml"
    assert main(["learn", str(finished), "--confirmed", "cord:core_broken", "--rates", str(rates)]) == DONE
    assert [each.confirmed for each in read_learned(rates).sources] == ["cord.core_broken"]
    assert capsys.readouterr().out == f"Counted: cord.core_broken, from {finished}\n"


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ([], "there is nothing to do; expected LOG, --show, --forget LOG or --forget-all"),
        (["/nowhere/log.yaml", "--cured"], "/nowhere/log.yaml:1:1: there is no such file; expected a YAML file"),
        (["one", "two", "--confirmed", "element:open"],
         "--confirmed is about one session, and there are 2; expected one LOG"),
        (["--forget", "0123"], "0123: this is not among what was counted; expected a log, or its hash in the file"),
    ],
)  # fmt: skip
def test_what_can_be_mended_is_said_in_one_line(
    arguments: list[str], message: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["learn", *arguments, "--rates", str(tmp_path / "rates.yaml")]) == USER
    assert capsys.readouterr().err == message + "\n"


def test_a_part_or_fault_that_is_not_there_is_said(
    finished: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    rates = ["--rates", str(tmp_path / "rates.yaml")]
    assert main(["learn", str(finished), "--confirmed", "kettle:open", *rates]) == USER
    assert main(["learn", str(finished), "--confirmed", "element:opn", *rates]) == USER
    first, second = capsys.readouterr().err.splitlines()
    assert first == f"{finished}: the panel has no part 'kettle'; expected PART:FAULT, as boil_element:open"
    assert second.startswith(f"{finished}: 'element' has no fault 'opn'; expected one of open,")


def test_rates_that_cannot_be_written_are_said(
    finished: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "file").write_text("", encoding="utf-8")
    assert main(["learn", str(finished), "--cured", "--rates", str(tmp_path / "file" / "rates.yaml")]) == USER
    assert "can't be written: File exists; expected a place to write to" in capsys.readouterr().err


def test_a_session_says_so_and_its_log_goes_on_with_the_same_rates(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """The file may change or go: a log keeps what it began with."""
    import io

    rates, log = tmp_path / "rates.yaml", tmp_path / "log.yaml"
    learned = Learned()
    for number in range(5):
        learned = learned.with_source(source(f"{number}", "fuse.blown", fuse__blown=0.01))
    write_learned(rates, learned)
    monkeypatch.setattr("sys.stdin", io.StringIO(""))
    arguments = [*START, "--competence", "isolated", "--instruments", "multimeter"]
    assert main([*arguments, "--log", str(log), "--rates", str(rates)]) == DONE
    # A long path may be broken over lines.
    assert f"Failure rates are shifted by 5 confirmed faults, from {rates}".replace(" ", "") in "".join(
        capsys.readouterr().out.split()
    )
    rates.unlink()
    header, events = read_log(log)
    assert header.rates == hash_of(text_of(learned))
    assert header.factors == {"fuse.blown": learned.factors["fuse.blown"]}
    again = reopened(header, events)
    shifted = open_model(PANEL, COMPLAINT, PART, learned.factors)
    np.testing.assert_allclose(again.model.prior, shifted.prior)
    assert not np.allclose(again.model.prior, shared_model().prior)
    assert isinstance(ask(again), AskCheck | ConfirmStep)


def test_a_rates_file_that_was_asked_for_must_be_there(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    assert main([*START, "--rates", "/nowhere/rates.yaml"]) == USER
    wanted = "failure rates as 'diagnose learn' keeps them"
    assert capsys.readouterr().err == f"/nowhere/rates.yaml: there is no such file; expected {wanted}\n"


def test_the_examples_in_the_docstrings_run() -> None:
    assert doctest.testmod(shift).attempted == 4
    assert doctest.testmod(shift).failed == 0
