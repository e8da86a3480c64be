"""What brewers type finds the complaint that they mean."""

from __future__ import annotations

import pytest

from diagnose.opening import all_complaints, bundled_panels, fitting, open_panel
from diagnose.said import matching, said_words

EVERY = list(all_complaints().values())
FIRST = 3
LEAST_PHRASES = 4
# As it might be typed with wet hands; none of these is a phrase of the knowledge base.
TYPED = [
    ("panel_dead", "whole thing is dead"),
    ("panel_dead", "no power to panel, no lights"),
    ("controller_dead", "PID screen blank"),
    ("controller_dead", "controller wont turn on, display black"),
    ("element_cold", "boil element not heating"),
    ("element_cold", "no heat at all in the kettle"),
    ("element_cold", "my heater is dead"),
    ("element_weak", "heating element weak"),
    ("element_weak", "only half the heat I should get"),
    ("element_weak", "barely a simmer, not enough power"),
    ("element_stuck_on", "wont stop heating"),
    ("element_stuck_on", "element is always on and runs past setpoint"),
    ("element_on_when_off", "heats with the switch turned off"),
    ("element_on_when_off", "switch is off and still heating"),
    ("overshoots", "overshooting by 5 degrees"),
    ("overshoots", "shoots past my setpoint then comes back"),
    ("hunts", "temp swings up and down, never settles"),
    ("hunts", "temperature oscillates around the setpoint"),
    ("ammeter_still", "ammeter stays at zero although it heats"),
    ("ammeter_still", "amp meter shows no amps but it is heating"),
    ("voltmeter_dark", "voltmeter on the door is blank"),
    ("voltmeter_dark", "no volts on the display of the door"),
    ("alarm_silent", "the buzzer never sounds"),
    ("alarm_silent", "timer is up and the alarm stays quiet"),
    ("slow_to_boil", "takes two hours to boil"),
    ("slow_to_boil", "never reaches a boil"),
    ("slower_than_before", "used to be faster, slower than last month"),
    ("slower_than_before", "each brew day takes longer than before"),
    ("element_scorched", "element is scorched, black crust"),
    ("element_scorched", "element glowed red"),
    ("element_scorched", "burnt taste in the wort"),
    ("plug_hot", "hot plug"),
    ("plug_hot", "brown melted socket"),
    ("plug_hot", "outlet gets really hot"),
    ("relay_hot", "SSR is overheating"),
    ("relay_hot", "heatsink heat sink too hot"),
    ("relay_smells", "hot smell from the panel"),
    ("relay_smells", "relay stinks of varnish"),
    ("probe_over_range", "open probe error"),
    ("probe_over_range", "sensor over range message"),
    ("probe_under_range", "reads minus something, way below zero"),
    ("probe_under_range", "shorted sensor message"),
    ("probe_reads_off", "temperature is wrong by a few degrees"),
    ("probe_reads_off", "doesnt agree with my other thermometer"),
    ("probe_jumps", "temp reading jumping around"),
    ("probe_jumps", "erratic numbers on display"),
    ("probe_off_everywhere", "constantly off by the same amount"),
    ("probe_off_everywhere", "same offset at every temperature"),
    ("probe_off_when_hot", "right when cold, wrong when hot"),
    ("probe_off_when_hot", "cold water fine, boil reads low"),
    ("probe_wanders", "probe drifts since cleaning"),
    ("probe_wanders", "sensor got wet and wanders"),
    ("probe_jumps_with_load", "reading jumps when pump comes on"),
    ("probe_jumps_with_load", "interference from the pump on the temperature"),
    ("controller_alarm", "alarm light on controller"),
    ("controller_alarm", "controller locked out with alarm"),
    ("pump_dead", "pump doesnt run"),
    ("pump_dead", "pump won't start, silent"),
    ("fan_quiet", "fan not turning"),
    ("fan_quiet", "cooling fan stopped"),
    ("lamp_dark", "lamp is out but it still heats"),
    ("lamp_dark", "indicator light burned out"),
    ("pump_hums", "pump humming not spinning"),
    ("pump_hums", "pump buzzes, hot, stands still"),
    ("pump_stops_hot", "pump cuts out when warm"),
    ("pump_stops_hot", "pump quits after a while and comes back when cooled"),
    ("lamp_on_no_heat", "light is lit but cold water"),
    ("lamp_on_no_heat", "lamp on, no heat"),
    ("lamp_glows", "lamp glows faintly when off"),
    ("lamp_glows", "neon never goes fully dark"),
    ("contactor_buzzes", "contactor chattering"),
    ("contactor_buzzes", "loud buzzing in box"),
    ("contactor_not_in", "contactor doesnt pull in"),
    ("contactor_not_in", "no clunk from contactor when switching on"),
    ("contactor_stays_in", "contactor welded, won't drop out"),
    ("contactor_stays_in", "contactor stuck closed"),
    ("display_resets", "controller reboots when element kicks in"),
    ("display_resets", "display flickers as heat comes on"),
    ("flow_poor", "pump running, no flow"),
    ("flow_poor", "just a trickle out of the pump hose"),
    ("coil_gives_nothing", "mash not warming from the coil"),
    ("coil_gives_nothing", "HX coil does nothing"),
    ("breaker_trips", "breaker pops when element goes on"),
    ("breaker_trips", "MCB trips instantly with the element"),
    ("breaker_trips_later", "breaker trips after 10 minutes"),
    ("breaker_trips_later", "breaker goes mid boil"),
    ("gfci_trips_at_switch_on", "RCD won't reset, everything off"),
    ("gfci_trips_at_switch_on", "gfi trips as soon as I plug it in"),
    ("gfci_trips_with_element", "GFCI trips when I plug the element in"),
    ("gfci_trips_with_element", "rcd trips on starting heat"),
    ("gfci_trips_later", "GFCI trips after half an hour once hot"),
    ("gfci_trips_later", "rcd trips mid boil"),
    ("heat_at_times", "heating comes and goes"),
    ("heat_at_times", "only heats sometimes when I wiggle the cord"),
    ("display_at_times", "controller screen goes dark and then back"),
    ("display_at_times", "PID cuts out and restarts by itself"),
    ("pump_at_times", "pump runs only sometimes"),
    ("pump_at_times", "pump stops and starts by itself"),
    ("gfci_trips_at_times", "GFCI trips once in a while, random"),
    ("gfci_trips_at_times", "rcd now and then"),
    ("gfci_trips_at_times", "GFCI trips sometimes"),
    ("gfci_trips_at_times", "the GFCI trips sometimes when heating"),
    ("heat_at_times", "the element is cold sometimes"),
    ("heat_at_times", "no heat now and then"),
    ("heat_at_times", "heating is intermittent"),
    ("pump_at_times", "the pump is dead at times"),
    ("display_at_times", "controller is dark now and then"),
    ("gfci_trips_with_pump", "pump trips GFCI"),
    ("gfci_trips_with_pump", "turning on pump kills RCD"),
]


def test_every_complaint_is_typed_for_and_none_of_it_is_copied() -> None:
    assert {name for name, _ in TYPED} == {complaint.name for complaint in EVERY}
    assert len(TYPED) >= 80
    said = {phrase.lower() for complaint in EVERY for phrase in (complaint.title, *complaint.says)}
    own = [typed for _, typed in TYPED if typed.lower() not in said]
    assert len(own) >= 80


@pytest.mark.parametrize(("name", "typed"), TYPED)
def test_typed_words_find_their_complaint_among_the_first(name: str, typed: str) -> None:
    found = [complaint.name for complaint in matching(typed, EVERY)]
    assert name in found[:FIRST], found


@pytest.mark.parametrize("name", [entry.name for entry in bundled_panels()])
def test_they_do_so_on_each_panel_that_can_have_it(name: str) -> None:
    offered = fitting(open_panel(name), EVERY)
    names = {complaint.name for complaint in offered}
    missed = [
        typed
        for meant, typed in TYPED
        if meant in names and meant not in [complaint.name for complaint in matching(typed, offered)][:FIRST]
    ]
    assert missed == []


@pytest.mark.parametrize("complaint", EVERY, ids=lambda complaint: complaint.name)
def test_each_complaint_is_said_in_several_ways_and_found_by_each(complaint: object) -> None:
    from diagnose.knowledge.records import Complaint

    assert isinstance(complaint, Complaint)
    assert len(complaint.says) >= LEAST_PHRASES
    assert len({phrase.lower() for phrase in complaint.says}) == len(complaint.says)
    for phrase in (complaint.title, *complaint.says):
        assert complaint in matching(phrase, EVERY)[:FIRST], phrase


@pytest.mark.parametrize("typed", ["", "the is a", "xylophone", "???"])
def test_words_that_say_nothing_find_nothing(typed: str) -> None:
    assert matching(typed, EVERY) == []


def test_words_are_compared_in_one_form() -> None:
    assert said_words("The RCD trips") == said_words("gfci tripped") == ["gfci", "trip"]
