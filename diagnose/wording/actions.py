"""Lines cut into single actions, so that they can be read aloud and done one at a time. Pure."""

from __future__ import annotations

import re
from collections.abc import Iterable

from diagnose.circuit.setup import Setup
from diagnose.panel.records import Panel
from diagnose.wording.changes import assumed, change_lines

_VERBS = """
    ask bend call check clean clear close confirm cover cut do dry exchange fasten feel fill find get give have heat
    hold keep land lay leave let lift listen lock look mark measure move note open photograph plug press pull push
    put read remove say set show sniff stand start stay step stir stop switch take tell test tighten touch try turn
    unplug wait watch write
"""
# Words that begin an action. What does not begin with one is a remark about the action before it.
ACTIONS = frozenset(_VERBS.split())
# 'tape and tag it' is one action in two words, so neither of those begins one.
_VERB = "|".join(sorted(ACTIONS))
_SENTENCE = re.compile(r"(?<=[.!?])\s+|;\s+|\s+-\s+")
_JOINED = re.compile(
    rf",?\s+(?:and then|then|and)\s+(?=(?:{_VERB})\b)|,\s+(?:and\s+)?(?=(?:{_VERB}|do not)\b)", re.IGNORECASE
)
_DEPENDS = re.compile(r"^(?:if|when|once|while|where|against|with|in|on|at|until|unless|after|before)\b", re.IGNORECASE)
# What is typed at the screen is said by the one at the panel.
_TYPED = (
    (re.compile(r"\btype danger\b"), "tell me at once"),
    (re.compile(r"\bType danger\b"), "Tell me at once"),
    (re.compile(r"\btype skip\b"), "tell me"),
    (re.compile(r"\bType (?=the )"), "Tell me "),
)


def single_actions(text: str) -> list[str]:
    """A text as sentences that each ask for one thing at most: 'stir, wait a minute' is two."""
    for pattern, said in _TYPED:
        text = pattern.sub(said, text)
    found: list[str] = []
    for sentence in _SENTENCE.split(" ".join(text.split())):
        pieces = [sentence] if _DEPENDS.match(sentence) or sentence.endswith("?") else _JOINED.split(sentence)
        found += [_finished(piece) for piece in pieces if piece.strip(" .,")]
    return found


def all_actions(texts: Iterable[str]) -> list[str]:
    """Several texts as single actions, in their order."""
    return [action for text in texts for action in single_actions(text)]


def is_action(sentence: str) -> bool:
    """Whether a sentence tells somebody to do something."""
    words = re.findall(r"[A-Za-z']+", sentence)
    return bool(words) and words[0].lower() in ACTIONS


def _finished(piece: str) -> str:
    piece = piece.strip().rstrip(",")
    piece = piece[:1].upper() + piece[1:]
    return piece if piece.endswith((".", "!", "?", ":")) else f"{piece}."


# From one setup to the next -------------------------------------------------------------------------------


def start_actions(panel: Panel, setup: Setup) -> list[str]:
    """What has to be looked at before the first check, one thing a line."""
    lines = ["Check that all plugs are in."] if setup.supply_on else ["Leave the supply off."]
    lines += ["Check that the breakers are on.", "Check that the main switch is on."] if setup.supply_on else []
    lines.append("Check that every other switch is off.")
    if setup.supply_on:
        lines += [f"Check that {panel.label(name)} is set below what it shows." for name in panel.of_role("controller")]
    return lines


def change_actions(panel: Panel, at: Setup | None, setup: Setup) -> list[str]:
    """What to change to get from one setup to the next, one handle, plug or wire a line."""
    lines = start_actions(panel, setup) if at is None else []
    before = assumed(panel, at, setup)
    for line in change_lines(panel, before if at is None else at, setup):
        lines += _spoken_change(panel, line)
    return lines


_CHANGES = (
    (re.compile(r"^Turn: (.+?)( \(the supply stays off\))?\.$"), "Turn {}."),
    (re.compile(r"^Unplug: (.+)\.$"), "Unplug {}."),
    (re.compile(r"^Plug in: (.+)\.$"), "Plug in {}."),
    (re.compile(r"^Take the wire off: (.+)\. Mark it\.$"), "Mark the wire at {}.|Take that wire off."),
    (re.compile(r"^Put the wire back on: (.+)\.$"), "Put the wire back on {}."),
    (re.compile(r"^Set below what it shows, so that it rests: (.+)\.$"), "Set {} below what it shows."),
    (re.compile(r"^Set well above what it shows, so that it calls for heat: (.+)\.$"),
     "Set {} well above what it shows."),
    (re.compile(r"^Put back in its place: (.+)\.$"), "Put {} back in its place."),
    (re.compile(r"^Water over the element first\.$"), "Check first that water covers the element."),
    (re.compile(r"^Let it heat for ten minutes, then read\.$"), "Let it heat for ten minutes."),
)  # fmt: skip
_BATH = re.compile(r"^Hold in stirred (.+), two minutes: (.+)\.$")
_EXCHANGE = re.compile(r"^(Put back, each in its own socket|Exchange, each into the other's socket): (.+)\.$")


def _spoken_change(panel: Panel, line: str) -> list[str]:
    """One line of changes as it is said: what is named comes after the verb."""
    line = line.strip()
    if bath := _BATH.match(line):
        return [f"Hold {bath[2]} in {bath[1]}, stirred, for two minutes."]
    if exchange := _EXCHANGE.match(line):
        where = "back, each in its own place" if exchange[1].startswith("Put") else "each into the other's place"
        return [f"Plug {exchange[2]} {where}."]
    for pattern, said in _CHANGES:
        if found := pattern.match(line):
            named = found[1] if pattern.groups else ""
            items = _handles(panel, named) if said.startswith("Turn") else [named]
            lines = [piece.format(item) for item in items for piece in said.split("|")]
            return lines + (["The supply stays off."] if pattern.groups > 1 and found[2] else [])
    return single_actions(line)


def _handles(panel: Panel, named: str) -> list[str]:
    """'boil switch to ON, selector to right' as two: a label may hold a comma itself, a move ends in its position."""
    ends = {position.lower() for part in panel.parts.values() for position in part.kind.positions}
    inner = "|".join(re.escape(end) for end in sorted(ends, key=len, reverse=True))
    return re.split(rf"(?<=\w), (?=.+? to (?:{inner})\b)", named, flags=re.IGNORECASE) if ends else [named]
