"""Several things to mend, one by one, in words."""

from __future__ import annotations

from diagnose.in_turn import Turn, in_turn
from diagnose.questions import Verdict
from diagnose.session import Session, belief
from diagnose.wording.values import percent

TO_BUY = ", the part to be got first"


def turns_of(session: Session, verdict: Verdict) -> tuple[Turn, ...]:
    """The order in which what a verdict leaves is mended and tried; empty where it picks one, or hands it on."""
    if verdict.kind != "group" or verdict.danger or verdict.electrician:
        return ()
    return in_turn(session.model, belief(session), session.instruments, session.state, session.competence)


def turn_lines(session: Session, verdict: Verdict) -> list[str]:
    """The order in which to mend and try them, what each takes, and why the likeliest may not come first."""
    turns = turns_of(session, verdict)
    if not turns:
        return []
    lines = ["Mended one by one, this order takes the least time on average. Try each before the next:"]
    for number, turn in enumerate(turns, start=1):
        bought = "" if turn.to_hand else TO_BUY
        lines.append(f"  {number}  {turn.title} ({percent(turn.probability)}, about {turn.minutes:.0f} min{bought})")
    if turns[0].probability < max(turn.probability for turn in turns):
        lines.append("The likeliest is not the first, since another is so much quicker to try.")
    return lines
