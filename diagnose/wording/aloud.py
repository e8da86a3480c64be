"""A step or a check as it is read aloud to somebody at the panel, or sent to them: one action a line. Pure.

A message stands alone: it carries its cautions, says what not to touch, asks for the reading back, and ends with what
stops everything. Beside it stands what the one at the screen should hear.
"""

from __future__ import annotations

import re
import textwrap
from collections.abc import Sequence
from dataclasses import dataclass

from diagnose.checks import Check
from diagnose.circuit.setup import Setup
from diagnose.knowledge.records import Complaint
from diagnose.panel.records import Panel
from diagnose.safety import WANTS
from diagnose.session import AskCheck, ConfirmStep, Question, Session, Verdict
from diagnose.texts import load_texts, step_text
from diagnose.wording.actions import all_actions, change_actions, is_action, single_actions
from diagnose.wording.cautions import check_cautions, step_cautions, verdict_cautions
from diagnose.wording.changes import moved_lines, standing
from diagnose.wording.checks import meter_line, surface_title
from diagnose.wording.regional import colour_at, regional_lines
from diagnose.wording.values import Page, capital, clean, range_text

WIDEST = 78  # columns of a message: what a plain mail or a phone shows unbroken
STOP_LINE = "STOP and tell me at once: smoke, heat, a smell, water, a tingle, a shock."
REMINDER = "They hesitate or can't find it: stop them. Smoke, heat, water, a tingle: danger."

# What to set the meter to, as it is found on the dial, by quantity and instrument.
_DIALS = {
    "voltage_ac": ("Set the meter to AC volts, the V with the wavy line.",),
    "voltage_ac low_impedance": (
        "Set the meter to AC volts, the V with the wavy line.",
        "Turn on its low-impedance mode, often marked LoZ.",
    ),
    "voltage_dc": ("Set the meter to DC volts, the V with the straight line.",),
    "voltage_drop": (
        "Set the meter to AC volts, the V with the wavy line.",
        "Note the volts with the element off.",
        "Turn it on.",
        "Note the volts again after half a minute.",
    ),
    "resistance": ("Set the meter to ohms, the sign like a horseshoe.",),
    "insulation": ("Set the insulation tester to 500 volts.", "Keep your hands off the metal while it tests."),
    "current_ac": ("Set the clamp meter to AC amps, the A with the wavy line.",),
    "current_ac leakage_clamp": ("Set the leakage clamp to AC milliamps, marked mA.",),
    "millivolts": ("Set the meter to DC millivolts, marked mV.", "Keep your fingers off the pins."),
    "temperature_error": ("Hold a thermometer that you trust beside the probe.", "Stir.", "Wait a minute."),
    "heat_rate": (
        "Fill the kettle with a known volume of water, over the element.",
        "Put the lid on.",
        "Stir.",
        "Note the temperature.",
        "Heat for ten minutes or more, by the watch.",
        "Stir again.",
        "Note the temperature again.",
    ),
    "boil_off": (
        "Take the lid off.",
        "Wait until it boils.",
        "Note the volume.",
        "Let it boil for half an hour or more, by the watch.",
        "Note the volume again.",
    ),
    "surface_temperature": (
        "Turn the infrared thermometer on.",
        "Hold it a hand's width away.",
        "Do not touch what you measure.",
    ),
}
# How the reading is asked for, with its unit in words.
ASKS = {
    "voltage_ac": "Read me the number and the letters after it: V is volts, mV is millivolts.",
    "voltage_dc": "Read me the number and its sign, and the letters after it: V or mV.",
    "voltage_drop": "Read me both numbers, the one with the element off first.",
    "resistance": "Read me the number and the letters after it: k is kilohms, M is megohms.",
    "insulation": "Read me the number and the letters after it: M is megohms, G is gigohms.",
    "current_ac": "Read me the number and the letters after it: A is amps, mA is milliamps.",
    "temperature": "Read me the number and the letter after it: C or F, for degrees.",
    "surface_temperature": "Read me the number and the letter after it: C or F, for degrees.",
    "millivolts": "Read me the number, its sign and the letters after it: mV is millivolts.",
    "temperature_error": "Read me the display, then the thermometer, each with its letter: C or F.",
    "heat_rate": "Tell me the volume, both temperatures and the minutes.",
    "boil_off": "Tell me both volumes and the minutes.",
}
_OVER_RANGE = ("resistance", "insulation")
# How a step is confirmed, by what the session wants for it: said at the panel, and what the screen's side does then.
STEP_ASKS = {
    "done": ["Say 'done' when all of it is done; if something can't be done, say which."],
    "shows": ["Tell me: does the meter show it, yes or no?"],
    "volts": ["Read me the highest number of all and the letters after it: V is volts, mV is millivolts."],
}
STEP_HEAR = {
    "done": ["'done': then type done. 'It can't be done': type skip."],
    "shows": ["'yes' or 'no': type it as it was said. You don't know? Ask again."],
    "volts": ["The highest of several numbers: ask whether every pair was measured."],
}
ONLY_LIVE = "Now a check on live parts tells what no single other one does. An electrician is as good a choice: say so."
# What a letter or two stands for, put where it is first met in a message.
_MEANS = {
    "GFCI": "the device with a TEST button",
    "RCD": "the device with a TEST button",
    "RCBO": "a breaker with a TEST button",
    "CAT III": "a rating printed on the meter",
    "LED": "a small light",
}


@dataclass(frozen=True, slots=True)
class Aloud:
    """What is read aloud, and what the reader listens for."""

    title: str
    cautions: tuple[str, ...]
    lines: tuple[str, ...]  # numbered actions; what is not numbered is a remark on the one before
    leave: tuple[str, ...]  # what is not to be touched
    asks: tuple[str, ...]  # what is to be said back
    hear: tuple[str, ...]  # for the screen's side alone


def aloud(session: Session, question: Question, number: int) -> Aloud:
    """What comes next as it is read aloud; `number` is the check's."""
    match question:
        case ConfirmStep():
            return step_aloud(session, question)
        case AskCheck():
            return check_aloud(session, question, number)
        case Verdict():
            return verdict_aloud(session, question)


def step_aloud(session: Session, question: ConfirmStep) -> Aloud:
    """A step that changes the panel's state."""
    model, panel = session.model, session.model.panel
    text = step_text(panel, question.step, question.state.meter_failed)
    lines = [*((ONLY_LIVE,) if question.only_live else ()), *text.lines, *moved_lines(session, question)]
    is_open = session.state.open or "open" in question.step
    return made_aloud(
        panel, f"STEP: {text.title}",
        step_cautions(panel, question.step, question.for_check, model.complaint),
        all_actions(lines), leave_alone(is_open, plugs=not is_open),
        STEP_ASKS[WANTS[question.step]], STEP_HEAR[WANTS[question.step]],
    )  # fmt: skip


def check_aloud(session: Session, question: AskCheck, number: int) -> Aloud:
    """A check: what to change, where to look or to put the probes, what to say back."""
    panel, at = session.model.panel, standing(session)
    sound = "" if question.check.quantity == "sign" else range_text(question.check.quantity, *question.sound[1:])
    told = check_said(panel, at, question.check, question.outcomes, number, sound, session.model.complaint)
    if question.doubted is None:
        return told
    again = "That answer fits nothing known here. Do it once more, the same place, the same setting."
    return Aloud(told.title, told.cautions, (again, *told.lines), told.leave, told.asks, told.hear)


def check_said(
    panel: Panel, at: Setup | None, check: Check, outcomes: Sequence[str], number: int, sound: str = "",
    complaint: Complaint | None = None,
) -> Aloud:  # fmt: skip
    """A check as it is read aloud, from the state in which the last one left the panel."""
    is_open = check.exposure != "outside"
    where = {"outside": "box shut", "isolated": "box open, supply off", "live": "box open, LIVE"}[check.exposure]
    if not is_open:
        where += ", supply on" if check.setup.supply_on else ", supply off"
    changes = change_actions(panel, at, check.setup) or ["Leave everything as it is."]
    if check.quantity == "sign":
        sign = panel.kind_of(check.part).signs[check.sign]
        label = panel.label(check.part)
        first, how = (single_actions(text.replace("{label}", label)) for text in (sign.question, sign.procedure))
        question = first.pop()
        lines = [*changes, f"Find {label}.", *first, *(piece for piece in how if not piece.endswith("?"))]
        asks = [f"Tell me: {question[:1].lower()}{question[1:]}", *(piece for piece in how if piece.endswith("?"))]
        asks.append(f"Say one of these: {'; '.join(outcomes)}.")
        hear = [f"One of: {'; '.join(outcomes)}."]
    else:
        lines = [*changes, *_probe_lines(panel, check)]
        asks = [ASKS.get(check.quantity, "Read me the number and the letters after it.")]
        asks += ["Say 'O L on the display' if it shows no number but O L."] if check.quantity in _OVER_RANGE else []
        hear = [f"A number with its unit. If sound: {sound}." if sound else "A number with its unit."]
        hear.append("Say the number back to them. No unit said? Ask for it.")
    plugs = bool(check.setup.unplugged)
    return made_aloud(
        panel, f"CHECK {number} - {where}", check_cautions(panel, check, complaint), lines,
        leave_alone(is_open, plugs, live=check.exposure == "live"), asks, hear,
    )  # fmt: skip


def verdict_aloud(session: Session, verdict: Verdict) -> Aloud:
    """How it ends, for the one at the panel: hands off first, then what is to be done."""
    panel = session.model.panel
    if verdict.danger:
        return stop_aloud(panel)
    lines = ["Take your hands off the panel.", "Leave the supply off."]
    lines += ["Close the box before anyone leaves it."] if session.state.open else []
    lines += [f"The likeliest is: {verdict.causes[0].title}."] if verdict.part and verdict.causes else []
    if verdict.kind == "stopped":
        lines.append("We stop here, and go on later.")
    else:
        lines += [verdict.remedy] if verdict.remedy else ["No cause is named: have an electrician look at it."]
    cautions = verdict_cautions(session.model, verdict.part)
    asks = ["Say it back to me: the supply is off, and stays off."]
    return made_aloud(panel, "THE END OF THE CHECKS", cautions, all_actions(lines), [], asks, [])


def stop_aloud(panel: Panel) -> Aloud:
    """What is said when something is badly wrong: the lines whole, since each begins with its own 'if'."""
    return made_aloud(panel, "STOP", [], load_texts().stop.lines, [], ["Tell me when you stand clear."], [])


def made_aloud(
    panel: Panel, title: str, cautions: Sequence[str], lines: Sequence[str], leave: Sequence[str],
    asks: Sequence[str], hear: Sequence[str],
) -> Aloud:  # fmt: skip
    """All of it cleaned, in the region's words, with the letters that stand for something explained once."""
    known: set[str] = set()

    def said(texts: Sequence[str]) -> tuple[str, ...]:
        return tuple(_explained(text, known) for text in regional_lines(panel, [clean(text) for text in texts]))

    (heading,) = said([capital(title)])
    return Aloud(heading, said(cautions), said(lines), said(leave), said(asks), tuple(regional_lines(panel, hear)))


def _explained(text: str, known: set[str]) -> str:
    """Letters that stand for something, with what it is, where a message has them first."""
    for letters, means in _MEANS.items():
        if letters not in known and re.search(rf"\b{letters}s?\b", text):
            known.add(letters)
            end = text[-1:] if text[-1:] in ".?!:" else ""
            text = f"{text.removesuffix(end)} ({letters}: {means}){end}"
    return text


def _probe_lines(panel: Panel, check: Check) -> list[str]:
    """Which dial, which probe where; a usual colour only helps to find the wire."""
    lines = list(_DIALS.get(f"{check.quantity} {check.instrument}", _DIALS.get(check.quantity, ())))
    if check.around:
        lines.append("Close the jaws around this wire:" if len(check.around) == 1 else
                     "Close the jaws around these wires, all together:")  # fmt: skip
        lines += [f"the {panel.label(wire)}." for wire, _ in check.around]
    elif check.tail:
        for probe, end in (("red", check.tail), ("black", check.head)):
            lines.append(f"Put the tip of the {probe} probe on {panel.terminal_label(end)}.")
            colour = colour_at(panel, end)
            lines += [f"The wire there is usually {colour}; the label counts."] if colour else []
    elif check.surface:
        lines.append(f"Find the hottest spot of {surface_title(panel, check)}.")
    elif check.quantity in ("temperature", "temperature_error"):
        lines.append(f"Look at the display of {panel.label(check.part)}.")
    else:
        lines += [] if lines else single_actions(meter_line(check))
        lines.append(f"It is about {panel.label(check.part)}.")
    return lines


def leave_alone(is_open: bool, plugs: bool, live: bool = False) -> list[str]:
    """What is not to be touched: with the box open or shut, where `plugs` are handled, on live parts."""
    lines = []
    if is_open:
        lines.append("Do NOT touch anything in the box but what I named: no metal, no screw, no wire.")
        lines.append("Hold the probes behind their guards. No finger goes past them.")
    else:
        lines.append("Do NOT open the box.")
    if plugs:
        lines.append("Do NOT touch the pins of a plug or reach into an outlet.")
    if live:
        lines.append("Everything metal in there is LIVE. Do NOT lean on anything, do NOT go alone.")
    return lines


# As text --------------------------------------------------------------------------------------------------


def message_lines(told: Aloud) -> list[str]:
    """A message to send, no line wider than WIDEST, with nothing of the screen around it."""
    lines = [told.title]
    for caution in told.cautions:
        lines += _wrapped(f"Careful: {caution}", "  ")
    lines += ["", *spoken_lines(told)]
    return lines


def spoken_lines(told: Aloud) -> list[str]:
    """The lines that are read aloud: what to leave alone, actions by their numbers, what to say back, when to stop."""
    lines = [line for text in told.leave for line in _wrapped(text, "  ")]
    number = 0
    for text in (*told.lines, *told.asks):
        if is_action(text) or not number:
            number += 1
            lines += _wrapped(f"{number}. {text}", "   ")
        else:
            lines += _wrapped(f"   {text}", "   ")
    return lines + _wrapped(STOP_LINE, "  ")


def message_text(told: Aloud) -> str:
    """A message as one text, with a line end at its end."""
    return "\n".join(message_lines(told)) + "\n"


def aloud_page(told: Aloud, warnings: Sequence[str], prompt: str) -> Page:
    """The screen of the one who reads aloud: the words, then what they should hear."""
    lines = [f"Caution: {text}" for text in warnings]
    lines += [*spoken_lines(told), *(f"You should hear: {text}" for text in told.hear[:1]), *told.hear[1:], REMINDER]
    return Page(f"{told.title} - read aloud", tuple(lines), prompt)


def _wrapped(text: str, indent: str) -> list[str]:
    return textwrap.wrap(text, WIDEST, subsequent_indent=indent, break_on_hyphens=False) or [text]
