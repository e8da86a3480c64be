"""What a person has done and has got, asked in plain words. Which competence follows is for `safety` to say."""

from __future__ import annotations

from collections.abc import Callable

from diagnose.safety import FACTS, derived
from diagnose.screen.console import Console
from diagnose.texts import load_texts
from diagnose.wording import COMPETENCE_WORDS

YES, NO = ("y", "yes"), ("", "n", "no")


def interview(
    console: Console, line: Callable[[str], str], say: Callable[[str], str], title: str = "You"
) -> tuple[str, ...]:
    """The facts that a person said yes to. It ends with the first no, since without that one nothing more is open.

    `line` reads a line for a prompt, `say` puts a text into the region's words, `title` is who is asked. Nothing said
    is a no.
    """
    said: list[str] = []
    console.say(["The box stays shut unless you say yes to what opening it takes. Enter stands for no."], title)
    for fact in FACTS:
        console.say([say(load_texts().interview[fact][0])])
        if not _yes(console, line):
            break
        said.append(fact)
    console.say([f"So: {COMPETENCE_WORDS[derived(said)]}. Type lower at any time to do less."])
    return tuple(said)


def _yes(console: Console, line: Callable[[str], str]) -> bool:
    while (typed := line("yes or no").lower()) not in (*YES, *NO):
        console.say([f"'{typed}' is neither; expected yes, or no (Enter)"])
    return typed in YES
