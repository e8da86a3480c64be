"""What a file refers to in others: proof checks, cautions, signs, roles, parts, checks."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence

from diagnose.cases import RecordedCase
from diagnose.checks import Check, offered_checks
from diagnose.circuit.netlist import build
from diagnose.controller_signs import CHANGES
from diagnose.errors import AnswerError, Place, Problem
from diagnose.knowledge.library import Library
from diagnose.knowledge.records import Complaint, Kind
from diagnose.panel.records import Panel
from diagnose.readings import parse_drop, parse_reading
from diagnose.setups import named_setups
from diagnose.texts import Texts
from diagnose.yamlfile import Mapping as MappingNode
from diagnose.yamlfile import Node

COMPUTED_ANSWERS = ("heat_rate", "boil_off", "temperature_error")
"""Quantities whose answers are worked out from several numbers, so that only a session can read them."""
NOT_ROLES = ("subject", "plug")


def of_part(kind: Kind, node: Node, texts: Texts) -> Iterator[Problem]:
    """What a kind of part names that is nowhere, and faults after whose repair nothing would be measured."""
    for caution in kind.cautions:
        if caution not in texts.cautions:
            yield _unknown("caution", caution, texts.cautions, place_of(node, "cautions"))
    for fault in kind.faults.values():
        place = place_of(node, "faults", fault.name)
        for proof in fault.remedy.proof:
            if proof not in texts.proofs:
                yield _unknown("proof check", proof, texts.proofs, place_of(node, "faults", fault.name, "proof"))
        if not fault.remedy.proof and not (fault.remedy.electrician or fault.stop or fault.usable):
            yield Problem(
                f"nothing is measured after '{fault.name}' was put right",
                f"proof: one or more of {', '.join(texts.proofs)}",
                place, "warning", "no proof",
            )  # fmt: skip


def of_complaint(complaint: Complaint, node: Node, kinds: Mapping[str, Kind], texts: Texts) -> Iterator[Problem]:
    """Roles, signs, outcomes and cautions that a complaint names and that no kind of part has."""
    roles = {kind.role for kind in kinds.values()}
    for role in complaint.subject:
        if role not in roles:
            yield _unknown("role", role, roles, place_of(node, "subject"))
    for caution in complaint.cautions:
        if caution not in texts.cautions:
            yield _unknown("caution", caution, texts.cautions, place_of(node, "cautions"))
    for observation in complaint.observed:
        place = place_of(node, "observed")
        if observation.of not in (*NOT_ROLES, *roles):
            yield _unknown("role", observation.of, [*NOT_ROLES, *roles], place)
            continue
        able = [kind for kind in kinds.values() if _is_of(kind, observation.of, complaint.subject)]
        signs = [kind.signs[observation.sign] for kind in able if observation.sign in kind.signs]
        if not signs:
            known = sorted({name for kind in able for name in kind.signs})
            yield _unknown(f"sign of a {observation.of}", observation.sign, known, place)
            continue
        outcomes = CHANGES if observation.against else tuple({each for sign in signs for each in sign.outcomes})
        for outcome in observation.outcomes:
            if outcome not in outcomes:
                yield _unknown(f"outcome of '{observation.sign}'", outcome, outcomes, place)


def alike(complaints: Sequence[tuple[Complaint, Place]]) -> Iterator[Problem]:
    """Complaints of one name, and those that say what another one says, so that nothing tells them apart.

    How often a sound panel gets them (`expects_more`) does: their sessions begin with other beliefs.
    """
    names: dict[str, Place] = {}
    seen: dict[tuple[object, ...], str] = {}
    for complaint, place in complaints:
        if complaint.name in names:
            yield Problem(f"there are two complaints named '{complaint.name}'", "a name of its own", place)
        names[complaint.name] = place
        sound = complaint.expects_more.rate if complaint.expects_more is not None else 0.0
        told = (complaint.subject, frozenset(complaint.observed), frozenset(complaint.setups), sound)
        if told in seen and seen[told] != complaint.name:
            yield Problem(
                f"'{complaint.name}' observes what '{seen[told]}' does, so that they can't be told apart",
                "one complaint with the phrases of both, or one more sign under 'observed' of one",
                place, "warning", "alike",
            )  # fmt: skip
        seen.setdefault(told, complaint.name)


def of_case(case: RecordedCase, node: Node, panel: Panel, complaint: Complaint, part: str | None) -> Iterator[Problem]:
    """What a case names that its panel lacks: parts, faults, checks; and answers that can't be read."""
    names = (*panel.parts, *panel.wires_by_name)
    also = [(case.confirmed.also, "also")] if case.confirmed.also else []
    for name, key in ((case.confirmed.part, "part"), *also, *((other, "") for other in case.group)):
        if name not in names:
            at = place_of(node, "confirmed", key) if key else place_of(node, "group")
            yield _unknown("part of this panel", name, names, at)
    fault = case.confirmed.fault
    if fault and case.confirmed.part in names:
        faults = panel.kind_of(case.confirmed.part).faults
        if fault not in faults and not fault.startswith("as_built"):
            yield _unknown(f"fault of '{case.confirmed.part}'", fault, faults, place_of(node, "confirmed", "fault"))
    checks = {
        check.id: check
        for check in offered_checks(panel, named_setups(build(panel), part), complaint.setups, names, part)
    }
    typed = (*(("answers", *each) for each in case.answers.items()), *(("again", *each) for each in case.again.items()))
    for key, name, text in typed:
        place = place_of(node, key, name)
        if name not in checks:
            yield _unknown("check on this panel", name, checks, place)
            continue
        try:
            _readable(panel, checks[name], text)
        except AnswerError as error:
            yield from (Problem(problem.message, problem.expected, place) for problem in error.problems)


def _readable(panel: Panel, check: Check, text: str) -> None:
    if check.quantity == "sign":
        sign = panel.kind_of(check.part).signs[check.sign]
        plain = " ".join(text.lower().replace("_", " ").split())
        if check.sign != "course" and not any(outcome.startswith(plain) for outcome in sign.outcomes):
            raise AnswerError(Problem(f"'{text}' is none of the answers", ", ".join(sign.outcomes)))
    elif check.quantity == "voltage_drop":
        parse_drop(text)
    elif check.quantity in COMPUTED_ANSWERS or check.setup_name == "boiled":
        return
    elif check.quantity != "temperature" or text.strip().lower() not in ("none", "no number"):
        parse_reading(text, check.quantity)  # type: ignore[arg-type]


def place_of(node: Node, *keys: str) -> Place:
    """Where the innermost of some nested keys stands that is there."""
    place = node.place
    for key in keys:
        if not isinstance(node, MappingNode):
            break
        inner = node.get(key)
        if inner is None:
            break
        place, node = node.key_place(key), inner
    return place


def _is_of(kind: Kind, role: str, subject: Sequence[str]) -> bool:
    if role == "plug":
        return bool(kind.plug)
    return kind.role in (subject if role == "subject" else (role,))


def _unknown(what: str, name: str, known: Iterable[str], place: Place) -> Problem:
    names = sorted(known)
    listed = ", ".join(names) if len(names) <= 40 else f"one of {len(names)} that there are"
    return Problem(f"there is no {what} '{name}'{Library.suggestion(name, names)}", listed or "none here", place)
