"""A panel's logbook: its sessions in order, what each found and mended, and readings of the same check over time."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from diagnose.errors import DiagnoseError
from diagnose.log import Event, Header
from diagnose.log_recovery import read_whole_part
from diagnose.model import Model
from diagnose.opening import open_model, open_panel
from diagnose.panel.records import Panel
from diagnose.report.conclusion import result_of
from diagnose.report.over_time import Over, over_time, when
from diagnose.report.trace import Trace, trace
from diagnose.session import Verdict, ask
from diagnose.texts import INSULATION_OHMS, load_texts
from diagnose.wording import speaker

HEAD_BYTES = 4096  # of a file, in which a log's header stands


@dataclass(frozen=True, slots=True)
class Past:
    """One session: what it was about and how it ended. `problem` says why a log tells no more than its header."""

    log: str
    begun: datetime | None
    complaint: str
    about: str
    result: str
    remedy: str
    mended: str  # 'yes', 'no', or nothing where it was not said
    proofs: tuple[tuple[str, str], ...]  # title, outcome
    readings: int
    problem: str = ""


@dataclass(frozen=True, slots=True)
class History:
    """All of one panel."""

    name: str  # as logs call it
    title: str
    sessions: tuple[Past, ...]
    over_time: tuple[Over, ...]
    panel: Panel | None  # None where it can't be read any more


@dataclass(frozen=True, slots=True)
class Kept:
    """A log that was read."""

    path: Path
    header: Header
    events: tuple[Event, ...]
    damaged: bool = False  # only what is before the damage could be read


def logs_in(folders: Iterable[Path], deep: bool) -> Iterator[Kept]:
    """Every log in some folders, each once; other files are passed over, and so are logs that can't be read at all."""
    seen: set[Path] = set()
    for folder in folders:
        for path in sorted(folder.rglob("*.yaml") if deep else folder.glob("*.yaml")):
            if path.resolve() in seen or not path.is_file() or not _looks_like_a_log(path):
                continue
            seen.add(path.resolve())
            try:
                header, events, whole = read_whole_part(path)
            except DiagnoseError:
                continue
            yield Kept(path, header, events, not whole)


def _looks_like_a_log(path: Path) -> bool:
    try:
        with path.open("rb") as file:
            head = file.read(HEAD_BYTES)
    except OSError:
        return False
    return b"\nformat:" in b"\n" + head and b"\ncomplaint:" in head and b"\nevents:" in head


Models = dict[tuple[object, ...], Model]  # by panel, complaint, subject and shifted rates


def histories(kept: Iterable[Kept], models: Models | None = None) -> Iterator[History]:
    """The history of each panel that the logs are of, in the order of their names; `models` are those made before."""
    by_panel: dict[str, list[Kept]] = {}
    for each in kept:
        by_panel.setdefault(each.header.panel, []).append(each)
    for name in sorted(by_panel):
        inside = sorted(by_panel[name], key=lambda each: (each.header.begun, each.path.name))
        yield history_of(name, inside, {} if models is None else models)


def history_of(name: str, kept: Sequence[Kept], models: Models) -> History:
    """The history of one panel from its logs, the oldest first. A model is made once for each complaint."""
    panel: Panel | None = None
    try:
        panel = open_panel(name)
    except DiagnoseError:
        panel = None
    played: list[Trace] = []
    sessions = []
    for each in kept:
        try:
            of = _played(each, panel, models)
        except (DiagnoseError, KeyError) as error:
            sessions.append(_unread(each, str(error)))
            continue
        played.append(of)
        sessions.append(_past(each, of))
    title = panel.title if panel is not None else Path(name).stem
    return History(name, title, tuple(sessions), tuple(over_time(played)), panel)


def _played(each: Kept, panel: Panel | None, models: Models) -> Trace:
    header = each.header
    key = (header.panel, header.complaint, header.subject, tuple(sorted(header.factors.items())))
    if key not in models:
        models[key] = open_model(panel or header.panel, header.complaint, header.subject or None, header.factors)
    return trace(header, each.events, models[key])


def _unread(each: Kept, problem: str) -> Past:
    header = each.header
    complaint = header.complaint.replace("_", " ")
    count = sum(event.what == "answer" for event in each.events)
    told = problem.splitlines()[0] if problem else "it can't be played again"
    return Past(str(each.path), when(header), complaint, header.subject.replace("_", " "), "", "", "", (), count, told)


def _past(each: Kept, of: Trace) -> Past:
    session, model = of.end, of.end.model
    question = ask(session)
    verdict = question if isinstance(question, Verdict) else None
    proofs = tuple((load_texts().proofs[proved.proof].title, proved.outcome) for proved in session.proved)
    about = model.panel.label(model.subject) if model.subject else ""
    return Past(
        str(each.path), when(each.header), model.complaint.title, about, result_of(session, verdict),
        verdict.remedy if verdict is not None else "", session.repaired, proofs,
        sum(not given.skipped for given in session.answers),
    )  # fmt: skip


def falling(of: History) -> tuple[Over, ...]:
    """The insulations that fall."""
    return tuple(over for over in of.over_time if over.trend is not None and over.trend.falling)


def limits_of(panel: Panel) -> Mapping[str, float]:
    """Ohms at which an insulation is out of use, and at which the panel's own device may trip: what that is -> ohms."""
    from diagnose.physics.residual import GROUND_FAULT_CLASS_A_AMPERES, fault_ohms  # beside its only use

    say = speaker(panel)
    found = {"the least allowed (IEC 60364-6)": INSULATION_OHMS}
    volts = panel.parts[panel.supply.service].ratings["voltage"]
    for name, part in panel.parts.items():
        if part.kind.trip is not None and part.kind.trip.form == "residual":
            # A class A device may trip from the lower current of its band, another from half its rating: IEC 61008-1.
            american = part.kind.trip.standard == "ul943"
            amperes = GROUND_FAULT_CLASS_A_AMPERES.low if american else part.ratings["residual"] / 2
            found[say(f"where {panel.label(name)} may trip")] = fault_ohms(volts, amperes)
    return found
