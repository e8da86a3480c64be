"""Reports of all sorts of sessions, in all three forms: complete, escaped, in the region's words, legible."""

from __future__ import annotations

import re
from collections.abc import Callable
from functools import lru_cache
from html.parser import HTMLParser
from pathlib import Path
from xml.etree import ElementTree

import pytest

from diagnose.cases import read_case
from diagnose.causes import causes_of, pair_of
from diagnose.cli import main
from diagnose.knowledge.regions import foreign_words
from diagnose.log import read_log
from diagnose.opening import Recorded, open_panel
from diagnose.report import style
from diagnose.report.command import FORMATS
from diagnose.report.gather import report_of
from diagnose.report.plot import GRID, STYLES
from diagnose.report.records import Report
from diagnose.report.trace import trace
from diagnose.session import AskCheck, ConfirmStep
from diagnose.study.simulated import SimulatedPanel
from diagnose.wording import own_words, region_of
from tests.contrast import SHAPE, TEXT, contrast, texts_on
from tests.report.logs import answered, begun, cause_of, model_of, proved, whole

SHED, COLD = "shed_single_kettle", ("shed_single_kettle", "element_cold", "element")
WHEN = "2026-11-25 20:00"


def sim(recorded: Recorded, complaint: str, part: str, key: str) -> SimulatedPanel:
    netlist = recorded.session.model.predictor.netlist
    return SimulatedPanel(netlist, cause_of(recorded.session.model.panel.name, complaint, part, key))


def found(path: Path) -> Path:
    return whole(path, *COLD, "element:open", declined=("gfci_test",))


def unfinished(path: Path) -> Path:
    recorded = begun(path, *COLD)
    hidden = sim(recorded, "element_cold", "element", "element:open")
    answered(recorded, hidden, 2)
    recorded.do("skip")
    answered(recorded, hidden, 1)
    recorded.do("back")
    recorded.do("stop", "stopped")
    return path


def danger(path: Path) -> Path:
    recorded = begun(path, *COLD)
    answered(recorded, sim(recorded, "element_cold", "element", "element:open"), 1)
    recorded.do("stop", "burning smell")
    return path


def referred(path: Path) -> Path:
    recorded = begun(path, *COLD, competence="live")
    answered(recorded, sim(recorded, "element_cold", "element", "relay:open"), 2)
    recorded.do("refer")
    return path


def group(path: Path) -> Path:
    recorded = begun(path, SHED, "panel_dead", competence="outside", instruments=())
    answered(recorded, sim(recorded, "panel_dead", "", "main_switch:pole_1_open"))
    return path


def not_mended(path: Path) -> Path:
    recorded = begun(path, SHED, "element_stuck_on", "element")
    answered(recorded, sim(recorded, "element_stuck_on", "element", "relay:shorted"))
    proved(recorded, mended="no")
    return path


def failed(path: Path) -> Path:
    recorded = begun(path, SHED, "element_stuck_on", "element")
    answered(recorded, sim(recorded, "element_stuck_on", "element", "relay:shorted"))
    proved(recorded, failed=("relay_off",))
    return path


def two_at_once(path: Path) -> Path:
    recorded = begun(path, *COLD, competence="live")
    pair = pair_of(cause_of(*COLD, "relay:open"), cause_of(*COLD, "element:weak@2.5"))
    netlist = recorded.session.model.predictor.netlist
    answered(recorded, SimulatedPanel(netlist, pair, trips_early=True))
    return path


def nothing_yet(path: Path) -> Path:
    begun(path, *COLD)
    return path


ENDS: dict[str, tuple[Callable[[Path], Path], str]] = {
    "found": (found, "Found: element: burned open inside."),
    "unfinished": (unfinished, "Unfinished"),
    "danger": (danger, "Stopped for a danger: burning smell"),
    "referred": (referred, "Referred to an electrician"),
    "group": (group, "Narrowed down, not found"),
    "not mended": (not_mended, "Found: relay: output shorted, cannot switch off."),
    "failed": (failed, "Found: relay: output shorted, cannot switch off."),
    "nothing yet": (nothing_yet, "Unfinished"),
    "two at once": (
        two_at_once,
        "Found: relay: output failed open, and element: partly burned through. Two faults at once.",
    ),
}


@pytest.fixture(scope="module")
def report(tmp_path_factory: pytest.TempPathFactory) -> Callable[[str], Report]:
    @lru_cache(maxsize=len(ENDS))
    def made(name: str) -> Report:
        path = ENDS[name][0](tmp_path_factory.mktemp("logs") / "session.yaml")
        header, events = read_log(path)
        model = model_of(header.panel, header.complaint, header.subject)
        return report_of(trace(header, events, model), path.name, WHEN)

    return made


class Page(HTMLParser):
    """Tags that are open, attributes that load something, and texts."""

    def __init__(self, page: str) -> None:
        super().__init__(convert_charrefs=True)
        self.open: list[str] = []
        self.tags: list[str] = []
        self.loads: list[tuple[str, str | None]] = []
        self.words: list[str] = []
        self.feed(page)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.loads += [
            (key, value) for key, value in attrs if key in ("src", "href", "data", "action") or key[:2] == "on"
        ]
        if tag not in ("meta", "br", "hr", "img", "link", "input"):
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag, tag

    def handle_data(self, data: str) -> None:
        if self.open and self.open[-1] != "style":
            self.words.append(data)


@pytest.mark.parametrize("name", ENDS)
def test_every_ending_prints_its_result_in_every_form(report: Callable[[str], Report], name: str) -> None:
    assert report(name).result == ENDS[name][1]
    for form, write in FORMATS.items():
        text = write(report(name))
        shown = "".join(Page(text).words) if form == "html" else text.replace("\\", "")
        for words in (ENDS[name][1], "What was done", "Conclusion", "Cautions", "Signed"):
            assert words in " ".join(shown.split()), (form, words)


@pytest.mark.parametrize("name", ENDS)
def test_the_page_is_whole_loads_nothing_and_has_no_script(report: Callable[[str], Report], name: str) -> None:
    text = FORMATS["html"](report(name))
    page = Page(text)
    assert page.open == []
    assert page.loads == []
    assert not {"script", "iframe", "object", "embed", "link", "img", "form"} & set(page.tags)
    assert not re.search(r"url\(|@import|https?://(?!www\.w3\.org/2000/svg)", text)
    assert '<meta name="viewport" content="width=device-width' in text and "<html lang=" in text


@pytest.mark.parametrize("name", ENDS)
def test_plain_text_keeps_to_its_columns(report: Callable[[str], Report], name: str) -> None:
    assert max(len(line) for line in FORMATS["text"](report(name)).splitlines()) <= 78


def test_readings_are_numbered_alike_in_the_list_and_in_the_drawing(report: Callable[[str], Report]) -> None:
    told = report("found")
    listed = [entry.number for entry in told.entries if entry.number]
    assert listed == list(range(1, len(listed) + 1))
    wiring = next(figure.svg for figure in told.figures if figure.wide)
    words = [text.text for text in ElementTree.fromstring(wiring).iter("{http://www.w3.org/2000/svg}text")]
    assert {str(number) for number in listed} <= set(words)
    assert "FOUND" in words
    assert {number for step in told.path for number in step.numbers} <= set(listed)


def test_each_reading_has_what_was_expected_and_whether_it_was(report: Callable[[str], Report]) -> None:
    for entry in report("found").entries:
        if entry.number:
            assert entry.found and entry.expected
            assert (entry.found == entry.expected) <= entry.as_expected or entry.found == "OL"
    last = [entry for entry in report("found").entries if entry.number][-1]
    assert not last.as_expected and last.says[0].startswith("For the likeliest cause")


def test_belief_begins_with_the_prior_and_ends_with_the_verdict(report: Callable[[str], Report]) -> None:
    told = report("found")
    assert told.course.numbers[0] == 0 and len(told.course.numbers) == sum(e.number > 0 for e in told.entries) + 1
    for place in range(len(told.course.numbers)):
        assert sum(series.shares[place] for series in told.course.series) <= 1 + 1e-9
    assert told.course.series[0].title == told.causes[0].title == "element: burned open inside"
    assert told.course.series[0].shares[-1] > 0.97


def test_what_was_taken_back_and_what_was_left_out_stay_on_record(report: Callable[[str], Report]) -> None:
    kinds = [entry.kind for entry in report("unfinished").entries]
    assert "taken back" in kinds and "left out" in kinds
    assert any(line.startswith("Next: ") for line in report("unfinished").result_lines)
    assert not report("unfinished").purchases and not report("unfinished").proofs


def test_proof_checks_say_how_they_came_out(report: Callable[[str], Report]) -> None:
    outcomes = {line.title: line.outcome for line in report("found").proofs}
    assert outcomes["GFCI or RCD" if "GFCI or RCD" in outcomes else "RCD"] == "declined"
    assert set(outcomes.values()) == {"passed", "declined"}
    assert "declined is not known to be safe" in report("found").proof_note
    assert {line.outcome for line in report("not mended").proofs} == {"not yet"}
    assert "failed" in {line.outcome for line in report("failed").proofs}
    assert any("does not go back to work" in line for line in report("failed").alarms)


def test_a_danger_comes_first_and_names_whom_to_call(report: Callable[[str], Report]) -> None:
    told = report("danger")
    assert told.alarms[0] == "Danger: burning smell."
    assert any(region_of(open_panel(SHED)).emergency in line for line in told.alarms)
    page = FORMATS["html"](told)
    assert page.index("Danger: burning smell") < page.index("What was done")
    assert told.purchase_note.startswith("Nothing")


def test_a_group_names_no_remedy_and_says_to_buy_nothing_yet(report: Callable[[str], Report]) -> None:
    told = report("group")
    assert told.work == () and told.purchase_note.startswith("Buy nothing")
    assert len(told.purchases) >= 2


@pytest.mark.parametrize("name", ENDS)
@pytest.mark.parametrize("form", FORMATS)
def test_no_word_of_another_region_is_left(report: Callable[[str], Report], name: str, form: str) -> None:
    text = FORMATS[form](report(name))
    words = "\n".join(Page(text).words) if form == "html" else text
    panel = open_panel(SHED)
    assert foreign_words(region_of(panel), words, own_words(panel)) == ()


def test_of_two_faults_both_are_marked_mended_and_bought(report: Callable[[str], Report]) -> None:
    told = report("two at once")
    assert [work.part for work in told.work] == ["Relay", "Element"]
    assert told.work[1].measure and told.work[1].why
    assert [each.part for each in told.purchases] == ["relay", "element"]
    assert {step.part for step in told.path if step.mark == "FOUND"} == {"relay", "element"}
    wiring = next(figure.svg for figure in told.figures if figure.wide)
    assert wiring.count(">FOUND<") == 2


def test_what_was_asked_twice_is_listed_twice_and_counts_once(tmp_path: Path) -> None:
    """A reading that nothing explains is asked again; it is one reading, and nothing was taken back."""
    recorded = begun(tmp_path / "log.yaml", *COLD)
    hidden = sim(recorded, "element_cold", "element", "element:open")
    while not isinstance(recorded.question, AskCheck) or recorded.question.check.quantity != "resistance":
        answered(recorded, hidden, 1)
        while isinstance(recorded.question, ConfirmStep):
            recorded.do("confirm", hidden.confirmed(recorded.question.step))
    for text in ("3.3 ohm", "OL"):
        recorded.do("answer", text)
    header, events = read_log(tmp_path / "log.yaml")
    entries = report_of(trace(header, events, model_of(*COLD)), "log", WHEN).entries
    twice = [entry for entry in entries if entry.found in ("3.3 ohm", "OL")]
    assert [entry.kind for entry in twice] == ["asked again", "reading"]
    assert [entry.number > 0 for entry in twice] == [False, True]
    assert "asked again" in twice[0].says[0]
    assert not [entry for entry in entries if entry.kind == "taken back"]


def made_of(path: Path) -> Report:
    header, events = read_log(path)
    return report_of(trace(header, events, model_of(*COLD)), path.name, WHEN)


def test_a_changed_answer_stands_as_it_is_now_and_as_it_was(tmp_path: Path) -> None:
    recorded = begun(tmp_path / "log.yaml", *COLD)
    hidden = sim(recorded, "element_cold", "element", "element:open")
    answered(recorded, hidden, 2)
    first = recorded.session.answers[0]
    outcomes = recorded.session.model.panel.kind_of(
        recorded.session.model.checks_by_id[first.check_id].part
    ).signs[recorded.session.model.checks_by_id[first.check_id].sign].outcomes  # fmt: skip
    other = next(word for number, word in enumerate(outcomes) if number != first.outcome)
    recorded.do("change", other, of=first.check_id)
    entries = made_of(tmp_path / "log.yaml").entries
    of_it = [entry for entry in entries if entry.title == entries[0].title and entry.kind != "note"]
    assert of_it[0].kind == "taken back" and of_it[0].says == ("Changed later.",)
    assert of_it[-1].found == other and of_it[-1].number > 0


@pytest.mark.parametrize(
    ("why", "words"), [("later", "(put off)"), ("reach red", "(red probe out of reach)"), ("", "")]
)
def test_why_a_check_was_left_out_is_said(tmp_path: Path, why: str, words: str) -> None:
    recorded = begun(tmp_path / "log.yaml", *COLD)
    hidden = sim(recorded, "element_cold", "element", "element:open")
    while not isinstance(recorded.question, AskCheck) or not recorded.question.check.tail:
        answered(recorded, hidden, 1)
        while isinstance(recorded.question, ConfirmStep):
            recorded.do("confirm", hidden.confirmed(recorded.question.step))
    recorded.do("skip", why)
    (left,) = [entry for entry in made_of(tmp_path / "log.yaml").entries if entry.kind == "left out"]
    assert left.title.endswith(words) and left.exposure


def test_a_remedy_that_was_not_enough_is_on_record(tmp_path: Path) -> None:
    """The first part was mended and it still stays cold: the search went on, and what was done is all there."""
    recorded = begun(tmp_path / "log.yaml", *COLD)
    answered(recorded, sim(recorded, "element_cold", "element", "element:open"))
    proved(recorded, works="no")
    told = made_of(tmp_path / "log.yaml")
    titles = [entry.title for entry in told.entries]
    mended = next(
        n for n, title in enumerate(titles) if title.startswith("The remedy was carried out. element: Replace")
    )
    went_on = next(n for n, title in enumerate(titles) if "the search went on" in title)
    assert mended < went_on
    assert told.result == "Unfinished" or "burned open" not in told.result
    assert {entry.kind for entry in told.entries[:mended] if entry.exposure} <= {"before", "reading", "asked again"}
    assert "before" in {entry.kind for entry in told.entries}


# Every recorded case --------------------------------------------------------------------------------------

CASES = sorted((Path(__file__).resolve().parents[2] / "cases").glob("*.yaml"))
QUICK = ("pump_dead_seized", "lamp_on_no_heat_pole", "contactor_not_in_coil")


@pytest.mark.parametrize(
    "path", [pytest.param(each, id=each.stem, marks=() if each.stem in QUICK else pytest.mark.long) for each in CASES]
)
def test_every_recorded_case_makes_a_whole_report(path: Path, tmp_path: Path) -> None:
    """Its panel with its fault in it is asked as a person would be, and the log's report is whole in all forms."""
    case = read_case(path, str(path))
    log = tmp_path / "log.yaml"
    recorded = begun(log, case.panel, case.complaint, case.part, case.competence, case.instruments)
    causes = causes_of(recorded.session.model.panel)
    key = f"{case.confirmed.part}:{case.confirmed.fault}"
    hidden = next((cause for cause in causes if cause.key.startswith(key)), None)
    netlist = recorded.session.model.predictor.netlist
    answered(recorded, SimulatedPanel(netlist, hidden, trips_early=True), typed=case.answers)
    header, events = read_log(log)
    made = report_of(trace(header, events, recorded.session.model.narrow or recorded.session.model), log.name, WHEN)
    page = Page(FORMATS["html"](made))
    assert page.open == [] and page.loads == []
    panel = recorded.session.model.panel
    words = "\n".join(page.words).replace("--litres", "")  # the name of an option
    assert foreign_words(region_of(panel), words, own_words(panel)) == ()
    assert max(len(line) for line in FORMATS["text"](made).splitlines()) <= 78
    assert made.course.numbers[-1] == sum(entry.number > 0 for entry in made.entries)
    assert all(contrast(ink, ground) >= TEXT for figure in made.figures for _, ink, ground in texts_on(figure.svg))


# What stands in files is text -----------------------------------------------------------------------------

HOSTILE = "<script>x</script> & <b> | [a](http://b) *c* `d` \u202eevil\x1b[31m"


@pytest.fixture(scope="module")
def hostile(tmp_path_factory: pytest.TempPathFactory) -> Report:
    """A panel whose labels and title try to be markup, and answers that do."""
    from diagnose.knowledge.library import knowledge_folder

    folder = tmp_path_factory.mktemp("hostile")
    text = (knowledge_folder() / "panels" / f"{SHED}.yaml").read_text(encoding="utf-8")
    text = re.sub(r"^title: .*$", 'title: "<script>x</script> & <b> | [a](http://b) *c* `d`"', text, flags=re.MULTILINE)
    label = '  element: "<script>x</script> & <b> | [a](http://b) *c* `d` \\u202eevil"\n'
    text = (
        re.sub(r"^labels:\n", "labels:\n" + label, text, flags=re.MULTILINE)
        if "\nlabels:" in text
        else (text + "labels:\n" + label)
    )
    (folder / "panel.yaml").write_text(text, encoding="utf-8")
    recorded = begun(folder / "log.yaml", str(folder / "panel.yaml"), "element_stuck_on", "element")
    netlist = recorded.session.model.predictor.netlist
    cause = next(cause for cause in recorded.session.model.causes if cause.key.startswith("relay:shorted"))
    answered(recorded, SimulatedPanel(netlist, cause))
    header, events = read_log(folder / "log.yaml")
    return report_of(trace(header, events, recorded.session.model), HOSTILE, WHEN)


def test_nothing_of_a_file_becomes_markup(hostile: Report) -> None:
    page = Page(FORMATS["html"](hostile))
    assert page.open == [] and "script" not in page.tags and page.loads == []
    assert any("<script>x</script>" in words for words in page.words)
    markdown = FORMATS["markdown"](hostile)
    assert "\\<script\\>" in markdown and not re.search(r"(?<!\\)<script|(?<!\\)\[a", markdown)
    rows = [line for line in markdown.splitlines() if line.startswith("| ") and "script" in line]
    assert rows and all(len(re.findall(r"(?<!\\)\|", row)) in (3, 6, 4) for row in rows)


@pytest.mark.parametrize("form", FORMATS)
def test_no_control_character_and_no_turning_mark_gets_through(hostile: Report, form: str) -> None:
    assert not re.search("[\x00-\x09\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]", FORMATS[form](hostile))


# Contrast (WCAG 2.1) --------------------------------------------------------------------------------------


def test_every_text_colour_of_the_page_stands_out_from_every_ground() -> None:
    texts = set(re.findall(r"(?<![-\w])color: (#[0-9a-f]{3,6})", style.STYLE))
    grounds = set(re.findall(r"background: (#[0-9a-f]{3,6})", style.STYLE))
    assert len(texts) >= 4 and len(grounds) >= 2
    assert {(one, two): ratio for one in texts for two in grounds if (ratio := contrast(one, two)) < TEXT} == {}
    edges = set(re.findall(r"(?:border|border-\w+): [^;]*?(#[0-9a-f]{3,6})", style.STYLE))
    assert edges and {(one, two) for one in edges for two in grounds if contrast(one, two) < SHAPE} == set()


def test_the_ratio_is_that_of_the_guideline() -> None:
    """Black on white is 21; #767676 on white is the grey just above 4.5 (both well known)."""
    assert contrast("#000", "#ffffff") == pytest.approx(21.0)
    assert 4.5 <= contrast("#767676", "#fff") < 4.6 and contrast("#777777", "#fff") < 4.5


@pytest.mark.parametrize("name", ENDS)
def test_every_text_of_the_drawings_and_the_plot_stands_out(report: Callable[[str], Report], name: str) -> None:
    page = FORMATS["html"](report(name))
    drawings = re.findall(r"<svg.*?</svg>", page, re.DOTALL)
    assert drawings
    weak = [told for svg in drawings for told in texts_on(svg) if contrast(told[1], told[2]) < TEXT]
    assert weak == []


def test_lines_of_the_plot_differ_in_dash_and_shape_and_can_be_seen() -> None:
    assert len({dash for _, dash, _ in STYLES}) == len({shape for _, _, shape in STYLES}) == len(STYLES)
    assert (
        all(contrast(colour, style.PAPER) >= TEXT for colour, _, _ in STYLES) and contrast(GRID, style.PAPER) >= SHAPE
    )


# The command ----------------------------------------------------------------------------------------------


def test_the_command_writes_whole_files_and_never_over_one(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    log = not_mended(tmp_path / "log.yaml")
    out = tmp_path / "report.html"
    assert main(["report", str(log), "--out", str(out)]) == 0
    assert out.read_text(encoding="utf-8").startswith("<!DOCTYPE html>")
    assert main(["report", str(log), "--out", str(out)]) == 2
    assert "there is a file here already" in capsys.readouterr().err
    assert main(["report", str(log), "--markdown"]) == 0
    assert capsys.readouterr().out.startswith("# ")
    assert main(["report", str(tmp_path / "none.yaml")]) == 2
    assert main(["report", str(log), "--text", "--html"]) == 2
