"""What no text may advise: the patterns are shown to work, then held against every text of the project."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest
import yaml

from diagnose.knowledge.library import knowledge_folder
from diagnose.knowledge.never import RULES, findings_in

BAD = """
defeats protection | Bypass the GFCI and see whether it heats.
defeats protection | Bridge the two terminals of the float switch.
defeats protection | Put a jumper across the interlock.
defeats protection | Defeat the door switch while you measure.
defeats protection | If it does not start, bridge the stop button.
defeats protection | If it does not start bridge the stop button.
defeats protection | Do not worry, just bypass the RCD for a minute.
defeats protection | Don't hesitate to jumper the thermal cut-out.
defeats protection | There is no harm in bridging the interlock for a test.
defeats protection | Nothing wrong with bypassing the emergency stop here.
defeats protection | It is not dangerous to bridge a fuse for a second.
defeats protection | Short out the relay to see if the element heats.
defeats protection | Shorting the contact tells you whether the coil is at fault.
defeats protection | Override the level switch for this brew.
defeats protection | Disable the RCD until the element has dried.
defeats protection | Take the breaker out of the circuit.
defeats protection | Run the panel without the GFCI for now.
defeats protection | Try it on an outlet that is unprotected, or move the plug to one which has no RCD.
defeats protection | Wire around the overload and try again.
defeats protection | For this one test only, the interlock may be bypassed.
defeats protection | Never mind the warning and bypass it.
defeats protection | Use a cheater to keep it running.
defeats protection | Link out the emergency stop.
defeats protection | It is not only quick to bypass the fuse, it also shows the fault.
lifts the earth | Disconnect the earth and see if it still trips.
lifts the earth | Lift the ground wire at the element.
lifts the earth | Remove the earth pin from the plug.
lifts the earth | Cut the ground prong off.
lifts the earth | Use a two-prong adapter to see whether the leak goes away.
lifts the earth | Try the kettle without its earth.
lifts the earth | Take off the earth wire and measure again.
lifts the earth | The panel will run ungrounded for the test.
lifts the earth | A ground lift stops the trips.
lifts the earth | Leave the earth off until the new element comes.
holds a contact by hand | Hold in the contactor with a dry stick.
holds a contact by hand | Push the contactor in by hand and listen.
holds a contact by hand | Tape the start button down.
holds a contact by hand | Tape down the button so that it stays on.
holds a contact by hand | Wedge the relay closed.
holds a contact by hand | Press the plunger down with a screwdriver.
holds a contact by hand | Zip-tie the lid switch so that the door can stay open.
holds a contact by hand | Hold the breaker on while it heats.
fits a larger fuse or breaker | Fit a larger fuse.
fits a larger fuse or breaker | Replace the breaker with a bigger one.
fits a larger fuse or breaker | Swap the fuse for one of the next size up.
fits a larger fuse or breaker | Upgrade to a 50 A breaker and it will stop tripping.
fits a larger fuse or breaker | Use a higher rated fuse if it blows again.
fits a larger fuse or breaker | Wrap the fuse in foil to get through the day.
fits a larger fuse or breaker | A nail in place of the fuse gets you home.
fits a larger fuse or breaker | Raise the trip setting until it holds.
resets again and again | Reset it again and again until the element dries.
resets again and again | Keep resetting the breaker.
resets again and again | Set it as often as needed.
resets again and again | If it trips, reset it and try again.
resets again and again | Turn the breaker on a few times, it may stay.
resets again and again | Push the button until it holds.
resets again and again | Reset it whenever it trips.
works live | Tighten the screws with the power on.
works live | Replace the relay while the panel is live.
works live | There is no need to isolate for this.
works live | Change the fuse without switching off.
works live | Leave the supply on while you move the wire.
works live | Skip the proving, it takes too long.
works live | Open the box while it is heating and the supply is on.
works live | You can work live here.
calls it safe | The panel is safe now.
calls it safe | Once the switch is off it is safe to touch.
calls it safe | Twelve volts cannot hurt you.
calls it safe | There is no danger in the box.
calls it safe | The outlet is perfectly safe.
touches conductors | Touch the terminal to see if it is warm.
touches conductors | Grab the bare wire and pull.
touches conductors | Feel the busbar with the back of your hand.
touches conductors | Put your bare hand on the heat sink terminals.
touches conductors | Hold the two wires together.
measures ohms live | Measure the resistance with the supply on.
measures ohms live | Check continuity while the panel is live.
measures ohms live | With the power on, measure ohms across the element.
measures ohms live | Put the insulation tester on it while it is still plugged in.
"""
GOOD = """
No safety device, earth or interlock is ever bypassed.
A protective device is never bridged, not even to test.
Never bypass the GFCI.
Do not bridge, jumper or bypass anything in the box.
Nobody holds the contactor in, not even for a second.
Do not hold in the contactor.
Bypassing an interlock is never done.
Bridging a fuse is forbidden.
The earth is never lifted.
Never disconnect the earth.
It is not used without its earth.
Do not use it until the earth is whole.
Replace the breaker with one of the same kind and rating - never a larger one.
Replace it once with one of the same rating and class - never a larger one.
If it blows again something behind it is shorted.
A device that trips at once twice stays off. Do not set it again to see.
Set it once. If it trips at once, leave it off - do not set it again.
Press its test button: it must trip at once. Set it again.
Supply off and isolated. Replace the outlet, and find how the water got there.
Turn off the breaker that feeds the panel, and lock it or tape and tag it.
Only if you are trained for live work and the law where you live allows it.
Open the lid. Touch nothing inside yet.
Do not touch any terminal.
If it is safe to reach, cut the supply at the far end.
Never take it for safe: prove it dead.
Ohms are never measured on a live circuit.
Resistance is not read with the supply on.
Touch the red probe to the terminal.
Touch one probe to each blade.
Hold the cable still, and press the connector gently to each side.
Find what welded it, such as a short or a load beyond its rating.
Shorted between its poles.
Its holding contact welded, so it starts by itself when the supply comes back.
Replace plug and outlet together. Use the same rating or higher.
Measure the insulation before it is plugged in again.
Have an electrician replace it. It protects your life - nobody takes it out of the circuit to see.
With the supply off, from the earth pin to the metal it protects: under 0.5 ohm.
Replace the relay, isolated and proved dead.
When it trips, never set it again to look.
From each live conductor to neutral.
Neutral is bonded to earth at the service and nowhere else.
"""
BAD_ROWS = [tuple(part.strip() for part in line.split("|", 1)) for line in BAD.strip().splitlines()]
GOOD_ROWS = GOOD.strip().splitlines()
PACKAGE = Path(__file__).resolve().parents[2] / "diagnose"


@pytest.mark.parametrize(("rule", "sentence"), BAD_ROWS)
def test_bad_advice_is_caught_by_its_rule(rule: str, sentence: str) -> None:
    assert rule in {finding.rule for finding in findings_in(sentence)}


@pytest.mark.parametrize("sentence", GOOD_ROWS)
def test_a_warning_is_not_advice(sentence: str) -> None:
    assert findings_in(sentence) == ()


def test_the_tables_are_long_enough_and_use_every_rule() -> None:
    assert len(BAD_ROWS) >= 60
    assert len(GOOD_ROWS) >= 30
    assert {rule for rule, _ in BAD_ROWS} == {rule.name for rule in RULES}


def test_a_finding_says_which_rule_why_and_where() -> None:
    (finding,) = findings_in("Switch off. Bridge the fuse. Go home.")
    assert finding.rule == "defeats protection"
    assert "last thing between a fault and a person" in finding.reason
    assert finding.sentence == "Bridge the fuse."


def texts_in(node: object, at: str) -> Iterator[tuple[str, str]]:
    """Every text of a YAML file that is more than a word, with where it stands."""
    if isinstance(node, dict):
        for key, value in node.items():
            yield from texts_in(value, f"{at}.{key}")
    elif isinstance(node, list):
        for value in node:
            yield from texts_in(value, at)
    elif isinstance(node, str) and " " in node.strip():
        yield at, node


FILES = sorted(knowledge_folder().rglob("*.yaml"))


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_no_text_of_the_knowledge_base_advises_it(path: Path) -> None:
    told = list(texts_in(yaml.safe_load(path.read_text(encoding="utf-8")), path.stem))
    assert told or path.stem in ("supplies",)
    assert [(at, found.rule, found.sentence) for at, text in told for found in findings_in(text)] == []


def strings_in(path: Path) -> Iterator[str]:
    """Every string of a module that is more than a word, but no docstring; holes of f-strings are '...'."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    documented = (ast.Module, ast.ClassDef, ast.FunctionDef)
    left_out = {
        id(node.body[0].value)
        for node in ast.walk(tree)
        if isinstance(node, documented) and node.body and isinstance(node.body[0], ast.Expr)
    }
    for node in ast.walk(tree):
        if isinstance(node, ast.JoinedStr):
            left_out |= {id(piece) for piece in node.values}
            yield "".join(str(p.value) if isinstance(p, ast.Constant) else "..." for p in node.values)
    for node in ast.walk(tree):
        plain = isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in left_out
        if plain and " " in node.value.strip():
            yield node.value


# The patterns themselves are no advice.
MODULES = [path for path in sorted(PACKAGE.rglob("*.py")) if path.name != "never.py"]


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_no_string_that_the_program_can_say_advises_it(path: Path) -> None:
    assert [(found.rule, found.sentence) for text in strings_in(path) for found in findings_in(text)] == []
