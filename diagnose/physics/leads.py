"""What a controller shows when the leads of a resistance sensor are long, lost, swapped or wet."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from diagnose.physics.number import require_not_negative, require_range
from diagnose.physics.platinum import HIGHEST_CELSIUS, LOWEST_CELSIUS, platinum_celsius, platinum_ohms

LeadFault = Literal[
    "none",
    "open",
    "shorted",
    "third_missing",
    "third_jumpered",
    "single_swapped_with_return",
    "single_swapped_with_sense",
    "pair_swapped",
]


@dataclass(frozen=True, slots=True)
class Hookup:
    """How a resistance sensor is wired to its controller.

    Attributes
    ----------
    wires : int
        2, 3 or 4.
    single_ohms : float
        Lead from the end of the sensor that has one lead (three-wire), or the first of two leads.
    return_ohms : float
        The lead of the pair that carries the current back; of three wires the controller subtracts its drop.
    sense_ohms : float
        The lead of the pair that carries next to no current: it counts only when the pair is swapped.
    leak_ohms : float
        A wet connector or a bruised cable across the sensor; infinity when dry.
    fault : LeadFault
        `third_missing`: the sense terminal hangs free. `third_jumpered`: a link at the controller in its
        stead, as for a two-wire sensor. `single_swapped_with_return`, `single_swapped_with_sense`: the odd
        lead sits on that terminal of the pair, whose lead is in its place. `pair_swapped`: the two of the
        pair have changed places, which is no fault.
    """

    wires: Literal[2, 3, 4] = 3
    single_ohms: float = 0.0
    return_ohms: float = 0.0
    sense_ohms: float = 0.0
    leak_ohms: float = math.inf
    fault: LeadFault = "none"


def seen_ohms(sensor_ohms: float, hookup: Hookup) -> float:
    """Return the resistance that the controller's input works out.

    Parameters
    ----------
    sensor_ohms : float
        Of the sensor itself; infinity when it is open, 0 when it is shorted.
    hookup : Hookup
        The leads and what is wrong with them.

    Returns
    -------
    float
        Ohms; infinity when no current can flow or the sense terminal hangs free; it may be negative when
        leads are swapped.

    Raises
    ------
    ValueError
        If a resistance is negative, or the fault needs a third wire that is not there.

    Notes
    -----
    A three-wire input takes the voltage between the single lead and the sense lead, less the drop between
    the sense lead and the return: single + sensor − return. That is right when the leads are alike. With
    the single lead on the return's terminal the sensor lies where the correction is taken from, and a
    negative resistance is seen; on the sense lead's terminal it lies in no measured path, and next to none
    is seen. A free sense terminal is taken as up-scale burn-out, as most inputs have it (common practice):
    some drift or show low instead.

    References
    ----------
    Kirchhoff's laws.

    Examples
    --------
    >>> seen_ohms(125.16, Hookup(wires=2, single_ohms=0.5, return_ohms=0.5))
    126.16
    >>> seen_ohms(125.16, Hookup(wires=3, single_ohms=0.5, return_ohms=0.5, sense_ohms=0.5))
    125.16
    """
    require_not_negative(
        sensor_ohms=sensor_ohms,
        single_ohms=hookup.single_ohms,
        return_ohms=hookup.return_ohms,
        sense_ohms=hookup.sense_ohms,
        leak_ohms=hookup.leak_ohms,
    )
    if hookup.wires != 3 and hookup.fault not in ("none", "open", "shorted"):
        raise ValueError(f"fault {hookup.fault!r} needs three wires, expected none, open or shorted")
    sensor = _with_leak(_faulted(sensor_ohms, hookup.fault), hookup.leak_ohms)
    return _measured(sensor, hookup)


def _faulted(sensor_ohms: float, fault: LeadFault) -> float:
    return {"open": math.inf, "shorted": 0.0}.get(fault, sensor_ohms)


def _with_leak(sensor_ohms: float, leak_ohms: float) -> float:
    if math.isinf(leak_ohms):
        return sensor_ohms
    if math.isinf(sensor_ohms):
        return leak_ohms
    total = sensor_ohms + leak_ohms
    return sensor_ohms * leak_ohms / total if total else 0.0


def _measured(sensor: float, hookup: Hookup) -> float:
    single, back, sense = hookup.single_ohms, hookup.return_ohms, hookup.sense_ohms
    fault = hookup.fault
    if fault == "third_missing":
        return math.inf
    if hookup.wires == 2 or fault == "third_jumpered":
        return single + sensor + back
    if hookup.wires == 4:
        return sensor
    if fault == "single_swapped_with_return":
        return back - (sensor + single)
    if fault == "single_swapped_with_sense":
        return sense - back
    return single + sensor - (sense if fault == "pair_swapped" else back)


def shown_temperature(
    true_celsius: float,
    hookup: Hookup,
    nominal_ohms: float = 100.0,
    input_nominal_ohms: float | None = None,
    lowest_celsius: float = LOWEST_CELSIUS,
    highest_celsius: float = HIGHEST_CELSIUS,
) -> float:
    """Return what a controller shows for a platinum sensor.

    Parameters
    ----------
    true_celsius : float
        Where the sensor is, -200 to 850 °C.
    hookup : Hookup
        The leads and what is wrong with them.
    nominal_ohms : float
        The sensor's resistance at 0 °C.
    input_nominal_ohms : float, optional
        What the controller is set to; the sensor's own if not given.
    lowest_celsius, highest_celsius : float
        Ends of the range that the controller can show.

    Returns
    -------
    float
        °C; infinity for the message above range (open sensor), minus infinity for that below (shorted).

    Raises
    ------
    ValueError
        As `seen_ohms` and `platinum_ohms`.

    References
    ----------
    IEC 60751 both ways, with `seen_ohms` between.

    Examples
    --------
    >>> round(shown_temperature(65.0, Hookup(wires=2, single_ohms=0.5, return_ohms=0.5)), 1)
    67.6
    >>> shown_temperature(65.0, Hookup(fault="open"))
    inf
    >>> round(shown_temperature(65.0, Hookup(leak_ohms=10_000.0)), 1)
    61.0
    """
    require_range("lowest_celsius", lowest_celsius, LOWEST_CELSIUS, highest_celsius)
    require_range("highest_celsius", highest_celsius, lowest_celsius, HIGHEST_CELSIUS)
    seen = seen_ohms(platinum_ohms(true_celsius, nominal_ohms), hookup)
    nominal = nominal_ohms if input_nominal_ohms is None else input_nominal_ohms
    if seen > platinum_ohms(highest_celsius, nominal):
        return math.inf
    if seen < platinum_ohms(lowest_celsius, nominal):
        return -math.inf
    return platinum_celsius(seen, nominal)
