"""What a check exposes a person to, what a person may do, and how that follows from what they say of themselves."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from types import MappingProxyType
from typing import Literal

from diagnose.knowledge.records import Exposure

Competence = Literal["outside", "isolated", "live"]
COMPETENCES: tuple[Competence, ...] = ("outside", "isolated", "live")

COVERS: Mapping[Competence, frozenset[Exposure]] = MappingProxyType(
    {
        "outside": frozenset({"outside"}),
        "isolated": frozenset({"outside", "isolated"}),
        "live": frozenset({"outside", "isolated", "live"}),
    }
)

# What a person is asked, in this order; the words are in knowledge/competence.yaml.
Fact = Literal["opened_before", "rated_meter", "known_source", "lock", "live_training"]
FACTS: tuple[Fact, ...] = ("opened_before", "rated_meter", "known_source", "lock", "live_training")
# What each competence takes. A meter rated for the installation: IEC 61010-1 (CAT III); a source to prove it on before
# and after: HSE GS38; lock and tag: WAC 296-24-975. Who may work live is a matter of training and of the local law.
TAKES: Mapping[Competence, frozenset[Fact]] = MappingProxyType(
    {
        "outside": frozenset(),
        "isolated": frozenset({"opened_before", "rated_meter", "known_source", "lock"}),
        "live": frozenset(FACTS),
    }
)
PROVES_DEAD = frozenset({"multimeter", "low_impedance"})  # without one of these nothing is opened


def allowed(competence: Competence, exposure: Exposure) -> bool:
    """Whether a person of this competence may be offered a check of this exposure."""
    return exposure in COVERS[competence]


def lower_of(one: Competence, other: Competence) -> Competence:
    """The lower of two competences: where two people work together, it rules."""
    return min(one, other, key=COMPETENCES.index)


def derived(facts: Collection[str]) -> Competence:
    """The competence that follows from what a person said they have done and have got; outside if in doubt."""
    return next(name for name in reversed(COMPETENCES) if TAKES[name] <= set(facts))


def facts_taken(competence: Competence) -> tuple[Fact, ...]:
    """What has to be taken for granted where a competence was given and nothing was asked."""
    return tuple(fact for fact in FACTS if fact in TAKES[competence])


def capped(competence: Competence, instruments: Collection[str]) -> Competence:
    """The competence that is left with these instruments: without a meter nothing is opened."""
    return competence if PROVES_DEAD & set(instruments) else "outside"
