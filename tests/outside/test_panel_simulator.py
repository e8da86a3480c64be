"""Whole panels, with setups and faults, against an outside circuit simulator (ngspice in batch mode).

Each branch goes over as the resistance and inductance or capacitance that make up its admittance, as settled.
What is compared is what comes of them: node voltages, currents by the simulator's own ammeters, and ohms.
"""

from __future__ import annotations

import cmath
import re
import subprocess
from collections.abc import Mapping
from functools import lru_cache
from math import degrees, tau
from pathlib import Path

import numpy as np
import pytest

from diagnose.causes import causes_of
from diagnose.circuit.netlist import Netlist, build
from diagnose.circuit.rows import Row
from diagnose.circuit.settle import Settled, settle
from diagnose.circuit.setup import Setup
from diagnose.knowledge.library import load_library
from diagnose.panel.reader import read_panel
from diagnose.setups import named_setups
from tests.outside.spice import SIMULATOR, Element, needs_simulator, netlist, parsed

LINE = re.compile(r"^([vi]\(\w+\)) = (\S+)$", re.MULTILINE)
PANELS = sorted(path.stem for path in (load_library().folder / "panels").glob("*.yaml"))
LIVE, DEAD = ("idle", "running", "resting", "unswitched", "warm"), ("isolated", "parted", "lifted")
METER_OHMS = 1e7
PROBE_OHMS = 1e3  # of the simulated ohmmeter, in series with its one volt
NO_VOLTS = 1e-12  # a source of next to nothing is the simulator's ammeter
SMALL = """
panel: small
title: Small
story: made at random
region: {region}
supply:
  system: {system}
  protection: {protection}
  feed: {size}, {feed} m
  cord: {cord}, {length} m
references: {references}
wire: {size}, {wire} m
parts:
  main_switch: main_switch, 40 A
  one_bar: bar
  two_bar: bar
  neutral_bar: bar
  earth_bar: earth_bar
  relay: relay, 40 A
  switch: switch
  lamp: lamp, {volts} V
  outlet: outlet
  cord: cord, 30 A, {length} m
  element: element, {watts} W, {volts} V
  pump: pump, {pump_volts} V, {pump_watts} W
  controller: controller, {pump_volts} V
  probe_socket: probe_socket
  probe: probe
wires:
{wires}
  - one_bar - relay - outlet.a
  - two_bar - outlet.b
  - earth_bar - outlet.earth
  - cord.a - element.a
  - cord.b - element.b
  - cord.earth - element.earth
  - one_bar - switch - lamp - two_bar
  - one_bar - pump.a
  - pump.b - neutral_bar
  - earth_bar - pump.earth
  - one_bar - controller.line
  - controller.neutral - neutral_bar
  - controller.plus - relay.plus
  - controller.minus - relay.minus
  - probe_socket.a - controller.probe_a
  - probe_socket.b - controller.probe_b
  - probe_socket.c - controller.probe_c
plugs:
  - cord - outlet
  - probe - probe_socket
"""
SPLIT = """
  - feed_cord.l1 - main_switch.line_1
  - feed_cord.l2 - main_switch.line_2
  - feed_cord.n - neutral_bar
  - feed_cord.earth - earth_bar
  - main_switch.load_1 - one_bar
  - main_switch.load_2 - two_bar
"""
SINGLE = """
  - feed_cord.l - main_switch.line_1
  - feed_cord.n - main_switch.line_2
  - feed_cord.earth - earth_bar
  - main_switch.load_1 - one_bar
  - main_switch.load_2 - neutral_bar
  - neutral_bar - two_bar
"""


@lru_cache
def bundled(name: str) -> Netlist:
    library = load_library()
    return build(read_panel(library.folder / "panels" / f"{name}.yaml", library))


@lru_cache
def setups(name: str) -> Mapping[str, Setup]:
    netlist = bundled(name)
    return named_setups(netlist, netlist.panel.of_role("heater")[-1])


def small_panel(seed: int, folder: Path) -> Netlist:
    """A panel of random sizes and ratings on either supply."""
    random = np.random.default_rng(seed)
    split = bool(random.integers(2))
    references = "{neutral: neutral_bar, earth: earth_bar, leg_1: one_bar" + (", leg_2: two_bar}" if split else "}")
    text = SMALL.format(
        region="north_america" if split else "europe",
        system="split_phase_240" if split else "single_phase_230",
        protection='"feed_breaker: feed_gfci, 30 A"' if split else '"feed_rcd: rcd, 25 A, 30 mA"',
        size=random.choice(["10 AWG", "8 AWG", "12 AWG"] if split else ["2.5 mm2", "4 mm2"]),
        cord="feed_cord_4" if split else "feed_cord_3",
        references=references,
        feed=random.integers(2, 40),
        length=random.integers(1, 9),
        wire=random.integers(1, 9) / 10,
        volts=240 if split else 230,
        watts=random.integers(8, 60) * 100,
        pump_volts=120 if split else 230,
        pump_watts=random.integers(20, 200),
        wires=(SPLIT if split else SINGLE).strip("\n"),
    )
    path = folder / "small.yaml"
    path.write_text(text, encoding="utf-8")
    return build(read_panel(path, load_library()))


def elements_of(settled: Settled, row: int, alternating: bool) -> tuple[list[Element], list[int]]:
    """What conducts, as the simulator's elements, and which branch each is; every branch has its ammeter."""
    network, omega = settled.netlist.network, tau * settled.netlist.panel.supply.frequency_hertz
    y = settled.y_alternating[row] if alternating else settled.y_direct[row].astype(complex)
    emf = settled.alternating.emf[row]
    found, branches = [], []
    for number in np.flatnonzero(y != 0).tolist():
        impedance = complex(1 / y[number])
        reactance = impedance.imag if abs(impedance.imag) > 1e-12 * abs(impedance) else 0.0
        volts = complex(emf[number]) if alternating else 0j
        ends = (int(network.tail[number]), int(network.head[number]))
        found.append(
            Element(
                *ends,
                max(impedance.real, 1e-9),
                henry=max(reactance, 0.0) / omega,
                farad=-1 / (omega * reactance) if reactance < 0 else 0.0,
                volts=abs(volts) or NO_VOLTS,
                degrees=degrees(cmath.phase(volts)),
            )
        )
        branches.append(number)
    return found, branches


def simulated(elements: list[Element], settled: Settled, hertz: float, folder: Path) -> tuple[np.ndarray, np.ndarray]:
    """Node voltages, and currents through the elements from tail to head; fails where one is missing."""
    network = settled.netlist.network
    text = netlist(elements, network.node_count, network.leak_siemens, hertz)
    ammeters = "\n".join(f"print i(v{number})" for number in range(len(elements)))
    path = folder / "panel.cir"
    path.write_text(text.replace("quit 0", f"{ammeters}\nquit 0"), encoding="ascii")
    assert SIMULATOR is not None
    done = subprocess.run(
        [SIMULATOR, "-b", str(path)], capture_output=True, text=True, timeout=60, check=False, cwd=folder
    )
    values = {name: parsed(value) for name, value in LINE.findall(done.stdout)}
    assert done.returncode == 0, done.stderr
    volts = [0j, *(values[f"v({node})"] for node in range(1, network.node_count))]
    # Counted into the source's plus, which is the way against the current that the branch drives.
    return np.array(volts), np.array([-values[f"i(v{number})"] for number in range(len(elements))])


def chosen(panel: Netlist, names: Mapping[str, Setup], kinds: tuple[str, ...], seed: int) -> Settled:
    """One setup and one fault, picked by a seed, settled; the first seeds are the sound panel."""
    random = np.random.default_rng(seed)
    setup = names[str(random.choice(kinds))]
    causes = causes_of(panel.panel)
    if seed < 1:
        return settle(panel, setup, [Row(None)])
    cause = causes[int(random.integers(len(causes)))]
    return settle(panel, setup, [Row(cause, cause.level)])


def held_pair(settled: Settled, seed: int) -> tuple[int, int]:
    """Two nodes at random between which something lies that the simulator resolves.

    A node that nothing but its own leak of a hundred gigaohms holds follows the meter: there it has no digits left.
    """
    random, alternating = np.random.default_rng(seed), settled.alternating
    while True:
        a, b = random.choice(settled.netlist.network.node_count, 2, replace=False).tolist()
        free = abs(complex(alternating.voltages[0][a] - alternating.voltages[0][b]))
        if free < 1.0 or abs(complex(alternating.loaded(a, b, 1 / METER_OHMS)[0])) > 0.01 * free:
            return a, b


def compare_live(settled: Settled, seed: int, folder: Path) -> None:
    hertz = settled.netlist.panel.supply.frequency_hertz
    elements, branches = elements_of(settled, 0, alternating=True)
    volts, amperes = simulated(elements, settled, hertz, folder)
    largest = np.abs(volts).max()
    np.testing.assert_allclose(settled.alternating.voltages[0], volts, rtol=1e-3, atol=1e-6 * largest)
    ours = settled.alternating.branch_currents()[0][branches]
    # Microvolts of rounding in the simulator drive tens of microamperes through the bond of an earth.
    np.testing.assert_allclose(ours, amperes, rtol=1e-3, atol=1e-6 + 1e-5 * np.abs(amperes).max())
    # A meter on two terminals at random.
    a, b = held_pair(settled, seed)
    metered, _ = simulated([*elements, Element(a, b, METER_OHMS, volts=NO_VOLTS)], settled, hertz, folder)
    shown = complex(settled.alternating.loaded(a, b, 1 / METER_OHMS)[0])
    # The leaks that hold what floats, a hundred gigaohms each, drown in the simulator beside its wires.
    assert shown == pytest.approx(metered[a] - metered[b], rel=1e-3, abs=1e-3)


def compare_dead(settled: Settled, seed: int, folder: Path) -> int:
    """Ohms between terminals at random; returns how many were less than OL."""
    elements, _ = elements_of(settled, 0, alternating=False)
    random = np.random.default_rng(seed)
    nodes, compared = settled.netlist.network.node_count, 0
    for _ in range(60):
        a, b = random.choice(nodes, 2, replace=False).tolist()
        seen = settled.direct.transfer(a, b)[0].real
        ohms = float(seen[a] - seen[b])
        if ohms > 1e8:
            continue
        meter = Element(b, a, PROBE_OHMS, volts=1.0)
        _, amperes = simulated([*elements, meter], settled, 0, folder)
        theirs = 1.0 / amperes[-1].real - PROBE_OHMS
        # Microhms are lost beside the ohmmeter's own kilohm in the simulator's last digits.
        assert ohms == pytest.approx(theirs, rel=1e-3, abs=1e-6)
        compared += 1
        if compared == 3:
            break
    return compared


@needs_simulator
@pytest.mark.parametrize("seed", range(8))
@pytest.mark.parametrize("name", PANELS)
def test_live_panels_agree_with_the_simulator(name: str, seed: int, tmp_path: Path) -> None:
    compare_live(chosen(bundled(name), setups(name), LIVE, seed), seed, tmp_path)


@needs_simulator
@pytest.mark.parametrize("name", PANELS)
def test_ohms_in_dead_panels_agree_with_the_simulator(name: str, tmp_path: Path) -> None:
    compared = [compare_dead(chosen(bundled(name), setups(name), DEAD, seed), seed, tmp_path) for seed in range(6)]
    assert sum(compared) >= 10
    assert sum(count > 0 for count in compared) >= 4


@needs_simulator
@pytest.mark.parametrize("seed", range(8))
def test_small_random_panels_agree_with_the_simulator(seed: int, tmp_path: Path) -> None:
    panel = small_panel(seed, tmp_path)
    names = named_setups(panel, "element")
    live = chosen(panel, names, LIVE[:4], seed)
    # It is energised; a short that has not tripped yet pulls the ends of its own run down.
    assert np.abs(live.alternating.voltages).max() > 50
    compare_live(live, seed, tmp_path)
    compare_dead(chosen(panel, names, DEAD, seed + 50), seed, tmp_path)


@needs_simulator
@pytest.mark.parametrize("name", ["shed_single_kettle", "cellar_two_kettle"])
def test_half_wave_relay_goes_over_as_the_reactance_that_it_settled_at(name: str, tmp_path: Path) -> None:
    panel = bundled(name)
    cause = next(each for each in causes_of(panel.panel) if each.key.endswith("relay:half_wave"))
    compare_live(settle(panel, setups(name)["running"], [Row(cause)]), 1, tmp_path)
