"""One session against a simulated panel, with the processor time of each choice and of each turn."""

from __future__ import annotations

from dataclasses import replace
from time import process_time

from diagnose.choose import best_check
from diagnose.model import Model
from diagnose.session import ConfirmStep, Verdict, answer, ask, confirm, start
from diagnose.study.simulated import SimulatedPanel


def timed_session(model: Model, panel: SimulatedPanel, instruments: frozenset[str]) -> tuple[list[float], list[float]]:
    """Seconds of each choice, and of all that comes between an answer and the next question or step."""
    choosing: list[float] = []
    turning: list[float] = []

    def timed(*given):
        begun = process_time()
        choice = best_check(*given)
        choosing.append(process_time() - begun)
        return choice

    session = replace(start(model, "live", instruments), chooser=timed)
    while not isinstance(question := ask(session), Verdict):
        if isinstance(question, ConfirmStep):
            session = confirm(session, panel.confirmed(question.step))
            continue
        typed = panel.answer(question.check)
        begun = process_time()
        session = answer(session, typed)
        ask(session)
        turning.append(process_time() - begun)
    return choosing, turning
