"""Tiny panels as text, for tests of the circuit: a supply, a few parts, a few wires."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from diagnose.causes import Cause
from diagnose.circuit.netlist import Netlist, build
from diagnose.circuit.rows import Row
from diagnose.circuit.settle import Settled, settle
from diagnose.circuit.setup import Setup, at_rest
from diagnose.knowledge.library import load_library
from diagnose.panel.reader import read_panel
from diagnose.panel.records import Panel

METER_SIEMENS = 1e-7  # 10 megohm: trade data
PROTECTION = {
    "split_phase_240": "feed_breaker: breaker_2, 30 A, ul489",
    "two_legs_208": "feed_breaker: breaker_2, 30 A, ul489",
    "single_phase_120": "feed_breaker: breaker_1, 20 A, ul489",
    "single_phase_230": "feed_breaker: breaker_1, 16 A, iec60898_b",
    "three_phase_400": "feed_breaker: breaker_3, 16 A, iec60898_c",
}
LINES = {
    "split_phase_240": ("l1", "l2"),
    "two_legs_208": ("l1", "l2"),
    "single_phase_120": ("l",),
    "single_phase_230": ("l",),
    "three_phase_400": ("l1", "l2", "l3"),
}
CORDS = {1: "feed_cord_3", 2: "feed_cord_4", 3: "feed_cord_5"}


def panel_of(
    folder: Path,
    system: str,
    parts: str,
    wires: str,
    plugs: str = "",
    built: str = "used",
    protection: str = "",
) -> Panel:
    """A panel with bars `leg_1`, `leg_2`, `leg_3`, `neutral` and `earth`, and what the lines of text add to it."""
    lines = LINES[system]
    bars = [f"leg_{number}" for number in range(1, len(lines) + 1)]
    text = [
        "panel: small", "title: a small panel", "region: europe", f"built: {built}", "supply:",
        f"  system: {system}", f'  protection: "{protection or PROTECTION[system]}"', "  feed: 10 AWG, 5 m",
        f"  cord: {CORDS[len(lines)]}, 1 m",
        f"references: {{neutral: neutral, earth: earth, {', '.join(f'{bar}: {bar}' for bar in bars)}}}",
        "wire: 10 AWG, 0.1 m", "parts:", "  neutral: bar", "  earth: earth_bar", *(f"  {bar}: bar" for bar in bars),
        *_indented(parts), "wires:", "  - feed_cord.n - neutral", "  - feed_cord.earth - earth",
        *(f"  - feed_cord.{line} - {bar}" for line, bar in zip(lines, bars, strict=True)),
        *(f"  - {line.strip()}" for line in wires.splitlines() if line.strip()),
    ]  # fmt: skip
    if plugs:
        text += ["plugs:", *(f"  - {line.strip()}" for line in plugs.splitlines() if line.strip())]
    path = folder / "small.yaml"
    path.write_text("\n".join(text) + "\n", encoding="utf-8")
    return read_panel(path, load_library(), "small.yaml")


def _indented(text: str) -> list[str]:
    return [f"  {line.strip()}" for line in text.splitlines() if line.strip()]


def cause(part: str, fault: str, level: float | None = None) -> Cause:
    """A cause at one level."""
    return Cause(part, fault, level, level or 0.0, level or 0.0, 1.0)


def solved(panel: Panel, setup: Setup | None = None, *causes: Cause) -> Settled:
    """The sound panel in row 0, then each cause; everything calls for heat unless a setup says otherwise."""
    if setup is None:
        setup = everything_on(panel)
    rows = [Row(None), *(Row(each, each.level) for each in causes)]
    settled = settle(build(panel), setup, rows)
    for values in (settled.alternating.voltages, settled.direct.voltages):
        assert np.isfinite(values).all()
    return settled


def everything_on(panel: Panel) -> Setup:
    """All handles at their run positions, all controllers calling."""
    setup = at_rest(panel).commanding("call", *panel.of_role("controller"))
    return setup.moved(**{name: panel.parts[name].kind.run for name, _ in setup.positions})


def meter(settled: Settled, a: str, b: str, row: int = 0) -> float:
    """Alternating volts that a 10 megohm meter shows between two terminals."""
    netlist: Netlist = settled.netlist
    shown = settled.alternating.loaded(netlist.node(a), netlist.node(b), METER_SIEMENS)
    return float(np.abs(np.asarray(shown)[row]))
