"""What a panel would have answered, and which of the panels that come along is nearest to some answers."""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache

from diagnose.describe.questions import Answers, kept, names_of
from diagnose.describe.systems import PROBES
from diagnose.opening import bundled_panels, open_panel
from diagnose.panel.records import Panel

# How much an answer that is the same counts: what is hardest to change by hand counts most.
WEIGHTS: Mapping[str, float] = {"system": 8, "region": 3, "count": 3, "control": 2, "probe": 2, "pumps": 1}


def answers_of(panel: Panel) -> dict[str, str]:
    """What a panel would have answered to the questions, as far as it can be told."""
    heaters, pumps = panel.of_role("heater"), panel.of_role("pump")
    sockets = [socket for plug, socket in panel.plugs.items() if "pump" not in plug]
    found = {
        "region": panel.region,
        "system": panel.supply.system,
        "heaters": ", ".join(_bare(name, "element") or "kettle" for name in heaters),
        "powers": ", ".join(f"{panel.parts[name].ratings['power'] / 1000:g} kW" for name in heaters),
        "feed_amperes": _feed(panel),
        "residual": "yes" if any(_residual(panel, name) for name in panel.supply.protection) else "no",
        "connection": "plug" if panel.supply.unplugs else "wired",
        "feed_metres": _metres(panel),
        "control": _control(panel),
        "plugged": "yes" if any(panel.parts[socket].kind.name.startswith("outlet") for socket in sockets) else "no",
        "selector": "yes" if any(part.kind.name == "selector" for part in panel.parts.values()) else "no",
        "probe": _probe(panel),
        "pumps": ", ".join(_bare(name, "pump") or "wort" for name in pumps) or "none",
        "lamps": "yes" if panel.of_role("lamp") else "no",
        "built": panel.built,
        "title": panel.title,
    }
    if found["system"] == "three_phase_400":
        kinds = {panel.parts[name].kind.name for name in heaters}
        found["legs"] = "star" if "element_star" in kinds else "delta" if "element_delta" in kinds else "one"
    return kept(found)


def _bare(name: str, word: str) -> str:
    return name.replace(word, "").strip("_")


def _feed(panel: Panel) -> str:
    currents = [panel.parts[name].ratings.get("current") for name in panel.supply.protection]
    return f"{next((amperes for amperes in currents if amperes), 16):g}"


def _residual(panel: Panel, name: str) -> bool:
    trip = panel.parts[name].kind.trip
    return "residual" in panel.parts[name].ratings or (trip is not None and trip.form == "residual")


def _metres(panel: Panel) -> str:
    lengths = [wire.length_metres for wire in panel.wires if panel.at_the_service(wire.name)]
    return f"{max(lengths, default=10):g}"


def _control(panel: Panel) -> str:
    if not panel.of_role("relay"):
        return "contactor"
    return "both" if panel.of_role("contactor") else "relay"


def _probe(panel: Panel) -> str:
    kinds = [panel.parts[name].kind.name for name in panel.of_role("probe")]
    return next((name for name, probe in PROBES.items() if probe.kind in kinds), "pt100_3")


@lru_cache(maxsize=1)
def bundled_answers() -> Mapping[str, dict[str, str]]:
    """What each panel that comes along would have answered."""
    return {entry.name: answers_of(open_panel(entry.name)) for entry in bundled_panels()}


def nearest(answers: Answers) -> str:
    """The bundled panel that answers most alike, by its name."""
    return max(bundled_answers(), key=lambda name: _alike(answers, bundled_answers()[name]))


def _alike(answers: Answers, other: Answers) -> float:
    same = sum(
        weight for key, weight in WEIGHTS.items() if key in answers and key in other and answers[key] == other[key]
    )
    if "heaters" in answers and "heaters" in other:
        same -= WEIGHTS["count"] * abs(len(names_of(answers["heaters"])) - len(names_of(other["heaters"])))
    return same


def default_for(key: str, answers: Answers) -> str:
    """What the nearest panel would answer to a question; what is left of a list is filled from its last."""
    other = bundled_answers()[nearest(answers)]
    if key == "powers":
        count, powers = len(names_of(answers["heaters"])), other["powers"].split(", ")
        return ", ".join((powers + powers[-1:] * count)[:count])
    if key == "title":
        return f"My {len(names_of(answers['heaters']))}-element panel"
    if key == "built":
        return "used"
    return other.get(key, "no")
