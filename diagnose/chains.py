"""Faults that bring another, on one panel: how often, and what a verdict says of what may have gone with its cause."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from diagnose.causes import Cause
from diagnose.knowledge.chains import Chain, Link, load_chains
from diagnose.model import Model
from diagnose.panel.records import Panel
from diagnose.questions import Further
from diagnose.setups import plug_of
from diagnose.topology import upstream


def chain_shares(model: Model, causes: Sequence[Cause]) -> Mapping[tuple[int, int], float]:
    """How often the second of two of these single causes is there once the first was, by their numbers in that order.

    A fault at several levels shares it among them evenly.
    """
    found: dict[tuple[int, int], float] = {}
    for chain in load_chains():
        seconds = [number for number, cause in enumerate(causes) if _is(model.panel, cause, chain.then)]
        for one, first in enumerate(causes):
            if not _is(model.panel, first, chain.first):
                continue
            for two in seconds:
                if two != one and _there(model.panel, chain, first.part, causes[two].part):
                    share = chain.share / len(model.fault(causes[two]).levels or (1,))
                    found[one, two] = max(share, found.get((one, two), 0.0))
    return found


def _is(panel: Panel, cause: Cause, link: Link) -> bool:
    return cause.fault in link.faults and panel.kind_of(cause.part).role == link.role


def _there(panel: Panel, chain: Chain, first: str, then: str) -> bool:
    """Whether a part lies where a chain says, seen from its first one."""
    match chain.where:
        case "itself":
            return first == then
        case "feeding":
            return first != then and then in _feeding(panel, first)
        case "mated":
            return panel.plugs.get(first) == then or panel.plugs.get(then) == first
    return first != then


def _feeding(panel: Panel, part: str) -> tuple[str, ...]:
    """Parts between the supply and a load, or the load that hangs on a cord; the building's are left alone."""
    loads = [part] if panel.kind_of(part).role != "connector" else [
        load for load in panel.parts if panel.parts[load].kind.role != "connector" and plug_of(panel, load) == part
    ]  # fmt: skip
    return tuple(
        name for load in loads if panel.parts[load].kind.role in ("heater", "pump", "fan")
        for name in upstream(panel, load) if not panel.at_the_service(name)
    )  # fmt: skip


def notes_of(model: Model, cause: Cause) -> Iterator[Further]:
    """What may have gone with a single cause, or have brought it, and is checked before the panel is used again."""
    for chain in load_chains():
        for mine, other, forward in ((chain.first, chain.then, True), (chain.then, chain.first, False)):
            if not _is(model.panel, cause, mine):
                continue
            for part in model.panel.parts:
                ends = (cause.part, part) if forward else (part, cause.part)
                kind = model.panel.kind_of(part)
                if (
                    kind.role == other.role
                    and set(other.faults) & set(kind.faults)
                    and _there(model.panel, chain, *ends)
                ):
                    yield Further(part, chain.because, "", chain.check, False)
