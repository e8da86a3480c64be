"""A check, a doubt and what an answer means, in short lines of plain words."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from diagnose.checks import Check
from diagnose.circuit.netlist import FloatArray
from diagnose.evidence import Evidence, evidence_of
from diagnose.heat_answers import BOIL_EXAMPLE, RISE_EXAMPLE
from diagnose.heat_checks import HEAT_QUANTITIES, judged
from diagnose.model import Model
from diagnose.panel.records import Panel
from diagnose.probe_checks import BOIL_EXAMPLE as BOILING_EXAMPLE
from diagnose.probe_checks import PAIR_EXAMPLE, asked_line, temperature_of
from diagnose.readings import DROP_EXAMPLE
from diagnose.session import AskCheck, Session, belief, group_shares
from diagnose.wording.cautions import new_cautions
from diagnose.wording.changes import change_lines, standing
from diagnose.wording.outcomes import cause_title, meaning_lines
from diagnose.wording.regional import colour_line, regional_page
from diagnose.wording.values import UNITS, Page, clean, clean_all, percent, range_text

# What a person may do, in words to choose by; the least comes first.
COMPETENCE_WORDS: Mapping[str, str] = MappingProxyType(
    {
        "outside": "Look, listen, press and plug only",
        "isolated": "I open the box once it is isolated and proved dead, "
        "have a meter I trust and can lock the supply off",
        "live": "I am trained for live work and the law where I live allows it",
    }
)
INSTRUMENT_WORDS: Mapping[str, str] = MappingProxyType(
    {
        "multimeter": "multimeter",
        "clamp": "clamp meter for AC amps",
        "leakage_clamp": "leakage clamp for AC milliamps",
        "low_impedance": "multimeter with a low-impedance mode",
        "insulation_tester": "insulation tester, 500 V",
        "infrared_thermometer": "infrared thermometer, for surfaces",
    }
)
LEFT_AS_IT_IS = "Leave everything as it is."
BADGES: Mapping[str, str] = MappingProxyType({"outside": "OUTSIDE", "isolated": "DEAD", "live": "LIVE"})
_EXPOSED = {
    "outside": "box shut",
    "isolated": "box open, supply off, proved dead",
    "live": "box open, supply on: mains on bare metal",
}
# What to set to what, by quantity and instrument; where the instrument makes no difference, by quantity.
_METERS = {
    "voltage_ac": "Multimeter on AC volts.",
    "voltage_ac low_impedance": "Multimeter on AC volts, low-impedance mode.",
    "voltage_dc": "Multimeter on DC volts. Red is plus.",
    "voltage_drop": "Multimeter on AC volts. Note the volts with the element off, then with it on for half a minute.",
    "resistance": "Multimeter on ohms.",
    "insulation": "Insulation tester at 500 V. Hands off the metal.",
    "current_ac": "Clamp meter on AC amps, one wire in its jaws:",
    "current_ac leakage_clamp": "Leakage clamp on AC milliamps, these wires together in its jaws:",
    "temperature": "No meter: read the display.",
    "temperature_error": "No meter: a thermometer that you trust, beside the probe, in stirred liquid.",
    "millivolts": "Multimeter on DC millivolts. Keep fingers off the pins: their warmth shows.",
    "heat_rate": "Watch and thermometer: a known volume, lid on, stirred. Note its temperature, heat it "
    "for ten minutes or more, stir, note it again.",
    "boil_off": "Only where it boils, lid off: note the volume, boil for half an hour or more, note it again.",
    "surface_temperature": "Infrared thermometer, a hand's width away. Don't touch.",
}


MOST_MEANINGS = 3


@dataclass(frozen=True, slots=True)
class CheckWords:
    """A check in its four pieces, each some lines: what to change first, what to do, cautions, what else would mean."""

    setup: tuple[str, ...]
    asked: tuple[str, ...]
    cautions: tuple[str, ...]
    meanings: tuple[str, ...]


def check_words(session: Session, question: AskCheck) -> CheckWords:
    """The words of a check, before they are put on a page."""
    model, check = session.model, question.check
    asked = _sign_lines(model.panel, question) if check.quantity == "sign" else _meter_lines(model.panel, question)
    return CheckWords(
        tuple(change_lines(model.panel, standing(session), check.setup)),
        tuple(asked),
        tuple(f"Caution: {text}" for text in new_cautions(session, check)),
        tuple(meaning_lines(model, question, belief(session), MOST_MEANINGS)),
    )


def check_page(session: Session, question: AskCheck, number: int) -> Page:
    """A check on one page: what to change, where the probes go, what it should show."""
    words = check_words(session, question)
    lines = [*(words.setup or (LEFT_AS_IT_IS,)), *words.asked, *words.cautions]
    return page_of_check(session, question, number, [*lines, *words.meanings[: 2 if len(lines) > 6 else MOST_MEANINGS]])


def page_of_check(session: Session, question: AskCheck, number: int, lines: Iterable[str]) -> Page:
    """These lines under the check's heading, with its prompt, in the words of the panel's region."""
    page = Page(_heading(question.check, number), tuple(clean_all(lines)), prompt_for(question))
    return regional_page(session.model.panel, page)


def _heading(check: Check, number: int) -> str:
    supply = f", supply {'on' if check.setup.supply_on else 'off'}" if check.exposure == "outside" else ""
    minutes = f"{max(check.minutes, 0.5):.0f} min" if check.minutes >= 1 else "under a minute"
    return f"Check {number} - {BADGES[check.exposure]} ({_EXPOSED[check.exposure]}{supply}) - {minutes}"


def meter_line(check: Check) -> str:
    """What to set to what."""
    return _METERS.get(f"{check.quantity} {check.instrument}", _METERS[check.quantity])


def _meter_lines(panel: Panel, question: AskCheck) -> list[str]:
    check = question.check
    lines = [meter_line(check)]
    if check.around:
        lines += [f"  {panel.label(wire)}" for wire, _ in check.around]
    elif check.tail:
        lines.append(f"Red probe: {panel.terminal_label(check.tail)}.")
        lines.append(f"Black probe: {panel.terminal_label(check.head)}.")
        lines += [hint] if (hint := colour_line(panel, check.tail, check.head)) else []
    elif check.surface:
        lines.append(f"Hottest spot of: {surface_title(panel, check)}.")
    elif check.quantity in ("temperature", "temperature_error"):
        lines += [told] if (told := asked_line(panel, check)) else []
        lines.append(f"What does {panel.label(check.part)} show?")
    lines.append(f"If sound: {range_text(check.quantity, question.sound[1], question.sound[2])}")
    return lines


def _sign_lines(panel: Panel, question: AskCheck) -> list[str]:
    check = question.check
    sign = panel.kind_of(check.part).signs[check.sign]
    label = panel.label(check.part)
    lines = [sign.question.replace("{label}", label)]
    if sign.procedure:
        lines.append(sign.procedure.replace("{label}", label))
    lines.append(", ".join(f"{number} {outcome}" for number, outcome in enumerate(question.outcomes, start=1)))
    if question.prediction.table is not None:
        lines.append(f"If sound: {question.outcomes[int(np.argmax(question.prediction.table[0]))]}")
    return lines


_MEASURED = {
    "voltage_drop": "volts lost under load",
    "voltage_ac": "AC volts", "voltage_dc": "DC volts", "resistance": "ohms", "insulation": "insulation",
    "millivolts": "DC millivolts", "current_ac": "AC amps", "heat_rate": "heating power", "boil_off": "boil-off",
    "surface_temperature": "temperature",
}  # fmt: skip


def check_title(panel: Panel, check: Check) -> str:
    """What is checked, in a few words."""
    label = panel.label(check.part)
    if check.quantity == "sign":
        return panel.kind_of(check.part).signs[check.sign].question.replace("{label}", label).rstrip("?")
    if check.quantity == "temperature":
        return f"{label} shows"
    if check.quantity == "temperature_error":
        return f"{label} against a known thermometer"
    what = _MEASURED[check.quantity]
    if check.around:
        wires = " and ".join(panel.label(wire) for wire, _ in check.around)
        return f"{what} in {wires}{', together' if len(check.around) > 1 else ''}"
    if check.surface:
        return f"{what} of {surface_title(panel, check)}"
    if not check.tail:
        return f"{what} of {label}"
    mode = ", low-impedance mode" if check.instrument == "low_impedance" else ""
    return f"{what}{mode}, {panel.terminal_label(check.tail)} to {panel.terminal_label(check.head)}"


def surface_title(panel: Panel, check: Check) -> str:
    """The surface that is read, in words."""
    return panel.kind_of(check.part).surfaces[check.surface].title.replace("{label}", panel.label(check.part))


def prompt_for(question: AskCheck) -> str:
    """What the answer is asked for with: the unit that a plain number is in, or the outcomes' numbers."""
    if question.check.quantity == "sign":
        return f"1-{len(question.outcomes)} or its word"
    if question.check.instrument == "leakage_clamp":
        return "reading in mA, with the unit"
    if question.check.quantity == "temperature_error":
        return PAIR_EXAMPLE
    if question.check.quantity == "voltage_drop":
        return DROP_EXAMPLE
    if question.check.setup_name == "boiled" and question.check.quantity == "temperature":
        return BOILING_EXAMPLE
    if question.check.quantity in HEAT_QUANTITIES:
        return BOIL_EXAMPLE if question.check.quantity == "boil_off" else RISE_EXAMPLE
    return f"reading in {UNITS[question.check.quantity]}"


# After an answer ------------------------------------------------------------------------------------------


def doubt_lines(question: AskCheck) -> list[str]:
    """Said when nothing known explains what was answered, or when it turns over what looked settled."""
    typed, doubt = _typed(question), question.doubt
    if doubt is not None and doubt.why == "decides":
        first = f"'{typed}' decides it: all else would point elsewhere. That is worth a second look."
    elif doubt is not None and doubt.why == "overturns":
        first = f"'{typed}' turns over what the answers before it agreed on. That is worth a second look."
    else:
        first = f"'{typed}' fits nothing known here: neither the sound panel nor any one fault would show it."
    slips = doubt.slips if doubt is not None else ()
    lines = [first]
    if slips and doubt is not None and doubt.likely:
        lines.append(f"Likely slip: {slips[0]}.")
        slips = slips[1:]
    if slips:
        lines.append(f"Usual slips: {'; '.join(slips)}.")
    if question.check.quantity == "sign":
        lines.append("Look again at the right part, with the switches as listed, and answer once more.")
    else:
        lines.append("Measure again and type what it shows now.")
    return lines


def _typed(question: AskCheck) -> str:
    doubted = question.doubted
    if doubted is None:
        return ""
    return question.outcomes[doubted.outcome] if doubted.outcome is not None else clean(doubted.text)


def answered_line(session: Session) -> str:
    """What the last answer means, in one line: as it should be or not, and what leads now; else nothing."""
    if not session.answers or session.answers[-1].skipped:
        return ""
    now = belief(session)
    told = evidence_of(session.model, session.answers[-1:], now)
    sound = "As it should be." if told and told[0].sound else f"Not as it should be ({_should(session.model, told)})."
    return clean(f"{sound} {_heat_line(session, now)}{leading(session.model, now)}")


def _heat_line(session: Session, now: FloatArray) -> str:
    """Of a heating power its share of the sound panel's, and what would give that; of a probe's ohms their degrees."""
    given = session.answers[-1]
    check = session.model.checks_by_id[given.check_id]
    if given.value is not None and (line := temperature_of(session.model.panel, check, given.value)):
        return f"{line} "
    if check.quantity not in HEAT_QUANTITIES or given.value is None:
        return ""
    return f"{judged(session.model, check, given.value, given.width, now)} "


def _should(model: Model, told: Sequence[Evidence]) -> str:
    if not told:
        return "nothing known shows this"
    return should_be(model.checks_by_id[told[0].check_id], told[0])


def should_be(check: Check, told: Evidence) -> str:
    """What the sound panel would have shown."""
    if told.sound_outcome:
        return told.sound_outcome
    return range_text(check.quantity, told.sound_low, told.sound_high)


def leading(model: Model, now: FloatArray) -> str:
    """What is likeliest now, by what would be done about it."""
    shares = group_shares(model, now)
    lead = max(shares, key=lambda number: shares[number])
    inside = np.flatnonzero(model.group_numbers == lead)
    first = int(inside[np.argmax(now[inside])])
    if first >= len(model.causes):
        return f"Likeliest now: something not known here, {percent(shares[lead])}."
    return f"Likeliest now: {cause_title(model, first)}, {percent(shares[lead])}."
