"""The recorded cases reach every complaint and every kind of part that can be at fault; the documents' counts hold."""

from __future__ import annotations

import re
from collections import Counter
from pathlib import Path

import pytest

from diagnose.cases import RecordedCase, read_case
from diagnose.cli import DONE, main
from diagnose.counting import counted
from diagnose.errors import FileError
from diagnose.knowledge.library import load_library
from diagnose.opening import all_complaints, bundled_panels, open_model, open_panel
from diagnose.replay import replay

ROOT = Path(__file__).resolve().parents[1]
FOLDER = ROOT / "cases"
CASES = [read_case(path) for path in sorted(FOLDER.glob("*.yaml"))]
COUNTS = dict(counted(FOLDER))
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
README = (ROOT / "README.md").read_text(encoding="utf-8")
IN_WORDS = (
    "eleven",
    "twelve",
    "thirteen",
    "fourteen",
    "fifteen",
    "sixteen",
    "seventeen",
    "eighteen",
    "nineteen",
    "twenty",
)

# What no case can confirm, and why.
NEVER_A_CAUSE = {
    "earth_bar": "a lost earth shows in no use of a sound panel; proof checks find it",
    "enclosure": "a lost earth shows in no use of a sound panel; proof checks find it",
}


def kinds_that_fail() -> set[str]:
    """Kinds with faults, wires among them."""
    return {kind.name for kind in load_library().kinds.values() if kind.faults}


def test_there_are_enough_cases_and_each_says_where_it_is_from() -> None:
    assert len(CASES) >= 80
    assert all(case.provenance and case.notes for case in CASES)
    assert len({case.title for case in CASES}) == len(CASES)


def test_every_complaint_has_a_case() -> None:
    told = Counter(case.complaint for case in CASES)
    assert [name for name in all_complaints() if not told[name]] == []


def test_every_kind_of_part_was_what_was_wrong_in_a_case_or_never_can_be() -> None:
    """Each kind that has faults is confirmed once, or the reason why it can't be is told."""
    confirmed = {open_panel(case.panel).kind_of(case.confirmed.part).name for case in CASES}
    assert sorted(kinds_that_fail() - confirmed - NEVER_A_CAUSE.keys()) == []
    assert sorted(confirmed & NEVER_A_CAUSE.keys()) == []
    assert NEVER_A_CAUSE.keys() <= load_library().kinds.keys()


def test_every_panel_has_a_case() -> None:
    assert {entry.name for entry in bundled_panels()} <= {case.panel for case in CASES}


def test_there_are_misreadings_groups_pairs_and_designs_among_them() -> None:
    assert sum(bool(case.again) for case in CASES) >= 2
    assert sum(bool(case.group) for case in CASES) >= 5
    assert sum(bool(case.confirmed.also) for case in CASES) >= 2
    assert sum("nothing" in case.title.lower() or "all it can" in case.title for case in CASES) >= 3


def case_of(name: str) -> RecordedCase:
    return read_case(FOLDER / f"{name}.yaml")


def test_a_slip_is_asked_again_and_without_the_second_reading_it_is_no_pass() -> None:
    """What `again` holds is what mends a misreading; it is read only where a check was doubted."""
    from dataclasses import replace

    case = case_of("misread_element_ohms")
    model = open_model(case.panel, case.complaint, case.part)
    assert replay(case, model).passed
    assert case.again.keys() <= case.answers.keys()
    lacking = replace(case, again={"no:such:check": "1"})
    with pytest.raises(FileError, match="no check 'no:such:check' is offered"):
        replay(lacking, model)


def test_the_other_of_a_pair_has_to_be_named() -> None:
    from dataclasses import replace

    case = next(case for case in CASES if case.confirmed.also)
    model = open_model(case.panel, case.complaint, case.part)
    assert replay(case, model).passed
    other = replay(replace(case, confirmed=replace(case.confirmed, also="heat_lamp")), model)
    assert not other.passed and "without heat_lamp beside" in other.why


def test_the_counts_in_the_documents_are_true(capsys: pytest.CaptureFixture[str]) -> None:
    """DEVELOPERS.md says what `diagnose kinds --counts` prints, or a little less; the README names every panel."""
    assert main(["kinds", "--counts"]) == DONE
    printed = [line.split(maxsplit=1) for line in capsys.readouterr().out.splitlines()]
    assert {what: int(number) for number, what in printed} == COUNTS
    told = {what: int(number) for what, number in re.findall(r"^\| ([a-z ]+) \| (\d+) \|$", DEVELOPERS, re.MULTILINE)}
    assert told.keys() == COUNTS.keys()
    assert [what for what, number in told.items() if not 0.95 * COUNTS[what] <= number <= COUNTS[what]] == []
    assert told["panels"] == COUNTS["panels"]
    word = re.search(r"^(\w+) invented panels come along", README, re.MULTILINE)
    assert word and IN_WORDS.index(word[1].lower()) + 11 == COUNTS["panels"]
    listed = set(re.findall(r"^\| `(\w+)` \|", README.partition("## Your own panel")[2], re.MULTILINE))
    assert listed == {entry.name for entry in bundled_panels()}


@pytest.mark.parametrize(
    ("what", "least"),
    [("panels", 12), ("complaints", 35), ("kinds of cause", 150), ("kinds of check", 80), ("recorded cases", 80)],
)
def test_the_knowledge_base_stays_broad(what: str, least: int) -> None:
    assert COUNTS[what] >= least


def test_a_drop_of_voltage_and_a_second_reading_are_read_when_cases_are_validated(tmp_path: Path) -> None:
    """A typed drop is two readings or their difference; what `again` and `also` name has to be there."""
    from diagnose.validate.reading import problems_in

    drop = next(path for path in sorted(FOLDER.glob("*.yaml")) if ":voltage_drop:" in path.read_text(encoding="utf-8"))
    assert problems_in([drop]) == ()
    slipped = (FOLDER / "misread_element_ohms.yaml").read_text(encoding="utf-8")
    path = tmp_path / "slipped.yaml"
    path.write_text(
        slipped.replace("fault: open}", "fault: open, also: nobody}").replace('": "OL"\nconf', '": "x"\nconf')
    )
    told = [problem.message for problem in problems_in([path])]
    assert len(told) == 2
    assert "there is no part of this panel 'nobody'" in told[1] or "there is no part of this panel 'nobody'" in told[0]
