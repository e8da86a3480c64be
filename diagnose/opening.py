"""What a session is opened from: panels, complaints and parts by the names that a person gives them."""

from __future__ import annotations

import difflib
import os
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from types import MappingProxyType

from diagnose.causes import AS_BUNDLED
from diagnose.circuit.netlist import build
from diagnose.errors import AnswerError, Place, Problem, UsageError
from diagnose.files import given_path
from diagnose.knowledge.complaints import read_complaints
from diagnose.knowledge.library import knowledge_folder, load_library, shown
from diagnose.knowledge.records import Complaint
from diagnose.log import Event, Header
from diagnose.model import Model, each_subject, make_model, subjects_of
from diagnose.panel.reader import read_panel
from diagnose.panel.records import Panel
from diagnose.play import apply, asked_for, replayed
from diagnose.proving import AskProof, ProofQuestion, ask_proof, judged
from diagnose.safety import COMPETENCES, PLAIN_STOP, Competence, capped
from diagnose.session import Question, Session, ask, start
from diagnose.yamlfile import Mapping as MappingNode
from diagnose.yamlfile import Scalar, read


@dataclass(frozen=True, slots=True)
class PanelEntry:
    """A bundled panel, as a list shows it."""

    name: str
    title: str
    story: str
    path: Path


# Panels ---------------------------------------------------------------------------------------------------


def bundled_panels() -> tuple[PanelEntry, ...]:
    """The panels that come along; raises FileError for one that isn't YAML."""
    folder = knowledge_folder()
    return tuple(_entry(path, shown(path, folder)) for path in sorted((folder / "panels").glob("*.yaml")))


def _entry(path: Path, shown_as: str) -> PanelEntry:
    node = read(path, shown_as)
    texts = {}
    if isinstance(node, MappingNode):
        texts = {key.text: value.text for key, value in node.entries if isinstance(value, Scalar)}
    story = " ".join(texts.get("story", "").split())
    return PanelEntry(path.stem, texts.get("title", path.stem), story, path)


def panel_path(name: str) -> tuple[Path, str]:
    """Where a panel lies, and what a log calls it: a bundled panel's name, or a file's absolute path.

    Raises UsageError where there is neither such a panel nor such a file.
    """
    bundled = {path.stem: path for path in sorted((knowledge_folder() / "panels").glob("*.yaml"))}
    if name in bundled:
        return bundled[name], name
    path = given_path(name)
    if path.exists():
        return path, str(path.absolute())
    hint = did_you_mean(name, bundled)
    place = Place(name) if os.sep in name or path.suffix else None
    wrong = "there is no such file" if place else f"there is no panel '{name}'{hint}"
    raise UsageError(Problem(wrong, f"a panel file, or one of {', '.join(bundled)}", place))


def open_panel(name: str) -> Panel:
    """Read a panel by its bundled name or its file's path.

    Raises
    ------
    UsageError
        Where there is no such panel.
    FileError
        With every problem of the file.
    """
    path, kept = panel_path(name)
    bundled = kept == name and path.parent == knowledge_folder() / "panels"
    return read_panel(path, load_library(), shown(path, knowledge_folder()) if bundled else name)


# Complaints -----------------------------------------------------------------------------------------------


@lru_cache(maxsize=2)
def all_complaints() -> Mapping[str, Complaint]:
    """Every complaint by its name, in the files' order; raises FileError with the problems of a file."""
    folder = knowledge_folder()
    found: dict[str, Complaint] = {}
    for path in sorted((folder / "complaints").glob("*.yaml")):
        for complaint in read_complaints(path, shown(path, folder)):
            found[complaint.name] = complaint
    return MappingProxyType(found)


def open_complaint(name: str) -> Complaint:
    """A complaint by its name; raises UsageError, with the nearest, where there is none."""
    known = all_complaints()
    if name not in known:
        hint = did_you_mean(name, known)
        raise UsageError(Problem(f"there is no complaint '{name}'{hint}", f"one of {', '.join(known)}"))
    return known[name]


def fitting(panel: Panel, complaints: Iterable[Complaint]) -> list[Complaint]:
    """The complaints that this panel can have: there is a part for each to be about, and parts that would show it."""
    return [complaint for complaint in complaints if each_subject(panel, complaint)]


def did_you_mean(name: str, known: Iterable[str]) -> str:
    """A hint for a name that is not among the known ones, or nothing."""
    near = difflib.get_close_matches(name.lower().replace("-", "_").replace(" ", "_"), list(known), 1)
    return f" (did you mean '{near[0]}'?)" if near else ""


# Parts and models -----------------------------------------------------------------------------------------


def choose_part(panel: Panel, complaint: Complaint, part: str | None) -> str | None:
    """The part that the complaint is about, by its name or label; without one, the only one there is.

    Raises UsageError where it can't be about that part, or could be about several and none was given.
    """
    subjects = subjects_of(panel, complaint)
    if not complaint.subject:
        if part:
            problem = Problem(f"'{complaint.name}' is about the whole panel, not about '{part}'", "no part")
            raise UsageError(problem)
        return None
    if not subjects:
        needed = " or ".join(complaint.subject)
        raise UsageError(Problem(f"this panel has no {needed} to be about", "another complaint"))
    by_label = {panel.label(name): name for name in subjects}
    if part:
        name = by_label.get(part, part)
        if name not in subjects:
            hint = did_you_mean(part, subjects)
            wrong = f"'{part}' can't be what '{complaint.name}' is about{hint}"
            raise UsageError(Problem(wrong, f"one of {', '.join(subjects)}"))
        return name
    if len(subjects) > 1:
        wrong = f"'{complaint.name}' can be about several parts of this panel"
        raise UsageError(Problem(wrong, f"one of {', '.join(subjects)}"))
    return subjects[0]


def open_model(
    panel: str | Panel,
    complaint: str | Complaint,
    part: str | None = None,
    factors: Mapping[str, float] = AS_BUNDLED,
) -> Model:
    """A panel and a complaint, made ready to be asked about; `factors` multiply the bundled failure rates.

    Raises
    ------
    UsageError
        For a name that means nothing here.
    FileError
        With every problem of a file.
    """
    if isinstance(panel, str):
        panel = open_panel(panel)
    if isinstance(complaint, str):
        complaint = open_complaint(complaint)
    return make_model(build(panel), complaint, choose_part(panel, complaint, part), factors)


def competence_named(text: str) -> Competence:
    """A level of competence by its name; raises UsageError for another word."""
    for name in COMPETENCES:
        if name == text:
            return name
    raise UsageError(Problem(f"'{text}' is no level of competence", f"one of {', '.join(COMPETENCES)}"))


def check_stated(competence: Competence | None, instruments: Sequence[str] | None) -> None:
    """Raises UsageError where a competence and the instruments, both given as options, don't go together."""
    if competence and instruments is not None and capped(competence, instruments) != competence:
        raise UsageError(
            Problem(f"nobody proves a panel dead without a meter, so competence '{competence}' can't be used here",
                    "multimeter among the instruments, or competence outside")
        )  # fmt: skip


# Sessions that are kept -----------------------------------------------------------------------------------


class Recorded:
    """A session that moves on by events; each is kept before the next question can be asked."""

    def __init__(self, session: Session, keep: Callable[[Event], None]) -> None:
        self.session = session
        self._keep = keep
        self._question: Question | None = None

    @property
    def question(self) -> Question:
        """What comes next; worked out once for each state."""
        if self._question is None:
            self._question = ask(self.session)
        return self._question

    @property
    def proof(self) -> ProofQuestion | None:
        """What comes after the verdict; None where nothing does."""
        return ask_proof(self.session)

    def prove(self, text: str) -> None:
        """Answer a proof check: kept is how it came out, and what was typed. Raises as `do`."""
        question = self.proof
        if not isinstance(question, AskProof):
            raise AnswerError(Problem("no proof check was asked", "what is asked"))
        self.do(judged(question, text), text)

    def do(self, what: str, text: str = "", of: str | None = None) -> None:
        """Apply an event and keep it; `of` is the check that it is about, where that isn't what is asked.

        Raises
        ------
        AnswerError
            Where it doesn't fit what was asked; nothing is kept, and the session stays where it was.
        FileError
            Where it can't be kept; the session stays where it was.
        """
        event = Event(what, asked_for(self.proof or self.question) if of is None else of, text)
        following = apply(self.session, event)
        self._keep(event)
        self.session, self._question = following, None


def reopened(header: Header, events: Sequence[Event]) -> Session:
    """The session that a log tells of, ready to go on.

    A plain stop only says that the person went away, so it is passed over; one for a danger stays.

    Raises
    ------
    UsageError, FileError
        Where the panel or the knowledge base is no longer what the log was made with.
    """
    model = open_model(header.panel, header.complaint, header.subject or None, header.factors)
    session = start(model, competence_named(header.competence), frozenset(header.instruments))
    return replayed(
        session, [event for event in events if not (event.what == "stop" and event.text in ("", PLAIN_STOP))]
    )
