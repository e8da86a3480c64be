"""Pages that are asked for, the bottom line, and how much of a screen a check takes. No terminal."""

from __future__ import annotations

import re
from functools import lru_cache

import pytest

from diagnose.opening import Recorded, bundled_panels, open_model, open_panel
from diagnose.safety import PanelState
from diagnose.screen.asides import answers_page, effect_lines, grounds_page, if_page, out_page
from diagnose.screen.console import PlainConsole, style_for, wants_ascii, wrapped
from diagnose.screen.fitting import MOST_LINES, check_pages, lines_on
from diagnose.screen.looking_back import PAGES
from diagnose.screen.pages import why_page
from diagnose.screen.status import state_words, status_line
from diagnose.screen.typing_help import WORDS, help_for
from diagnose.session import AskCheck, ConfirmStep, Session, ask, start
from tests.screen.helpers import recorded, step_on

SCREEN = 24


@lru_cache(maxsize=1)
def _whole() -> tuple[Session, ...]:
    """The states of one session, from the first question to the end."""
    going, _ = recorded("live")
    states = [going.session]
    while isinstance(going.question, AskCheck | ConfirmStep):
        step_on(going)
        states.append(going.session)
    return tuple(states)


def _asked() -> list[tuple[Session, AskCheck]]:
    return [(session, question) for session in _whole() if isinstance(question := ask(session), AskCheck)]


@pytest.mark.parametrize("width", [40, 80, 120])
def test_a_check_takes_at_most_a_dozen_lines(width: int) -> None:
    """On 80 columns and more; twice that on a phone. Nothing that has to be done or minded is cut."""
    checks = _asked()
    assert len(checks) >= 3
    for session, question in checks:
        pages = check_pages(session, question, 1, width)
        assert lines_on(pages[-1], width) <= (MOST_LINES if width >= 80 else SCREEN)
        assert sum(lines_on(page, width) for page in pages) <= (SCREEN if width >= 80 else 2 * SCREEN)
        assert all(len(line) <= width for page in pages for line in wrapped([page.title, *page.lines], width))


QUICK = ("loft_dairy_208", "orchard_digital")
PANELS = [
    pytest.param(entry.name, marks=[] if entry.name in QUICK else [pytest.mark.long]) for entry in bundled_panels()
]


@pytest.mark.parametrize("name", PANELS)
def test_the_first_check_of_every_panel_fits(name: str) -> None:
    """The one with the most to change and to warn of."""
    panel = open_panel(name)
    model = open_model(panel, "element_cold", panel.of_role("heater")[0])
    session = start(model, "live", frozenset({"multimeter"}))
    question = ask(session)
    assert isinstance(question, AskCheck)
    pages = check_pages(session, question, 1, 80)
    assert lines_on(pages[-1], 80) <= MOST_LINES and sum(lines_on(page, 80) for page in pages) <= SCREEN


@pytest.mark.parametrize("width", [40, 80])
def test_every_page_that_is_asked_for_fits_a_screen(width: int) -> None:
    """24 lines of 80 columns; two such screens of 40."""
    most = SCREEN - 1 if width >= 80 else 2 * SCREEN
    for session, question in _asked():
        for page in [*(page(session) for page in PAGES.values()), why_page(session, question)]:
            assert lines_on(page, width) <= most, page


def test_the_grounds_name_each_reading_with_what_was_expected() -> None:
    session = _whole()[-1]
    lines = grounds_page(session).lines
    assert lines[0].startswith("Likeliest now: element: burned open inside, ")
    telling = [line for line in lines if line.startswith("- for: ")]
    assert telling and all(re.search(r": \S.* \(this cause: .+; sound: .+\)$", line) for line in telling)
    assert grounds_page(_whole()[0]).lines[0].startswith("Nothing was answered yet")


def test_what_is_out_says_by_which_answer_and_adds_up() -> None:
    """Each cause that does not fit is counted once, at the first answer that it does not fit; the rest is still in."""
    session = _whole()[-1]
    text = " ".join(out_page(session).lines)
    out = [int(number) for number in re.findall(r"Out, (\d+): ", text)]
    still = int(re.search(r"Still in, (\d+): ", text)[1])  # type: ignore[index]
    titles = {session.model.title(cause) for cause in session.model.causes}
    assert out and still >= 1 and sum(out) + still >= len(titles)
    assert "element: burned open inside" in text.partition("Still in")[2]


def test_what_if_tells_what_would_be_asked_next() -> None:
    """The same as is asked when the answer is given; the session itself stays as it was."""
    session, question = next((s, q) for s, q in _asked() if not q.outcomes)
    before = session.answers
    page = if_page(session, question, "OL")
    assert page.title == "If OL" and page.lines[0].endswith((" %.", "%."))
    assert page.lines[1].startswith(("Then asked: ", "That would be the end")) and session.answers == before
    assert "what if is about a check" in if_page(session, ConfirmStep("isolate", question.check), "OL").lines[0]


def test_the_answers_are_numbered_and_say_how_they_are_changed() -> None:
    session = _whole()[-1]
    lines = answers_page(session).lines
    assert [int(line.split()[0]) for line in lines[:-1]] == list(range(1, len(session.answers) + 1))
    assert lines[-1].startswith("change 2 OL:")
    assert effect_lines(session, session, "") == ["That changes nothing that matters."]


# The bottom line ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("state", "words"),
    [
        (PanelState(), "supply on, box shut"),
        (PanelState("isolated", open=True, proof="dead"), "supply off, box open, proved dead"),
        (PanelState("isolated", open=True, leads_off=True), "supply off, box open, wires off"),
        (PanelState("unknown"), "supply not known, box shut"),
        (PanelState("energised", open=True), "LIVE, box open"),
    ],
)
def test_the_panel_s_state_is_said_in_words(state: PanelState, words: str) -> None:
    assert state_words(state) == words


@pytest.mark.parametrize("width", [39, 79, 119])
def test_the_bottom_line_fits_and_says_the_likeliest(width: int) -> None:
    for session in _whole():
        line = status_line(session, 12.4, width)
        assert len(line) <= width and " | 12 min | " in line and line.endswith(" %")


# What may be typed ----------------------------------------------------------------------------------------


def test_completion_offers_what_makes_sense_and_no_more() -> None:
    session, question = _asked()[0]
    told = help_for(session, question)
    words = [word for word, _ in told.completions("")]
    assert set(question.outcomes) <= set(words) and told.keys == tuple("123456789"[: len(question.outcomes)])
    assert not {"back", "answers", "change", "grounds", "can't reach"} & set(words)
    later, reading = next((s, q) for s, q in _asked() if not q.outcomes)
    more = help_for(later, reading)
    assert {"back", "answers", "change", "grounds", "can't reach", "OL"} <= {word for word, _ in more.completions("")}
    assert more.keys == ()
    assert [word for word, _ in more.completions("4.7")] == ["4.7 ohm", "4.7 kohm", "4.7 Mohm"]
    assert [word for word, _ in more.completions("gr")] == ["grounds"]
    assert all(meaning for word, meaning in more.completions("") if word in WORDS)


@pytest.mark.parametrize(
    ("typed", "taken"),
    [("12.1", "= 12.1 Ω"), ("OL", "= OL"), ("why", WORDS["why"]), ("wh", WORDS["why"]), ("", ""),
     ("12 kg", "? '12 kg' is mass"), ("smoke", "ends the session, with what to do"), ("if 12", WORDS["if"])],
)  # fmt: skip
def test_a_line_is_judged_while_it_is_typed(typed: str, taken: str) -> None:
    session, question = next((s, q) for s, q in _asked() if q.check.quantity == "resistance")
    assert help_for(session, question).taken(typed) == taken


# Plain consoles -------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("environment", "ascii_only"),
    [
        ({"LANG": "C"}, True),
        ({"LANG": "C", "LC_CTYPE": "C.UTF-8"}, True),  # as Python itself sets it there
        ({"LC_ALL": "POSIX", "LANG": "en_US.UTF-8"}, True),
        ({"LANG": "en_US.UTF-8"}, False),
        ({"LC_ALL": "de_DE.UTF-8", "LANG": "C"}, False),
        ({}, False),
        ({"LANG": "C", "PYTHONIOENCODING": "utf-8"}, False),
    ],
)
def test_the_locale_says_whether_it_is_ascii(
    environment: dict[str, str], ascii_only: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name in ("LC_ALL", "LC_CTYPE", "LANG", "PYTHONIOENCODING", "PYTHONUTF8"):
        monkeypatch.delenv(name, raising=False)
    for name, value in environment.items():
        monkeypatch.setenv(name, value)
    assert wants_ascii() is ascii_only


def test_a_console_draws_with_what_its_output_can_show() -> None:
    import io

    assert style_for("utf-8").good == "║" and style_for("ascii").good == "#" and style_for("latin-1").good == "#"
    assert PlainConsole(io.StringIO(), io.StringIO(), ascii_only=True).style == style_for("ascii")
    assert PlainConsole(io.StringIO(), io.StringIO(), drawn=False).style is None


def test_recorded_events_can_name_another_check() -> None:
    """A change is about an answer that was given, not about what is asked."""
    going, kept = recorded("live")
    step_on(going)
    first = going.session.answers[0].check_id
    going = Recorded(going.session, kept.append)
    going.do("change", "", first)
    assert (kept[-1].what, kept[-1].of) == ("change", first)
