"""What to buy: every rating follows from the panel's file and its loads, by arithmetic done here again."""

from __future__ import annotations

from functools import lru_cache

import pytest

from diagnose.knowledge.records import Remedy
from diagnose.loading import Study, study
from diagnose.opening import bundled_panels, open_panel
from diagnose.report.buying import purchase, purchases, replaces


@lru_cache(maxsize=16)
def of(name: str) -> Study:
    return study(open_panel(name))


def ratings(panel: str, part: str) -> dict[str, str]:
    return dict(purchase(of(panel), part).ratings)


def test_an_element_by_volts_watts_and_ohms() -> None:
    """5.5 kW at 240 V: 57600 / 5500 = 10.47 ohm, +11.1 % / -4.8 % of it by IEC 60335-1, and 22.9 A."""
    told = ratings("cellar_two_kettle", "boil_element")
    assert told["volts"] == "240 V" and told["watts"] == "5.50 kW"
    assert told["ohms, cold"] == "10.0–11.6 Ω between its poles"
    assert told["takes"] == "22.9 A at the 240 V that it gets here"


def test_an_element_on_two_legs_of_three_phases_takes_less_than_it_is_made_for() -> None:
    told, part = ratings("loft_dairy_208", "element"), open_panel("loft_dairy_208").parts["element"]
    gets = 3**0.5 * 120
    amperes = part.ratings["power"] / part.ratings["voltage"] ** 2 * gets
    assert told["takes"] == f"{amperes:.1f} A at the 208 V that it gets here"


def test_a_relay_with_its_margin_and_its_heat_sink() -> None:
    """22.2 A at the sound panel's volts is 80 % of 27.8 A; 35 K over the most heat at it is 1.0 K/W."""
    told = ratings("cellar_two_kettle", "boil_relay")
    carried = of("cellar_two_kettle").carried("boil_relay", "triac")
    assert told["amperes"].startswith(f"{carried / 0.8:.1f} A or more: it carries {carried:.1f} A")
    assert told["heat sink"].startswith(f"{35 / (1.6 * carried):.1f} K/W or better")
    assert told["in the panel file"] == "40.0 A" and told["volts"] == "240 V AC or more"


@pytest.mark.parametrize(
    ("panel", "part", "wanted"),
    [
        ("cellar_two_kettle", "boil_fuse", {"rating": "1.00 A, never a larger one", "type": "time-lag (T), IEC 60127"}),
        ("cellar_two_kettle", "boil_contactor", {"coil": "120 V AC, 60 Hz", "poles": "2"}),
        ("stable_interlocked", "heat_contactor", {"coil": "24.0 V AC, 60 Hz", "poles": "2"}),
        ("mill_three_phase", "boil_contactor", {"coil": "230 V AC, 50 Hz", "poles": "3"}),
        ("cellar_two_kettle", "boil_breaker", {"type": "UL 489", "poles": "2", "rating": "30.0 A, never a larger one"}),
        ("shed_single_kettle", "probe", {"sensor": "Pt100", "wires": "3"}),
        ("pantry_thermistor", "kettle_controller", {"supply": "230 V AC"}),
        ("cellar_two_kettle", "boil_cord", {"length": "2.00 m", "volts": "240 V AC or more"}),
        ("cellar_two_kettle", "boil_outlet", {"amperes": "30.0 A or more: it carries 22.9 A, behind 30.0 A"}),
    ],
)
def test_other_parts_by_what_their_files_and_their_places_say(panel: str, part: str, wanted: dict[str, str]) -> None:
    told = ratings(panel, part)
    assert {key: told.get(key) for key in wanted} == wanted


@pytest.mark.parametrize("name", [entry.name for entry in bundled_panels()])
def test_every_part_and_wire_of_every_panel_can_be_bought(name: str) -> None:
    panel = of(name).panel
    for part in (*panel.parts, *panel.wires_by_name):
        made = purchases(of(name), part, "Replace it.")
        if panel.at_the_service(part):
            assert made == (), "what belongs to the building is the electrician's to bring"
        else:
            assert made[0].what == panel.kind_of(part).title
            assert all(key and value and "nan" not in value and "inf" not in value for key, value in made[0].ratings)
            assert made[0].ratings or not panel.kind_of(part).ratings


def test_what_goes_with_it_is_bought_with_it() -> None:
    study_ = of("cellar_two_kettle")
    with_fuse = purchases(
        study_, "boil_controller", "Replace the controller, then its fuse with one of the same rating."
    )
    assert [each.part for each in with_fuse] == ["boil controller", "boil fuse"]
    both = purchases(study_, "boil_cord", "Replace plug and outlet together, with the same rating or higher.")
    assert [each.part for each in both] == ["boil cord", "boil outlet"]


@pytest.mark.parametrize(
    ("text", "buys"),
    [
        ("Replace the relay.", True),
        ("Take it out of service now and replace it.", True),
        ("Fit a coil made for the voltage.", True),
        ("Cut back to clean copper, fit a new terminal.", True),
        ("Set it to automatic.", False),
        ("Clean the fins, stand them upright.", False),
    ],
)
def test_a_remedy_says_whether_something_is_bought(text: str, buys: bool) -> None:
    assert replaces(Remedy(text, (), electrician=False)) == buys
