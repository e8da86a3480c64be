"""A panel file that is wrong gets one message for each thing that is wrong, with its place."""

from __future__ import annotations

from pathlib import Path

import pytest

from diagnose.errors import FileError
from diagnose.knowledge.library import load_library
from diagnose.panel.reader import read_panel

LIBRARY = load_library()
BUNDLED = sorted((LIBRARY.folder / "panels").glob("*.yaml"))
SOUND = (LIBRARY.folder / "panels" / "shed_single_kettle.yaml").read_text(encoding="utf-8")

SLIPS = {
    "unknown kind": (
        "relay: relay, 40 A", "relay: relais, 40 A",
        "there is no kind of part 'relais'; expected a kind from knowledge/parts (did you mean 'relay'?)",
    ),
    "unknown terminal": (
        "contactor.t1 - outlet.a", "contactor.t9 - outlet.a",
        "contactor contactor has no terminal 't9'; expected one of l1, t1, l2, t2, a1, a2",
    ),
    "unknown part": (
        "contactor.t1 - outlet.a", "contactor.t1 - outlett.a",
        "there is no part 'outlett'; expected a part of this panel (did you mean 'outlet'?)",
    ),
    "floating part": (
        "  heat_lamp: lamp", "  spare_lamp: lamp, 230 V\n  heat_lamp: lamp",
        "lamp spare_lamp is joined to nothing that reaches the supply; expected a wire or a plug line for it",
    ),
    "wrong unit, short form": (
        "element, 3 kW, 230 V", "element, 3 kg, 230 V",
        "element element: '3 kg' fits none of its ratings; expected power (power), voltage (voltage)",
    ),
    "wrong unit, long form": (
        "element: element, 3 kW, 230 V", "element: {kind: element, power: 24 V, voltage: 230 V}",
        "element element, power: '24 V' is voltage; expected power (such as 4500 W)",
    ),
    "missing rating": (
        "element, 3 kW, 230 V", "element, 3 kW",
        "element element has no voltage; expected voltage: voltage",
    ),
    "impossible number": (
        "feed: 2.5 mm2, 18 m", "feed: 2.5 mm2, 1e999 m",
        "'1e999 m' is too large; expected a size and a length, such as '10 AWG, 2 m'",
    ),
    "negative number": (
        "element, 3 kW, 230 V", "element, -3 kW, 230 V",
        "element element, power: '-3 kW' is not above zero; expected a value above zero",
    ),
    "zero": (
        "element, 3 kW, 230 V", "element, 0 kW, 230 V",
        "element element, power: '0 kW' is not above zero; expected a value above zero",
    ),
    "missing key": (
        "region: europe\n", "",
        "the key 'region' is missing; expected keys panel, title, region, supply, parts, wires, references",
    ),
    "unknown region": (
        "region: europe", "region: mars",
        "unknown choice 'mars'; expected one of north_america, europe, united_kingdom, australia",
    ),
    "half a wire": (
        "  - contactor.t1 - outlet.a, 2.5 mm2", "  - contactor.t1",
        "'contactor.t1' is no wire; expected 'part.terminal - part.terminal, size, length'",
    ),
    "wire without terminal": (
        "  - contactor.t1 - outlet.a, 2.5 mm2", "  - contactor - outlet.a",
        "'contactor' doesn't say which terminal; expected one of l1, t1, l2, t2, a1, a2 after a dot",
    ),
    "plug that doesn't fit": (
        "  - cord - outlet\n", "  - cord - relay\n",
        "cord doesn't fit relay; expected a socket with a, b, earth",
    ),
    "no plug": (
        "  - cord - outlet\n", "  - relay - outlet\n",
        "relay relay has no plug; expected a kind of part that plugs in",
    ),
    "unknown supply": (
        "system: single_phase_230", "system: single_phase_231",
        None,
    ),
    "duplicate name": (
        "  heat_lamp: lamp", "  relay: lamp, 230 V\n  heat_lamp: lamp",
        "the key 'relay' comes twice (first on line 24); expected each key once",
    ),
}  # fmt: skip


def problems_of(tmp_path: Path, text: str) -> list[str]:
    path = tmp_path / "panel.yaml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(FileError) as caught:
        read_panel(path, LIBRARY, "panel.yaml")
    return str(caught.value).splitlines()


@pytest.mark.parametrize("path", BUNDLED, ids=lambda path: path.stem)
def test_bundled_panels_are_read(path: Path) -> None:
    panel = read_panel(path, LIBRARY)
    assert panel.name == path.stem
    assert panel.story


@pytest.mark.parametrize("slip", SLIPS)
def test_one_slip_gives_one_message_at_its_line(tmp_path: Path, slip: str) -> None:
    right, wrong, message = SLIPS[slip]
    assert right in SOUND
    text = SOUND.replace(right, wrong, 1)
    lines = problems_of(tmp_path, text)
    assert len(lines) == 1, lines
    file, line, column, rest = lines[0].split(":", 3)
    assert file == "panel.yaml"
    assert 1 <= int(line) <= len(text.splitlines())
    assert int(column) >= 1
    if message is not None:
        assert rest.strip() == message
    if slip not in ("missing key", "floating part", "duplicate name"):
        changed = next(n for n, (a, b) in enumerate(zip(SOUND.splitlines(), text.splitlines()), 1) if a != b)  # noqa: B905
        assert int(line) == changed


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "panel.yaml:1:1: the file is empty; expected keys with values"),
        ("- a\n- b\n", "panel.yaml:1:1: a list stands here; expected keys with values"),
        ("hello", "panel.yaml:1:1: the text 'hello' stands here; expected keys with values"),
        ("a: [b\nc: }", "panel.yaml:1:4: the list in [ ] is not closed or lacks a comma; expected [one, two]"),
    ],
)
def test_what_is_no_panel_at_all(tmp_path: Path, text: str, message: str) -> None:
    assert problems_of(tmp_path, text) == [message]


def test_two_parts_with_one_name_through_a_channel(tmp_path: Path) -> None:
    text = SOUND + "channels:\n  - name: [relay]\n    parts:\n      <name>: lamp, 230 V\n"
    assert "there are two parts named 'relay' (the other is on line 24)" in problems_of(tmp_path, text)[0]


def test_a_channel_gives_each_name_its_own_parts() -> None:
    panel = read_panel(LIBRARY.folder / "panels" / "cellar_two_kettle.yaml", LIBRARY)
    assert panel.parts["hlt_element"].ratings["power"] == 4500
    assert panel.parts["boil_element"].ratings["power"] == 5500
    assert panel.plugs["boil_cord"] == "boil_outlet"


def test_the_panels_own_wires_may_name_what_a_channel_makes(tmp_path: Path) -> None:
    text = SOUND.replace("wires:\n", "wires:\n  - contactor.a1 - spare_lamp - contactor.a2\n", 1)
    path = tmp_path / "panel.yaml"
    path.write_text(text + "channels:\n  - name: [spare]\n    parts:\n      <name>_lamp: lamp, 230 V\n")
    panel = read_panel(path, LIBRARY)
    assert {"wire_contactor_a1_to_spare_lamp_a", "wire_spare_lamp_b_to_contactor_a2"} <= panel.wires_by_name.keys()
