"""Reads a panel's `rates:` block: how often something fails on this panel, where that is other than usual."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from diagnose.knowledge.library import Library
from diagnose.knowledge.rates import load_rates
from diagnose.panel.records import Part
from diagnose.yamlfile import Collector, Node


def read_rates(collect: Collector, node: Node | None, parts: Mapping[str, Part]) -> Mapping[str, float]:
    """Relative rates by part and fault, as `pump.leak`, in place of the kind's; problems are noted in the collector.

    What a word stands for is told by knowledge/rates.yaml.
    """
    found: dict[str, float] = {}
    words = load_rates().words
    for key, faults in collect.entries(node, "the rates are", "parts, each with '{fault: common}'") if node else ():
        part = parts.get(key.text)
        if part is None:
            near = Library.suggestion(key.text, parts)
            collect.error(key, f"there is no part '{key.text}'", f"a part of this panel{near}")
            continue
        for name, value in collect.entries(faults, f"the rates of {key.text} are", "its faults, as 'open: common'"):
            if name.text not in part.kind.faults:
                near = Library.suggestion(name.text, part.kind.faults)
                wanted = ", ".join(part.kind.faults) or "a part with faults"
                collect.error(name, f"{part.kind.name} {key.text} has no fault '{name.text}'", f"one of {wanted}{near}")
                continue
            word = collect.choice(value, tuple(words))
            if word is not None:
                found[f"{key.text}.{name.text}"] = words[word]
    return MappingProxyType(found)
