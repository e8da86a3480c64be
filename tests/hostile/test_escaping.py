"""What stands in a file never reaches a terminal, a page, a drawing or Markdown as more than text."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from dataclasses import dataclass
from html.parser import HTMLParser
from pathlib import Path

import pytest

from diagnose import cli
from diagnose.coverage.gather import Coverage
from diagnose.coverage.pages import as_html, as_json, as_markdown
from diagnose.escaping import json_text, markdown_text
from diagnose.knowledge.library import knowledge_folder
from diagnose.opening import open_panel
from tests.hostile.targets import environment, quiet
from tests.report.logs import whole

PANEL, COMPLAINT, PART = "vicarage_dial_box", "element_cold", "element"  # the smallest

BIDI = "\u202e\u2066\u200f"
POISON = BIDI + "<script>alert(1)</script><b>\"'& [x](http://evil.example) |`c`*b*_i_ # ~~s~~ ![y](z)"
UNSEEN = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u061c\u200b-\u200f\u2028-\u202e\u2060-\u2069\ufeff]")
START = ["--complaint", COMPLAINT, "--part", PART, "--competence", "isolated", "--instruments", "multimeter"]


@dataclass(frozen=True)
class Poisoned:
    """A panel with the poison in title, story and every label, a log and a case with it wherever a text may stand."""

    home: Path
    panel: Path
    log: Path
    case: Path

    def run(self, *arguments: str, typed: str = "") -> str:
        """A command's output and errors together."""
        state, data = str(self.home / "state"), str(self.home / "data")
        with environment(HOME=str(self.home), XDG_STATE_HOME=state, XDG_DATA_HOME=data), quiet(typed) as (out, error):
            assert cli.main(list(arguments)) in (0, 1, 2)
        return out.getvalue() + error.getvalue()


def _quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=False)


def _put(text: str, key: str, value: str) -> str:
    return re.sub(rf"^{key}:.*$", lambda match: f"{key}: {value}", text, count=1, flags=re.MULTILINE)


@pytest.fixture(scope="module")
def poisoned(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Poisoned]:
    home = tmp_path_factory.mktemp("poisoned")
    text = _put(
        (knowledge_folder() / "panels" / f"{PANEL}.yaml").read_text(encoding="utf-8"), "title", _quoted("T" + POISON)
    )
    text = text.replace("The invented vicar", f"S{BIDI}<script>The invented vicar")
    text = re.sub(r"^labels:\n(?:  .*\n)+", "", text, flags=re.MULTILINE)
    names = re.findall(r"^  (\w+): ", text[text.index("parts:") : text.index("wires:")], flags=re.MULTILINE)
    text += "labels:\n" + "".join(f"  {name}: {_quoted(name + POISON)}\n" for name in names)
    panel = home / f"p{BIDI}<b>.yaml"
    panel.write_text(text, encoding="utf-8")
    (home / "logs").mkdir()
    log = home / "logs" / f"l{BIDI}[x](y).yaml"
    whole(log, str(panel), COMPLAINT, PART, "element:open")
    told = _put(log.read_text(encoding="utf-8"), "begun", _quoted(f"2026-03-14T19:20:00{POISON}"))
    told = _put(
        told,
        "instruments",
        json.dumps(["multimeter", "insulation_tester", f"spare {POISON}", POISON], ensure_ascii=False),
    )
    log.write_text(told, encoding="utf-8")
    case = home / f"c{BIDI}.yaml"
    base = Path(__file__).resolve().parents[2] / "cases" / "dial_box_plug_fuse.yaml"
    case.write_text(_put(base.read_text(encoding="utf-8"), "case", _quoted("C" + POISON)), encoding="utf-8")
    yield Poisoned(home, panel, log, case)


def _markdown_is_text(text: str) -> None:
    """No tag, no link, no cell and no code of the poison is left without its backslash or its entity."""
    for piece in ("`c`", "*b*", "~~s~~", "![y]"):
        assert piece not in text, piece
    assert not re.search(r"(?<!\\)(?:\[x|\]\(http|<script|<b>)", text)


class _Tags(HTMLParser):
    """The tags of a page, and where it leads."""

    def __init__(self) -> None:
        super().__init__()
        self.tags: set[str] = set()
        self.leads: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.add(tag)
        self.leads += [f"{name}={value}" for name, value in attrs if name in ("href", "src") or name.startswith("on")]


def _page_is_text(page: str) -> None:
    """No script, no bold text of the poison's, nothing that leads anywhere."""
    tags = _Tags()
    tags.feed(page)
    assert not {"script", "iframe", "img", "a"} & tags.tags and tags.leads == []
    assert "alert(1)" in page and "<script" not in page


ASKED = "why\npath\ngrounds\ntext\nanswers\nout\nif 2\n1\nback\n2\nhelp\n"


@pytest.mark.parametrize(
    "arguments",
    [["start", "--panel", "PANEL", *START, "--log", "HOME/s1.yaml"],
     ["start", "--panel", "PANEL", *START, "--plain", "--ladder", "--log", "HOME/s2.yaml"],
     ["start", "--panel", "PANEL", *START, "--friend", "--friend-competence", "isolated", "--log", "HOME/s3.yaml"],
     ["expect", "PANEL"], ["expect", "PANEL", "--fault", "regulator:open", "--format", "json"], ["review", "PANEL"],
     ["review", "PANEL", "--format", "json"], ["finish", "PANEL", "--fault", "regulator:open"],
     ["report", "LOG", "--text"], ["history", "HOME/logs"], ["history", "HOME/logs", "--format", "json"],
     ["resume", "LOG"],
     ["validate", "LOG", "PANEL", "CASE"], ["validate", "CASE", "--format", "json"], ["replay", "CASE"],
     ["learn", "LOG", "--confirmed", "element:open"], ["swing", POISON, "--set", "66C"], ["start", "--panel", POISON],
     ["start", "--panel", "PANEL", "--complaint", POISON], ["start", "--panel", "PANEL", *START, "--part", POISON],
     ["resume", POISON], ["expect", "PANEL", "--fault", POISON], ["describe", "PANEL"]],
    ids=lambda arguments: " ".join(each for each in arguments if each != POISON)[:60],
)  # fmt: skip
def test_nothing_steers_the_terminal(arguments: list[str], poisoned: Poisoned) -> None:
    """Each command that shows a file's text, with the text there, and not a character that is not to be seen."""
    places = {"PANEL": str(poisoned.panel), "LOG": str(poisoned.log), "CASE": str(poisoned.case)}
    given = [places.get(each, each.replace("HOME", str(poisoned.home))) for each in arguments]
    shown = poisoned.run(*given, typed=ASKED)
    assert shown and not UNSEEN.search(shown), UNSEEN.findall(shown)[:3]


@pytest.mark.parametrize(
    "arguments", [["expect", "PANEL"], ["expect", "PANEL", "--fault", "regulator:open"], ["review", "PANEL"]]
)
def test_tables_in_markdown_are_text(arguments: list[str], poisoned: Poisoned) -> None:
    shown = poisoned.run(
        *(str(poisoned.panel) if each == "PANEL" else each for each in arguments), "--format", "markdown"
    )
    assert not UNSEEN.search(shown)
    _markdown_is_text(shown)


def test_a_report_is_text_in_every_form(poisoned: Poisoned) -> None:
    _page_is_text(poisoned.run("report", str(poisoned.log), "--html"))
    _markdown_is_text(poisoned.run("report", str(poisoned.log), "--markdown"))


@pytest.mark.slow
def test_a_sheet_is_text(poisoned: Poisoned) -> None:
    _page_is_text(poisoned.run("sheet", str(poisoned.panel), "--complaint", COMPLAINT, "--part", PART))


@pytest.mark.parametrize("view", ["wiring", "one-line"])
def test_a_drawing_is_text(view: str, poisoned: Poisoned) -> None:
    drawing = poisoned.run("draw", str(poisoned.panel), "--view", view, "--fault", "regulator:open")
    assert not UNSEEN.search(drawing)
    assert "<script" not in drawing and "<b>" not in drawing and "&lt;" in drawing


def test_coverage_is_text(poisoned: Poisoned) -> None:
    """Its pages over a panel's own words: what they are worked out from takes a minute."""
    panel = open_panel(str(poisoned.panel))
    coverage = Coverage(panel, (), (("dial", "open", POISON),), 1, ())
    _page_is_text(as_html(coverage))
    assert not UNSEEN.search(as_json(coverage)) and not UNSEEN.search(as_markdown(coverage))
    assert "<script" not in as_markdown(coverage) and not re.search(r"(?<!\\)\[x", as_markdown(coverage))


def test_messages_are_text_in_the_folder_and_nowhere_else(poisoned: Poisoned, tmp_path: Path) -> None:
    folder = tmp_path / "messages"
    places = ["--messages", str(folder), "--log", str(tmp_path / "log.yaml")]
    friend = ["--friend", "--friend-competence", "isolated"]
    poisoned.run("start", "--panel", str(poisoned.panel), *START, *friend, *places, typed="1\n1\n")
    assert sorted(each.name for each in tmp_path.iterdir()) == ["log.yaml", "messages"]
    written = [each.read_text(encoding="utf-8") for each in folder.iterdir()]
    assert written and all(re.fullmatch(r"\d{3}\.txt", each.name) for each in folder.iterdir())
    assert not any(UNSEEN.search(each) for each in written)


@pytest.mark.parametrize("name", ["../../x", "..", "/etc/passwd", "x/../../y", ".", "~"])
def test_a_panel_s_name_makes_no_path(name: str, poisoned: Poisoned, tmp_path: Path) -> None:
    """A panel file's own name for itself is a word; a log's panel is read, and never written to."""
    panel = tmp_path / "panel.yaml"
    panel.write_text(_put(poisoned.panel.read_text(encoding="utf-8"), "panel", _quoted(name)), encoding="utf-8")
    assert "is no name; expected small letters" in poisoned.run("draw", str(panel))
    log = tmp_path / "log.yaml"
    log.write_text(_put(poisoned.log.read_text(encoding="utf-8"), "panel", _quoted(name)), encoding="utf-8")
    before = sorted(tmp_path.rglob("*"))
    shown = poisoned.run("resume", str(log)) + poisoned.run("report", str(log))
    assert "; expected" in shown and "bug" not in shown
    assert sorted(tmp_path.rglob("*")) == before


def test_a_session_of_a_panel_with_an_odd_path_keeps_its_log_in_the_state_folder(
    poisoned: Poisoned, tmp_path: Path
) -> None:
    panel = tmp_path / "...yaml"
    panel.write_bytes(poisoned.panel.read_bytes())
    before = {each for each in poisoned.home.parent.rglob("*") if each.is_file()}
    poisoned.run("start", "--panel", str(panel), *START, typed="1\n")
    made = {each for each in poisoned.home.parent.rglob("*") if each.is_file()} - before
    assert {each.parent for each in made} == {poisoned.home / "state" / "diagnose"}


@pytest.mark.parametrize("text", [POISON, "- a", "1. a", "+ x", "a\\b", "_a_", "&lt;"])
def test_markdown_text_has_every_mark_escaped(text: str) -> None:
    made = markdown_text(text)
    assert not UNSEEN.search(made)
    assert not re.search(r"(?<!\\)[`*_{}\[\]<>#|~!&]", made)
    assert not re.match(r"\s*(?:[-+]|\d+[.)])\s", made)


def test_json_text_is_the_same_data() -> None:
    data = {"a": POISON, "b": [1.5, None, "\x1b[2J"]}
    assert json.loads(json_text(data)) == data
    assert not UNSEEN.search(json_text(data))
