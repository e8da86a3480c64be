"""Files of kinds: what is wrong in one is told with its place, and what the bundled ones promise is kept."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from diagnose.errors import FileError
from diagnose.knowledge.kinds import read_kind
from diagnose.knowledge.library import load_library
from diagnose.knowledge.records import Kind
from diagnose.yamlfile import Mapping, read

LIBRARY = load_library()
FILES = sorted((LIBRARY.folder / "parts").glob("*.yaml"))
SOUND = """kind: thing
title: a thing
role: thing
ratings:
  voltage: {dimension: voltage}
terminals:
  a: {title: A}
  b: {title: B}
  c: {title: C}
handle: {positions: [out, in], rest: out, run: in}
branches:
  primary: {form: impedance, from: a, to: b, ohms: "1", reactance: "10"}
  winding: {form: follow, of: primary, from: c, to: b, ratio: 24 / voltage, ohms: "1"}
  button: {form: contact, from: a, to: c, closed: pressed in}
faults:
  crossed:
    title: crossed
    rate: rare
    does: {swapped: a - b}
    new_only: yes
    remedy: Exchange the two wires.
    proof: [supply_volts]
  bonded:
    title: bonded
    rate: rare
    does: {joined: a - neutral, moved: neutral - earth}
    remedy: Take the bond out.
    proof: [supply_volts]
"""


def kind_of(folder: Path, text: str) -> Kind:
    path = folder / "thing.yaml"
    path.write_text(text, encoding="utf-8")
    return read_kind(path, "thing.yaml")


def test_windings_buttons_and_wiring_mistakes_are_read(tmp_path: Path) -> None:
    kind = kind_of(tmp_path, SOUND)
    assert (kind.branches["winding"].form, kind.branches["winding"].of) == ("follow", "primary")
    (pressed,) = kind.branches["button"].closed
    assert (pressed.what, pressed.values) == ("pressed", ("in",))
    (crossed,) = kind.faults["crossed"].effects
    assert (crossed.change, crossed.ends) == ("swapped", ("a", "b"))
    assert kind.faults["crossed"].new_only
    assert not kind.faults["bonded"].new_only
    assert [effect.change for effect in kind.faults["bonded"].effects] == ["joined", "moved"]
    assert kind.bad_probe == "rest"


SLIPS = {
    "a branch that nothing follows": (
        "of: primary, ", "", "winding: 'of' belongs to a follow, and a follow needs it; expected of: a branch",
    ),
    "a follow of what is not there": (
        "of: primary", "of: other", "there is no branch 'other'; expected one of button, primary",
    ),
    "a follow without a ratio": (
        "ratio: 24 / voltage, ", "", "a follow needs 'ratio'; expected ratio: a number or an expression",
    ),
    "a button without that position": (
        "closed: pressed in", "closed: pressed down", "there is no position 'down'; expected one of in, out",
    ),
    "no condition at all": (
        "closed: pressed in", "closed: when I say so",
        "'when I say so' is no condition; expected handle POSITION, pressed POSITION, coil, tripped, powered, output "
        "or control",
    ),
    "one end only": ("swapped: a - b", "swapped: a", "'a' is no pair of ends; expected two ends as 'a - b'"),
    "an end that is not the part's": (
        "swapped: a - b", "swapped: a - neutral", "there is no terminal 'neutral'; expected one of a, b, c",
    ),
    "an end that is nowhere": (
        "joined: a - neutral", "joined: a - nowhere",
        "there is no terminal or reference 'nowhere'; expected one of a, b, c, earth, leg_1, leg_2, leg_3, neutral",
    ),
    "a branch called a change": (
        "  button: {form", "  swapped: {form",
        "a branch can't be named 'swapped', which is a change of wires; expected another name",
    ),
}  # fmt: skip


@pytest.mark.parametrize("slip", SLIPS)
def test_one_slip_gives_its_message(tmp_path: Path, slip: str) -> None:
    right, wrong, message = SLIPS[slip]
    assert SOUND.count(right) == 1
    with pytest.raises(FileError) as caught:
        kind_of(tmp_path, SOUND.replace(right, wrong))
    first, *_ = str(caught.value).splitlines()
    file, line, column, rest = first.split(":", 3)
    assert file == "thing.yaml" and int(line) >= 1 and int(column) >= 1
    assert rest.strip() == message


# The bundled kinds ---------------------------------------------------------------------------------------


def proofs() -> set[str]:
    node = read(LIBRARY.folder / "proofs.yaml")
    assert isinstance(node, Mapping)
    return set(node.keys())


@pytest.mark.parametrize("name", sorted(LIBRARY.kinds))
def test_every_fault_has_a_remedy_and_proofs_that_exist(name: str) -> None:
    for fault in LIBRARY.kinds[name].faults.values():
        assert len(fault.remedy.text) > 10
        assert fault.remedy.proof, f"{name}: {fault.name} needs a proof"
        assert set(fault.remedy.proof) <= proofs()


DEFEATS = re.compile(
    r"\b(bypass|bridge|jumper|wire around|remove the earth|lift the earth|disable|hold (it )?in|tape|larger fuse"
    r"|cut the earth|without the (earth|rcd|gfci))\b",
    re.IGNORECASE,
)


@pytest.mark.parametrize("name", sorted(LIBRARY.kinds))
def test_no_remedy_defeats_what_protects(name: str) -> None:
    """Not a device, not an earth, not an interlock: not even to test."""
    for fault in LIBRARY.kinds[name].faults.values():
        assert not DEFEATS.search(fault.remedy.text), fault.remedy.text


def test_the_earth_is_taken_off_nothing() -> None:
    """A neutral bond is taken out; of what protects, every sentence says that it stays."""
    bond = LIBRARY.kinds["earth_bar"].faults["neutral_bonded"].remedy.text
    assert "The earth stays on every part that has one." in bond


SOURCED = ("from memory", "common practice", "trade data", "trade page", "IEC", "EN ", "UL ", "NBSIR", "ANSI")


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_numbers_of_branches_have_a_source_near(path: Path) -> None:
    """Each file whose branches hold numbers of their own names where they are from."""
    text = path.read_text(encoding="utf-8")
    numbers = re.search(r"(ohms|drop|farads|volts|reactance): [^,}]*\d", text)
    if numbers and "form: contact" not in numbers.string[numbers.start() - 60 : numbers.start()]:
        assert any(word in text for word in SOURCED)


@pytest.mark.parametrize("supply", sorted(LIBRARY.supplies))
def test_every_supply_names_where_its_range_is_from(supply: str) -> None:
    text = (LIBRARY.folder / "supplies.yaml").read_text(encoding="utf-8")
    block = text.split(f"\n{supply}:\n", 1)[1].split("\n  conductors:")[0]
    assert re.search(r"# (ANSI C84.1|IEC 60038)[^\n]*\n  range:", block)
    system = LIBRARY.supplies[supply]
    assert system.frequency_hertz in (50, 60)
    assert {conductor.name for conductor in system.conductors} >= {"n", "earth"}
    service = LIBRARY.kinds[system.service]
    assert {"bond", "neutral"} <= service.branches.keys()
    for conductor in system.conductors:
        assert conductor.service in service.terminals
        assert conductor.wall in LIBRARY.kinds[system.wall].terminals


# From below and up to these ends: half of the lowest level to twice the highest.
RANGES = [
    ("wire", "joint", 0.02, 5.0),
    ("element", "leak_at_end", 1e3, 1e6),
    ("element", "leak_at_other_end", 1e3, 1e6),
    ("element_star", "leak_a", 1e3, 1e6),
    ("pump", "leak", 1e3, 1e6),
    ("contactor_3", "pole_1_burnt", 0.02, 5.0),
    ("main_switch_4", "pole_4_burnt", 0.02, 5.0),
    ("cord", "blade_burnt", 0.02, 5.0),
    ("cord_4", "pin_a_burnt", 0.02, 5.0),
]


@pytest.mark.parametrize(("kind", "fault", "low", "high"), RANGES)
def test_levels_cover_their_range(kind: str, fault: str, low: float, high: float) -> None:
    levels = LIBRARY.kinds[kind].faults[fault].levels
    assert min(levels) / 2 <= low * 1.001
    assert max(levels) * 2 >= high * 0.999
