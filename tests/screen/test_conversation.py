"""The conversation, typed into a pipe; what is said is kept."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import pytest
from prompt_toolkit.application import create_app_session
from prompt_toolkit.input import create_pipe_input
from prompt_toolkit.input.base import PipeInput
from prompt_toolkit.output import DummyOutput

from diagnose.log import Event
from diagnose.opening import Recorded, all_complaints, fitting, open_panel
from diagnose.safety import DANGERS, facts_taken
from diagnose.said import matching
from diagnose.screen.asking import SCREENFUL, DangerError, Given, ask_all
from diagnose.screen.console import TerminalConsole, fitted, wrapped
from diagnose.screen.conversation import COMMANDS, Conversation
from diagnose.screen.pages import verdict_page
from diagnose.session import AskCheck, ConfirmStep, Verdict
from diagnose.wording import COMPETENCE_WORDS
from tests.screen.helpers import PANEL, recorded, reply, shared_model, step_on


class _Kept(TerminalConsole):
    """Keeps what is said."""

    def __init__(self) -> None:
        super().__init__()
        self.said: list[str] = []

    def say(self, lines: Iterable[str], title: str = "") -> None:
        """Keep, and show as usual."""
        lines = list(lines)
        self.said += [title, *lines] if title else lines
        super().say(lines, title)

    def draw(self, lines: Iterable[str], title: str = "") -> None:
        """Keep, and show as usual."""
        lines = list(lines)
        self.said += [title, *lines]
        super().draw(lines, title)


@pytest.fixture
def typed() -> Iterator[PipeInput]:
    with create_pipe_input() as pipe, create_app_session(input=pipe, output=DummyOutput()):
        yield pipe


def _converse(pipe: PipeInput, *lines: str) -> tuple[_Kept, list[str]]:
    """Type lines, then leave."""
    console = _Kept()
    going, kept = recorded()
    pipe.send_text("".join(f"{line}\r" for line in lines) + "\x04")
    try:
        Conversation(console, going, "log.yaml").run()
    except EOFError:
        console.said.append("(left)")
    return console, [event.what for event in kept]


def test_a_wrong_answer_is_explained_and_asked_again(typed: PipeInput) -> None:
    console, events = _converse(typed, "ten", "")
    assert any(line.startswith("'ten' is none of the answers; expected 1 ") for line in console.said)
    assert "Nothing was typed; expected the answer, or skip. help lists the words." in console.said
    assert console.said[-1] == "(left)" and events == []


@pytest.mark.parametrize(
    ("wrong", "explained"),
    [
        ("ten", "'ten' "),
        ("12 kg", "'12 kg' is mass; expected resistance"),
        ("-5 ohm", "'-5 ohm' is below zero; expected resistance"),
    ],
)
def test_a_wrong_reading_is_explained_in_one_line(typed: PipeInput, wrong: str, explained: str) -> None:
    going, kept = recorded()
    while not (isinstance(going.question, AskCheck) and going.question.check.quantity == "resistance"):
        step_on(going)
    console, before = _Kept(), len(kept)
    typed.send_text(f"{wrong}\r\x04")
    with pytest.raises(EOFError):
        Conversation(console, going, "log.yaml").run()
    assert console.said[-1].startswith(explained) and "; expected " in console.said[-1]
    assert len(kept) == before


def test_words_explain_without_answering(typed: PipeInput) -> None:
    console, events = _converse(typed, "why", "path", "help", "?")
    assert "Why this check" in console.said
    assert "Path of the current: controller" in console.said
    assert console.said.count("Words") == 2
    assert any(line.startswith("grounds: ") for line in console.said), "a word that is typed stays as it is typed"
    assert events == []


def test_skip_back_and_stop_are_events(typed: PipeInput) -> None:
    console, events = _converse(typed, "back", "skip", "back", "don't know", "stop")
    assert "there is no answer to go back to; expected an answer first" in console.said
    assert events == ["skip", "back", "skip", "stop"]
    assert "   diagnose resume log.yaml" in console.said


@pytest.mark.parametrize("word", DANGERS)
def test_danger_in_any_word_ends_it_with_what_to_do(typed: PipeInput, word: str) -> None:
    console, events = _converse(typed, word.upper())
    assert events == ["stop"]
    assert console.said.index("STOP") < console.said.index("Stopped")
    assert any("Someone had a shock?" in line for line in console.said)
    assert "The supply stays off until an electrician has looked at it." in console.said
    assert not any("diagnose resume" in line for line in console.said)


def test_no_outcome_is_also_a_command_or_a_danger() -> None:
    """Else an answer would end the session, or the other way round."""
    words = {*COMMANDS, *DANGERS}
    for part in shared_model().panel.parts.values():
        for sign in part.kind.signs.values():
            assert not words & set(sign.outcomes), (part.name, sign.name)


def test_a_step_waits_for_done(typed: PipeInput) -> None:
    going, kept = recorded()
    while not isinstance(going.question, ConfirmStep):
        step_on(going)
    console, before = _Kept(), len(kept)
    typed.send_text("maybe\rwhy\rdone\r\x04")
    with pytest.raises(EOFError):
        Conversation(console, going, "log.yaml").run()
    assert "Type done when every line is done. If one can't be: skip. If something is wrong: danger." in console.said
    assert "The next check needs the panel in this state. Safety comes before speed." in console.said
    assert [event.what for event in kept[before:]] == ["confirm"]


def test_ctrl_c_loses_nothing(typed: PipeInput) -> None:
    going, kept = recorded()
    first = reply(going.question)
    typed.send_text(f"{first}\r\x03")
    with pytest.raises(KeyboardInterrupt):
        Conversation(_Kept(), going, "log.yaml").run()
    assert [(event.what, event.text) for event in kept] == [("answer", first)]


def test_the_verdict_says_all_that_it_has_to() -> None:
    going, _ = recorded()
    while not isinstance(question := going.question, Verdict):
        step_on(going)
    page = verdict_page(going.session, question, "log.yaml")
    text = "\n".join(page.lines)
    assert page.title == "Found"
    for wanted in (
        "element: burned open inside", "What to do: ", "Before any work on it: supply off, and proved dead.",
        "Measure before it is used again:", "Evidence:", "- for: ", "Caution: Mains in this box can kill.",
        "Log: log.yaml",
    ):  # fmt: skip
        assert wanted in text, wanted


def test_an_open_live_box_is_the_first_thing_said_at_the_end(typed: PipeInput) -> None:
    """Whoever stops in front of bare mains is told to take the supply off before anything else."""
    from dataclasses import replace

    from diagnose.safety import PanelState
    from diagnose.session import ask, stop

    going, _ = recorded("live")
    session = replace(stop(going.session), state=PanelState("energised", open=True))
    verdict = ask(session)
    assert isinstance(verdict, Verdict)
    page = verdict_page(session, verdict, "log.yaml")
    assert page.lines[0] == "FIRST: take the supply off. The box is open and LIVE."


def test_a_group_does_not_pick_one() -> None:
    """Few checks, none answered: several causes are left, and the verdict says so."""
    going, _ = recorded("outside", ())
    while not isinstance(question := going.question, Verdict):
        going.do("skip")
    page = verdict_page(going.session, question, "log.yaml")
    assert question.kind == "group"
    assert page.title == "Narrowed down"
    assert page.lines[0].startswith("One of these. No check that is open to you tells them apart")
    assert sum(" %  " in line or " % " in line for line in page.lines) > 1


def _at_a_reading() -> Recorded:
    going, _ = recorded()
    while not (isinstance(going.question, AskCheck) and going.question.check.quantity == "resistance"):
        step_on(going)
    return going


def test_an_answer_is_changed_and_what_that_changes_is_said(typed: PipeInput) -> None:
    """By its number with the new answer, then with the answer asked for, then opened again."""
    console, going = _Kept(), _at_a_reading()
    first, count = going.session.answers[0], len(going.session.answers)
    typed.send_text("answers\rchange 1 dark\rchange 1\r\r\x04")
    with pytest.raises(EOFError):
        Conversation(console, going, "log.yaml").run()
    assert "Answers" in console.said and "What that changes:" in console.said
    assert first.check_id not in {given.check_id for given in going.session.answers}
    assert len(going.session.answers) == count - 1


def test_a_wrong_number_or_answer_changes_nothing(typed: PipeInput) -> None:
    console, going = _Kept(), _at_a_reading()
    before = going.session.answers
    typed.send_text("change 99\rchange x\rchange 1 purple\rchange\r\r\x04")
    with pytest.raises(EOFError):
        Conversation(console, going, "log.yaml").run()
    assert f"'99' is no answer's number; expected 1 to {len(before)}" in console.said
    assert any(line.startswith("'purple' is none of the answers") for line in console.said)
    assert going.session.answers == before


def test_not_now_and_no_reach_are_kept_with_their_reason(typed: PipeInput) -> None:
    console, going = _Kept(), _at_a_reading()
    kept: list[Event] = []
    going = Recorded(going.session, kept.append)
    typed.send_text("not now\r\x04")
    with pytest.raises(EOFError):
        Conversation(console, going, "log.yaml").run()
    assert [(event.what, event.text) for event in kept] == [("skip", "later")]
    assert "Put off until nothing else is left." in console.said


def test_the_end_can_be_looked_back_from(typed: PipeInput) -> None:
    """Nothing to mend: words to look back with, a wrong one is said, and Enter ends it."""
    going, _ = recorded("outside", ())
    while not isinstance(going.question, Verdict):
        going.do("skip")
    console = _Kept()
    typed.send_text("out\rnonsense\rpath\r\r")
    assert Conversation(console, going, "log.yaml").run() == 0
    assert "What is out, and by what" in console.said
    assert "'nonsense' is none of these; expected one of them, or Enter" in console.said
    assert any(line.startswith("Path of the current: ") for line in console.said)


def test_what_if_gives_no_answer(typed: PipeInput) -> None:
    console, events = _converse(typed, "if 1", "if purple", "if")
    assert events == []
    page = console.said[console.said.index("If 1") + 1 :]
    assert page[1].startswith(("Then asked: ", "That would be the end"))
    assert any(line.startswith("'purple' is none of the answers") for line in console.said)


# Before the first check -----------------------------------------------------------------------------------


def _asked(pipe: PipeInput, *lines: str, given: Given | None = None) -> tuple[_Kept, object]:
    console = _Kept()
    pipe.send_text("".join(f"{line}\r" for line in lines) + "\x04")
    return console, ask_all(console, given or Given())


def test_everything_that_is_not_given_is_asked_for(typed: PipeInput) -> None:
    _, choices = _asked(typed, "99", "cellar_two_kettle", "element_cold", "2", "yes", "y", "yes", "yes", "", "1 3")
    assert choices.panel_name == "cellar_two_kettle"  # type: ignore[attr-defined]
    assert choices.complaint.name == "element_cold"  # type: ignore[attr-defined]
    assert choices.part == "boil_element"  # type: ignore[attr-defined]
    assert choices.competence == "isolated"  # type: ignore[attr-defined]
    assert choices.instruments == ("multimeter", "insulation_tester")  # type: ignore[attr-defined]
    assert choices.interview == facts_taken("isolated")  # type: ignore[attr-defined]


def test_competence_is_never_assumed(typed: PipeInput) -> None:
    """Enter is the least, in words that say what it is; with it come no instruments."""
    console, choices = _asked(typed, "", "", given=Given(PANEL, "element_cold"))
    assert choices.competence == "outside" and choices.instruments == ()  # type: ignore[attr-defined]
    assert any(COMPETENCE_WORDS["outside"] in line for line in console.said)


@pytest.mark.parametrize(
    ("answers", "competence"),
    [
        (("no",), "outside"),
        (("yes", "no"), "outside"),
        (("yes", "yes", "no"), "outside"),
        (("yes", "yes", "yes", "no"), "outside"),
        (("yes", "yes", "yes", "yes", "no"), "isolated"),
        (("yes", "maybe", "yes", "yes", "yes", "yes"), "live"),
    ],
)
def test_each_thing_that_is_missing_keeps_the_box_shut(
    answers: tuple[str, ...], competence: str, typed: PipeInput
) -> None:
    """No CAT III meter, nothing to prove it on, no lock: outside. What follows is said."""
    console, choices = _asked(typed, *answers, "1", given=Given(PANEL, "element_cold"))
    assert choices.competence == competence  # type: ignore[attr-defined]
    assert any(line.startswith("So: ") and COMPETENCE_WORDS[competence] in line for line in console.said)


def test_without_a_meter_among_the_instruments_the_box_stays_shut(typed: PipeInput) -> None:
    console, choices = _asked(typed, *["yes"] * 5, "2", given=Given(PANEL, "element_cold"))
    assert choices.competence == "outside"  # type: ignore[attr-defined]
    assert "Without a multimeter nothing can be proved dead, so the box stays shut." in console.said


def test_a_competence_that_is_given_says_what_it_takes_for_granted(typed: PipeInput) -> None:
    console, choices = _asked(typed, given=Given(PANEL, "element_cold", competence="live", instruments=("multimeter",)))
    (line,) = [line for line in console.said if line.startswith("Competence live was given")]
    assert "CAT III" in line and "trained for live work" in line and "tagged off" in line
    assert choices.interview == facts_taken("live")  # type: ignore[attr-defined]


def test_words_that_fit_several_complaints_narrow_the_list(typed: PipeInput) -> None:
    found = matching("trips", fitting(open_panel(PANEL), list(all_complaints().values())))
    number = [complaint.name for complaint in found].index("gfci_trips_at_switch_on")
    console, choices = _asked(typed, "trips", str(number + 1), "", "", given=Given(PANEL))
    assert "Which of these?" in console.said
    shown = console.said[console.said.index("Which of these?") + 1 :]
    assert choices.complaint.name == "gfci_trips_at_switch_on"  # type: ignore[attr-defined]
    # As it is said where the panel stands, and not as the knowledge base has it for everyone.
    assert shown[number].endswith("the RCD trips when the panel is switched on")


def test_words_that_fit_nothing_are_said(typed: PipeInput) -> None:
    console, _ = _asked(typed, "xylophone", "element_cold", "", "", given=Given(PANEL))
    assert any(line.startswith("'xylophone' is in none of the complaints; expected 1 to ") for line in console.said)


def test_a_panel_that_is_not_there_is_asked_for_again(typed: PipeInput) -> None:
    console, _ = _asked(typed, "shed_singel_kettle", PANEL, "element_cold", "", "")
    assert any("did you mean 'shed_single_kettle'?" in line for line in console.said)


def test_danger_before_anything_else(typed: PipeInput) -> None:
    with pytest.raises(DangerError):
        _asked(typed, "shock")


# Lines ----------------------------------------------------------------------------------------------------


def test_lines_are_wrapped_under_their_beginning() -> None:
    assert wrapped(["- one two three four five"], 20) == ["- one two three four", "  five"]
    assert wrapped(["  0 V (35 %): one two three"], 20) == ["  0 V (35 %): one", "      two three"]
    assert wrapped([""], 20) == [""]


def test_a_number_stays_with_its_unit() -> None:
    assert wrapped(["it is likely by some 85 % now"], 24) == ["it is likely by some", "  85 % now"]


def test_a_command_to_type_is_never_cut() -> None:
    line = "   diagnose resume " + "x" * 80
    assert wrapped([line], 40) == [line]


@pytest.mark.parametrize(("encoding", "text"), [("utf-8", "10–12 Ω"), ("ascii", "10-12 ohm"), (None, "10-12 ohm")])
def test_text_is_fitted_to_what_the_output_knows(encoding: str | None, text: str) -> None:
    assert fitted("10–12 Ω", encoding) == text


def test_who_leaves_the_box_shut_is_sent_to_someone_else() -> None:
    """A remedy is no leave to do more than a person said they do."""
    from dataclasses import replace

    from diagnose.screen.pages import electrician_lines
    from diagnose.session import ask

    going, _ = recorded("outside", ())
    while not isinstance(going.question, Verdict):
        going.do("skip")
    verdict = ask(going.session)
    assert isinstance(verdict, Verdict)
    shut = ["You said that you leave the box shut: have it done by someone who may open it."]
    plain = replace(verdict, kind="found", remedy="Replace it.", electrician=False)
    assert electrician_lines(plain, "outside") == shut
    assert electrician_lines(plain, "isolated") == []
    assert electrician_lines(replace(plain, electrician=True), "live") == ["This is work for a licensed electrician."]
    assert electrician_lines(replace(plain, kind="unknown"), "live") == [
        "Leave the panel off and show this and the log to a licensed electrician."
    ]


def test_what_is_wrong_is_listed_a_screenful_at_a_time(typed: PipeInput) -> None:
    """Enter goes on to the next ones and comes round; a number of one that is not shown is taken too."""
    everything = fitting(open_panel(PANEL), list(all_complaints().values()))
    console, choices = _asked(typed, "", "more", "", str(len(everything)), "", "", given=Given(PANEL))
    titles = [line for line in console.said if line[:2].strip().isdigit()]
    assert titles[0].startswith(" 1  ") and titles[SCREENFUL].startswith(f"{SCREENFUL + 1}  ")
    assert f"    Enter for {len(everything) - SCREENFUL} more, or say it in words: stays cold, trips" in console.said
    assert titles[len(everything)] == titles[0]
    assert choices.complaint == everything[-1]  # type: ignore[attr-defined]
