"""Conductor colours and emergency numbers against the standards that name them, as recalled ('from memory')."""

from __future__ import annotations

import pytest

from diagnose.knowledge.regions import load_regions

EUROPE = ("europe", "united_kingdom")


@pytest.mark.parametrize(
    ("region", "function", "words", "source"),
    [
        ("north_america", "neutral", ("white", "gray"), "NEC 200.6(A), from memory"),
        ("north_america", "earth", ("green", "bare", "yellow"), "NEC 250.119, from memory"),
        # 210.5(C)(1) asks for identification by phase and system and names no colours; black, red, blue is practice.
        ("north_america", "leg_1", ("black", "red"), "NEC 210.5(C) and common practice, from memory"),
        ("north_america", "leg_3", ("blue",), "NEC 210.5(C) and common practice, from memory"),
        *[(region, "leg_1", ("brown",), "IEC 60445 6.2, from memory") for region in EUROPE],
        *[(region, "leg_2", ("black",), "IEC 60445 6.2, from memory") for region in EUROPE],
        *[(region, "leg_3", ("grey",), "IEC 60445 6.2, from memory") for region in EUROPE],
        *[(region, "neutral", ("blue",), "IEC 60445 6.2.2, from memory") for region in EUROPE],
        *[(region, "earth", ("green", "yellow"), "IEC 60445 6.3.2, from memory") for region in EUROPE],
        *[(region, "dc_plus", ("red",), "IEC 60445:2017, from memory") for region in EUROPE],
        ("united_kingdom", "leg_1", ("red", "2006"), "BS 7671 table 51 and its old colours, from memory"),
        ("australia", "leg_1", ("red", "brown"), "AS/NZS 3000 table 3.4, from memory"),
        ("australia", "leg_2", ("white",), "AS/NZS 3000 table 3.4 recommends it, from memory"),
        ("australia", "leg_3", ("dark blue",), "AS/NZS 3000 table 3.4 recommends it, from memory"),
        ("australia", "neutral", ("black", "light blue"), "AS/NZS 3000 table 3.4, from memory"),
        ("australia", "earth", ("green", "yellow"), "AS/NZS 3000 table 3.4, from memory"),
    ],
)
def test_colours_are_those_of_the_standard(region: str, function: str, words: tuple[str, ...], source: str) -> None:
    usual = load_regions()[region].colours[function].usual
    assert all(word in usual for word in words), source


@pytest.mark.parametrize("region", load_regions())
def test_no_live_conductor_has_the_colour_of_the_earth(region: str) -> None:
    """IEC 60445 6.3.2, NEC 250.119 and AS/NZS 3000 3.8 keep green and yellow to the earth, from memory."""
    colours = load_regions()[region].colours
    for function in ("leg_1", "leg_2", "leg_3", "neutral"):
        now = colours[function].usual.partition("(")[0]  # what is wired today, not what was before
        assert "green" not in now and "yellow" not in now


@pytest.mark.parametrize(
    ("region", "number"), [("north_america", "911"), ("europe", "112"), ("united_kingdom", "999"), ("australia", "000")]
)
def test_emergency_numbers(region: str, number: str) -> None:
    """The regions' own public services, from memory."""
    assert number in load_regions()[region].emergency


@pytest.mark.parametrize(
    ("region", "codes"),
    [
        ("north_america", ("NFPA 70",)),
        ("europe", ("IEC 60364",)),
        ("united_kingdom", ("BS 7671",)),
        ("australia", ("AS/NZS 3000", "AS/NZS 3008")),
    ],
)
def test_codes_are_pointed_to(region: str, codes: tuple[str, ...]) -> None:
    assert all(code in " ".join(load_regions()[region].codes) for code in codes)
