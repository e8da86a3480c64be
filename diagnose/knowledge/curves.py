"""Reader of knowledge/curves.yaml: what each sort of sensor gives at a temperature, as data."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from types import MappingProxyType
from typing import Literal, cast

from diagnose.knowledge.folder import knowledge_folder
from diagnose.yamlfile import Collector, Node, read
from diagnose.yamlfile import Mapping as MappingNode

CurveForm = Literal["platinum", "beta", "table", "thermocouple", "digital"]
VALUES: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "platinum": ("at_zero",),
        "beta": ("ohms_25", "beta"),
        "table": ("t1", "r1", "t2", "r2", "t3", "r3"),
        "thermocouple": (),
        "digital": ("ohms",),
    }
)
METALS = ("J", "K", "T")


@dataclass(frozen=True)
class Curve:
    """What a sensor gives at a temperature. `values` are in ohms, kelvin and degrees Celsius."""

    name: str
    title: str
    form: CurveForm
    values: Mapping[str, float]
    metal: str  # of a thermocouple
    low_celsius: float  # what a controller takes for a temperature
    high_celsius: float
    tolerance: tuple[float, float]  # kelvin, and for each degree away from zero
    taken_for: tuple[str, ...]

    @property
    def gives(self) -> Literal["ohms", "volts", "degrees"]:
        """What an input for it measures."""
        by_form = {"thermocouple": "volts", "digital": "degrees"}
        return cast('Literal["ohms", "volts", "degrees"]', by_form.get(self.form, "ohms"))

    def tolerance_kelvin(self, celsius: float) -> float:
        """How far a good probe may be off at a temperature."""
        return self.tolerance[0] + self.tolerance[1] * abs(celsius)


@lru_cache(maxsize=2)
def load_curves(folder: Path | None = None) -> Mapping[str, Curve]:
    """Read the curves; raises FileError with every problem."""
    folder = folder or knowledge_folder()
    collect = Collector()
    node = read(folder / "curves.yaml", "knowledge/curves.yaml")
    if not isinstance(node, MappingNode):
        collect.error(node, "the curves are not a mapping", "names of curves")
        collect.raise_errors()
        return {}
    found = {key.text: _curve(collect, key.text, value) for key, value in node.entries}
    for (_, value), curve in zip(node.entries, found.values(), strict=True):
        for other in curve.taken_for:
            if other not in found or other == curve.name:
                collect.error(value, f"'{other}' is no other curve", f"one of {', '.join(sorted(found))}")
    collect.raise_errors()
    return MappingProxyType(found)


def _curve(collect: Collector, name: str, node: Node) -> Curve:
    keys = collect.mapping(
        node, required=("title", "form", "range", "tolerance", "taken_for"), optional=("values", "metal")
    )
    form = (collect.choice(keys["form"], tuple(VALUES)) if "form" in keys else None) or "platinum"
    values = {}
    if "values" in keys:
        given = collect.mapping(keys["values"], required=VALUES[form], optional=())
        values = {key: collect.number(value, -1e9, 1e9) or 0.0 for key, value in given.items()}
    elif VALUES[form]:
        collect.error(node, f"a {form} needs values", ", ".join(VALUES[form]))
    if (form == "thermocouple") != ("metal" in keys):
        collect.error(node, "'metal' belongs to a thermocouple, and a thermocouple needs it", ", ".join(METALS))
    low, high = _two(collect, keys.get("range"), node)
    constant, slope = _two(collect, keys.get("tolerance"), node)
    taken_for = tuple(collect.text(item) for item in collect.sequence(keys["taken_for"])) if "taken_for" in keys else ()
    return Curve(
        name, collect.text(keys["title"]) if "title" in keys else name, cast(CurveForm, form),
        MappingProxyType(values), collect.choice(keys["metal"], METALS) or "K" if "metal" in keys else "",
        low, high, (constant, slope), taken_for,
    )  # fmt: skip


def _two(collect: Collector, node: Node | None, whole: Node) -> tuple[float, float]:
    numbers = [collect.number(item, -1e4, 1e4) for item in collect.sequence(node)] if node is not None else []
    if len(numbers) != 2 or None in numbers:
        collect.error(node or whole, "these are not two numbers", "two numbers in brackets")
        return 0.0, 1.0
    return float(numbers[0] or 0.0), float(numbers[1] or 0.0)
