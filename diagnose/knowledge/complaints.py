"""Reads knowledge/complaints/*.yaml: what a brewer says, and the computed signs that it stands for."""

from __future__ import annotations

from pathlib import Path

from diagnose.knowledge.rates import load_rates
from diagnose.knowledge.records import Complaint, ExpectsMore, Observation
from diagnose.yamlfile import Collector, Mapping, Node, Scalar, read

SETUPS = (
    "idle",
    "running",
    "unswitched",
    "unplugged",
    "resting",
    "off",
    "warm",
    "cooling",
    "isolated",
    "parted",
    "lifted",
    "bathed",
    "boiled",
    "cold",
    "hot",
    "busy",
    "exchanged",
    "crossed",
    "crossed_resting",
    "traded",
    "caught",
    "moved",
    "shaken",
    "warm_parted",
)


def read_complaints(path: Path, shown_as: str) -> list[Complaint]:
    """Read one family of complaints; raises FileError with every problem."""
    collector = Collector()
    node = read(path, shown_as)
    complaints: list[Complaint] = []
    if not isinstance(node, Mapping):
        collector.error(node, "this is not a mapping", "names of complaints")
    else:
        for key, value in node.entries:
            complaint = _complaint(collector, collector.word(key), value)
            if complaint is not None:
                complaints.append(complaint)
    collector.raise_errors()
    return complaints


def _texts(collect: Collector, node: Node | None) -> tuple[str, ...]:
    if node is None:
        return ()
    items = [node] if isinstance(node, Scalar) else collect.sequence(node)
    return tuple(collect.text(item) for item in items)


def _complaint(collect: Collector, name: str, node: Node) -> Complaint | None:
    keys = collect.mapping(
        node,
        required=("title", "says", "observed", "setups"),
        optional=("subject", "cautions", "comes_and_goes", "expects_more"),
    )
    if not {"title", "says", "observed", "setups"} <= keys.keys():
        return None
    setups = tuple(collect.choice(item, SETUPS) or "" for item in collect.sequence(keys["setups"]))
    return Complaint(
        name=name,
        title=collect.text(keys["title"]),
        says=_texts(collect, keys["says"]),
        subject=_texts(collect, keys.get("subject")),
        observed=tuple(_observation(collect, item) for item in collect.sequence(keys["observed"])),
        setups=setups,
        cautions=_texts(collect, keys.get("cautions")),
        place=node.place,
        comes_and_goes="comes_and_goes" in keys and bool(collect.boolean(keys["comes_and_goes"])),
        expects_more=_expects_more(collect, keys["expects_more"]) if "expects_more" in keys else None,
    )


def _expects_more(collect: Collector, node: Node) -> ExpectsMore | None:
    keys = collect.mapping(node, required=("rate", "advice"))
    words = load_rates().words
    word = collect.choice(keys["rate"], tuple(words)) if "rate" in keys else None
    return ExpectsMore(words[word], collect.text(keys["advice"])) if word is not None and "advice" in keys else None


def _observation(collect: Collector, node: Node) -> Observation:
    keys = collect.mapping(node, required=("setup", "of", "sign", "is"), optional=("every", "against"))
    return Observation(
        setup=(collect.choice(keys["setup"], SETUPS) if "setup" in keys else None) or "idle",
        of=collect.text(keys["of"]) if "of" in keys else "",
        sign=collect.text(keys["sign"]) if "sign" in keys else "",
        outcomes=_texts(collect, keys.get("is")),
        against=(collect.choice(keys["against"], SETUPS) or "") if "against" in keys else "",
        every="every" in keys and bool(collect.boolean(keys["every"])),
    )
