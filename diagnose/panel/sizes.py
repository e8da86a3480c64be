"""How large a panel file may be: what is beyond that is refused before anything is worked out."""

from __future__ import annotations

from pathlib import Path

from diagnose.errors import FileError, Problem
from diagnose.yamlfile import Mapping, Node, Scalar, Sequence, read

# The largest bundled panel has 60 parts; sixteen channels come to some 300. A circuit of more nodes than these make
# takes minutes for each question and gigabytes: a judgement.
MOST = {"parts": 600, "wires": 1500, "plugs": 300}


def read_bounded(path: Path, shown_as: str | None = None) -> Node:
    """Read a panel's file as `yamlfile.read`; raises FileError also where it has too many parts, wires or plugs."""
    node = read(path, shown_as)
    for what, most in MOST.items():
        count = counted(node, what)
        if count > most:
            raise FileError(Problem(f"there are {count:,} {what}", f"{most:,} at most, of one panel", node.place))
    return node


def counted(node: Node, what: str) -> int:
    """How many parts, wires or plugs a file comes to, each channel's for every one of its names."""
    if not isinstance(node, Mapping):
        return 0
    channels = node.get("channels")
    blocks = channels.items if isinstance(channels, Sequence) else ()
    return _length(node.get(what)) + sum(_times(block) * counted(block, what) for block in blocks)


def _length(node: Node | None) -> int:
    if node is None or isinstance(node, Scalar):
        return 0
    return len(node.entries) if isinstance(node, Mapping) else len(node.items)


def _times(block: Node) -> int:
    """How many channels a block makes: as many as its longest list of names, which are all of one length."""
    if not isinstance(block, Mapping):
        return 0
    return max((len(value.items) for key, value in block.entries
                if key.text not in MOST and isinstance(value, Sequence)), default=0)  # fmt: skip
