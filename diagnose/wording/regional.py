"""Texts in the words of the region where a panel stands, and what colour a conductor usually has there."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from functools import lru_cache
from typing import TypeVar

import networkx as nx

from diagnose.knowledge.regions import Region, load_regions, translator
from diagnose.panel.records import Panel, part_of
from diagnose.topology import carrying_graph
from diagnose.wording.values import Page

Data = TypeVar("Data")

# What of a message is an answer's key, a name or a log's word, and is never put into other words.
KEYS_KEPT = frozenset(
    {"type", "id", "panel", "complaint", "part", "fault", "quantity", "sign", "from", "to", "exposure", "instrument",
     "instruments", "outcome", "outcomes", "kind", "unit", "log", "version", "competence", "setup", "around",
     "agrees", "doubted", "wire", "towards", "unplug", "boil", "boil_under_lid"}
)  # fmt: skip


def region_of(panel: Panel) -> Region:
    """The region that a panel's file names."""
    return load_regions()[panel.region]


def own_words(panel: Panel) -> tuple[str, ...]:
    """Labels and titles that the panel's owner chose: they stand on the panel, so they are never changed."""
    chosen = [part.label for name, part in panel.parts.items() if part.label != name.replace("_", " ")]
    return (panel.title, *chosen)


@lru_cache(maxsize=16)
def speaker(panel: Panel) -> Callable[[str], str]:
    """A function that says a text in the words of the panel's region."""
    return translator(region_of(panel), own_words(panel))


def regional(panel: Panel, text: str) -> str:
    """A text in the words of the panel's region: ground or earth, GFCI or RCD."""
    return speaker(panel)(text)


def regional_lines(panel: Panel, lines: Iterable[str]) -> list[str]:
    """Lines in the words of the panel's region."""
    return [regional(panel, line) for line in lines]


def regional_page(panel: Panel, page: Page) -> Page:
    """A page in the words of the panel's region."""
    say = speaker(panel)
    return replace(page, title=say(page.title), lines=tuple(say(line) for line in page.lines), prompt=say(page.prompt))


def regional_data(panel: Panel, data: Data, key: str = "") -> Data:
    """Nested data with its sentences in the words of the panel's region; names and keys stay as they are."""
    if key in KEYS_KEPT:
        return data
    if isinstance(data, dict):
        return {name: regional_data(panel, value, name) for name, value in data.items()}  # type: ignore[return-value]
    if isinstance(data, list):
        return [regional_data(panel, value, key) for value in data]  # type: ignore[return-value]
    if isinstance(data, str):
        return regional(panel, data)  # type: ignore[return-value]
    return data


# Colours --------------------------------------------------------------------------------------------------


@lru_cache(maxsize=16)
def functions_of(panel: Panel) -> dict[str, str]:
    """What each terminal's wire is for, where that is plain: leg_1, leg_2, leg_3, neutral, earth, dc_plus, dc_minus.

    A power terminal has the function of the one reference that contacts and wires alone join it to; one that is joined
    to several, or to none, is left out.
    """
    found: dict[str, str] = {}
    graph = carrying_graph(panel).copy()
    graph.remove_nodes_from([at for at in graph if part_of(at) == panel.supply.service])  # joins them all
    owners: dict[str, set[str]] = {}
    for function, reference in panel.references.items():
        if function != "earth" and reference in graph:
            for joined in nx.node_connected_component(graph, reference):
                owners.setdefault(joined, set()).add(function)
    for name, part in panel.parts.items():
        for terminal in part.kind.terminals.values():
            at = f"{name}.{terminal.name}"
            if terminal.path == "earth":
                found[at] = "earth"
            elif terminal.path == "control" and terminal.name in ("plus", "minus"):
                found[at] = f"dc_{terminal.name}"
            elif terminal.path == "power" and len(owners.get(at, ())) == 1:
                found[at] = next(iter(owners[at]))
    return found


def colour_at(panel: Panel, terminal: str) -> str:
    """The usual colour of the wire at a terminal, or nothing where its function is not known or it holds no wire."""
    function = functions_of(panel).get(terminal, "")
    if not function:
        return ""
    part, _, name = terminal.partition(".")
    kind = panel.kind_of(part)
    if not any(terminal in (wire.a, wire.b) for wire in panel.wires):
        return ""
    if kind.role in ("bar", "earth") or (kind.terminals[name].outside and kind.plug):
        return ""  # many wires on a bar, none to be seen on a plug's pin
    return region_of(panel).colours[function].usual


def colour_line(panel: Panel, tail: str, head: str) -> str:
    """A hint at the wires' usual colours where two probes go; nothing where none is known."""
    first, second = colour_at(panel, tail), colour_at(panel, head)
    if first and second:
        told = first if first == second else f"{first}; {second}"
    elif first or second:
        told = f"{first or second} at the {'red' if first else 'black'} probe"
    else:
        return ""
    return f"Usual wire colours: {told}. Yours may differ, the part's label counts."
