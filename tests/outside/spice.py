"""Circuits as netlists for the outside simulator, and what it prints.

The simulator's habits: without `quit 0` it exits 1 on success; with it a singular matrix exits 0 and leaves
values out, so each value that was asked for must be there. `M` is milli: numbers are written out in full.
"""

from __future__ import annotations

import re
import shutil
import subprocess
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import pytest

SIMULATOR = shutil.which("ngspice")
needs_simulator = pytest.mark.skipif(
    SIMULATOR is None, reason="ngspice is not installed: circuits were not compared with an outside simulator"
)
LINE = re.compile(r"^v\((\d+)\) = (\S+)$", re.MULTILINE)


@dataclass(frozen=True)
class Element:
    """One branch: resistance, inductance, capacitance (0 for none), source (volts, degrees), in series."""

    tail: int
    head: int
    ohms: float
    henry: float = 0.0
    farad: float = 0.0
    volts: float = 0.0
    degrees: float = 0.0

    def admittance(self, omega: float) -> complex:
        """Siemens at an angular frequency."""
        reactance = omega * self.henry - (1 / (omega * self.farad) if self.farad else 0)
        return 1 / complex(self.ohms, reactance)


def netlist(elements: Sequence[Element], node_count: int, leak_siemens: float, hertz: float) -> str:
    """The text of a netlist; 0 hertz is direct current. Each branch is a chain of its ideal elements."""
    lines = ["circuit"]
    for number, element in enumerate(elements):
        chain = [("R", f"{element.ohms:.17g}")]
        if element.henry:
            chain.append(("L", f"{element.henry:.17g}"))
        if element.farad:
            chain.append(("C", f"{element.farad:.17g}"))
        at = str(element.tail)
        if element.volts:
            # The branch drives current from tail to head, so the source's plus is away from the tail.
            value = f"AC {element.volts:.17g} {element.degrees:.17g}" if hertz else f"DC {element.volts:.17g}"
            lines.append(f"V{number} s{number} {at} {value}")
            at = f"s{number}"
        for place, (letter, value) in enumerate(chain):
            end = str(element.head) if place == len(chain) - 1 else f"n{number}_{place}"
            lines.append(f"{letter}{number} {at} {end} {value}")
            at = end
    lines += [f"Rleak{node} {node} 0 {1 / leak_siemens:.17g}" for node in range(1, node_count)]
    analysis = f"ac lin 1 {hertz:.17g} {hertz:.17g}" if hertz else "op"
    prints = [f"print v({node})" for node in range(1, node_count)]
    return "\n".join([*lines, ".control", "set numdgt=15", analysis, *prints, "quit 0", ".endc", ".end", ""])


def simulate(text: str, node_count: int, folder: Path) -> list[complex]:
    """Node voltages, the datum's zero first; fails the test where the simulator left one out."""
    path = folder / "circuit.cir"
    path.write_text(text, encoding="ascii")
    assert SIMULATOR is not None
    done = subprocess.run(
        [SIMULATOR, "-b", str(path)], capture_output=True, text=True, timeout=60, check=False, cwd=folder
    )
    found = {int(node): parsed(value) for node, value in LINE.findall(done.stdout)}
    missing = set(range(1, node_count)) - found.keys()
    assert done.returncode == 0, done.stderr
    assert not missing, f"no voltage for nodes {sorted(missing)}: {done.stderr}"
    return [0j, *(found[node] for node in range(1, node_count))]


def parsed(value: str) -> complex:
    """`1.5` or `1.5,-2`."""
    real, _, imaginary = value.partition(",")
    return complex(float(real), float(imaginary or 0))
