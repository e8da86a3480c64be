"""Reads what a fault does: to a branch, to a state, or to where wires land."""

from __future__ import annotations

from collections.abc import Collection, Iterable

from diagnose.knowledge.curves import load_curves
from diagnose.knowledge.records import Effect
from diagnose.knowledge.words import CHANGES, REFERENCES, STATES, WIRINGS
from diagnose.yamlfile import Collector, Node


def known(collect: Collector, node: Node | None, used: Iterable[str], names: Iterable[str], what: str) -> None:
    """Note a problem for each name that is used and not among those there are."""
    allowed = sorted(names)
    for name in used:
        if node is not None and name not in allowed:
            collect.error(node, f"there is no {what} '{name}'", f"one of {', '.join(allowed)}")


class EffectReader:
    """Turns the words after `does` into effects on the branches and terminals of one kind."""

    def __init__(self, collect: Collector, branches: Collection[str], terminals: Collection[str]) -> None:
        self.collect = collect
        self.branches = branches
        self.terminals = set(terminals)

    def level(self, node: Node) -> float | None:
        """A fault's level: ohms, or a factor or an offset after an x."""
        text = self.collect.text(node)
        if text.startswith("x "):
            try:
                return float(text[2:])
            except ValueError:
                self.collect.error(node, f"'{text}' is no factor", "x and a number, such as x 0.6")
                return None
        return self.collect.quantity(node, "resistance")

    def effect(self, target: str, node: Node, mates: set[str], has_levels: bool) -> Effect | None:
        """What a fault does to one branch or state; None where a problem was noted."""
        text = self.collect.text(node)
        if target in STATES:
            return Effect(target, "state", None, text)
        if target in WIRINGS:
            return self._rewiring(target, node, text)
        known(self.collect, node, [target], [*self.branches, *mates], "branch")
        if text in ("open", "closed"):
            return Effect(target, "open" if text == "open" else "closed")
        if text == "reversed":
            return Effect(target, "reversed")
        if text == "copper" or text in load_curves():
            return Effect(target, "metal", state=text)
        if text in CHANGES:
            return Effect(target, CHANGES[text])  # type: ignore[arg-type]
        if text in ("level", "x level"):
            if not has_levels:
                self.collect.error(node, f"'{text}' needs levels", "levels: a list of values")
            return Effect(target, "ohms" if text == "level" else "scale")
        if text.startswith("x "):
            return Effect(target, "scale", self.level(node))
        ohms = self.collect.quantity(node, "resistance")
        return None if ohms is None else Effect(target, "ohms", ohms)

    def _rewiring(self, change: str, node: Node, text: str) -> Effect | None:
        """`joined: bar - neutral`, `swapped: a - b`, `moved: neutral - earth`."""
        ends = [end.strip() for end in text.split(" - ")]
        if len(ends) != 2 or ends[0] == ends[1]:
            self.collect.error(node, f"'{text}' is no pair of ends", "two ends as 'a - b'")
            return None
        allowed = self.terminals if change == "swapped" else self.terminals | set(REFERENCES)
        known(self.collect, node, ends, allowed, "terminal" if change == "swapped" else "terminal or reference")
        return Effect(change, change, ends=(ends[0], ends[1]))  # type: ignore[arg-type]
