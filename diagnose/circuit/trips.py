"""When protective devices open at the currents that the circuit gives them."""

from __future__ import annotations

import numpy as np

from diagnose.circuit.netlist import BoolArray, ComplexArray, FloatArray, Netlist
from diagnose.circuit.nodal import Batch
from diagnose.knowledge.records import Trip
from diagnose.physics.protection import NEVER, Standard, trip_band
from diagnose.physics.residual import ground_fault_band, residual_band

AT_ONCE_SECONDS = 10.0  # what a person calls 'at once'
CURVES: dict[str, tuple[Standard, str]] = {
    "ul489": ("UL 489", ""),
    "iec60898_b": ("IEC 60898-1", "B"),
    "iec60898_c": ("IEC 60898-1", "C"),
    "iec60898_d": ("IEC 60898-1", "D"),
    "bs1362": ("BS 1362", ""),
    "iec60127_fast": ("IEC 60127", "F"),
    "iec60127_time_lag": ("IEC 60127", "T"),
}
# A device that has gone weak trips after a while at a load that it should carry: common practice.
WEAK_SHARE = 0.3
WEAK_SECONDS = (30.0, 1800.0)
LEAST_LOAD_AMPERES = 1.0


def device_times(netlist: Netlist, name: str, trip: Trip, y: ComplexArray, ac: Batch, weak: BoolArray) -> FloatArray:
    """(H, 2) earliest and latest seconds to a part's trip in solved circuits; see `trip_times`."""
    part = netlist.panel.parts[name]
    network = netlist.network
    numbers = [netlist.branches_of(name, branch)[0] for branch in trip.through]
    currents = [ac.between(int(network.tail[n]), int(network.head[n])) * y[:, n] for n in numbers]
    standard = part.choices.get(trip.standard, trip.standard)
    return trip_times(trip.form, standard, trip.rating.value(part.ratings), np.array(currents), weak)


def trip_times(form: str, standard: str, rating_amperes: float, currents: ComplexArray, weak: BoolArray) -> FloatArray:
    """(H, 2) earliest and latest seconds to a trip, inf for never.

    `currents` is (P, H) in amperes, one row for each conductor that the device senses: each by itself for overcurrent
    and fuses, their sum for a residual device. `weak` marks the rows in which the device itself is at fault.
    """
    if form == "residual":
        amperes = np.abs(currents.sum(axis=0))
        load = np.abs(currents).max(axis=0)
        times = np.array([_residual(standard, rating_amperes, float(value)) for value in amperes])
        return _weakened(times, weak & (load > LEAST_LOAD_AMPERES))
    load = np.abs(currents).max(axis=0)
    curve = CURVES[standard]
    times = np.array([tuple(trip_band(rating_amperes, curve[0], curve[1], float(value))) for value in load])
    return _weakened(times, weak & (load > WEAK_SHARE * rating_amperes))


def _residual(standard: str, rating_amperes: float, amperes: float) -> tuple[float, float]:
    band = ground_fault_band(amperes) if standard == "ul943" else residual_band(amperes, rating_amperes)
    return band.earliest_seconds, band.latest_seconds


def _weakened(times: FloatArray, weak: BoolArray) -> FloatArray:
    sooner = weak & (times[:, 0] > WEAK_SECONDS[0])
    times[sooner] = WEAK_SECONDS
    return times


def outcome_shares(times: FloatArray) -> FloatArray:
    """(H, 3) shares of 'holds', 'trips at once', 'trips after a while' for (H, 2) times.

    A band that spans several of these is shared evenly among them, since nothing says where in the band this device
    lies.
    """
    earliest, latest = times[:, 0], times[:, 1]
    holds = latest == NEVER
    at_once = earliest <= AT_ONCE_SECONDS
    later = (earliest < NEVER) & (latest > AT_ONCE_SECONDS) & ~((latest == NEVER) & at_once)
    shares = np.stack([holds, at_once, later], axis=1).astype(float)
    return np.asarray(shares / shares.sum(axis=1, keepdims=True))
