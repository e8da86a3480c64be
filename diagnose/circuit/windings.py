"""A transformer's two windings while a circuit settles: volts one way, amperes the other."""

from __future__ import annotations

import numpy as np

from diagnose.circuit.netlist import BoolArray, ComplexArray, IndexArray, Netlist
from diagnose.circuit.nodal import Batch

FOLLOW_FIT = 1e-3  # how near a following EMF has to be to what it follows


def follow_windings(
    netlist: Netlist, moving: IndexArray, y: ComplexArray, ac: Batch, following: ComplexArray, reflected: ComplexArray
) -> BoolArray:
    """Give each following branch the EMF that its other winding has, and that winding the load that hangs on it.

    `y` (M, B) and `ac` are of the M moving rows; `following` and `reflected`, (H, K) in volts and siemens, are written.
    Returns (M,) which rows changed. Ideal transformer: volts by the ratio one way, amperes by it the other way.
    """
    changed = np.zeros(len(moving), dtype=bool)
    network = netlist.network
    for number, follow in enumerate(netlist.follows):
        own = ac.between(int(network.tail[follow.branch]), int(network.head[follow.branch]))
        volts = ac.between(int(network.tail[follow.of]), int(network.head[follow.of]))
        amperes = (own + following[moving, number]) * y[:, follow.branch]
        emf = follow.ratio * volts * (y[:, follow.of] != 0)
        live = np.abs(volts) > 1
        load = np.where(live, follow.ratio * amperes / np.where(live, volts, 1), 0)
        for kept, wanted, least in ((following, emf, 1.0), (reflected, load, 1e-4)):
            moved = np.abs(wanted - kept[moving, number]) > FOLLOW_FIT * np.maximum(np.abs(wanted), least)
            kept[moving[moved], number] = wanted[moved]
            changed |= moved
    return changed
