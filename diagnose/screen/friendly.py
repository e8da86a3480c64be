"""The screen's side of a session with somebody else at the panel: what is read aloud, and messages that are kept."""

from __future__ import annotations

from diagnose.friend import Friend
from diagnose.model import Model
from diagnose.proving import AskProof, ProofQuestion, ProofStep
from diagnose.screen.messages import MessageFolder
from diagnose.screen.pages import page_of
from diagnose.session import AskCheck, ConfirmStep, Question, Session
from diagnose.wording import Page, new_cautions, new_proof_cautions, opening_cautions
from diagnose.wording.aloud import aloud, aloud_page, message_lines, message_text, stop_aloud
from diagnose.wording.aloud_proofs import proof_aloud


class Phone:
    """Words for the one at the panel, and the folder where they go if one was named."""

    def __init__(self, friend: Friend) -> None:
        """Raises FileError where the folder can't be used."""
        self.folder = MessageFolder(friend.messages) if friend.messages is not None else None
        if self.folder is not None:
            self.folder.prepare()

    def opening(self, model: Model) -> Page:
        """What the one at the screen does and does not."""
        lines = [
            "Read each line aloud, and wait until it is done. Say readings back. text prints it to be sent.",
            "You can't see the panel. What they say of it counts, and when they want to stop, you stop.",
            "Agree first on one word that stops everything, and who cuts the supply.",
        ]
        return page_of("Somebody else is at the panel", lines)

    def page(self, session: Session, question: Question, prompt: str) -> Page:
        """A step or check to read aloud."""
        told = aloud(session, question, number_of(session))
        if isinstance(question, AskCheck):
            warnings = new_cautions(session, question.check)
        else:
            warnings = opening_cautions(session.model.panel, question) if isinstance(question, ConfirmStep) else []
        return aloud_page(told, warnings, prompt)

    def send(self, session: Session, question: Question) -> None:
        """Keep a message in the folder, if there is one. Raises FileError where it can't be written."""
        if self.folder is not None:
            self.folder.write(message_text(aloud(session, question, number_of(session))))

    def proof_page(self, session: Session, question: ProofQuestion, part: str, prompt: str) -> Page:
        """What comes after a verdict, to read aloud."""
        panel, warnings = session.model.panel, []
        if isinstance(question, ProofStep):
            warnings = opening_cautions(panel, question)
        elif isinstance(question, AskProof):
            warnings = new_proof_cautions(panel, part, question.proof)
        return aloud_page(proof_aloud(session, question, part), warnings, prompt)

    def send_proof(self, session: Session, question: ProofQuestion, part: str) -> None:
        """Keep what comes after a verdict in the folder. Raises FileError where it can't be written."""
        if self.folder is not None:
            self.folder.write(message_text(proof_aloud(session, question, part)))

    def send_stop(self, session: Session) -> None:
        """Keep the words for the worst, ahead of anything else."""
        if self.folder is not None:
            self.folder.write(message_text(stop_aloud(session.model.panel)))


def number_of(session: Session) -> int:
    """The number of the check that comes next."""
    return len(session.answers) + 1


def text_lines(session: Session, question: Question) -> list[str]:
    """The step or check as a message, to be copied and sent."""
    return message_lines(aloud(session, question, number_of(session)))


def proof_text_lines(session: Session, question: ProofQuestion, part: str) -> list[str]:
    """What comes after a verdict as a message, to be copied and sent."""
    return message_lines(proof_aloud(session, question, part))
