"""Looking back at any prompt: the path, the grounds, what is out, the answers, and changing one of them."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping

from diagnose.errors import AnswerError
from diagnose.ladder import circuit_for, ladder_lines, spoken_lines
from diagnose.ladder.draw import LEGEND, ladder_title
from diagnose.opening import Recorded
from diagnose.safety import DANGERS
from diagnose.screen.asides import answers_page, effect_lines, given_text, grounds_page, out_page
from diagnose.screen.console import Console, show
from diagnose.screen.pages import danger_page
from diagnose.screen.typing_help import WORDS, Help
from diagnose.session import AskCheck, Question, Session
from diagnose.wording import Page, check_title, clean, regional_lines, regional_page

PAGES: Mapping[str, Callable[[Session], Page]] = {"grounds": grounds_page, "out": out_page, "answers": answers_page}
AT_THE_END = ("grounds", "out", "answers", "change", "path")


def aside(console: Console, session: Session, question: Question | None, word: str) -> bool:
    """Show what a word asks for; False where it is none of these words."""
    if word == "path":
        path_out(console, session, question)
        return True
    if word not in PAGES:
        return False
    show(console, regional_page(session.model.panel, PAGES[word](session)))
    return True


def path_out(console: Console, session: Session, question: Question | None) -> None:
    """The path of the current, drawn where the console draws, else in sentences."""
    panel, style = session.model.panel, console.style
    check = question.check if isinstance(question, AskCheck) else None
    circuit = circuit_for(panel, session.model.subject, check)
    if circuit is None:
        console.say(["No supply feeds any load of this panel, so there is no path to show."])
    elif style is None:
        console.say(regional_lines(panel, spoken_lines(session, question)), ladder_title(panel, circuit))
    else:
        console.draw(ladder_lines(session, question, console.width, style), ladder_title(panel, circuit))
        console.say([LEGEND])


def changed_by(console: Console, recorded: Recorded, rest: str) -> bool:
    """Change an answer and say what that changes: `rest` is its number and what it is to be; what is missing is asked.

    False if it was left as it is.

    Raises AnswerError where it can't be changed to that.
    """
    answers = recorded.session.answers
    if not answers:
        console.say(["Nothing was answered yet."])
        return False
    number, _, text = rest.strip().partition(" ")
    if not number:
        show(console, regional_page(recorded.session.model.panel, answers_page(recorded.session)))
        number = console.read("number, Enter for none").strip()
        if not number:
            return False
    if not re.fullmatch(r"\d{1,3}", number) or not 1 <= int(number) <= len(answers):
        console.say([f"'{clean(number)}' is no answer's number; expected 1 to {len(answers)}"])
        return False
    given = answers[int(number) - 1]
    if not text and not given.skipped:
        model = recorded.session.model
        title = check_title(model.panel, model.checks_by_id[given.check_id])
        console.say(regional_lines(model.panel, [f"{title}: it was {given_text(model, given)}."]))
        text = console.read("what it was, Enter to be asked again").strip()
        if text.lower() in ("back", "stop", "skip"):
            return False
    before = recorded.session
    recorded.do("change", text, given.check_id)
    console.say(regional_lines(before.model.panel, effect_lines(before, recorded.session, given.check_id)))
    return True


def look_back(console: Console, recorded: Recorded) -> None:
    """After an end with nothing to mend: words to look back with, until Enter, or until an answer is changed."""
    told = Help({word: WORDS[word] for word in AT_THE_END})
    while True:
        try:
            typed = console.read("Enter to end, or grounds, out, answers, change, path", AT_THE_END, told).strip()
        except (EOFError, KeyboardInterrupt):
            return
        word, _, rest = typed.lower().partition(" ")
        if not word:
            return
        if word in DANGERS:
            show(console, danger_page())
        elif word == "change":
            if try_to_change(console, recorded, typed.partition(" ")[2]):
                return
        elif rest or not aside(console, recorded.session, None, word):
            console.say([f"'{clean(typed)}' is none of these; expected one of them, or Enter"])


def try_to_change(console: Console, recorded: Recorded, rest: str) -> bool:
    """Change an answer after the end; what is wrong with it is said. True if it was changed."""
    try:
        return changed_by(console, recorded, rest)
    except AnswerError as error:
        console.say([str(error)])
        return False
