"""The words that a file of a kind of part may use."""

from __future__ import annotations

from diagnose.knowledge.expressions import Expression

PATHS = ("power", "control", "earth", "sensing")
STATES = ("powered", "output", "control", "coil", "tripped", "handle", "shown", "tip")
# What each form of branch may be told: the key that names the form, and the values that belong to it.
FORMS: dict[str, tuple[str, ...]] = {
    "resistance": ("ohms",),
    "contact": ("ohms",),
    "impedance": ("ohms", "reactance"),
    "snubber": ("ohms", "farads"),
    "triac": ("drop",),
    "leak": (),
    "source": ("volts", "ohms", "degrees"),
    "follow": ("ratio", "ohms"),
    "sensor": (),
    "thermocouple": ("ohms",),
}
MEASURES = ("voltage", "current", "power", "state", "trip", "shown", "error", "course", "warmth", "sag", "front")
SENSING_PLACES = ("tip", "head", "terminals")  # between which a stretch of thermocouple metal lies
EXPOSURES = ("outside", "isolated", "live")
REFERENCES = ("neutral", "earth", "leg_1", "leg_2", "leg_3")
WIRINGS = ("joined", "swapped", "moved")
CHANGES = {"half wave": "half_wave", "stalled": "stalled"}  # what a fault does to a branch, beside numbers
CONDITIONS = ("handle", "pressed", "coil", "tripped", "powered", "output", "control")
QUANTITIES = ("voltage_ac", "voltage_dc", "resistance", "current_ac", "insulation", "millivolts")
DEFAULT_CONTACT_OHMS = Expression("0.004", frozenset())
