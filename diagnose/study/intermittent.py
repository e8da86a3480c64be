"""A simulated panel whose hidden fault comes and goes: what is found depends on the moment."""

from __future__ import annotations

import random
from dataclasses import dataclass, field

from diagnose.causes import Cause, fault_of
from diagnose.checks import Check
from diagnose.circuit.netlist import Netlist
from diagnose.expect import SHOWS_MOVED
from diagnose.some_causes import WholePredictor
from diagnose.study.simulated import SimulatedPanel


@dataclass
class ComesAndGoes(SimulatedPanel):
    """A panel with a fault that is there in a share of looks: when it was waited for, mostly when it is moved."""

    seed: int = 0
    _chance: random.Random = field(init=False)
    _sound: SimulatedPanel = field(init=False)

    def __post_init__(self) -> None:
        self._chance = random.Random(self.seed)
        self._sound = SimulatedPanel(
            self.netlist, None, supply=self.supply, jitter=self.jitter, predicted=self.predicted
        )

    def answer(self, check: Check) -> str:
        """The answer as it would be typed, with the fault there at this moment or not."""
        return super().answer(check) if self._chance.random() < self._share(check) else self._sound.answer(check)

    def _share(self, check: Check) -> float:
        if self.cause is None or check.setup.watched:
            return 1.0
        share = self.cause.at_times
        moved = check.setup.moved_by_hand and fault_of(self.netlist.panel, self.cause).when_moved
        return max(share, SHOWS_MOVED) if moved else share


def hidden_in(
    netlist: Netlist, cause: Cause, early: bool, seed: int = 0, supply: float = 1.0, jitter: float = 0.0,
    predicted: WholePredictor | None = None,
) -> SimulatedPanel:  # fmt: skip
    """A panel with this fault in it, there always or at times as its kind says."""
    if cause.at_times < 1:
        return ComesAndGoes(netlist, cause, None, supply, jitter, early, predicted, seed=seed)
    return SimulatedPanel(netlist, cause, None, supply, jitter, early, predicted)
