"""How the time of a session grows with the panel: 1, 2, 4, 8 and 16 channels of one bundled panel.

Run as python -m tests.benchmarks.bench_growth. Milliseconds of processor time, and the exponent of growth in channels
that fits best: what is taken n times as long with n times the channels has exponent 1.
"""

from __future__ import annotations

import tempfile
from collections.abc import Mapping, Sequence
from pathlib import Path
from time import process_time

import numpy as np

from diagnose.causes import causes_of
from diagnose.circuit.netlist import build
from diagnose.model import Model, make_model
from diagnose.opening import all_complaints, open_panel, panel_path
from diagnose.study.simulated import SimulatedPanel
from tests.benchmarks.timed_sessions import timed_session

PANEL, NAMES = "quarry_two_at_once", "[liquor, boil]"
CHANNELS = (1, 2, 4, 8, 16)
FAULTS = ("relay:open", "element:open", "fuse:blown", "contactor:coil_open", "breaker:open_pole_1", "cord:open_core")
STEEPEST = 1.3


def panel_of(channels: int, folder: Path) -> str:
    """The path of a panel with so many channels."""
    text = panel_path(PANEL)[0].read_text(encoding="utf-8")
    assert NAMES in text
    names = ", ".join(f"channel_{number}" for number in range(1, channels + 1))
    path = folder / f"channels_{channels}.yaml"
    path.write_text(text.replace(NAMES, f"[{names}]").replace(f"panel: {PANEL}", f"panel: channels_{channels}"))
    return str(path)


def times_of(model: Model) -> tuple[list[float], list[float]]:
    """Seconds of each choice, and of all that comes between an answer and the next question."""
    choosing: list[float] = []
    turning: list[float] = []
    netlist = model.predictor.netlist
    known = {cause.key: cause for cause in causes_of(netlist.panel)}
    hidden = [known[f"channel_1_{key}"] for key in FAULTS if f"channel_1_{key}" in known]
    for cause in hidden:
        chose, turned = timed_session(model, SimulatedPanel(netlist, cause), frozenset({"multimeter"}))
        choosing += chose
        turning += turned
    return choosing, turning


def measured(channels: int, folder: Path) -> Mapping[str, float]:
    """What one panel takes."""
    netlist = build(open_panel(panel_of(channels, folder)))
    begun = process_time()
    model = make_model(netlist, all_complaints()["element_cold"], "channel_1_element")
    prepared = process_time() - begun
    choosing, turning = times_of(model)
    return {
        "channels": channels,
        "parts": len(netlist.panel.parts),
        "causes": len(model.everything.causes),
        "checks": len(model.checks),
        "prepared": 1e3 * prepared,
        "median": 1e3 * float(np.median(choosing)),
        "p95": 1e3 * float(np.percentile(choosing, 95)),
        "turn": 1e3 * float(np.mean(turning)),
    }


def exponent(rows: Sequence[Mapping[str, float]], name: str) -> float:
    """The slope of the straight line through the logarithms."""
    across = np.log([row["channels"] for row in rows])
    return float(np.polyfit(across, np.log([max(row[name], 1e-3) for row in rows]), 1)[0])


def growth(channels: Sequence[int] = CHANNELS) -> list[Mapping[str, float]]:
    """A row for each panel."""
    with tempfile.TemporaryDirectory() as folder:
        return [measured(count, Path(folder)) for count in channels]


def main() -> None:
    """Print a line for each panel, and the exponents."""
    rows = growth()
    print(
        f"{'channels':>8}{'parts':>7}{'causes':>8}{'checks':>8}"
        f"{'prepared ms':>13}{'choice ms':>11}{'p95 ms':>8}{'turn ms':>9}"
    )
    for row in rows:
        print(
            f"{row['channels']:>8}{row['parts']:>7}{row['causes']:>8}{row['checks']:>8}{row['prepared']:>13.0f}"
            f"{row['median']:>11.1f}{row['p95']:>8.0f}{row['turn']:>9.0f}"
        )
    told = ", ".join(f"{name} {exponent(rows, name):.2f}" for name in ("prepared", "median", "p95", "turn"))
    print(f"exponent in channels: {told} (bar {STEEPEST})")


if __name__ == "__main__":
    main()
