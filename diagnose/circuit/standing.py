"""What conducts by where things stand alone: handles, plugs, lifted wires, and what changed places."""

from __future__ import annotations

import numpy as np

from diagnose.circuit.netlist import BoolArray, Netlist
from diagnose.circuit.setup import PROTECTIVE_ROLES, Setup


def standing_conduction(netlist: Netlist, setup: Setup, starting: bool = False, pressing: bool = False) -> BoolArray:
    """(B,) branches that conduct whatever the states: not contacts with conditions, not pulled plugs.

    `starting` while the start button is pressed, or about to be: all that switches a load is still off.
    """
    on = np.ones(len(netlist.places), dtype=bool)
    for number, place in enumerate(netlist.places):
        if place.form == "mate":
            on[number] = place.part not in setup.unplugged and place.socket not in setup.unplugged
        elif place.form == "leak":
            on[number] = False
        for condition in place.closed:
            if condition.what == "handle":
                at = _position(netlist, setup, place.part, starting)
                on[number] &= (at in condition.values) != condition.negated
            elif condition.what == "pressed":
                on[number] &= pressing and setup.position(place.part) in condition.values
    _exchange(netlist, setup, on)
    for wire in netlist.panel.wires:
        if setup.lifted & {wire.a, wire.b}:
            on[list(netlist.branches_of(wire.name, "run"))] = False
    return on


def _position(netlist: Netlist, setup: Setup, part: str, starting: bool) -> str | None:
    """Where a handle stands; while the start button is pressed all that switches a load is still off."""
    kind = netlist.panel.parts[part].kind
    return kind.rest if starting and kind.role not in PROTECTIVE_ROLES else setup.position(part)


def _exchange(netlist: Netlist, setup: Setup, on: BoolArray) -> None:
    """Let what changed places conduct where it sits now, and not where it sat."""
    for number, place in enumerate(netlist.places):
        if place.when is None:
            continue
        if place.when not in setup.swapped:
            on[number] = False
            continue
        for other in netlist.branches_of(place.part, place.name):
            if netlist.places[other].when is None:
                on[other] = False
