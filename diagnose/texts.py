"""The words of steps, cautions and proof checks, read from knowledge/ and fitted to a panel."""

from __future__ import annotations

from cmath import rect
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import combinations
from math import inf, radians
from pathlib import Path
from types import MappingProxyType
from typing import get_args

from diagnose.knowledge.library import knowledge_folder, shown
from diagnose.knowledge.records import Exposure
from diagnose.panel.records import Panel, Part
from diagnose.physics.platinum import tolerance_kelvin
from diagnose.safety import FACTS, TAKES, Competence, StepName
from diagnose.units import show, show_range
from diagnose.yamlfile import Collector, Node, read

ELEMENT_OHMS_SHARE = (0.952, 1.111)  # IEC 60335-1: rated power +5 % / -10 % (from memory)
LEADS_OHMS = 0.5
LIMITS = ("element_ohms", "insulation_ohms", "earth_ohms", "ice")
INSULATION_OHMS = 1e6  # IEC 60364-6, for circuits up to 500 V
EARTH_OHMS = 0.5  # with the leads' own resistance taken off; 0.1 ohm and the cord is the standard's (EN 50106)
DISPLAY_KELVIN = 0.5  # what a controller's display may be off beside the probe: common practice
WATER_LITRES = 20.0
WATER_JOULES_PER_LITRE_KELVIN = 4180.0


@dataclass(frozen=True, slots=True)
class StepText:
    """A step that changes the panel's state, in words."""

    title: str
    lines: tuple[str, ...]
    minutes: float


@dataclass(frozen=True, slots=True)
class Proof:
    """A proof check: what is done and in which state of the panel, and how a reading is judged, if there is one."""

    name: str
    title: str
    text: str
    exposure: Exposure
    supply_on: bool
    reads: str  # a quantity, or empty where it is passed or failed
    limits: str
    after: tuple[str, ...]  # roles of parts whose repair asks for it in any case


@dataclass(frozen=True, slots=True)
class Texts:
    """All the words that are not a kind's or a complaint's."""

    steps: Mapping[str, StepText]
    stop: StepText
    cautions: Mapping[str, str]
    proofs: Mapping[str, Proof]  # in the order in which they are done
    interview: Mapping[str, tuple[str, str]]  # what is asked of a person, and what a yes stands for


@lru_cache(maxsize=2)
def load_texts(folder: Path | None = None) -> Texts:
    """Read the words, of the bundled knowledge base or of another; raises FileError with every problem."""
    folder = folder or knowledge_folder()
    collect = Collector()
    steps_file, cautions_file, proofs_file, competence_file = (
        read(folder / f"{name}.yaml", shown(folder / f"{name}.yaml", folder))
        for name in ("steps", "cautions", "proofs", "competence")
    )
    both = collect.mapping(steps_file, required=("steps", "stop"))
    asked = collect.mapping(competence_file, required=("questions",))
    collect.raise_errors()  # what a key of a file must have is reckoned with below
    steps = {key.text: _step(collect, value) for key, value in collect.entries(both["steps"])}
    proofs = {key.text: _proof(collect, key.text, value) for key, value in collect.entries(proofs_file)}
    cautions = {key.text: collect.text(value) for key, value in collect.entries(cautions_file)}
    stop = _step(collect, both["stop"])
    interview = {}
    for key, value in collect.entries(asked["questions"]):
        keys = collect.mapping(value, required=("ask", "stands_for"))
        if {"ask", "stands_for"} <= keys.keys():
            interview[key.text] = (collect.text(keys["ask"]), collect.text(keys["stands_for"]))
    collect.raise_errors()
    return Texts(
        MappingProxyType(steps), stop, MappingProxyType(cautions), MappingProxyType(proofs), MappingProxyType(interview)
    )


def _proof(collect: Collector, name: str, node: Node) -> Proof:
    keys = collect.mapping(
        node, required=("title", "text"), optional=("exposure", "supply", "reads", "limits", "after")
    )
    said = collect.choice(keys["exposure"], get_args(Exposure)) if "exposure" in keys else "outside"
    exposure: Exposure = "isolated" if said == "isolated" else "live" if said == "live" else "outside"
    supply = collect.choice(keys["supply"], ("on", "off")) if "supply" in keys else "on"
    reads = collect.choice(keys["reads"], ("resistance", "insulation", "temperature")) if "reads" in keys else ""
    limits = collect.choice(keys["limits"], LIMITS) if "limits" in keys else ""
    after = tuple(collect.text(item) for item in collect.sequence(keys["after"])) if "after" in keys else ()
    title, text = (collect.text(keys[key]) if key in keys else "" for key in ("title", "text"))
    return Proof(
        name, title, text, exposure, supply == "on",
        reads or "", limits or "", after,
    )  # fmt: skip


def _step(collect: Collector, node: Node) -> StepText:
    keys = collect.mapping(node, required=("title", "lines"), optional=("minutes",))
    lines = tuple(collect.text(line) for line in collect.sequence(keys["lines"])) if "lines" in keys else ()
    minutes = collect.number(keys["minutes"], 0, 600) if "minutes" in keys else None
    return StepText(collect.text(keys["title"]) if "title" in keys else "", lines, minutes or 0.0)


def assumption_lines(competence: Competence) -> list[str]:
    """What is taken for granted where a competence is given as an option and nothing was asked."""
    words = load_texts().interview
    taken = [words[fact][1] for fact in FACTS if fact in TAKES[competence]]
    return [f"Competence {competence} was given, so it is taken that {'; '.join(taken)}."] if taken else []


def taken_lines(competence: Competence) -> list[str]:
    """What is said again where a session goes on: it may be another person, or another day."""
    words = load_texts().interview
    taken = [words[fact][1] for fact in FACTS if fact in TAKES[competence]]
    return [f"From the log: {'; '.join(taken)}. Is that not so now? Type lower."] if taken else []


def step_text(panel: Panel, step: StepName, meter_failed: bool = False) -> StepText:
    """The words of a step on this panel: isolating is by plug where there is one; a meter that failed is told of."""
    if step == "try_meter" and meter_failed:
        other, usual = load_texts().steps["other_meter"], load_texts().steps[step]
        return StepText(other.title, (*other.lines, *usual.lines), usual.minutes)
    if step == "isolate":
        return load_texts().steps["isolate_plug" if panel.supply.unplugs else "isolate_breaker"]
    text = load_texts().steps[step]
    values = {"feed_end": _feed_end(panel), "pairs": pairs_to_prove(panel)}
    return replace(text, lines=tuple(_filled(line, values) for line in text.lines))


def step_minutes(step: StepName) -> float:
    """Minutes that a step takes; of isolating, half way between a plug that is pulled and a breaker that is locked."""
    steps = load_texts().steps
    if step != "isolate":
        return steps[step].minutes
    return round((steps["isolate_plug"].minutes + steps["isolate_breaker"].minutes) / 2, 3)


def pairs_to_prove(panel: Panel) -> str:
    """Every pair of conductors of the feed, and each to earth, so that none is left out, with their number."""
    legs = [name.replace("_", " ") for name in ("leg_1", "leg_2", "leg_3") if name in panel.references]
    conductors = [*(legs if len(legs) > 1 else ["line"]), "neutral", "earth"]
    pairs = [f"{one} to {other}" for one, other in combinations(conductors, 2)]
    return f"{', '.join(pairs)} ({len(pairs)} pairs)"


def _feed_end(panel: Panel) -> str:
    switches = panel.of_role("isolator")
    return f"the supply side of {panel.label(switches[0])}" if switches else "where the feed comes in"


def _filled(text: str, values: Mapping[str, str]) -> str:
    for name, value in values.items():
        text = text.replace("{" + name + "}", value)
    return text


def proof_text(panel: Panel, part: str, proof: str) -> tuple[str, str]:
    """A proof check's title and text, with its values worked out for the part on this panel."""
    title, text = load_texts().proofs[proof].title, load_texts().proofs[proof].text
    values = {
        "element_ohms": _element_ohms(panel, part),
        "heat_rise": _heat_rise(panel, part),
        "probe_tolerance": f"{show(tolerance_kelvin(0.0, 'B') + DISPLAY_KELVIN, 'temperature_difference')}",
        "supply_volts": _supply_volts(panel),
    }
    return title, " ".join(_filled(text, values).split())


def proof_limits(panel: Panel, part: str, proof: Proof) -> tuple[float, float] | None:
    """The least and the most that a proof check may read, in SI; None where there is nothing to judge it by."""
    match proof.limits:
        case "element_ohms":
            element = _element_of(panel, part)
            return None if element is None else _element_limits(panel.parts[element])
        case "insulation_ohms":
            return INSULATION_OHMS, inf
        case "earth_ohms":
            return 0.0, EARTH_OHMS
        case "ice":
            margin = tolerance_kelvin(0.0, "B") + DISPLAY_KELVIN
            return -margin, margin
    return None


def _element_of(panel: Panel, part: str) -> str | None:
    """The element that a part belongs to: itself, or the one whose path it lies on."""
    from diagnose.topology import upstream  # only here, so that texts alone stay quick to load

    heaters = panel.of_role("heater")
    if part in heaters:
        return part
    near = [heater for heater in heaters if part in upstream(panel, heater)]
    return near[0] if len(near) == 1 or (near and len(heaters) == 1) else None


def _element_ohms(panel: Panel, part: str) -> str:
    element = _element_of(panel, part)
    if element is None:
        return "its rated voltage squared over its power, +11 % / -5 %"
    ratings = panel.parts[element].ratings
    low, high = _element_limits(panel.parts[element])
    power, voltage = show(ratings["power"], "power"), show(ratings["voltage"], "voltage")
    return f"{show_range(low, high, 'resistance')} for {power} at {voltage}"


def _element_limits(element: Part) -> tuple[float, float]:
    ohms = element.ratings["voltage"] ** 2 / element.ratings["power"]
    return ohms * ELEMENT_OHMS_SHARE[0], ohms * ELEMENT_OHMS_SHARE[1] + LEADS_OHMS


def _heat_rise(panel: Panel, part: str) -> str:
    element = _element_of(panel, part)
    if element is None:
        return ""
    watts = panel.parts[element].ratings["power"]
    kelvin = watts * 600 / (WATER_LITRES * WATER_JOULES_PER_LITRE_KELVIN)
    return f"{WATER_LITRES:.0f} litres should gain about {kelvin:.0f} °C in the ten minutes."


def _supply_volts(panel: Panel) -> str:
    supply, service = panel.supply, panel.parts[panel.supply.service]
    volts = service.ratings["voltage"]
    line = f"{show_range(volts * supply.low, volts * supply.high, 'voltage')} from each live conductor to neutral"
    if "leg_2" in panel.references:
        between = _volts_between_legs(service)
        line += f", {show_range(between * supply.low, between * supply.high, 'voltage')} between the legs"
    return line


def _volts_between_legs(service: Part) -> float:
    """Between the first two legs, by their angle: 180 degrees on split phase, 120 on three phases."""
    emfs = [
        rect(branch.values["volts"].value(service.ratings), radians(branch.values["degrees"].value(service.ratings)))
        for branch in service.kind.branches.values()
        if branch.form == "source"
    ]
    return abs(emfs[0] - emfs[1])
