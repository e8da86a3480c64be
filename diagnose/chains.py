"""Faults that bring another, on one panel: pairs thought of from the start, and what a verdict says of them."""

from __future__ import annotations

from collections.abc import Iterator

from diagnose.causes import Cause, go_together, pair_of
from diagnose.combined import CHAINED, with_pairs
from diagnose.knowledge.chains import Chain, Link, load_chains
from diagnose.model import Model, complaint_likelihood
from diagnose.panel.records import Panel
from diagnose.questions import Further
from diagnose.setups import plug_of
from diagnose.topology import upstream

FEWEST = 1e-4  # a chain whose weight is less than this share of all single causes is left to what readings ask for


def with_chains(model: Model) -> Model:
    """A model of single causes with the chains that make the complaint among them."""
    if model.narrow is not None:
        return model
    if CHAINED not in model.grown:
        model.grown[CHAINED] = with_pairs(model, chain_pairs(model))
    return model.grown[CHAINED]


def chain_pairs(model: Model) -> tuple[Cause, ...]:
    """The chains on this panel as pairs, first the one that makes the complaint by itself; rates are the pair's."""
    singles = [
        (cause, number)
        for number, cause in enumerate(model.everything.causes)
        if cause.also is None and not cause.as_built and cause.at_times == 1 and cause.part not in model.mended
    ]
    shows = complaint_likelihood(model.everything, model.complaint, model.subject, model.setups)[1:]
    found = []
    for chain in load_chains():
        for first, one in singles:
            if not _is(model.panel, first, chain.first):
                continue
            for then, two in singles:
                if not _is(model.panel, then, chain.then) or not _there(model.panel, chain, first.part, then.part):
                    continue
                rate = first.rate * chain.share / len(model.fault(then).levels or (1,))
                likely = max(shows[one], shows[two])
                if rate * likely < FEWEST * model.weight or not go_together(model.panel, first, then):
                    continue
                swapped = shows[two] > shows[one]
                found.append(pair_of(then, first, rate) if swapped else pair_of(first, then, rate))
    return tuple(found)


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
