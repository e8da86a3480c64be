"""`diagnose describe` on a screen: the questions, the file, its drawing, and changes to a file that is there."""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path

from diagnose.describe.compose import answers_in, compose, panel_name
from diagnose.describe.drafts import Draft
from diagnose.describe.lines import lines_of, with_value
from diagnose.describe.nearest import answers_of, default_for, nearest
from diagnose.describe.questions import QUESTIONS, Answers, Question, asked_after, kept
from diagnose.errors import AnswerError, DiagnoseError, FileError, Problem, UsageError
from diagnose.files import given_path, replace_file
from diagnose.findings import design_findings
from diagnose.knowledge.library import load_library
from diagnose.ladder import circuits_of, panel_ladder, panel_words
from diagnose.ladder.draw import ladder_title
from diagnose.panel.reader import read_panel
from diagnose.panel.records import Panel
from diagnose.screen.console import Console
from diagnose.screen.typing_help import Help
from diagnose.wording import clean

DONE, INTERRUPTED = 0, 130
MOST_DRAWN = 3  # elements whose path is drawn: more would scroll off


def describe(console: Console, file: str | None, out: str | None) -> int:
    """Describe a panel, or change the file of one; returns the exit code.

    Raises
    ------
    DiagnoseError
        For a file that can't be read or written.
    """
    draft = Draft()
    try:
        if file is not None:
            return _change(console, given_path(file), draft)
        target = _free(out) if out is not None else None
        answers = _ask_all(console, _begun(console, draft), draft)
        return _write(console, answers, target or _where(console, answers), draft)
    except (EOFError, KeyboardInterrupt) as left:
        where = draft.read()
        console.say(["", "Left here. What was answered is kept: diagnose describe goes on from there." if where
                     else "Nothing was begun."])  # fmt: skip
        return DONE if isinstance(left, EOFError) else INTERRUPTED


def _begun(console: Console, draft: Draft) -> dict[str, str]:
    answers = draft.read()
    if draft.set_aside is not None:
        console.say([f"What was answered before can't be read. It is kept as it was: {draft.set_aside}"])
    if answers:
        console.say(
            [f"A description was begun: {len(answers)} answers.", "Go on with it? Enter for yes, no begins anew."]
        )
        if console.read("yes or no", ("yes", "no")).strip().lower() in ("n", "no"):
            draft.drop()
            return {}
        return answers
    console.say(["A dozen questions; Enter takes what stands in brackets, from the nearest panel that comes along.",
                 "back takes the last answer back. Whatever is answered is kept."], "Your panel")  # fmt: skip
    return {}


def _ask_all(console: Console, answers: dict[str, str], draft: Draft, known: Answers | None = None) -> dict[str, str]:
    """Ask until all is answered; `known` holds what to offer first. Raises EOFError or KeyboardInterrupt where left."""
    while (question := asked_after(answers)) is not None:
        default = _default(question, answers, known)
        console.say(_lines(question, answers, default))
        words = dict(question.choices(answers))
        typed = console.read(
            _prompt(answers, question, default), tuple(words), Help({**words, "back": "the question before"})
        )
        if typed.strip().lower() == "back":
            _back(console, answers)
            _keep(console, draft, answers)
            continue
        try:
            answers[question.key] = question.read(typed if typed.strip() else default, answers)
        except AnswerError as error:
            console.say([str(error)])
            continue
        _keep(console, draft, answers)
    return answers


def _keep(console: Console, draft: Draft, answers: Answers) -> None:
    """Put the answers on the disk; that they can't be is said once."""
    if draft.keep(answers) is None and not draft.told:
        console.say(["No folder can be written to: what is answered is not kept until the file is written."])
        draft.told = True


def _back(console: Console, answers: dict[str, str]) -> None:
    if not answers:
        console.say(["This is the first question."])
        return
    last = [question.key for question in QUESTIONS if question.key in answers][-1]
    del answers[last]


def _default(question: Question, answers: Answers, known: Answers | None) -> str:
    if known is not None and question.key in known:
        try:
            return question.read(known[question.key], answers)
        except AnswerError:
            pass  # another answer made this one impossible
    if question.key == "region":
        return "north_america"
    if question.key == "system":
        return question.choices(answers)[0][0]
    if question.key == "heaters":
        return "boil"
    try:
        return question.read(default_for(question.key, answers), answers)
    except AnswerError:
        choices = question.choices(answers)
        return choices[0][0] if choices else ""


def _lines(question: Question, answers: Answers, default: str) -> list[str]:
    lines = [question.ask]
    for number, (value, words) in enumerate(question.choices(answers), start=1):
        lines.append(f"  {number}  {words}{' (Enter)' if value == default else ''}")
    return lines


def _prompt(answers: Answers, question: Question, default: str) -> str:
    what = "number or word" if question.choices(answers) else "answer"
    return f"{what} [{default}]" if default else what


# The file -------------------------------------------------------------------------------------------------


def _free(name: str) -> Path:
    path = given_path(name)
    if path.exists():
        raise UsageError(
            Problem(f"{name}: there is a file here already", f"another name, or 'diagnose describe {name}'")
        )
    return path


def _where(console: Console, answers: Answers) -> Path:
    default = f"{panel_name(answers['title'])}.yaml"
    while True:
        typed = console.read(f"file [{default}]").strip() or default
        try:
            return _free(typed)
        except UsageError as error:
            console.say([str(error)])


def _write(console: Console, answers: Answers, path: Path, draft: Draft) -> int:
    text = compose(answers, nearest(answers))
    _put(path, text)
    draft.drop()
    panel = read_panel(path, load_library(), str(path))
    told(console, panel, path)
    return DONE


def _put(path: Path, text: str) -> None:
    """Write a panel file that the reader takes; one that it does not take is never put in place.

    Raises FileError with every problem of the text.
    """
    beside = path.with_name(f".{path.stem}.trial.yaml")
    replace_file(beside, text)
    try:
        read_panel(beside, load_library(), str(path))
        replace_file(path, text)
    finally:
        beside.unlink(missing_ok=True)


def told(console: Console, panel: Panel, path: Path) -> None:
    """The panel that was read back: what it is, the paths of its elements, what its design has to be looked at for."""
    elements = panel.of_role("heater")
    console.say([f"Written and read back: {len(panel.parts)} parts, {len(panel.wires)} wires."], str(path))
    for circuit in [each for each in circuits_of(panel) if each.load in elements][:MOST_DRAWN]:
        if console.style is None:
            console.say(panel_words(panel, circuit), ladder_title(panel, circuit))
        else:
            console.draw(panel_ladder(panel, circuit, console.width, console.style), ladder_title(panel, circuit))
    errors = sum(finding.severity == "error" for finding in design_findings(panel))
    lines = ["Compare it with what is there, wire by wire: what is wrong in it misleads every session."]
    lines += [f"Its design has {errors} error(s). To see: diagnose review {path}"] if errors else []
    lines += ["To draw its wiring:", f"   diagnose draw {path} --out {path.stem}.svg", "To find a fault:",
              f"   diagnose start --panel {path}"]  # fmt: skip
    console.say(lines)


# Changing one ---------------------------------------------------------------------------------------------


def _change(console: Console, path: Path, draft: Draft) -> int:
    try:
        text = path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        reason = getattr(error, "strerror", None) or "it is no text"
        raise FileError(Problem(f"{path}: can't be read: {reason}", "a panel file")) from error
    panel = read_panel(path, load_library(), str(path))
    answers = kept(answers_in(text))
    if answers and asked_after(answers) is None and compose(answers, nearest(answers)) == text:
        console.say(["This file is as it was made from its answers: Enter keeps an answer."], str(path))
        changed = _ask_all(console, {}, draft, answers)
        return _write(console, changed, path, draft)
    console.say(_about(panel), str(path))
    return _change_lines(console, path, text)


def _about(panel: Panel) -> list[str]:
    said = answers_of(panel)
    facts = ", ".join(
        f"{key} {value}" for key, value in said.items() if key in ("system", "heaters", "powers", "pumps")
    )
    return [
        f"{panel.title}: {facts}.",
        "Its lines were written by hand, so they are changed one by one; the rest is kept.",
    ]


def _change_lines(console: Console, path: Path, text: str) -> int:
    """Change single lines until Enter; what the reader does not take is said, and the file stays as it was."""
    while True:
        lines = lines_of(text)
        console.say([f"{number:>3}  {line.key}: {line.value}" for number, line in enumerate(lines, start=1)], "Lines")
        typed = console.read("number and new value, Enter to end").strip()
        if not typed:
            break
        match = re.fullmatch(r"(\d{1,3})\s+(.+)", typed)
        if match is None or not 1 <= int(match[1]) <= len(lines):
            console.say([f"'{clean(typed)}' is no line and value; expected such as 3 relay, 60 A"])
            continue
        try:
            changed = with_value(text, lines, int(match[1]) - 1, match[2])
            _put(path, changed)
        except DiagnoseError as error:
            console.say([*str(error).splitlines(), "The file is as it was."])
            continue
        text = changed
        console.say(["Changed, and read back."])
    told(console, read_panel(path, load_library(), str(path)), path)
    return DONE


# An unknown panel -----------------------------------------------------------------------------------------


def generic(console: Console, folder: Path) -> Path:
    """A panel of three answers, the rest assumed and said: for a session before there is time to describe it all.

    Raises FileError where it can't be kept, EOFError or KeyboardInterrupt where the person left.
    """
    answers: dict[str, str] = {}
    while (question := asked_after(answers)) is not None and question.key in ("region", "system", "heaters", "powers"):
        default = _default(question, answers, None)
        console.say(_lines(question, answers, default))
        typed = console.read(_prompt(answers, question, default)).strip()
        try:
            answers[question.key] = question.read(typed or default, answers)
        except AnswerError as error:
            console.say([str(error)])
    said = dict(answers)
    while (question := asked_after(answers)) is not None:
        answers[question.key] = question.read(_default(question, answers, None), answers)
    answers["title"] = "Assumed panel"
    console.say(assumed_lines(said, answers), "Assumed, since it is not described")
    path = folder / f"assumed_{panel_name('_'.join(said.values()))}.yaml"
    path.parent.mkdir(parents=True, exist_ok=True)
    _put(path, compose(answers, nearest(answers)))
    return path


ASSUMED: Mapping[str, str] = {
    "feed_amperes": "The feed's breaker: {} A.",
    "residual": "A residual device (GFCI, RCD) in the feed: {}.",
    "connection": "Connected by: {}.",
    "control": "Elements are switched by: {}.",
    "plugged": "Elements plug into outlets: {}.",
    "selector": "A selector for one of two: {}.",
    "probe": "Probes: {}.",
    "pumps": "Pumps: {}.",
    "lamps": "A lamp for each element: {}.",
}


def assumed_lines(said: Answers, answers: Answers) -> list[str]:
    """What a generic panel takes for granted, a line each."""
    lines = []
    for key, text in ASSUMED.items():
        if key in answers and key not in said:
            question = next(each for each in QUESTIONS if each.key == key)
            words = dict(question.choices(answers)).get(answers[key], answers[key])
            lines.append(f"- {text.format(words)}")
    lines.append(
        "Where yours is otherwise, checks may name parts that you don't have: skip those. Better: diagnose describe"
    )
    return lines
