"""Thermocouples of types J, K and T: voltage, temperature, and what wrong wiring shows."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from diagnose.physics.number import require_range

Kind = Literal["J", "K", "T"]
Wire = Literal["J", "K", "T", "copper"]


@dataclass(frozen=True, slots=True)
class Piece:
    """Part of a reference function: a polynomial in °C that gives millivolts, up to a temperature."""

    up_to_celsius: float
    coefficients: tuple[float, ...]


# ITS-90 reference functions: NIST Monograph 175. Millivolts, lowest power first.
PIECES: dict[Kind, tuple[Piece, ...]] = {
    "J": (
        Piece(
            760.0,
            (
                0.0, 0.503811878150e-01, 0.304758369300e-04, -0.856810657200e-07, 0.132281952950e-09,
                -0.170529583370e-12, 0.209480906970e-15, -0.125383953360e-18, 0.156317256970e-22,
            ),
        ),
        Piece(
            1200.0,
            (
                0.296456256810e03, -0.149761277860e01, 0.317871039240e-02, -0.318476867010e-05,
                0.157208190040e-08, -0.306913690560e-12,
            ),
        ),
    ),
    "K": (
        Piece(
            0.0,
            (
                0.0, 0.394501280250e-01, 0.236223735980e-04, -0.328589067840e-06, -0.499048287770e-08,
                -0.675090591730e-10, -0.574103274280e-12, -0.310888728940e-14, -0.104516093650e-16,
                -0.198892668780e-19, -0.163226974860e-22,
            ),
        ),
        Piece(
            1372.0,
            (
                -0.176004136860e-01, 0.389212049750e-01, 0.185587700320e-04, -0.994575928740e-07,
                0.318409457190e-09, -0.560728448890e-12, 0.560750590590e-15, -0.320207200030e-18,
                0.971511471520e-22, -0.121047212750e-25,
            ),
        ),
    ),
    "T": (
        Piece(
            0.0,
            (
                0.0, 0.387481063640e-01, 0.441944343470e-04, 0.118443231050e-06, 0.200329735540e-07,
                0.901380195590e-09, 0.226511565930e-10, 0.360711542050e-12, 0.384939398830e-14,
                0.282135219250e-16, 0.142515947790e-18, 0.487686622860e-21, 0.107955392700e-23,
                0.139450270620e-26, 0.797951539270e-30,
            ),
        ),
        Piece(
            400.0,
            (
                0.0, 0.387481063640e-01, 0.332922278800e-04, 0.206182434040e-06, -0.218822568460e-08,
                0.109968809280e-10, -0.308157587720e-13, 0.454791352900e-16, -0.275129016730e-19,
            ),
        ),
    ),
}  # fmt: skip

# The further term of type K from 0 °C: a0 · exp(a1 · (t − a2)²).
K_EXPONENTIAL = (0.118597600000, -0.118343200000e-03, 126.968600000)

LOWEST_CELSIUS = -200.0
"""Below it the curves are flat and no brewer measures; the standard's functions go further down."""

HIGHEST_CELSIUS: dict[Kind, float] = {kind: pieces[-1].up_to_celsius for kind, pieces in PIECES.items()}


def emf_volts(kind: Kind, temperature_celsius: float) -> float:
    """Return the voltage of a thermocouple whose other end is at 0 °C.

    Parameters
    ----------
    kind : str
        "J", "K" or "T".
    temperature_celsius : float
        From -200 °C to 1200 (J), 1372 (K) or 400 °C (T).

    Raises
    ------
    ValueError
        If the kind is unknown or the temperature lies outside.

    References
    ----------
    ITS-90, NIST Monograph 175.

    Examples
    --------
    >>> round(emf_volts("K", 100.0) * 1000, 3)
    4.096
    """
    if kind not in PIECES:
        raise ValueError(f"kind is {kind!r}, expected one of {', '.join(PIECES)}")
    require_range("temperature_celsius", temperature_celsius, LOWEST_CELSIUS, HIGHEST_CELSIUS[kind])
    piece = next(piece for piece in PIECES[kind] if temperature_celsius <= piece.up_to_celsius)
    millivolts = 0.0
    for coefficient in reversed(piece.coefficients):
        millivolts = millivolts * temperature_celsius + coefficient
    if kind == "K" and temperature_celsius > 0.0:
        a0, a1, a2 = K_EXPONENTIAL
        millivolts += a0 * math.exp(a1 * (temperature_celsius - a2) ** 2)
    return millivolts / 1000


def emf_celsius(kind: Kind, volts: float) -> float:
    """Return the temperature at which a thermocouple gives a voltage, its other end at 0 °C.

    Raises
    ------
    ValueError
        If the kind is unknown or the voltage is not one that the kind gives in its range.

    Notes
    -----
    Bisection of the reference function itself, so that both ways agree within 1e-9 K. The published inverse
    polynomials are some hundredths of a kelvin off.

    References
    ----------
    ITS-90, NIST Monograph 175.

    Examples
    --------
    >>> round(emf_celsius("K", 0.004096), 1)
    100.0
    """
    if kind not in PIECES:
        raise ValueError(f"kind is {kind!r}, expected one of {', '.join(PIECES)}")
    low, high = LOWEST_CELSIUS, HIGHEST_CELSIUS[kind]
    require_range("volts", volts, emf_volts(kind, low), emf_volts(kind, high))
    for _ in range(60):
        middle = (low + high) / 2
        if emf_volts(kind, middle) < volts:
            low = middle
        else:
            high = middle
    return (low + high) / 2


def terminal_volts(kind: Kind, hot_celsius: float, terminal_celsius: float) -> float:
    """Return the voltage at the terminals of a good thermocouple.

    Raises
    ------
    ValueError
        As `emf_volts`.

    References
    ----------
    Law of intermediate temperatures.

    Examples
    --------
    >>> round(terminal_volts("K", 65.0, 25.0) * 1000, 3)
    1.643
    """
    return emf_volts(kind, hot_celsius) - emf_volts(kind, terminal_celsius)


def compensated_celsius(kind: Kind, volts: float, terminal_celsius: float) -> float:
    """Return the hot end's temperature from the voltage at the terminals and their temperature.

    Raises
    ------
    ValueError
        As `emf_volts` and `emf_celsius`.

    References
    ----------
    Law of intermediate temperatures.

    Examples
    --------
    >>> round(compensated_celsius("J", 0.00505, 17.0))
    112
    """
    return emf_celsius(kind, volts + emf_volts(kind, terminal_celsius))


@dataclass(frozen=True, slots=True)
class ThermocoupleWiring:
    """How a thermocouple reaches its controller.

    Attributes
    ----------
    kind : str
        The probe's type.
    input_kind : str, optional
        The type that the controller is set to; the probe's own if not given.
    extension : str, optional
        Metal of the wire from the probe's head to the controller; the probe's own if not given.
    probe_reversed, extension_reversed : bool
        Plus and minus changed, at the controller and at both ends of the extension.
    """

    kind: Kind
    input_kind: Kind | None = None
    extension: Wire | None = None
    probe_reversed: bool = False
    extension_reversed: bool = False


def shown_celsius(
    wiring: ThermocoupleWiring, hot_celsius: float, terminal_celsius: float, head_celsius: float
) -> float:
    """Return what a controller shows for a thermocouple.

    Parameters
    ----------
    wiring : ThermocoupleWiring
        Types, extension and polarity.
    hot_celsius : float
        At the tip.
    terminal_celsius : float
        At the controller's terminals, which it compensates for.
    head_celsius : float
        Where the extension begins.

    Returns
    -------
    float
        °C; infinity above what the set type can show, minus infinity below -200 °C.

    Raises
    ------
    ValueError
        If a temperature lies outside the probe's or the extension's range.

    Notes
    -----
    A copper extension loses the difference between head and terminals; a reversed one counts it twice the
    wrong way; a reversed probe falls on the display when it is heated.

    References
    ----------
    Law of intermediate temperatures and metals.

    Examples
    --------
    >>> round(shown_celsius(ThermocoupleWiring("K", extension="copper"), 65.0, 25.0, 45.0), 1)
    45.2
    """
    extension = wiring.extension or wiring.kind
    volts = terminal_volts(wiring.kind, hot_celsius, head_celsius)
    if extension != "copper":
        along = terminal_volts(extension, head_celsius, terminal_celsius)
        volts += -along if wiring.extension_reversed else along
    if wiring.probe_reversed:
        volts = -volts
    shown_kind = wiring.input_kind or wiring.kind
    total = volts + emf_volts(shown_kind, terminal_celsius)
    if total > emf_volts(shown_kind, HIGHEST_CELSIUS[shown_kind]):
        return math.inf
    if total < emf_volts(shown_kind, LOWEST_CELSIUS):
        return -math.inf
    return emf_celsius(shown_kind, total)
