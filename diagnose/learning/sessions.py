"""From a saved session to what it tells of failure rates."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Sequence
from pathlib import Path
from types import MappingProxyType

from diagnose.errors import Problem, UsageError
from diagnose.learning.ratesfile import Source
from diagnose.log import Event, Header, read_log
from diagnose.model import Model
from diagnose.opening import open_model, reopened
from diagnose.proving import Closing, ask_proof
from diagnose.session import Session, Verdict, ask

LEAST_EXPOSURE = 1e-4  # what was expected less often than this is left out: it shifts nothing


def log_hash(header: Header, events: Sequence[Event]) -> str:
    """A name for a session, the same whatever the file is called and however often it is resumed.

    A log of before sessions noted when they began is known by its answers instead.
    """
    said = [header.panel, header.complaint, header.subject, header.competence, list(header.instruments), header.begun]
    if not header.begun:
        said += [[event.of, event.text] for event in events if event.what == "answer"]
    return hashlib.sha256(json.dumps(said).encode()).hexdigest()[:16]


def source_of(path: Path, confirmed: str = "", cured: bool = False) -> Source:
    """What a session tells: the fault that was confirmed, and how likely each was at the bundled rates.

    Parameters
    ----------
    confirmed : str
        `part:fault` as the repair proved it; empty where the session's own verdict is what was confirmed.
    cured : bool
        Someone says that the remedy of the session's verdict cured it.

    Raises
    ------
    UsageError
        Where nothing was confirmed, or what was is no fault on the panel.
    FileError
        Where the log or its panel can't be used.
    """
    header, events = read_log(path)
    model = open_model(header.panel, header.complaint, header.subject or None)
    fault = _named(path, model, confirmed) if confirmed else _of_verdict(path, header, events, cured)
    return Source(log_hash(header, events), fault, MappingProxyType(exposures_of(model)))


def exposures_of(model: Model) -> dict[str, float]:
    """How likely each kind's fault is to be the cause of the complaint, at the rates of the model; they sum to one.

    A design that makes the complaint by itself has no failure rate, and is left out.
    """
    known = float(model.prior[:-1].sum())
    shares: dict[str, float] = {}
    for cause, share in zip(model.causes, model.prior, strict=False):
        if not cause.as_built:
            name = f"{model.panel.kind_of(cause.part).name}.{cause.fault}"
            shares[name] = shares.get(name, 0.0) + float(share) / known
    return {name: share for name, share in sorted(shares.items()) if share >= LEAST_EXPOSURE}


def proved(session: Session) -> bool:
    """Whether the repair was done, and every measurement after it passed: none failed, and none was left out."""
    closing = ask_proof(session)
    return isinstance(closing, Closing) and closing.kind == "closed" and bool(closing.passed) and not closing.declined


def _named(path: Path, model: Model, confirmed: str) -> str:
    part, _, fault = (text.strip() for text in confirmed.partition(":"))
    panel = model.panel
    if part not in panel.parts and part not in panel.wires_by_name:
        raise UsageError(Problem(f"{path}: the panel has no part '{part}'", "PART:FAULT, as boil_element:open"))
    kind = panel.kind_of(part)
    if fault not in kind.faults:
        raise UsageError(Problem(f"{path}: '{part}' has no fault '{fault}'", f"one of {', '.join(kind.faults)}"))
    return f"{kind.name}.{fault}"


def _of_verdict(path: Path, header: Header, events: Sequence[Event], cured: bool) -> str:
    session = reopened(header, events)
    verdict = ask(session)
    if not isinstance(verdict, Verdict) or verdict.kind != "found":
        ended = f"ended {verdict.kind}" if isinstance(verdict, Verdict) else "did not end"
        raise UsageError(Problem(f"{path}: the session {ended}", "what it was in the end, as --confirmed PART:FAULT"))
    lead = verdict.causes[0]
    if not cured and not proved(session):
        wanted = f"--cured if the repair of {lead.part} cured it, else --confirmed PART:FAULT"
        raise UsageError(Problem(f"{path}: nobody has confirmed what was found, {lead.part}:{lead.fault}", wanted))
    return f"{session.model.panel.kind_of(lead.part).name}.{lead.fault}"
