"""The path of the current as a ladder of text: down to the load on one side, back to the source on the other."""

from diagnose.ladder.circuits import Circuit, circuit_for, circuits_of
from diagnose.ladder.draw import ASCII, LINES, Style, ladder_lines, panel_ladder
from diagnose.ladder.words import panel_words, spoken_lines

__all__ = [
    "ASCII",
    "LINES",
    "Circuit",
    "Style",
    "circuit_for",
    "circuits_of",
    "ladder_lines",
    "panel_ladder",
    "panel_words",
    "spoken_lines",
]
