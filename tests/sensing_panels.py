"""A bundled panel with another probe, for tests of sensing."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np

from diagnose.causes import Cause, causes_of
from diagnose.circuit.netlist import Netlist, build
from diagnose.circuit.rows import Row
from diagnose.circuit.settle import Settled, settle
from diagnose.circuit.setup import Setup, at_rest, isolated
from diagnose.knowledge.library import load_library
from diagnose.panel.reader import read_panel

LANDED = {
    "": ("a-probe_a", "b-probe_b", "c-probe_c"),
    "two": ("a-probe_a", "b-probe_b"),
    "four": ("a-probe_a", "b-probe_b", "c-probe_c", "d-probe_d"),
    "couple": ("out_a-probe_a", "out_b-probe_b"),
}
# Every kind of probe with a socket and the way that it is landed.
FITTED = {
    "probe": ("probe_socket", ""),
    "probe_pt100_2": ("probe_socket_2", "two"),
    "probe_pt100_4": ("probe_socket_4", "four"),
    "probe_pt1000_2": ("probe_socket_2", "two"),
    "probe_pt1000_3": ("probe_socket_1000", ""),
    "probe_pt1000_4": ("probe_socket_4", "four"),
    "probe_ntc": ("probe_socket_ntc", "two"),
    "probe_ntc_3435": ("probe_socket_ntc", "two"),
    "thermocouple_k": ("thermocouple_socket_k", "couple"),
    "thermocouple_j": ("thermocouple_socket_j", "couple"),
    "thermocouple_t": ("thermocouple_socket_t", "couple"),
    "probe_digital": ("probe_socket_digital", ""),
}


@lru_cache(maxsize=16)
def netlist_with(kind: str, ratings: str = "", new: bool = False) -> Netlist:
    """The one-kettle panel with a probe of this kind, its socket and its wires."""
    library = load_library()
    socket, landed = FITTED[kind]
    lines = (library.folder / "panels" / "shed_single_kettle.yaml").read_text(encoding="utf-8").splitlines()
    kept = [line for line in lines if not line.startswith("  - probe_socket.")]
    text = "\n".join(kept)
    text = text.replace("  probe_socket: probe_socket", f"  probe_socket: {socket}")
    text = text.replace("  probe: probe\n", f"  probe: {kind}{', ' + ratings if ratings else ''}\n")
    if kind == "probe_digital":
        text = text.replace("controller: controller,", "controller: controller_digital,")
    wires = [f"  - probe_socket.{pair.replace('-', ' - controller.')}" for pair in LANDED[landed]]
    text = text.replace("wires:\n", "wires:\n" + "\n".join(wires) + "\n", 1)
    if new:
        text = text.replace("region: europe", "built: new\nregion: europe")
    with TemporaryDirectory() as folder:
        path = Path(folder) / "panel.yaml"
        path.write_text(text, encoding="utf-8")
        return build(read_panel(path, library))


def bath(netlist: Netlist, celsius: float) -> Setup:
    """Everything at rest with the probe in a bath."""
    return at_rest(netlist.panel).bathing("probe", celsius)


def dead_bath(netlist: Netlist, celsius: float) -> Setup:
    """Supply off and the probe pulled, in a bath."""
    return isolated(netlist.panel).unplugging("probe").bathing("probe", celsius)


def cause_of(netlist: Netlist, key: str) -> Cause:
    """The cause with this key."""
    return next(cause for cause in causes_of(netlist.panel) if cause.key == key)


def solved(netlist: Netlist, setup: Setup, keys: Sequence[str | None] = (None,)) -> Settled:
    """The circuit in a setup, sound or with these faults."""
    causes = [cause_of(netlist, key) if key else None for key in keys]
    return settle(netlist, setup, [Row(cause, cause.level if cause else None) for cause in causes])


def shown(netlist: Netlist, setup: Setup, key: str | None = None) -> float:
    """What the controller shows, in degrees Celsius; infinite for a message."""
    return float(solved(netlist, setup, (key,)).shown["controller"][0])


def pin_ohms(netlist: Netlist, setup: Setup, a: str = "probe.a", b: str = "probe.b") -> float:
    """Ohms between two terminals."""
    seen = solved(netlist, setup).direct.transfer(netlist.node(a), netlist.node(b)).real
    return float(seen[0, netlist.node(a)] - seen[0, netlist.node(b)])


def pin_volts(netlist: Netlist, setup: Setup, key: str | None = None) -> float:
    """Direct volts from pin a to pin b of the probe."""
    between = solved(netlist, setup, (key,)).direct.between(netlist.node("probe.a"), netlist.node("probe.b"))
    return float(np.asarray(between).real[0])
