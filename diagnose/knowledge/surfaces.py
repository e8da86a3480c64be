"""Reads the `surfaces` of a kind of part: where its heat can be felt or read."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable

from diagnose.knowledge.expressions import Expression
from diagnose.knowledge.records import Surface
from diagnose.yamlfile import Collector, Node, Scalar

BASES = ("room", "inside")
_ENDS = re.compile(r"(\d+(?:\.\d+)?)\s*-\s*(\d+(?:\.\d+)?)")


def read_surface(
    collect: Collector, name: str, node: Node, expression: Callable[[Node], Expression], branches: Iterable[str]
) -> Surface:
    """Read one surface; problems are collected, each with its place."""
    if name in branches:
        collect.error(node, f"a surface can't be named '{name}', which is a branch", "another name")
    keys = collect.mapping(
        node,
        required=("title", "of", "base", "kelvin_per_watt", "range", "minutes"),
        optional=("share", "outside", "joints"),
    )
    of = _texts(collect, keys.get("of"))
    for each in of:
        if each not in branches:
            collect.error(keys["of"], f"there is no branch '{each}'", f"one of {', '.join(sorted(branches))}")
    low, high = _ends(collect, keys.get("range"), (0.7, 1.4))
    return Surface(
        name=name,
        title=collect.text(keys["title"]) if "title" in keys else name,
        of=of,
        base=collect.text(keys["base"]) if "base" in keys else "room",
        share=_ends(collect, keys.get("share"), (1.0, 1.0)),
        kelvin_per_watt=expression(keys["kelvin_per_watt"])
        if "kelvin_per_watt" in keys
        else Expression("0", frozenset()),
        low=low,
        high=high,
        minutes=_ends(collect, keys.get("minutes"), (5.0, 10.0)),
        outside="outside" in keys and bool(collect.boolean(keys["outside"])),
        joints="joints" in keys and bool(collect.boolean(keys["joints"])),
    )


def _texts(collect: Collector, node: Node | None) -> tuple[str, ...]:
    if node is None:
        return ()
    items = [node] if isinstance(node, Scalar) else list(collect.sequence(node))
    return tuple(collect.text(item) for item in items)


def _ends(collect: Collector, node: Node | None, usual: tuple[float, float]) -> tuple[float, float]:
    if node is None:
        return usual
    text = collect.text(node).strip()
    match = _ENDS.fullmatch(text)
    if not match or float(match[1]) > float(match[2]):
        collect.error(node, f"'{text}' is not a range", "two numbers, the smaller first, such as 0.7 - 1.4")
        return usual
    return float(match[1]), float(match[2])
