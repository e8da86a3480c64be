"""The bottom line: how the panel stands, how long it has taken, and what is likeliest. Pure."""

from __future__ import annotations

from diagnose.safety import PanelState
from diagnose.session import Session, belief, shares
from diagnose.wording import percent, regional

SUPPLY = {
    "energised": "supply on",
    "off_at_panel": "switched off",
    "isolated": "supply off",
    "unknown": "supply not known",
}
MOST = 3
NARROW = 60  # below so many columns the state is said shortly, so that a cause still fits


def state_words(state: PanelState, short: bool = False) -> str:
    """The panel's state, as it was confirmed; shortly without the words supply, box and proved."""
    if state.open and state.energised:
        return "LIVE, open" if short else "LIVE, box open"
    words = [SUPPLY[state.supply], "box open" if state.open else "box shut"]
    words += ["proved dead"] if state.proved_dead else []
    words += ["wires off"] if state.leads_off else []
    if short:
        words = [word.removeprefix("supply ").removeprefix("box ").removeprefix("proved ") for word in words]
    return ", ".join(words)


def status_line(session: Session, minutes: float, width: int) -> str:
    """State, minutes, and as many of the leading causes as the width holds."""
    parts = [state_words(session.state, width < NARROW), f"{minutes:.0f} min"]
    line = " | ".join(parts)
    for share in shares(session.model, belief(session))[:MOST]:
        more = f"{line} | {regional(session.model.panel, share.title)} {percent(share.probability)}"
        if len(more) > width:
            break
        line = more
    else:
        return line
    if line.count(" | ") == 1:  # not even one fits whole
        first = shares(session.model, belief(session))[0]
        end = f" {percent(first.probability)}".replace("over ", ">")
        room = width - len(line) - 3 - len(end)
        if room >= 4:
            return f"{line} | {regional(session.model.panel, first.title)[: room - 2]}..{end}"
    return line[:width]
