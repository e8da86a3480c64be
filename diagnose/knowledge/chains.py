"""Reads knowledge/chains.yaml: faults that bring another."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Literal

from diagnose.knowledge.library import knowledge_folder, load_library, shown
from diagnose.yamlfile import Collector, Node, read

Where = Literal["itself", "feeding", "mated", "panel"]


@dataclass(frozen=True, slots=True)
class Link:
    """The faults of parts of one role."""

    role: str
    faults: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Chain:
    """A fault that brings another one: which, where, how often, why, and what is checked afterwards."""

    name: str
    first: Link
    then: Link
    where: Where
    share: float
    because: str
    check: tuple[str, ...]


@lru_cache(maxsize=2)
def load_chains(folder: Path | None = None) -> tuple[Chain, ...]:
    """Read the chains; raises FileError with every problem."""
    folder = folder or knowledge_folder()
    path = folder / "chains.yaml"
    collect = Collector()
    entries = collect.entries(read(path, shown(path, folder)), "the chains are", "names of chains")
    found = [_chain(collect, collect.word(key), value) for key, value in entries]
    collect.raise_errors()
    return tuple(found)


def _chain(collect: Collector, name: str, node: Node) -> Chain:
    keys = collect.mapping(node, required=("first", "then", "where", "share", "because", "check"), optional=())
    collect.raise_errors()
    where = collect.choice(keys["where"], ("itself", "feeding", "mated", "panel")) or "panel"
    share = collect.number(keys["share"], 0.001, 0.9)
    return Chain(
        name, _link(collect, keys["first"]), _link(collect, keys["then"]), where,  # type: ignore[arg-type]
        0.1 if share is None else share, collect.text(keys["because"]),
        tuple(collect.word(item) for item in collect.sequence(keys["check"])),
    )  # fmt: skip


def _link(collect: Collector, node: Node) -> Link:
    keys = collect.mapping(node, required=("role", "faults"), optional=())
    collect.raise_errors()
    role = collect.word(keys["role"])
    known = {fault for kind in load_library().kinds.values() if kind.role == role for fault in kind.faults}
    faults = []
    for item in collect.sequence(keys["faults"]):
        fault = collect.word(item)
        if fault not in known:
            collect.error(item, f"no part of role '{role}' has a fault '{fault}'", f"one of {', '.join(sorted(known))}")
        faults.append(fault)
    return Link(role, tuple(faults))
