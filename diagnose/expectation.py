"""Complaints that a sound panel may get: it heats as fast as its watts allow, and more was expected."""

from __future__ import annotations

from diagnose.circuit.netlist import Netlist
from diagnose.finish import Job, finish
from diagnose.knowledge.records import Complaint
from diagnose.loading import Finding
from diagnose.physics.water import boiling_celsius_at_altitude

RULE = "expectation"
FILLED = 0.8  # of what a kettle holds is in it: common practice
EXAMPLE_LITRES = 40.0  # where the panel file says nothing of the kettle: an example
TAP_CELSIUS = 15.0  # common practice


def expectations(netlist: Netlist, complaint: Complaint, subject: str | None) -> tuple[Finding, ...]:
    """That nothing is wrong with a heater of which a complaint only says that it is slow, with the time it takes.

    Only of complaints that a sound panel gets as well (`expects_more`).

    Raises CircuitError where the circuit can't be solved.
    """
    if complaint.expects_more is None or subject is None:
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
    return (
        Finding(
            RULE, (subject,), message, complaint.expects_more.advice, "worked out", "note", place, (complaint.name,)
        ),
    )
