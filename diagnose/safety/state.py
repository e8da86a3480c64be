"""Where the panel stands, as the person confirmed it step by step. What can't be is not representable."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

from diagnose.exchanges import Exchange

# 'unknown' is what it is after a break: nobody watched it, so nothing is taken for granted.
Supply = Literal["energised", "off_at_panel", "isolated", "unknown"]
# How far proving dead has come: the meter tried on a known source, everything measured, the meter tried again.
Proof = Literal["none", "meter_tried", "measured", "dead"]


@dataclass(frozen=True, slots=True)
class PanelState:
    """Supply, lid, and how far it was proved dead.

    Raises ValueError for what can't be: proved dead without being isolated and open, or leads off with the supply on.
    """

    supply: Supply = "energised"
    open: bool = False
    waited: bool = False  # for hot parts and stored charge, since the supply was cut off
    proof: Proof = "none"
    leads_off: bool = False  # wires were taken off for a check and are not known to be back
    rewired: Exchange = frozenset()  # terminals whose wires have changed places
    meter_failed: bool = False  # the meter did not show a known source: another one is needed

    def __post_init__(self) -> None:
        if self.proof != "none" and not (self.open and self.supply == "isolated"):
            raise ValueError(f"a panel that is {self.supply} and {_lid(self.open)} is not being proved dead")
        if self.leads_off and self.supply == "energised":
            raise ValueError("leads are off and the panel is energised")

    @property
    def energised(self) -> bool:
        """Whether the supply is on, as far as was confirmed."""
        return self.supply == "energised"

    @property
    def proved_dead(self) -> bool:
        """Whether all three parts of the proof were confirmed since the box was opened."""
        return self.proof == "dead"


def _lid(is_open: bool) -> str:
    return "open" if is_open else "shut"


def after_break(state: PanelState) -> PanelState:
    """The state after a break. What was confirmed to be off may have been put on meanwhile, so it is not known."""
    if state.energised:
        return state
    return replace(state, supply="unknown", waited=False, proof="none")


def after_work(state: PanelState, opened: bool) -> PanelState:
    """The state after somebody worked on the panel: nothing is known of its supply, and the lid may be off."""
    return replace(state, supply="unknown", waited=False, proof="none", open=state.open or opened, meter_failed=False)
