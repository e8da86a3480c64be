"""Complaints that a sound panel may get: it heats as fast as its watts allow, and more was expected."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from diagnose.circuit.netlist import Netlist
from diagnose.finish import Job, finish
from diagnose.loading import Finding
from diagnose.physics.water import boiling_celsius_at_altitude

RULE = "expectation"
FILLED = 0.8  # of what a kettle holds is in it: common practice
EXAMPLE_LITRES = 40.0  # where the panel file says nothing of the kettle: an example
TAP_CELSIUS = 15.0  # common practice
# What else is said to those who complain so.
COMPLAINTS: Mapping[str, str] = MappingProxyType(
    {
        "slow_to_boil": "Less in the kettle, the lid on, warmer water to begin with, a jacket. A larger element needs "
        "a panel, a breaker and a supply made for it",
        "slower_than_before": "Compare the same volume from the same temperature with the same lid. Scale or a burnt "
        "film takes nothing from the power, which the ohms set, but the wire beneath runs hotter and dies sooner: "
        "clean it",
    }
)


# How often it is that, next to how often parts fail (knowledge/rates.yaml, 1 is occasional): most who find a kettle
# slow expected more of its watts; one that was quicker a month ago mostly has changed. Common practice, a judgement.
RATES: Mapping[str, float] = MappingProxyType({"slow_to_boil": 3.0, "slower_than_before": 1.0})


def expectations(netlist: Netlist, complaint: str, subject: str | None) -> tuple[Finding, ...]:
    """That nothing is wrong with a heater of which a complaint only says that it is slow, with the time it takes.

    Raises CircuitError where the circuit can't be solved.
    """
    if complaint not in COMPLAINTS or subject is None:
        return ()
    panel = netlist.panel
    kettle = panel.kettles.get(subject)
    litres = FILLED * kettle.litres if kettle else EXAMPLE_LITRES
    end = boiling_celsius_at_altitude(kettle.altitude_metres if kettle else 0.0)
    answer = finish(netlist, [], Job(litres, TAP_CELSIUS, end))
    option = next((each for each in answer.options if each.heater == subject), None)
    if option is None:
        return ()
    low, high = option.minutes
    message = (
        f"{litres:.0f} L from {TAP_CELSIUS:.0f} °C to the boil take {low:.0f} to {high:.0f} minutes with all its power"
        f"{'' if kettle else ', and twice the volume twice as long'}"
    )
    place = panel.parts[subject].place
    return (Finding(RULE, (subject,), message, COMPLAINTS[complaint], "worked out", "note", place, (complaint,)),)
