"""How much heat an element puts through its skin, where the panel file says how large that is."""

from __future__ import annotations

from collections.abc import Iterator

from diagnose.errors import Level
from diagnose.loading import Finding, Study
from diagnose.panel.records import Panel
from diagnose.physics.elements import SQUARE_METRES_PER_SQUARE_INCH
from diagnose.units import show

# Watts for each square inch: gentle to wort up to the first, and it scorches above the second. Common practice, as in
# what is said of an element that is too dense (knowledge/parts/element.yaml).
GENTLE, SCORCHES = 50.0, 100.0
SOURCE = "common practice"


TOO_DENSE = "too_dense"  # the fault that it is about
LIKELIER = 10.0  # a word or two up or down in how often that happens (knowledge/rates.yaml): a judgement


def square_inch_watts(panel: Panel, heater: str) -> float | None:
    """Watts for each square inch of an element; None where the panel file does not say how large it is."""
    kettle = panel.kettles.get(heater)
    watts = panel.parts[heater].ratings.get("power")
    if kettle is None or kettle.surface_square_metres is None or watts is None:
        return None
    return watts / kettle.surface_square_metres * SQUARE_METRES_PER_SQUARE_INCH


def density_factor(panel: Panel, part: str, fault: str) -> float:
    """How much likelier it is than of any element that wort burns onto this one for its density."""
    density = square_inch_watts(panel, part) if fault == TOO_DENSE else None
    if density is None:
        return 1.0
    return LIKELIER if density > SCORCHES else 1 / LIKELIER if density <= GENTLE else 1.0


def elements_too_dense(of: Study) -> Iterator[Finding]:
    """Elements with more watts on their surface than wort bears: a note where it is not gentle, a warning above."""
    for heater, kettle in of.panel.kettles.items():
        density = square_inch_watts(of.panel, heater)
        if density is None or density <= GENTLE or kettle.surface_square_metres is None:
            continue
        part = of.panel.parts[heater]
        message = (
            f"{part.label} puts {show(part.ratings['power'], 'power')} through "
            f"{1e4 * kettle.surface_square_metres:.0f} cm²: {density:.0f} W for each square inch"
        )
        expected = f"about {GENTLE:.0f} to be gentle to wort, and no more than {SCORCHES:.0f}"
        severity: Level = "warning" if density > SCORCHES else "note"
        yield Finding("watt_density", (heater,), message, expected, SOURCE, severity, part.place)
