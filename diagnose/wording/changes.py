"""From one setup to the next, in words: only what differs."""

from __future__ import annotations

from dataclasses import replace

from diagnose.circuit.setup import PROTECTIVE_ROLES, Setup, at_rest
from diagnose.costs import need_of
from diagnose.exchanges import Exchange
from diagnose.panel.records import Panel
from diagnose.session import ConfirmStep, Session


def standing(session: Session) -> Setup | None:
    """How the last check left the panel; None before the first.

    With the supply off nobody sets a controller: those stand as the last check with it on left them.
    """
    at = session.at
    if at is None or at.supply_on:
        return at
    checks = [session.model.checks_by_id[given.check_id] for given in session.answers if not given.skipped]
    powered = [check.setup for check in checks if check.setup.supply_on]
    return replace(at, commands=powered[-1].commands) if powered else at


def assumed(panel: Panel, at: Setup | None, setup: Setup) -> Setup:
    """How the panel stands before a change to `setup`: as the last check left it, or as told at the start.

    Between on and off lie steps that move the main switch and the feed's plug, so those count as moved.
    """
    if at is None:
        at = at_rest(panel)
        return at if setup.supply_on else replace(at, supply_on=False, unplugged=_feed(panel))
    if at.supply_on == setup.supply_on:
        return at
    cutting = () if panel.supply.unplugs else panel.supply.protection
    switches = [name for name in (*panel.of_role("isolator"), *cutting) if at.position(name) is not None]
    kinds = {name: panel.parts[name].kind for name in switches}
    moved = at.moved(**{name: kind.run if setup.supply_on else kind.rest for name, kind in kinds.items()})
    unplugged = moved.unplugged - _feed(panel) if setup.supply_on else moved.unplugged | _feed(panel)
    return replace(moved, supply_on=setup.supply_on, unplugged=unplugged)


def _feed(panel: Panel) -> frozenset[str]:
    return frozenset({panel.supply.isolator}) if panel.supply.unplugs else frozenset()


def start_line(panel: Panel, setup: Setup) -> str:
    """The state that changes are counted from at the first check."""
    controllers = panel.of_role("controller")
    told = (
        f", {_plural('controller', len(controllers))} set below what {_they(len(controllers))}" if controllers else ""
    )
    if not setup.supply_on:
        return (
            "Start from: breakers and main switch on (the supply stays off), every other switch off, "
            "the rest plugged in."
        )
    return f"Start from: all plugged in, breakers and main switch on, every other switch off{told}."


def _they(count: int) -> str:
    return "it shows" if count == 1 else "they show"


def _plural(word: str, count: int) -> str:
    return word if count == 1 else f"{word}s"


SWITCHED_OFF = "Main switch of the panel off first: the plugs change places dead."


def change_lines(panel: Panel, at: Setup | None, setup: Setup) -> list[str]:
    """What to change to get from one setup to the next; the supply and the lid are steps of their own."""
    before = assumed(panel, at, setup)
    lines = [start_line(panel, setup)] if at is None else []
    lines += _exchange_lines(panel, before, setup)
    lines += _handle_lines(panel, before, setup)
    lines += _plug_lines(panel, before, setup)
    lines += _lead_lines(panel, before, setup)
    if setup.supply_on:
        lines += _command_lines(panel, before, setup)
    lines += _bath_lines(panel, before, setup)
    if setup.watched:
        if not (at is not None and at.watched):
            lines.append("Use it as usual until it happens, then look at once. Not within half an hour: skip.")
        return lines
    if setup.moved_by_hand:
        lines.append("While the meter reads, bend each cord and joint between the probes. Type the worst it shows.")
    if setup.heated and not setup.supply_on:
        lines.append("Only while it is still warm, within minutes of switching off. If it is not: skip.")
    elif setup.heated and not (at is not None and at.heated):
        lines.append("Let it heat for ten minutes, then read.")
    return lines


def _handle_lines(panel: Panel, before: Setup, setup: Setup) -> list[str]:
    moved = [
        (name, at)
        for name, at in setup.positions
        if before.position(name) != at and not (not setup.supply_on and name in panel.supply.protection)
    ]
    if not moved:
        return []
    # What switches off comes first: an either/or selector never meets two switches that are on.
    moved.sort(key=lambda item: item[1] != panel.parts[item[0]].kind.rest)
    turned = ", ".join(f"{panel.label(name)} to {at.upper() if at in ('on', 'off') else at}" for name, at in moved)
    switches_main = not setup.supply_on and any(panel.parts[name].kind.role in PROTECTIVE_ROLES for name, _ in moved)
    return [f"Turn: {turned}{' (the supply stays off)' if switches_main else ''}."]


def _plug_lines(panel: Panel, before: Setup, setup: Setup) -> list[str]:
    feed = _feed(panel)
    pulled = sorted(setup.unplugged - before.unplugged - feed)
    back = sorted(before.unplugged - setup.unplugged - feed)
    lines = [f"Unplug: {panel.label(name)}{_socket(panel, name, 'from')}." for name in pulled]
    return lines + [f"Plug in: {panel.label(name)}{_socket(panel, name, 'into')}." for name in back]


def _socket(panel: Panel, plug: str, word: str) -> str:
    return f", {word} {panel.label(panel.plugs[plug])}" if plug in panel.plugs else ""


def _exchange_lines(panel: Panel, before: Setup, setup: Setup) -> list[str]:
    """Plugs that change places, or go back. Wires are a step of their own."""
    lines = []
    for word, pairs in (("Put back, each in its own socket", before.swapped - setup.swapped),
                        ("Exchange, each into the other's socket", setup.swapped - before.swapped)):  # fmt: skip
        plugs = sorted(pair for pair in pairs if "." not in pair[0])
        lines += [f"{word}: {panel.label(one)} and {panel.label(other)}." for one, other in plugs]
        if setup.supply_on and any(panel.parts[one].kind.role == "connector" for one, _ in plugs):
            # No plug is drawn or pushed home while its outlet is live.
            lines = [SWITCHED_OFF, *lines, "Main switch back on. No plug may be pulled or pushed while it is on."]
    return lines


def rewire_lines(panel: Panel, now: Exchange, wanted: Exchange) -> list[str]:
    """Which wires change places on the way from one state of the box to another."""
    lines = [
        f"Back to where they were: the wires at {panel.terminal_label(one)} and at {panel.terminal_label(other)}."
        for one, other in sorted(now - wanted)
    ]
    return lines + [
        f"Exchange the wires at {panel.terminal_label(one)} and at {panel.terminal_label(other)}."
        for one, other in sorted(wanted - now)
    ]


def moved_lines(session: Session, question: ConfirmStep) -> list[str]:
    """For the step that moves wires, which ones; for any other nothing."""
    if question.step != "rewire":
        return []
    return rewire_lines(session.model.panel, session.state.rewired, need_of(question.for_check).rewired)


def _lead_lines(panel: Panel, before: Setup, setup: Setup) -> list[str]:
    off = [f"Take the wire off: {panel.terminal_label(end)}. Mark it." for end in sorted(setup.lifted - before.lifted)]
    return off + [f"Put the wire back on: {panel.terminal_label(end)}." for end in sorted(before.lifted - setup.lifted)]


def _command_lines(panel: Panel, before: Setup, setup: Setup) -> list[str]:
    told = dict(before.commands)
    calling = [name for name, command in setup.commands if command == "call" and told.get(name) != command]
    resting = [name for name, command in setup.commands if command != "call" and told.get(name) != command]
    lines = [f"Set below what it shows, so that it rests: {panel.label(name)}." for name in resting]
    lines += [f"Set well above what it shows, so that it calls for heat: {panel.label(name)}." for name in calling]
    if calling and panel.of_role("heater"):
        lines.append("Water over the element first.")
    return lines


def _bath_lines(panel: Panel, before: Setup, setup: Setup) -> list[str]:
    lines = [
        f"Hold in stirred {_water(celsius)}, two minutes: {panel.label(probe)}."
        for probe, celsius in setup.baths
        if (probe, celsius) not in before.baths
    ]
    lines += [
        f"Put liquid of about {celsius:g} deg C around it, in its own place, and stir: {panel.label(probe)}."
        for probe, celsius in setup.placed
        if (probe, celsius) not in before.placed
    ]
    if any(celsius > 90 for _, celsius in setup.baths) and len(lines):
        lines.append("Keep your hand out of the steam: hold the probe by its cable.")
    left = [probe for probe, _ in before.baths if probe not in dict(setup.baths)]
    return lines + [f"Put back in its place: {panel.label(probe)}." for probe in left]


def _water(celsius: float) -> str:
    if celsius == 0:
        return "ice water"
    return "boiling water" if celsius > 90 else f"water of {celsius:.0f} deg C"
