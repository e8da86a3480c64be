"""The questions about a panel, in their order, and the reading of what is typed. Pure."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from diagnose.describe.systems import PROBES, SYSTEMS, systems_of
from diagnose.errors import AnswerError, Problem

Answers = Mapping[str, str]

MOST_HEATERS, MOST_PUMPS = 4, 4
REGIONS = (
    ("north_america", "North America"),
    ("europe", "Europe"),
    ("united_kingdom", "United Kingdom"),
    ("australia", "Australia or New Zealand"),
)
YES_NO = (("yes", "yes"), ("no", "no"))
CONTROLS = (
    ("both", "a controller drives a solid-state relay, a switch drives a contactor in series with it"),
    ("relay", "a controller drives a solid-state relay, nothing else switches the element"),
    ("contactor", "a controller with a contact of its own drives a contactor"),
)


@dataclass(frozen=True, slots=True)
class Question:
    """One question: what is asked, the choices if there are some, and how an answer is read."""

    key: str
    ask: str
    read: Callable[[str, Answers], str]  # the answer as it is kept; raises AnswerError
    choices: Callable[[Answers], tuple[tuple[str, str], ...]]
    applies: Callable[[Answers], bool]


def _always(answers: Answers) -> bool:
    return True


def _none(answers: Answers) -> tuple[tuple[str, str], ...]:
    return ()


def _chosen(key: str, ask: str, choices: Callable[[Answers], tuple[tuple[str, str], ...]],
            applies: Callable[[Answers], bool] = _always) -> Question:  # fmt: skip
    def read(typed: str, answers: Answers) -> str:
        known = choices(answers)
        text = typed.strip().lower()
        if text.isdigit() and 1 <= int(text) <= len(known):
            return known[int(text) - 1][0]
        near = [value for value, words in known if text and (value == text.replace(" ", "_") or words.lower() == text)]
        near = near or [value for value, words in known if text and value.startswith(text.replace(" ", "_"))]
        if len(near) != 1:
            expected = ", ".join(f"{number} {value}" for number, (value, _) in enumerate(known, start=1))
            raise AnswerError(Problem(f"'{typed}' is none of these", expected))
        return near[0]

    return Question(key, ask, read, choices, applies)


def _typed(key: str, ask: str, read: Callable[[str, Answers], str],
           applies: Callable[[Answers], bool] = _always) -> Question:  # fmt: skip
    return Question(key, ask, read, _none, applies)


def names_of(text: str) -> list[str]:
    """The names in an answer, as a file writes them; none for 'none'."""
    words = [re.sub(r"[^a-z0-9]+", "_", word.strip().lower()).strip("_") for word in text.split(",")]
    return [word for word in words if word and word != "none"]


def _names(most: int, least: int, what: str) -> Callable[[str, Answers], str]:
    def read(typed: str, answers: Answers) -> str:
        names = names_of(typed)
        bad = [name for name in names if not re.fullmatch(r"[a-z][a-z0-9_]{0,19}", name)]
        if bad or not least <= len(names) <= most or len(set(names)) < len(names) or (not names and not typed.strip()):
            wanted = (
                f"{least} to {most} names with commas between, each once and beginning with a letter, such as {what}"
            )
            raise AnswerError(Problem(f"'{typed}' can't be used for names", wanted))
        return ", ".join(names) or "none"

    return read


def _powers(typed: str, answers: Answers) -> str:
    words = [word.strip() for word in typed.split(",") if word.strip()]
    count = len(names_of(answers["heaters"]))
    if len(words) == 1:
        words *= count
    found = [_kilowatts(word) for word in words]
    if len(words) != count or None in found:
        raise AnswerError(Problem(f"'{typed}' is no power for each of {count}", "0.3 to 20 kW, such as 5.5 kW, 3500 W"))
    return ", ".join(f"{value:g} kW" for value in found if value is not None)


def _kilowatts(word: str) -> float | None:
    match = re.fullmatch(r"(\d+(?:\.\d+)?)\s*(kw|w)?", word.lower())
    if match is None:
        return None
    number, unit = float(match[1]), match[2]
    value = number / 1000 if unit == "w" or (unit is None and number >= 100) else number
    return round(value, 3) if 0.3 <= value <= 20 else None


def _number(unit: str, low: float, high: float) -> Callable[[str, Answers], str]:
    def read(typed: str, answers: Answers) -> str:
        match = re.fullmatch(rf"(\d+(?:\.\d+)?)\s*(?:{unit})?", typed.strip(), re.IGNORECASE)
        if match is None or not low <= float(match[1]) <= high:
            raise AnswerError(Problem(f"'{typed}' can't be that", f"{low:g} to {high:g} {unit}"))
        return f"{float(match[1]):g}"

    return read


def _title(typed: str, answers: Answers) -> str:
    text = " ".join(typed.split())
    if not 3 <= len(text) <= 60 or not re.search(r"[A-Za-z]{2}", text) or re.search(r"[\x00-\x1f\x7f]", typed):
        raise AnswerError(Problem(f"'{text}' can't be a title", "3 to 60 characters, such as Garage two-kettle panel"))
    return text


def _probe_choices(answers: Answers) -> tuple[tuple[str, str], ...]:
    return tuple((name, probe.words) for name, probe in PROBES.items() if _fits_control(name, answers))


def _fits_control(probe: str, answers: Answers) -> bool:
    """A controller for digital probes gives volts to a relay and has no contact."""
    return not (PROBES[probe].digital and answers["control"] == "contactor")


def _three_phase(answers: Answers) -> bool:
    return SYSTEMS[answers["system"]].lines == 3


def _has_selector(answers: Answers) -> bool:
    return len(names_of(answers["heaters"])) == 2 and answers["control"] != "relay"


QUESTIONS: tuple[Question, ...] = (
    _chosen("region", "Where does the panel stand?", lambda answers: REGIONS),
    _chosen("system", "What feeds it?", systems_of),
    _typed("heaters", "Which kettles or tuns have an element? A name each, with commas: hlt, boil",
           _names(MOST_HEATERS, 1, "hlt, boil")),
    _chosen("legs", "How are the elements wired to the three lines?",
            lambda answers: (("one", "each between one line and neutral"), ("star", "three legs in star"),
                             ("delta", "three legs in delta")), _three_phase),
    _typed("powers", "What power has each, in that order? With commas: 4.5 kW, 5.5 kW", _powers),
    _typed("feed_amperes", "How many amperes has the breaker that feeds the panel?", _number("A", 6, 125)),
    _chosen("residual", "Is the feed behind a residual-current device, a GFCI or RCD?", lambda answers: YES_NO),
    _chosen("connection", "How is the panel connected?",
            lambda answers: (("plug", "with a cord and a plug"), ("wired", "wired in"))),
    _typed("feed_metres", "How many metres of cable are between that breaker and the panel?", _number("m", 1, 200)),
    _chosen("control", "How is an element switched?",
            lambda answers: CONTROLS[:2] if _star_or_delta(answers) else CONTROLS),
    _chosen("plugged", "Do the elements plug into outlets of the panel?", lambda answers: YES_NO,
            lambda answers: not _star_or_delta(answers)),
    _chosen("selector", "Does a selector let only one of the two heat at a time?", lambda answers: YES_NO,
            _has_selector),
    _chosen("probe", "What do the controllers measure with?", _probe_choices),
    _typed("pumps", "Which pumps? A name each, with commas, or none: wort, water",
           _names(MOST_PUMPS, 0, "wort, or none")),
    _chosen("lamps", "Is there a lamp for each element?", lambda answers: YES_NO),
    _chosen("built", "Has it worked before?",
            lambda answers: (("used", "yes"), ("new", "no, it is newly built"))),
    _typed("title", "What do you call it?", _title),
)  # fmt: skip
BY_KEY: Mapping[str, Question] = {question.key: question for question in QUESTIONS}
FIRST = ("region", "system", "heaters")  # what the nearest panel is chosen by: the rest has its values for defaults


def _star_or_delta(answers: Answers) -> bool:
    return answers.get("legs", "one") != "one"


def asked_after(answers: Answers) -> Question | None:
    """The first question that is not answered and applies; None where all are."""
    return next((each for each in QUESTIONS if each.key not in answers and each.applies(answers)), None)


def kept(answers: Answers) -> dict[str, str]:
    """The answers that can still be read as they stand, in the questions' order; one that no longer fits is dropped."""
    found: dict[str, str] = {}
    for question in QUESTIONS:
        if question.key in answers and all(key in found for key in FIRST[: QUESTIONS.index(question)]):
            try:
                if question.applies(found):
                    found[question.key] = question.read(answers[question.key], found)
            except (AnswerError, KeyError):
                continue
    return found
