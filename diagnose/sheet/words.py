"""A decision sheet in words: what stands in its boxes, for any form of print. Pure."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from diagnose.model import Model
from diagnose.safety import Competence, StepName
from diagnose.session import AskCheck
from diagnose.sheet.ranges import ranges_text
from diagnose.sheet.tree import Branch, Ending, Step, endings_of, steps_of
from diagnose.texts import load_texts, proof_text, step_text
from diagnose.wording import (
    BADGES,
    COMPETENCE_WORDS,
    INSTRUMENT_WORDS,
    capital,
    caution_texts,
    change_lines,
    check_title,
    clean,
    meter_line,
    range_text,
    standing,
)

HELP = "HELP"
STATES = {"outside": "box shut", "isolated": "box open, dead", "live": "box open, LIVE"}


@dataclass(frozen=True, slots=True)
class Way:
    """What was read or seen, what that means where it is an end, and the number or letter to go to."""

    seen: str
    means: str
    target: str
    sound: bool


@dataclass(frozen=True, slots=True)
class Card:
    """A numbered step: its state, the safety boxes to do first, what to change, what to measure, where to go.

    `row` holds where it follows the step before it in the same state with the same meter, so that a line is enough.
    """

    number: int
    badge: str
    state: str
    first: tuple[str, ...]
    changes: tuple[str, ...]
    doing: tuple[str, ...]
    sound: str
    ways: tuple[Way, ...]
    row: bool


@dataclass(frozen=True, slots=True)
class Box:
    """A lettered or numbered box that cards refer to: a safety step, a repair, a measurement after it."""

    name: str
    title: str
    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Words:
    """All that stands on a sheet, in order. `found` and `helped` are shares of all faults."""

    title: str
    subtitle: str
    rules: tuple[str, ...]
    cautions: tuple[str, ...]
    stop: Box
    safety: tuple[Box, ...]
    cards: tuple[Card, ...]
    repairs: tuple[Box, ...]
    help: Box
    proofs: tuple[Box, ...]
    found: float
    helped: float


def words_of(
    model: Model, top: Step | Ending, competence: Competence, instruments: Sequence[str], warned: str = ""
) -> Words:
    """A tree in words; `warned` is a caution of the sheet's own."""
    panel, about = model.panel, f", {model.panel.label(model.subject)}" if model.subject else ""
    steps = sorted(steps_of(top), key=lambda step: step.number)
    endings = list(endings_of(top))
    letters = _letters(steps, top)
    used = dict.fromkeys(done.step for step in steps for done in step.safety)
    order = list(used)
    safety_names = {name: f"S{number}" for number, name in enumerate(order, start=1)}
    proofs = _proofs(model, endings)
    cards = []
    for before, step in zip([None, *steps], steps, strict=False):
        cards.append(_card(model, step, before, safety_names, letters))
    found, helped = sum(each.right for each in endings), sum(each.share for each in endings if each.helps)
    at_hand = ", ".join(INSTRUMENT_WORDS[name] for name in instruments) or "no instrument"
    return Words(
        clean(f"{panel.title}: {model.complaint.title}{about}"),
        clean(f"For whoever may say: {COMPETENCE_WORDS[competence]}. At hand: {at_hand}."),
        _rules(found, helped),
        tuple(clean(text) for text in _cautions(model, endings, warned)),
        Box("STOP", "Stop", tuple(load_texts().stop.lines)),
        tuple(Box(safety_names[name], step_text(panel, name).title, step_text(panel, name).lines) for name in order),
        tuple(cards),
        tuple(_repair_boxes(model, endings, letters, proofs)),
        _help_box(helped),
        tuple(Box(name, title, (text,)) for (title, text), name in proofs.items()),
        found,
        helped,
    )


def _rules(found: float, helped: float) -> tuple[str, ...]:
    return (
        "Begin at 1. Do all that a step says, in its order, then go where the reading sends you.",
        "A step that you can't or won't do, or a reading that fits no line after a second try: go to HELP.",
        "After any break, take the supply off and prove it dead again before a hand goes in.",
        f"Of 100 faults that this program knows, {100 * found:.0f} end at the part or a short list with it, "
        f"{100 * helped:.0f} at HELP.",
    )


def _cautions(model: Model, endings: Sequence[Ending], warned: str) -> Iterator[str]:
    parts = dict.fromkeys(part for ending in endings for part in ending.parts)
    texts = dict.fromkeys(text for part in ("", *parts) for text in caution_texts(model, part))
    yield from texts
    if warned:
        yield warned


# Steps -----------------------------------------------------------------------------------------------------


def _card(
    model: Model, step: Step, before: Step | None, safety: dict[StepName, str], letters: dict[tuple[object, ...], str]
) -> Card:
    check = step.check
    changes = [clean(line) for done in step.safety for line in done.lines]
    changes += [clean(line) for line in change_lines(model.panel, standing(step.session), check.setup)]
    follows = before is not None and any(branch.goes is step for branch in before.branches)
    same = before is not None and (before.check.quantity, before.check.instrument, before.check.exposure) == (
        check.quantity, check.instrument, check.exposure,
    )  # fmt: skip
    row = follows and same and check.quantity != "sign" and not step.safety and not changes
    state = STATES[check.exposure]
    if check.exposure == "outside":
        state += f", supply {'on' if check.setup.supply_on else 'off'}"
    return Card(
        step.number,
        BADGES[check.exposure],
        state,
        tuple(safety[done.step] for done in step.safety),
        tuple(changes),
        tuple(clean(line) for line in _doing(model, step.question, row)),
        clean(_sound(step.question)),
        tuple(_way(model, step, branch, letters) for branch in step.branches),
        row,
    )


def _doing(model: Model, question: AskCheck, row: bool) -> Iterator[str]:
    """What to look at or measure, and where the probes go."""
    check, panel = question.check, model.panel
    if check.quantity == "sign":
        sign, label = panel.parts[check.part].kind.signs[check.sign], panel.label(check.part)
        yield sign.question.replace("{label}", label)
        if sign.procedure:
            yield sign.procedure.replace("{label}", label)
        return
    if not row:
        yield meter_line(check)
    if check.around:
        yield ", ".join(panel.label(wire) for wire, _ in check.around)
    elif check.tail:
        yield f"Red: {panel.terminal_label(check.tail)}. Black: {panel.terminal_label(check.head)}."
    else:
        yield f"{capital(check_title(panel, check))}?"


def _sound(question: AskCheck) -> str:
    if question.prediction.table is not None:
        return question.outcomes[int(np.argmax(question.prediction.table[0]))]
    return range_text(question.check.quantity, question.sound[1], question.sound[2])


def _way(model: Model, step: Step, branch: Branch, letters: dict[tuple[object, ...], str]) -> Way:
    check, goes = step.check, branch.goes
    if branch.outcomes:
        seen = " or ".join(branch.outcomes)
        sound = _sound(step.question) in branch.outcomes
    else:
        seen = ranges_text(check.quantity, branch.ranges)
        sound = any(each.holds(step.question.sound[0]) for each in branch.ranges)
    if isinstance(goes, Step):
        return Way(seen, "", str(goes.number), sound)
    if goes.helps:
        return Way(seen, "", HELP, sound)
    return Way(seen, clean(_means(model, step, goes)), letters[repair_key(goes)], sound)


def _means(model: Model, step: Step, goes: Ending) -> str:
    """The faults that an end names, as short as they can be said at that step."""
    if all(model.panel.at_the_service(part) for part in goes.parts):
        return "the building's supply, before this panel"
    texts = []
    for title in goes.titles:
        label = model.panel.label(step.check.part)
        own = step.check.part in model.panel.wires_by_name and title.startswith(f"{label}: ")
        texts.append(f"this wire: {title.removeprefix(f'{label}: ')}" if own else title)
    return "; ".join(texts)


# What steps refer to ---------------------------------------------------------------------------------------


def repair_key(ending: Ending) -> tuple[object, ...]:
    """What is the same for two ends with the same thing to do."""
    return (ending.remedy, ending.proof, ending.electrician)


def _letters(steps: Sequence[Step], top: Step | Ending) -> dict[tuple[object, ...], str]:
    """A letter for each thing to do, in the order in which the steps come to them."""
    ways = [branch.goes for step in steps for branch in step.branches] or [top]
    keys = dict.fromkeys(repair_key(each) for each in ways if isinstance(each, Ending) and not each.helps)
    return {key: _letter(number) for number, key in enumerate(keys)}


def _letter(number: int) -> str:
    """A, B ... Z, AA, AB ..."""
    return chr(65 + number) if number < 26 else _letter(number // 26 - 1) + chr(65 + number % 26)


def _proofs(model: Model, endings: Sequence[Ending]) -> dict[tuple[str, str], str]:
    """Measurements before use, each once, with its name."""
    found: dict[tuple[str, str], str] = {}
    for ending in endings:
        for proof in ending.proof:
            found.setdefault(_proof(model, ending, proof), f"M{len(found) + 1}")
    return found


def _proof(model: Model, ending: Ending, proof: str) -> tuple[str, str]:
    title, text = proof_text(model.panel, ending.part, proof)
    return clean(title), clean(text)


def _repair_boxes(
    model: Model, endings: Sequence[Ending], letters: dict[tuple[object, ...], str], proofs: dict[tuple[str, str], str]
) -> Iterator[Box]:
    for key, letter in letters.items():
        same = [ending for ending in endings if not ending.helps and repair_key(ending) == key]
        ending = same[0]
        lines = [ending.remedy or "These can't be told apart from here: replace nothing on a guess."]
        if ending.electrician:
            lines.append("This is work for a licensed electrician.")
        names = dict.fromkeys(proofs[_proof(model, each, proof)] for each in same for proof in each.proof)
        if names:
            lines.append(f"Then {', '.join(names)}.")
        yield Box(letter, "", tuple(clean(line) for line in lines))


def _help_box(helped: float) -> Box:
    return Box(
        HELP,
        "Call for help",
        (
            "Supply off, box shut. Leave the panel off, and show this sheet with the readings to a licensed electrician.",
            f"What is rare ends here: {100 * helped:.0f} in 100 faults.",
        ),
    )
