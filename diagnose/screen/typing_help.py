"""What may be typed at a prompt, and what it would be taken for. Pure: shown by a terminal, or not at all."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from math import isinf

from diagnose.errors import AnswerError
from diagnose.questions import Answer, read_answer
from diagnose.safety import COMPETENCES, DANGERS, WANTS
from diagnose.session import AskCheck, ConfirmStep, Question, Session, Verdict
from diagnose.wording import UNITS, clean, range_text

# Each word with its meaning in a few words, in the order in which a list shows them.
WORDS: Mapping[str, str] = {
    "why": "what this check tells apart",
    "path": "the way of the current, with the probes",
    "if": "what an answer would lead to: if OL",
    "grounds": "why this conclusion: readings for and against",
    "out": "which causes are out, and by what",
    "answers": "the answers so far",
    "change": "another answer to one of them: change 2 OL",
    "skip": "don't know, or can't do it",
    "later": "not now: ask it again later",
    "can't reach": "a probe does not get there",
    "back": "take the last answer back",
    "lower": "do less yourself from here on",
    "refer": "leave the rest to an electrician",
    "text": "this as a message to be sent",
    "stop": "leave; it can be resumed",
    "danger": "something is badly wrong",
    "help": "the words",
}
MORE_UNITS: Mapping[str, tuple[str, ...]] = {
    "resistance": ("ohm", "kohm", "Mohm"),
    "insulation": ("Mohm", "Gohm", "kohm"),
    "voltage_ac": ("V", "mV"),
    "voltage_dc": ("V", "mV"),
    "millivolts": ("mV",),
    "current_ac": ("A", "mA"),
    "temperature": ("C", "F"),
    "surface_temperature": ("C", "F"),
}
WITH_OVERLOAD = ("resistance", "insulation")
KEYS = "123456789"


def _nothing(typed: str) -> str:
    return ""


@dataclass(frozen=True, slots=True)
class Help:
    """What a prompt takes: words with their meanings, answers that one key gives, and what a line would count as."""

    words: Mapping[str, str] = field(default_factory=dict)
    keys: tuple[str, ...] = ()
    units: tuple[str, ...] = ()
    taken: Callable[[str], str] = _nothing

    def completions(self, typed: str) -> list[tuple[str, str]]:
        """Whole lines that what is typed so far could become, each with its meaning."""
        text = typed.lower().lstrip()
        if (number := text.strip()) and number[-1].isdigit() and not text.startswith(("if ", "change ")):
            return [(f"{number} {unit}", "") for unit in self.units]
        lead = next((word for word in ("if ",) if text.startswith(word)), "")
        rest = text[len(lead) :]
        known = {word: meaning for word, meaning in self.words.items() if not lead or word not in WORDS}
        return [(lead + word, meaning) for word, meaning in known.items() if word.lower().startswith(rest)]


def help_for(session: Session, question: Question) -> Help:
    """What may be typed to a question, as things stand."""
    commands = {word: meaning for word, meaning in WORDS.items() if _makes_sense(word, session, question)}
    match question:
        case AskCheck(outcomes=outcomes) if outcomes:
            told = {outcome: f"answer {number}" for number, outcome in enumerate(outcomes, start=1)}
            keys = tuple(KEYS[: len(outcomes)]) if len(outcomes) <= len(KEYS) else ()
            return Help({**told, **commands}, keys, (), lambda typed: taken_for(session, question, typed, commands))
        case AskCheck():
            quantity = question.check.quantity
            readings = {"OL": "over range"} if quantity in WITH_OVERLOAD else {}
            units = MORE_UNITS.get(quantity, ())
            return Help(
                {**readings, **commands}, (), units, lambda typed: taken_for(session, question, typed, commands)
            )
        case ConfirmStep():
            told = {"done": "every line is done"} if WANTS[question.step] == "done" else {}
            if WANTS[question.step] == "shows":
                told = {"yes": "it shows the source", "no": "it does not"}
            return Help({**told, **commands}, taken=lambda typed: commands.get(typed.strip().lower(), ""))
    return Help(commands)


def _makes_sense(word: str, session: Session, question: Question) -> bool:
    match word:
        case "back":
            return bool(session.answers) or session.doubted is not None or bool(session.pending)
        case "answers" | "change" | "grounds" | "out":
            return bool(session.answers)
        case "why" | "text" | "skip" | "refer":
            return not isinstance(question, Verdict)
        case "if" | "later":
            return isinstance(question, AskCheck)
        case "can't reach":
            return isinstance(question, AskCheck) and bool(question.check.tail)
        case "lower":
            return session.competence != COMPETENCES[0]
    return True


def taken_for(session: Session, question: AskCheck, typed: str, commands: Mapping[str, str]) -> str:
    """What a line would be taken for if it were entered now: a command, a reading, or what is wrong with it."""
    word = " ".join(typed.lower().split())
    if not word:
        return ""
    if word in DANGERS:
        return "ends the session, with what to do"
    first = word.partition(" ")[0]
    if word in commands or first in ("if", "change"):
        return commands.get(word, commands.get(first, ""))
    try:
        return f"= {_read(question, read_answer(session.model, question, typed))}"
    except AnswerError as error:
        begun = [each for each in commands if each.startswith(word)]
        return commands[begun[0]] if len(begun) == 1 else f"? {clean(error.problems[0].message)}"


def _read(question: AskCheck, given: Answer) -> str:
    if given.outcome is not None:
        return question.outcomes[given.outcome]
    value = given.value if given.value is not None else 0.0
    quantity = question.check.quantity
    if isinf(value) and quantity not in UNITS:
        return "OL"
    return range_text(quantity, value, value)
