"""A log played again: as it was, whatever chooses checks now."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from diagnose.errors import FileError
from diagnose.log import read_log
from diagnose.opening import Recorded, reopened
from diagnose.report.gather import report_of
from diagnose.report.lenient import moments_of
from diagnose.report.trace import trace
from diagnose.session import AskCheck, Verdict, ask
from diagnose.study.simulated import SimulatedPanel
from tests.report.logs import answered, begun, cause_of, model_of, whole

SHED = ("shed_single_kettle", "element_cold", "element")


def simulated(recorded: Recorded, key: str) -> SimulatedPanel:
    model = recorded.session.model
    return SimulatedPanel(model.predictor.netlist, cause_of(*SHED, key))


@pytest.mark.parametrize("key", ["element:open", "control_fuse:blown"])
def test_it_comes_to_where_resuming_comes_to(tmp_path: Path, key: str) -> None:
    header, events = read_log(whole(tmp_path / "log.yaml", *SHED, key))
    played, resumed = trace(header, events, model_of(*SHED)), reopened(header, events)
    assert played.end.answers == resumed.answers
    assert (played.end.state, played.end.proved) == (resumed.state, resumed.proved)
    assert len(played.moments) == len(events)


def test_another_order_of_checks_is_no_reason_to_refuse_a_record(tmp_path: Path) -> None:
    """A log whose checks were chosen otherwise than they would be now can't be resumed, but it is a record still."""
    recorded = begun(tmp_path / "log.yaml", *SHED, competence="outside")

    def last(model, now, checks, *rest):  # type: ignore[no-untyped-def]
        from diagnose.choose import Choice

        outside = [check for check in checks if check.exposure == "outside" and check.setup.supply_on]
        return Choice(outside[-1], 0.0, 0.0) if len(recorded.session.answers) < 3 else None

    recorded.session = replace(recorded.session, chooser=last)
    recorded._question = None
    answered(recorded, simulated(recorded, "element:open"), 3)
    header, events = read_log(tmp_path / "log.yaml")
    with pytest.raises(FileError, match="not what is asked here"):
        reopened(header, events)
    played = trace(header, events, model_of(*SHED))
    assert [answer.check_id for answer in played.end.answers] == [event.of for event in events]


@pytest.mark.parametrize("key", ["element:open", "control_fuse:blown"])
def test_taken_at_its_word_a_log_says_the_same(tmp_path: Path, key: str) -> None:
    """A log that fits is read alike both ways: the same answers, the same end, the same proof checks."""
    header, events = read_log(whole(tmp_path / "log.yaml", *SHED, key, declined=("gfci_test",)))
    played = trace(header, events, model_of(*SHED))
    end = moments_of(played.begun, events)[-1].after
    assert not played.at_its_word
    assert (end.answers, end.proved, end.repaired) == (played.end.answers, played.end.proved, played.end.repaired)
    one, two = ask(end), ask(played.end)
    assert isinstance(one, Verdict) and isinstance(two, Verdict)
    assert (one.kind, one.part, one.causes) == (two.kind, two.part, two.causes)


def test_a_log_of_another_version_is_taken_at_its_word(tmp_path: Path) -> None:
    """Steps that it did not ask for are no reason to lose a record; what was answered stands."""
    path = whole(tmp_path / "log.yaml", *SHED, "control_fuse:blown")
    lines = path.read_text(encoding="utf-8").splitlines()
    kept = [line for line in lines if '"of": "wait"' not in line]
    assert len(kept) < len(lines)
    path.write_text("\n".join(kept) + "\n", encoding="utf-8")
    header, events = read_log(path)
    with pytest.raises(FileError):
        reopened(header, events)
    played = trace(header, events, model_of(*SHED))
    assert played.at_its_word
    answered_ = [event.of for event in events if event.what == "answer"]
    assert [answer.check_id for answer in played.end.answers] == list(dict.fromkeys(answered_))
    report = report_of(played, path.name, "2026-11-25")
    assert report.result == "Found: control fuse: blown."
    assert any(key == "Note" for key, _ in report.facts)


def test_skips_backs_breaks_and_lowering_are_played(tmp_path: Path) -> None:
    recorded = begun(tmp_path / "log.yaml", *SHED)
    hidden = simulated(recorded, "element:open")
    answered(recorded, hidden, 2)
    recorded.do("skip")
    answered(recorded, hidden, 1)
    recorded.do("back")
    recorded.do("stop", "stopped")
    header, events = read_log(tmp_path / "log.yaml")
    again = Recorded(reopened(header, events), lambda event: None)
    played = trace(header, events, model_of(*SHED))
    assert played.end.answers == again.session.answers
    assert isinstance(ask(played.end), type(again.question))
    assert isinstance(played.moments[0].asked, AskCheck)


def test_what_does_not_fit_is_refused_at_its_line(tmp_path: Path) -> None:
    path = whole(tmp_path / "log.yaml", *SHED, "element:open")
    lines = path.read_text(encoding="utf-8").splitlines()
    number = next(n for n, line in enumerate(lines) if '"did": "answer"' in line)
    lines[number] = lines[number].partition('"of": ')[0] + '"of": "idle:sign:nothing:here", "text": "lit"}'
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    with pytest.raises(FileError) as told:
        trace(*read_log(path), model_of(*SHED))
    assert str(told.value).startswith(f"{path}:{number + 1}:")
