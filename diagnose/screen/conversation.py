"""The conversation about one panel: shows each question, takes what is typed, until the verdict."""

from __future__ import annotations

import time
from collections.abc import Callable

from diagnose.errors import AnswerError
from diagnose.opening import Recorded
from diagnose.revising import LATER
from diagnose.safety import COMPETENCES, DANGERS, PLAIN_STOP, WANTS, danger_said
from diagnose.screen.asides import if_page
from diagnose.screen.console import COMMAND_INDENT, Console, show
from diagnose.screen.fitting import check_pages
from diagnose.screen.friendly import Phone, number_of, text_lines
from diagnose.screen.looking_back import aside, changed_by, look_back, path_out
from diagnose.screen.pages import (
    danger_page,
    help_page,
    left_lines,
    open_lines,
    opening_page,
    step_page,
    verdict_page,
    why_page,
)
from diagnose.screen.proofs import PROMPTS, ProofTalk
from diagnose.screen.status import status_line
from diagnose.screen.typing_help import WORDS, help_for
from diagnose.session import AskCheck, ConfirmStep, Question, Verdict
from diagnose.wording import (
    COMPETENCE_WORDS,
    Page,
    answered_line,
    clean,
    doubt_lines,
    prompt_for,
    regional_lines,
    regional_page,
)

DONE, NOT_FOUND = 0, 1
COMMANDS = tuple(WORDS)
_SAME = {
    "?": "help", "quit": "stop", "exit": "stop", "q": "stop", "undo": "back", "don't know": "skip",
    "dont know": "skip", "can't": "skip", "cant": "skip", "can't do": "skip", "not now": "later",
    "cant reach": "can't reach", "can not reach": "can't reach", "cannot reach": "can't reach", "why so": "grounds",
}  # fmt: skip
_CONFIRMING = ("done", "ok", "yes", "y")

_CONFIRM_HINTS = {
    "done": "Type done when every line is done. If one can't be: skip. If something is wrong: danger.",
    "shows": "Type yes or no: does the meter show the source that you know is live?",
    "volts": "Type the highest of all readings, such as 0.1. If it can't be measured: skip.",
}


class Conversation:
    """Talks through one session on a console."""

    def __init__(
        self, console: Console, recorded: Recorded, log: str, phone: Phone | None = None, ladder: bool = False
    ) -> None:
        self.console, self.recorded, self.log = console, recorded, log
        self.phone = phone  # where somebody else is at the panel
        self.ladder = ladder  # whether the path is drawn with each check
        self._begun = time.monotonic()
        console.status = self._status

    def run(self) -> int:
        """Ask until the verdict; returns the exit code.

        Raises EOFError or KeyboardInterrupt where the person leaves: all that was answered is in the log.
        """
        self._page_out(opening_page(self.recorded.session.model))
        if self.phone is not None:
            self._page_out(self.phone.opening(self.recorded.session.model))
        while True:
            while not isinstance(question := self.recorded.question, Verdict):
                self._show(question)
                self._take(question)
            mended = self.recorded.session.model.mended
            code = self._end(question)
            if self.recorded.session.model.mended != mended:
                self._say(["The search goes on. What was found by what is mended now is asked again."], "Still wrong")
            elif isinstance(self.recorded.question, Verdict):
                return code

    def _status(self, width: int) -> str:
        return status_line(self.recorded.session, (time.monotonic() - self._begun) / 60, width)

    def _page_out(self, page: Page) -> None:
        """Show a page in the words of the panel's region."""
        show(self.console, regional_page(self.recorded.session.model.panel, page))

    def _say(self, lines: list[str], title: str = "") -> None:
        self.console.say(regional_lines(self.recorded.session.model.panel, lines), title)

    def _show(self, question: Question) -> None:
        session = self.recorded.session
        if self.phone is not None:
            if isinstance(question, AskCheck) and question.doubted is not None:
                self._say(doubt_lines(question), "Once more, please")
            self._page_out(self.phone.page(session, question, ""))
            self.phone.send(session, question)
        elif isinstance(question, ConfirmStep):
            self._page_out(step_page(session, question))
        elif isinstance(question, AskCheck) and question.doubted is not None:
            self._say(doubt_lines(question), "Once more, please")
            if question.doubt is not None and question.doubt.why == "decides":
                self._check_out(question)
        elif isinstance(question, AskCheck):
            if self.ladder:
                path_out(self.console, session, question)
            self._check_out(question)

    def _check_out(self, question: AskCheck) -> None:
        session = self.recorded.session
        for page in check_pages(session, question, number_of(session), self.console.width):
            show(self.console, page)

    def _take(self, question: Question) -> None:
        """Take lines until one of them moved the session on."""
        outcomes = question.outcomes if isinstance(question, AskCheck) else ()
        prompt = prompt_for(question) if isinstance(question, AskCheck) else prompt_of_step(question)
        while True:
            typed = self.console.read(prompt, (*outcomes, *COMMANDS), help_for(self.recorded.session, question))
            before = self.recorded.session
            try:
                self._act(question, typed)
            except AnswerError as error:
                self.console.say([str(error)])
            if self.recorded.session is not before:
                return

    def _act(self, question: Question, typed: str) -> None:
        word = " ".join(typed.lower().split())
        outcome = isinstance(question, AskCheck) and word in question.outcomes
        command = "" if outcome else _SAME.get(word, word)
        if not outcome and (said := danger_said(typed)):
            self.recorded.do("stop", said)
        elif command in _ACTIONS:
            _ACTIONS[command](self, question)
        elif not outcome and self._aside(question, typed.strip(), command):
            pass
        elif isinstance(question, ConfirmStep):
            self._confirm(question, typed, command)
        elif not word:
            wanted = "answer" if question_of_sign(question) else "reading"
            self.console.say([f"Nothing was typed; expected the {wanted}, or skip. help lists the words."])
        else:
            self._answer(typed)

    def _confirm(self, question: ConfirmStep, typed: str, word: str) -> None:
        wants = WANTS[question.step]
        if wants == "volts" and word:
            self.recorded.do("confirm", typed)
        elif wants == "shows" and word in (*_CONFIRMING, "no", "n"):
            self.recorded.do("confirm", "no" if word in ("no", "n") else "yes")
        elif wants == "done" and word in _CONFIRMING:
            self.recorded.do("confirm")
        else:
            self.console.say([_CONFIRM_HINTS[wants]])

    def _answer(self, typed: str) -> None:
        self.recorded.do("answer", typed)
        if self.recorded.session.doubted is None:
            line = answered_line(self.recorded.session)
            self._say([line] if line else [])

    def _aside(self, question: Question, typed: str, word: str) -> bool:
        """Words with something after them, and pages that are asked for; False for anything else."""
        first, _, rest = typed.partition(" ")
        match first.lower():
            case "if" if rest:
                self._page_out(if_page(self.recorded.session, question, rest))
            case "change":
                changed_by(self.console, self.recorded, rest)
            case _:
                return aside(self.console, self.recorded.session, question, word)
        return True

    def _later(self, question: Question) -> None:
        again = isinstance(question, AskCheck) and question.check.id in self.recorded.session.later
        self.recorded.do("skip", LATER)
        self.console.say(["It was put off once already: left out." if again else "Put off until nothing else is left."])

    def _reach(self, question: Question) -> None:
        if not (isinstance(question, AskCheck) and question.check.tail):
            self._skip(question)
            return
        typed = self.console.read("which: red, black or both", ("red", "black", "both")).strip().lower()
        if typed not in ("red", "black", "both"):
            self.console.say([f"'{clean(typed)}' is none of these; nothing was left out."])
            return
        self.recorded.do("skip", f"reach {typed}")
        self.console.say(["Nothing more is asked for at that place. change opens it again."])

    def _if(self, question: Question) -> None:
        self.console.say(["Type it with an answer: if OL, if 2."])

    def _skip(self, question: Question) -> None:
        self.recorded.do("skip")
        self.console.say(["Left out."])

    def _back(self, question: Question) -> None:
        self.recorded.do("back")
        self.console.say(["Taken back. The panel itself stays as it is."])

    def _lower(self, question: Question) -> None:
        now = self.recorded.session.competence
        below = COMPETENCES[: COMPETENCES.index(now)]
        if not below:
            self.console.say(["The box stays shut already: there is nothing lower."])
            return
        self.recorded.do("lower", below[-1])
        self.console.say([f"From here on: {COMPETENCE_WORDS[below[-1]]}. It is not raised again."])

    def _refer(self, question: Question) -> None:
        self.recorded.do("refer")

    def _stop(self, question: Question) -> None:
        self.recorded.do("stop", PLAIN_STOP)

    def _why(self, question: Question) -> None:
        self._page_out(why_page(self.recorded.session, question))

    def _path(self, question: Question) -> None:
        path_out(self.console, self.recorded.session, question)

    def _text(self, question: Question) -> None:
        self.console.say(["", *text_lines(self.recorded.session, question), ""])

    def _help(self, question: Question) -> None:
        show(self.console, help_page())  # the words as they are typed, whatever they mean in a region

    def _end(self, verdict: Verdict) -> int:
        if verdict.danger:
            self._page_out(danger_page())
            if self.phone is not None:
                self.phone.send_stop(self.recorded.session)
        elif self.phone is not None and verdict.kind != "stopped":
            self.phone.send(self.recorded.session, verdict)
        self._page_out(verdict_page(self.recorded.session, verdict, self.log))
        if verdict.kind == "stopped" and not verdict.danger:
            self.console.say(resume_lines(self.log))
        if not self.recorded.session.stopped:
            self._prove(verdict)
        return NOT_FOUND if verdict.kind == "unknown" else DONE

    def _prove(self, verdict: Verdict) -> None:
        """What comes after a verdict: with something to mend, the proof checks; else a look back, for who wants it."""
        if self.recorded.proof is not None:
            ProofTalk(self.console, self.recorded, verdict.part, self.phone).run()
        else:
            look_back(self.console, self.recorded)
        if not isinstance(self.recorded.question, Verdict):
            self.console.say(["An answer was changed, so it goes on from there."])
            return
        session, stopped = self.recorded.session, self.recorded.question
        if session.stopped in DANGERS:
            self._page_out(danger_page())
            if self.phone is not None:
                self.phone.send_stop(session)
            self._say(open_lines(session, stopped))
        self._say(left_lines(session.state))
        if session.stopped == PLAIN_STOP:
            self.console.say(resume_lines(self.log))


_ACTIONS: dict[str, Callable[[Conversation, Question], None]] = {
    "why": Conversation._why,
    "path": Conversation._path,
    "skip": Conversation._skip,
    "back": Conversation._back,
    "lower": Conversation._lower,
    "refer": Conversation._refer,
    "stop": Conversation._stop,
    "text": Conversation._text,
    "later": Conversation._later,
    "can't reach": Conversation._reach,
    "if": Conversation._if,
    "help": Conversation._help,
}


def prompt_of_step(question: Question) -> str:
    """What a step is confirmed with."""
    return PROMPTS[WANTS[question.step]] if isinstance(question, ConfirmStep) else "done"


def question_of_sign(question: Question) -> bool:
    """Whether a check is one for eyes and ears."""
    return isinstance(question, AskCheck) and question.check.quantity == "sign"


def resume_lines(log: str) -> list[str]:
    """How to go on later, the command on a line of its own."""
    return ["To go on:", f"{COMMAND_INDENT}diagnose resume {quoted_for_shell(log)}"]


def quoted_for_shell(path: str) -> str:
    """A path as it can be typed back."""
    import shlex  # late: only where a session is left

    return shlex.quote(path)
