"""A decision sheet in words: what stands in its boxes, for any form of print. Pure."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, fields, replace
from functools import lru_cache
from typing import Any, TypeVar

import numpy as np

from diagnose.model import Model
from diagnose.panel.records import Panel, part_of
from diagnose.safety import DEAD_VOLTS, STEPS, Competence, StepName
from diagnose.session import AskCheck
from diagnose.sheet.ranges import ranges_text
from diagnose.sheet.tree import Branch, Ending, Step, endings_of, steps_of
from diagnose.texts import load_texts, proof_text, step_text
from diagnose.wording import (
    BADGES,
    COMPETENCE_WORDS,
    INSTRUMENT_WORDS,
    capital,
    change_lines,
    check_title,
    clean,
    meter_line,
    range_text,
    speaker,
    standing,
    surface_title,
    table_cautions,
)

Item = TypeVar("Item", "Words", "Card", "Way", "Box")
Repairs = Mapping[tuple[object, ...], tuple[str, str]]
HELP = "HELP"
MANY = 3  # so many outcomes that lead to the same are 'anything else'
MOST_FAULTS = 3  # what is done about more than these is not headed by their names
STOP = "At smoke, heat, a burnt smell, water in the box, a shock, or what was not dead:"
# What a screen asks to be typed, and what a sheet says instead.
PAPER = (
    (
        "Type the highest reading of all.",
        f"All must be under {DEAD_VOLTS:g} V. More is not dead: close the lid, see STOP.",
    ),
    (
        "If not, nothing was proved. Touch nothing.",
        "If not, nothing was proved. Touch nothing, close the lid, go to HELP.",
    ),
    ("type danger", "see STOP"),
    ("Type danger", "See STOP"),
)
STATES = {"outside": "box shut", "isolated": "box open, dead", "live": "box open, LIVE"}


@dataclass(frozen=True, slots=True)
class Way:
    """What was read or seen, what the sound panel shows if that is it, what it means at an end, where to go."""

    seen: str
    sound: str
    means: str
    target: str


@dataclass(frozen=True, slots=True)
class Card:
    """A numbered step: its state, the safety boxes to do first, what to change, what to measure, where to go.

    `row` holds where it follows the step before it in the same state with the same meter, so that a line is enough.
    """

    number: int
    badge: str
    state: str
    first: str
    changes: str
    doing: str
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


def words_of(model: Model, top: Step | Ending, competence: Competence, instruments: Sequence[str]) -> Words:
    """A tree in words, before they are put into those of the panel's region."""
    panel, about = model.panel, f", {model.panel.label(model.subject)}" if model.subject else ""
    steps = sorted(steps_of(top), key=lambda step: step.number)
    endings = list(endings_of(top))
    repairs = _repairs(steps, top)
    used = dict.fromkeys(done.step for step in steps for done in step.safety)
    order = [name for name in STEPS if name in used]
    safety_names = {name: f"S{number}" for number, name in enumerate(order, start=1)}
    proofs = _proofs(model, endings)
    cards = []
    for before, step in zip([None, *steps], steps, strict=False):
        cards.append(_card(model, step, before, safety_names, repairs))
    found, helped = sum(each.right for each in endings), sum(each.share for each in endings if each.helps)
    at_hand = ", ".join(INSTRUMENT_WORDS[name] for name in instruments) or "no instrument"
    return Words(
        clean(f"{panel.title}: {model.complaint.title}{about}"),
        clean(f"For whoever may say: {COMPETENCE_WORDS[competence]}. At hand: {at_hand}."),
        _rules(found, helped),
        tuple(_cautions(model, steps, endings)),
        Box("STOP", "Stop", tuple(load_texts().stop.lines)),
        tuple(Box(safety_names[name], step_text(panel, name).title, _on_paper(panel, name)) for name in order),
        tuple(cards),
        tuple(_repair_boxes(model, endings, repairs, proofs)),
        _help_box(helped),
        tuple(Box(name, title, (text,)) for (title, text), name in proofs.items()),
        found,
        helped,
    )


def in_region(model: Model, words: Words) -> Words:
    """The same in the words of the panel's region."""
    return _said(words, speaker(model.panel))


def _said(words: Item, say: Callable[[str], str]) -> Item:
    """The same with every text put into other words."""
    changed: dict[str, Any] = {}
    for each in fields(words):
        value = getattr(words, each.name)
        if isinstance(value, str):
            changed[each.name] = say(value)
        elif isinstance(value, tuple):
            changed[each.name] = tuple(say(item) if isinstance(item, str) else _said(item, say) for item in value)
        elif isinstance(value, Box):
            changed[each.name] = _said(value, say)
    return replace(words, **changed)


def _on_paper(panel: Panel, step: StepName) -> tuple[str, ...]:
    """A safety step's lines, as for someone who has nothing to type on."""
    return tuple(_typeless(line) for line in step_text(panel, step).lines)


def _typeless(text: str) -> str:
    for typed, written in PAPER:
        text = text.replace(typed, written)
    return text


def _runs(names: Sequence[str]) -> str:
    """Names of boxes, those that follow one another as 'S1 to S4'."""
    runs: list[list[str]] = []
    for name in names:
        if runs and int(name[1:]) == int(runs[-1][-1][1:]) + 1:
            runs[-1].append(name)
        else:
            runs.append([name])
    return ", ".join(run[0] if len(run) == 1 else f"{run[0]} to {run[-1]}" for run in runs)


def _rules(found: float, helped: float) -> tuple[str, ...]:
    return (
        "Begin at 1. Do all that a step says, in its order, then go where the reading sends you.",
        "A step that you can't or won't do, or a reading that fits no line after a second try: go to HELP.",
        "After any break, take the supply off and prove it dead again before a hand goes in.",
        f"Of 100 faults that this program knows, {100 * found:.0f} end at the part or a short list with it, "
        f"{100 * helped:.0f} at HELP.",
    )


def _cautions(model: Model, steps: Sequence[Step], endings: Sequence[Ending]) -> list[str]:
    """The cautions of all that the sheet asks for, and of the work at its ends."""
    checks = [step.check for step in steps]
    parts = [part for check in checks for part in (check.part, *(part_of(end) for end in (check.tail, check.head)))]
    parts += [part for ending in endings for part in ending.parts]
    supply_on = any(check.setup.supply_on for check in checks)
    texts = table_cautions(model.panel, [check.exposure for check in checks], parts, supply_on=supply_on)
    named = [load_texts().cautions[name] for name in model.complaint.cautions if name in load_texts().cautions]
    return [clean(text) for text in dict.fromkeys([*texts, *named])]


# Steps -----------------------------------------------------------------------------------------------------


def _card(model: Model, step: Step, before: Step | None, safety: dict[StepName, str], repairs: Repairs) -> Card:
    check = step.check
    changes = [line for done in step.safety for line in done.lines]
    changes += change_lines(model.panel, standing(step.session), check.setup)
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
        _runs([safety[done.step] for done in step.safety]),
        clean(" ".join(changes)),
        clean(_typeless(" ".join(_doing(model, step.question, row)))),
        tuple(_way(model, step, branch, repairs) for branch in step.branches),
        row,
    )


def _doing(model: Model, question: AskCheck, row: bool) -> Iterator[str]:
    """What to look at or measure, and where the probes go."""
    check, panel = question.check, model.panel
    if check.quantity == "sign":
        sign, label = panel.kind_of(check.part).signs[check.sign], panel.label(check.part)
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
    elif check.surface:
        yield f"Hottest spot of: {surface_title(panel, check)}."
    else:
        yield f"{capital(check_title(panel, check))}?"


def _sound(question: AskCheck) -> str:
    if question.prediction.table is not None:
        return question.outcomes[int(np.argmax(question.prediction.table[0]))]
    return range_text(question.check.quantity, question.sound[1], question.sound[2])


def _way(model: Model, step: Step, branch: Branch, repairs: Repairs) -> Way:
    check, goes, sound = step.check, branch.goes, _sound(step.question)
    if branch.outcomes:
        seen, told = " or ".join(branch.outcomes), "sound" if sound in branch.outcomes else ""
        if len(branch.outcomes) >= MANY and len(step.branches) > 1:
            seen, told = "anything else", f"sound: {sound}" if told else ""
    else:
        seen = ranges_text(check.quantity, branch.ranges)
        told = f"sound: {sound}" if any(each.holds(step.question.sound[0]) for each in branch.ranges) else ""
    told = clean(told)
    if isinstance(goes, Step):
        return Way(seen, told, "", str(goes.number))
    if goes.helps:
        return Way(seen, told, "", "STOP" if goes.danger else HELP)
    return Way(seen, told, clean(_means(model, step, goes, repairs)), repairs[repair_key(goes)][0])


def _means(model: Model, step: Step, goes: Ending, repairs: Repairs) -> str:
    """The parts that an end names; where there are several, with their faults unless what to do says those."""
    if all(model.panel.at_the_service(part) for part in goes.parts):
        return "the building's supply, before this panel"
    common = repairs[repair_key(goes)][1]
    texts = []
    for label, fault in goes.faults:
        own = step.check.part in model.panel.wires_by_name and label == model.panel.label(step.check.part)
        name = "this wire" if own else label
        texts.append(name if len(goes.parts) == 1 or fault == common else f"{name}: {fault}")
    return "; ".join(dict.fromkeys(texts))


# What steps refer to ---------------------------------------------------------------------------------------


def repair_key(ending: Ending) -> tuple[object, ...]:
    """What is the same for two ends with the same thing to do."""
    return (ending.remedy, ending.proof, ending.electrician, ending.danger)


def _repairs(steps: Sequence[Step], top: Step | Ending) -> Repairs:
    """A letter for each thing to do, in the order in which steps come to it; the faults too, where they are few."""
    ways = [branch.goes for step in steps for branch in step.branches] or [top]
    faults: dict[tuple[object, ...], dict[str, None]] = {}
    for each in ways:
        if isinstance(each, Ending) and not each.helps:
            faults.setdefault(repair_key(each), {}).update((fault, None) for _, fault in each.faults)
    return {
        key: (_letter(number), "; ".join(told) if len(told) <= MOST_FAULTS else "")
        for number, (key, told) in enumerate(faults.items())
    }


def _letter(number: int) -> str:
    """A, B ... Z, AA, AB ..."""
    return chr(65 + number) if number < 26 else _letter(number // 26 - 1) + chr(65 + number % 26)


def _proofs(model: Model, endings: Sequence[Ending]) -> dict[tuple[str, str], str]:
    """Measurements before use, each once, with its name."""
    found: dict[tuple[str, str], str] = {}
    for ending in endings:
        for proof in ending.proof:
            found.setdefault(_proof(model.panel, ending.part, proof), f"M{len(found) + 1}")
    return found


@lru_cache(maxsize=1024)
def _proof(panel: Panel, part: str, proof: str) -> tuple[str, str]:
    title, text = proof_text(panel, part, proof)
    return clean(title), clean(text)


def _repair_boxes(
    model: Model, endings: Sequence[Ending], repairs: Repairs, proofs: dict[tuple[str, str], str]
) -> Iterator[Box]:
    for key, (letter, fault) in repairs.items():
        same = [ending for ending in endings if not ending.helps and repair_key(ending) == key]
        ending = same[0]
        lines = [ending.remedy or "These can't be told apart from here: replace nothing on a guess."]
        if ending.danger:
            lines.append("A danger in itself: supply off now, and see STOP.")
        if ending.electrician:
            lines.append("This is work for a licensed electrician.")
        names = dict.fromkeys(proofs[_proof(model.panel, each.part, proof)] for each in same for proof in each.proof)
        if names:
            lines.append(f"Then {', '.join(names)}.")
        yield Box(letter, capital(clean(fault)), tuple(clean(line) for line in lines))


def _help_box(helped: float) -> Box:
    return Box(
        HELP,
        "Call for help",
        (
            "Supply off, box shut. Leave the panel off. Show this sheet and the readings to a licensed electrician.",
            f"What is rare ends here: {100 * helped:.0f} in 100 faults.",
        ),
    )
