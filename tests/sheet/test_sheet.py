"""A decision sheet is walked as a person would: every hidden fault ends at its part, at a stated list, or at HELP."""

from __future__ import annotations

import doctest
import re
import shutil
import subprocess
from functools import lru_cache
from html.parser import HTMLParser
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from diagnose.belief import Scale
from diagnose.checks import Check
from diagnose.cli import DONE, USER, main
from diagnose.costs import need_of
from diagnose.model import Model
from diagnose.opening import all_complaints, bundled_panels, open_model
from diagnose.safety import PanelState, StepName, after, ready
from diagnose.session import belief, start
from diagnose.sheet import ranges
from diagnose.sheet.compile import PAGES, Sheet, compile_sheet, walk
from diagnose.sheet.page import html_of
from diagnose.sheet.ranges import possible, round_edge
from diagnose.sheet.text import WIDTH, text_of
from diagnose.sheet.tree import Ending, Step, endings_of, steps_of
from diagnose.sheet.words import HELP
from diagnose.study.simulated import SimulatedPanel

QUICK = ("shed_single_kettle", "gfci_trips_with_element", "element", "isolated", "multimeter")
SLOW = (
    ("shed_single_kettle", "element_cold", "element", "isolated", "multimeter"),
    ("shed_single_kettle", "element_cold", "element", "live", "multimeter,low_impedance"),
    ("cellar_two_kettle", "gfci_trips_with_element", "boil_element", "isolated", "multimeter,insulation_tester"),
    ("loft_dairy_208", "panel_dead", "", "isolated", "multimeter"),
)
CASES = [pytest.param(QUICK, id="quick"), *(pytest.param(case, marks=pytest.mark.long) for case in SLOW)]
Case = tuple[str, str, str, str, str]


@lru_cache(maxsize=2)
def model_of(case: Case) -> Model:
    return open_model(case[0], case[1], case[2] or None)


@lru_cache(maxsize=2)
def sheet_of(case: Case) -> Sheet:
    return compile_sheet(start(model_of(case), case[3], frozenset(case[4].split(","))))  # type: ignore[arg-type]


def ending_of(sheet: Sheet, panel: SimulatedPanel) -> Ending:
    def read(check: Check) -> float | str:
        if check.quantity == "sign":
            return panel.sign(check.setup, check.part, check.sign)[0]
        return panel.reading(check)

    return walk(sheet, read)


# Walked ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("case", CASES)
@pytest.mark.parametrize(("supply", "jitter"), [(1.0, 0.0), (0.97, -0.7)])
def test_every_hidden_fault_ends_at_its_part_or_at_help(case: Case, supply: float, jitter: float) -> None:
    """As many are found as the sheet states, and none ends at a list without it."""
    model, sheet = model_of(case), sheet_of(case)
    found = total = 0.0
    wrong = []
    for cause, prior in zip(model.causes, model.prior, strict=False):
        if cause.as_built:
            continue
        panel = SimulatedPanel(model.predictor.netlist, cause, supply=supply, jitter=jitter, trips_early=True)
        ending = ending_of(sheet, panel)
        total += float(prior)
        found += float(prior) * (cause.part in ending.parts)
        if not ending.helps and cause.part not in ending.parts:
            wrong.append((cause.key, ending.parts))
    assert wrong == []
    assert found / total >= sheet.words.found


@pytest.mark.parametrize("case", CASES)
def test_shares_are_those_of_all_faults(case: Case) -> None:
    sheet = sheet_of(case)
    endings = list(endings_of(sheet.top))
    assert sum(ending.share for ending in endings) == pytest.approx(1.0)
    assert all(0 <= ending.right <= ending.share + 1e-12 for ending in endings)
    assert sheet.words.found + sheet.words.helped <= 1
    assert sheet.words.found >= 0.7


@pytest.mark.parametrize("case", CASES)
def test_no_check_is_come_to_before_the_panel_is_in_its_state(case: Case) -> None:
    """Along every way the boxes named bring the panel from one step's state to the next's."""

    def follow(step: Step | Ending, state: PanelState) -> int:
        if isinstance(step, Ending):
            return 0
        need = need_of(step.check)
        for done in step.safety:
            state = after(state, done.step, need)
        assert ready(state, need), step.check.id
        return 1 + sum(follow(branch.goes, state) for branch in step.branches)

    sheet = sheet_of(case)
    assert follow(sheet.top, PanelState()) == len(sheet.words.cards) > 3


@pytest.mark.parametrize("case", CASES)
def test_every_reading_has_one_line_to_go_by(case: Case) -> None:
    model, sheet = model_of(case), sheet_of(case)
    for step in steps_of(sheet.top):
        if step.check.quantity == "sign":
            told = [outcome for branch in step.branches for outcome in branch.outcomes]
            assert sorted(told) == sorted(model.panel.kind_of(step.check.part).signs[step.check.sign].outcomes)
            continue
        parts = [each for branch in step.branches for each in branch.ranges]
        for reading in (-40.0, 0.0, 0.4, 3.0, 47.0, 240.0, 5e3, 3e6):
            assert sum(each.holds(reading) for each in parts) == 1, (step.check.id, reading)


# On paper -------------------------------------------------------------------------------------------------


class Page(HTMLParser):
    """What a browser would load, and what it would show."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: set[str] = set()
        self.loaded: list[str] = []
        self.goes: list[str] = []
        self.numbers: list[str] = []
        self._within = ""
        self.feed(text)

    def handle_starttag(self, tag: str, attributes: list[tuple[str, str | None]]) -> None:
        self.tags.add(tag)
        named = dict(attributes)
        self.loaded += [str(named[name]) for name in ("src", "href", "data", "action") if name in named]
        self._within = named.get("class") or ""

    def handle_data(self, data: str) -> None:
        if self._within == "go":
            self.goes.append(data)
        elif self._within == "number":
            self.numbers.append(data)
        self._within = ""


@pytest.mark.parametrize("case", CASES)
def test_the_page_is_whole_and_loads_nothing(case: Case) -> None:
    text = html_of(sheet_of(case).words)
    page = Page(text)
    assert page.tags.isdisjoint({"script", "link", "img", "iframe", "object", "form"})
    assert page.loaded == []
    assert not re.search(r"url\(|@import|https?:", text)
    assert len(page.numbers) == len(set(page.numbers))
    assert set(page.goes) <= set(page.numbers)
    steps = {number for number in page.numbers if number.isdigit()}
    assert steps == {"1"} | {target for target in page.goes if target.isdigit()}
    assert [number for number in page.numbers if number.isdigit()] == [str(n + 1) for n in range(len(steps))]
    assert HELP in page.numbers


@pytest.mark.parametrize("case", CASES)
def test_the_text_is_80_columns_wide_and_has_the_same_steps(case: Case) -> None:
    words = sheet_of(case).words
    text = text_of(words)
    assert max(map(len, text.splitlines())) <= WIDTH
    assert [line for line in text.splitlines() if not line.isprintable()] == []
    for card in words.cards:
        assert re.search(rf"^{card.number} ", text, re.MULTILINE)
    assert f"{100 * words.helped:.0f} in" in " ".join(text.split())


@pytest.mark.parametrize("case", CASES)
def test_what_is_to_be_done_first_is_there(case: Case) -> None:
    words = sheet_of(case).words
    named = {name for card in words.cards for name in re.findall(r"S\d+", card.first)}
    assert named <= {box.name for box in words.safety}
    assert any("Prove it dead" in box.title for box in words.safety)
    assert not re.search(r"\b[Tt]ype (danger|skip|the|what)\b", text_of(words))
    assert words.cautions
    assert "kill" in words.cautions[0]
    assert words.stop.lines
    measured = {name for box in words.repairs for line in box.lines for name in re.findall(r"\bM\d+\b", line)}
    assert measured == {box.name for box in words.proofs}


@pytest.mark.parametrize("case", CASES)
def test_it_fits_on_its_pages(case: Case, tmp_path: Path) -> None:
    """As reckoned; and, where there is a browser to print it, as printed."""
    sheet = sheet_of(case)
    assert 0.3 < sheet.pages <= PAGES
    browser = shutil.which("chromium") or shutil.which("chromium-browser")
    if browser is None:
        return
    page = tmp_path / "sheet.html"
    page.write_text(html_of(sheet.words), encoding="utf-8")
    printed = tmp_path / "sheet.pdf"
    options = ["--headless", "--no-sandbox", "--disable-gpu", "--no-pdf-header-footer", f"--user-data-dir={tmp_path}"]
    subprocess.run(
        [browser, *options, f"--print-to-pdf={printed}", page.as_uri()], check=True, capture_output=True, timeout=120
    )
    assert len(re.findall(rb"/Type\s*/Page\b", printed.read_bytes())) <= PAGES


def test_a_panel_of_nasty_names_is_shown_as_it_is() -> None:
    """Labels and titles are a stranger's text."""
    from dataclasses import replace

    words = replace(sheet_of(QUICK).words, title='<script>alert(1)</script> & "it\'s"')
    text = html_of(words)
    assert "<script>" not in text
    assert "&lt;script&gt;alert(1)&lt;/script&gt; &amp; &quot;it&#x27;s&quot;" in text


# Ranges ---------------------------------------------------------------------------------------------------


@given(st.floats(0.2, 1e6), st.floats(1.01, 1e4))
def test_an_edge_lies_between_its_ranges(below: float, ratio: float) -> None:
    scale = Scale("logarithmic", 0.1, 1e11, 0.1, 1e11)
    above = below * ratio
    assert below <= round_edge(scale, below, (below * above) ** 0.5, above) <= above


def test_ranges_split_belief_without_losing_any() -> None:
    model = model_of(QUICK)
    now = belief(start(model, "isolated"))
    for check in model.checks[::7]:
        likelihood = np.array([way.likelihood for way in possible(model, check, now)])
        np.testing.assert_allclose(likelihood.sum(axis=0), 1.0, atol=1e-9)


def test_the_examples_in_the_docstrings_run() -> None:
    done = doctest.testmod(ranges)
    assert done.attempted >= 3
    assert done.failed == 0


# The command ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (["shed_singel_kettle", "--complaint", "element_cold"],
         "there is no panel 'shed_singel_kettle' (did you mean 'shed_single_kettle'?); expected a panel file, or one "
         f"of {', '.join(entry.name for entry in bundled_panels())}"),
        (["shed_single_kettle", "--complaint", "elment_cold"],
         f"there is no complaint 'elment_cold' (did you mean 'element_cold'?); expected one of "
         f"{', '.join(all_complaints())}"),
        (["shed_single_kettle"],
         "the following arguments are required: --complaint; expected as 'diagnose sheet --help' lists"),
        (["cellar_two_kettle", "--complaint", "element_cold"],
         "'element_cold' can be about several parts of this panel; expected one of hlt_element, boil_element"),
        (["shed_single_kettle", "--complaint", "element_cold", "--competence", "expert"],
         "--competence: 'expert' is not known; expected one of outside, isolated, live"),
        (["shed_single_kettle", "--complaint", "probe_jumps", "--out", "/nowhere/sheet.html"],
         "/nowhere/sheet.html: can't be written: No such file or directory; expected a place to write to"),
    ],
)  # fmt: skip
def test_what_can_be_mended_is_said_in_one_line(
    arguments: list[str], message: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["sheet", *arguments]) == USER
    assert capsys.readouterr().err == message + "\n"


def test_a_file_that_is_there_stays(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "panel.yaml"
    path.write_text("mine", encoding="utf-8")
    assert main(["sheet", "shed_single_kettle", "--complaint", "probe_jumps", "--out", str(path)]) == USER
    assert capsys.readouterr().err == f"{path}: there is a file here already; expected another name\n"
    assert path.read_text(encoding="utf-8") == "mine"


def test_a_sheet_is_written_or_printed(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "sheet.html"
    arguments = ["sheet", "shed_single_kettle", "--complaint", "probe_jumps"]
    assert main([*arguments, "--out", str(path)]) == DONE
    assert re.fullmatch(
        rf"{re.escape(str(path))}: \d+ steps; of 100 faults \d+ end at the part or a short list, \d+ in a call for "
        r"help\.\n",
        capsys.readouterr().out,
    )
    assert path.read_text(encoding="utf-8").startswith("<!DOCTYPE html>")
    assert main([*arguments, "--format", "text"]) == DONE
    assert "WHAT TO DO" in capsys.readouterr().out


def steps_named(sheet: Sheet) -> set[StepName]:
    """The safety steps on a sheet."""
    return {done.step for step in steps_of(sheet.top) for done in step.safety}


def test_who_leaves_the_box_shut_is_never_sent_into_it() -> None:
    sheet = compile_sheet(start(model_of(QUICK), "outside", frozenset({"multimeter"})))
    assert {step.check.exposure for step in steps_of(sheet.top)} == {"outside"}
    assert steps_named(sheet).isdisjoint({"open_box", "energise_open"})
