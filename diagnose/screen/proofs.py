"""After the verdict, on a screen: was it mended, then each proof check, until it may go back to work or may not."""

from __future__ import annotations

from collections.abc import Callable

from diagnose.errors import AnswerError
from diagnose.opening import Recorded
from diagnose.panel.records import Panel
from diagnose.proving import AskProof, AskRepair, AskWorks, Closing, ProofQuestion, ProofStep
from diagnose.safety import COMPETENCES, PLAIN_STOP, WANTS, danger_said
from diagnose.screen.console import Console
from diagnose.screen.friendly import Phone, proof_text_lines
from diagnose.screen.looking_back import aside, try_to_change
from diagnose.texts import load_texts, proof_text, step_text
from diagnose.wording import COMPETENCE_WORDS, Page, new_proof_cautions, opening_cautions, regional_page

PROOF_COMMANDS = (
    "skip",
    "text",
    "back",
    "lower",
    "stop",
    "danger",
    "help",
    "grounds",
    "out",
    "answers",
    "change",
    "path",
)
PROMPTS = {"done": "done", "shows": "yes or no", "volts": "highest reading in V"}
_READS = {"resistance": "reading in ohm", "insulation": "reading in megohm", "temperature": "reading in C"}
_HELP = (
    "skip: decline this one; the log says so",
    "text: this as a message, to be sent to somebody at the panel",
    "back: take the last one back",
    "stop: leave; the session can be resumed here",
    "lower: do less yourself from here on",
    "danger, or the key !: something is badly wrong",
    "grounds: why this conclusion. out: what is out. answers: what was answered. path: the way of the current",
    "change: an answer was another one, before the panel is mended",
)
ONLY_LIVE = "This needs the box open with the supply on. To leave it to an electrician is as good a choice: type skip."


def proof_page(panel: Panel, part: str, question: ProofQuestion) -> Page:
    """A question after the verdict, with its prompt."""
    match question:
        case AskRepair():
            who = "Has a licensed electrician done it?" if question.electrician else "Has it been done, as written?"
            lines = (
                f"To do ({panel.label(question.part)}): {question.remedy}",
                "The panel stays off until it is done and measured.",
                who,
            )
            return Page("Mended?", lines, "yes or no")
        case ProofStep():
            text = step_text(panel, question.step, question.state.meter_failed)
            live = (ONLY_LIVE,) if question.proof.exposure == "live" else ()
            steps = (f"- {line}" for line in text.lines)
            told = (*live, *steps, *_cautions(opening_cautions(panel, question)))
            return Page(f"Step - {text.title}", told, PROMPTS[WANTS[question.step]])
        case AskProof():
            title, words = proof_text(panel, part, question.proof.name)
            other = (
                ("This is for someone who may and has a meter: not for you, by what you said.",)
                if question.by_other
                else ()
            )
            prompt = _READS[question.proof.reads] if question.limits and question.proof.reads else "pass or fail"
            cautions = _cautions(new_proof_cautions(panel, part, question.proof))
            return Page(f"Before it is used again - {title}", (*other, words, *cautions), prompt)
        case AskWorks():
            return works_page(question)
    return closing_page(question)


def works_page(question: AskWorks) -> Page:
    """Whether the complaint is gone; after a proof check that failed, whether to search on."""
    on = "no: the search goes on, with what was mended taken to be sound."
    if question.failed:
        failed = ", ".join(load_texts().proofs[name].title for name in question.failed)
        lines = (
            f"Failed: {failed}. Take the supply off and leave it off.",
            "Either the repair is not whole, or something else is wrong as well.",
            on,
            "leave: it ends here; a licensed electrician looks at it.",
        )
        return Page("It does not go back to work", lines, "no or leave")
    waits = ("It came and went, so it has to stay away for longer than it used to.",) if question.came_and_went else ()
    lines = (
        "Does the panel do again what it should?",
        *waits,
        "yes: it is closed.",
        on,
        "leave: not known yet. Resume this session when it is.",
    )
    return Page("Gone?", lines, "yes, no or leave")


def _cautions(texts: list[str]) -> tuple[str, ...]:
    return tuple(f"Caution: {text}" for text in texts)


def closing_page(closing: Closing) -> Page:
    """How the work stands at the end."""
    match closing.kind:
        case "closed" if not closing.declined:
            title, lines = "Closed", ["Every proof check passed. It may go back to work."]
        case "closed":
            title, lines = "Closed", ["It was not all measured. What was declined is not known to be safe."]
        case "failed":
            title = "It does not go back to work"
            lines = [
                "A proof check failed: take the supply off and leave it off.",
                "Have a licensed electrician look at it, or begin a new session with what it does now.",
            ]
        case _:
            title, lines = "Open", ["It is not known to work again, so it stays off. Resume this session when it is."]
    for word, names in (("Passed", closing.passed), ("Failed", closing.failed), ("Declined", closing.declined)):
        if names:
            lines.append(f"{word}: {', '.join(load_texts().proofs[name].title for name in names)}")
    return Page(title, tuple(lines), "")


class ProofTalk:
    """Talks through what comes after a verdict."""

    def __init__(self, console: Console, recorded: Recorded, part: str, phone: Phone | None = None) -> None:
        self.console, self.recorded, self.part = console, recorded, part
        self.phone = phone  # where somebody else is at the panel

    def run(self) -> None:
        """Ask until it is closed, the session is stopped, or the search goes on.

        Raises EOFError or KeyboardInterrupt where they left.
        """
        panel, mended = self.recorded.session.model.panel, self.recorded.session.model.mended
        while (question := self.recorded.proof) is not None and self.recorded.session.model.mended == mended:
            page = regional_page(panel, proof_page(panel, self.part, question))
            self._show(question, page)
            if isinstance(question, Closing):
                return
            self._take(question, page.prompt)

    def _show(self, question: ProofQuestion, page: Page) -> None:
        session = self.recorded.session
        if self.phone is not None:
            self.phone.send_proof(session, question, self.part)
            if isinstance(question, ProofStep | AskProof | AskWorks):
                page = self.phone.proof_page(session, question, self.part, page.prompt)
        self.console.say(page.lines, page.title)

    def _take(self, question: ProofQuestion, prompt: str) -> None:
        before = self.recorded.session
        while self.recorded.session is before:
            typed = self.console.read(prompt, PROOF_COMMANDS)
            try:
                self._act(question, typed, " ".join(typed.lower().split()))
            except AnswerError as error:
                self.console.say([str(error)])

    def _act(self, question: ProofQuestion, typed: str, word: str) -> None:
        commands: dict[str, Callable[[], None]] = {
            "skip": lambda: self.recorded.do("skip"),
            "back": lambda: self.recorded.do("back"),
            "stop": lambda: self.recorded.do("stop", PLAIN_STOP),
            "lower": self._lower,
            "help": lambda: self.console.say(_HELP),
            "text": lambda: self.console.say(["", *proof_text_lines(self.recorded.session, question, self.part), ""]),
        }
        if said := danger_said(typed):
            self.recorded.do("stop", said)
        elif word in commands:
            commands[word]()
        elif word.partition(" ")[0] == "change":
            try_to_change(self.console, self.recorded, typed.strip().partition(" ")[2])
        elif aside(self.console, self.recorded.session, None, word):
            pass
        elif isinstance(question, AskRepair):
            self.recorded.do("repaired", word)
        elif isinstance(question, AskWorks):
            self.recorded.do("works", word)
        elif isinstance(question, AskProof):
            self.recorded.prove(typed)
        elif not word:
            self.console.say(["Type what the prompt asks for; help lists the words."])
        else:
            self.recorded.do("confirm", typed)

    def _lower(self) -> None:
        below = COMPETENCES[: COMPETENCES.index(self.recorded.session.competence)]
        if not below:
            self.console.say(["The box stays shut already: there is nothing lower."])
            return
        self.recorded.do("lower", below[-1])
        self.console.say([f"From here on: {COMPETENCE_WORDS[below[-1]]}. It is not raised again."])
