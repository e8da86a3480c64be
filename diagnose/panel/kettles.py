"""Reads a panel's `kettles:` block: what is known of the kettle that each heater sits in."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from types import MappingProxyType

from diagnose.physics.number import Interval
from diagnose.physics.vessel import METALS, USUAL_KILOGRAMS_PER_LITRE, Kettle
from diagnose.yamlfile import Collector, Node
from diagnose.yamlfile import Mapping as MappingNode

MASS_SHARE = 0.1  # how well a mass in the file is known: common practice
KEYS = ("holds", "mass", "material", "lid", "insulated", "altitude", "loss", "surface", "length", "diameter")


def read_kettles(collect: Collector, node: Node | None, heaters: Iterable[str]) -> Mapping[str, Kettle]:
    """The kettles by the heater in them; problems are noted in the collector."""
    found: dict[str, Kettle] = {}
    if node is None:
        return MappingProxyType(found)
    known = tuple(heaters)
    if not isinstance(node, MappingNode):
        collect.error(node, "the kettles are not a mapping", "heaters, each with 'holds: 50 L'")
        return MappingProxyType(found)
    for key, value in node.entries:
        if key.text not in known:
            collect.error(key, f"there is no heater '{key.text}'", f"one of {', '.join(known)}")
            continue
        kettle = _kettle(collect, value)
        if kettle is not None:
            found[key.text] = kettle
    return MappingProxyType(found)


def _kettle(collect: Collector, node: Node) -> Kettle | None:
    keys = collect.mapping(node, required=("holds",), optional=KEYS[1:])
    if "holds" not in keys:
        return None
    litres = _value(collect, keys["holds"], "volume")
    if litres is None:
        return None
    litres *= 1000
    share = USUAL_KILOGRAMS_PER_LITRE
    kilograms = Interval(share.low * litres, share.high * litres)
    if "mass" in keys:
        mass = _value(collect, keys["mass"], "mass")
        kilograms = Interval.around(mass, MASS_SHARE * mass) if mass is not None else kilograms
    material = (collect.choice(keys["material"], tuple(METALS)) if "material" in keys else None) or "steel"
    loss = _value(collect, keys["loss"], "power") if "loss" in keys else None
    altitude = _value(collect, keys["altitude"], "length") if "altitude" in keys else None
    return Kettle(
        litres=litres,
        kilograms=kilograms,
        specific_heat=METALS[material],
        lid="lid" not in keys or bool(collect.boolean(keys["lid"])),
        insulated="insulated" in keys and bool(collect.boolean(keys["insulated"])),
        altitude_metres=altitude or 0.0,
        loss_watts=Interval(loss, loss) if loss is not None else None,
        surface_square_metres=_surface(collect, keys),
    )


def _surface(collect: Collector, keys: Mapping[str, Node]) -> float | None:
    """The surface that heats, as it is said, or that of a rod of a length and a diameter."""
    if "surface" in keys:
        return _value(collect, keys["surface"], "area")
    rod = [keys[key] for key in ("length", "diameter") if key in keys]
    if len(rod) == 1:
        collect.error(rod[0], "the element's rod has only one of length and diameter", "both, or its surface")
        return None
    sizes = [_value(collect, node, "length") for node in rod]
    if not sizes or None in sizes:
        return None
    length, diameter = (float(size or 0.0) for size in sizes)
    return math.pi * diameter * length


def _value(collect: Collector, node: Node, dimension: str) -> float | None:
    value = collect.quantity(node, dimension)
    if value is not None and value <= 0:
        collect.error(node, f"'{collect.text(node)}' is not above zero", "a value above zero")
        return None
    return value
