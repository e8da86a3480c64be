"""Reads one knowledge/parts/*.yaml file into a `Kind`."""

from __future__ import annotations

import re
from collections.abc import Iterable
from pathlib import Path as FilePath
from types import MappingProxyType
from typing import cast

from diagnose.knowledge.curves import load_curves
from diagnose.knowledge.effects import EffectReader
from diagnose.knowledge.effects import known as known_names
from diagnose.knowledge.expressions import Expression, parse_expression
from diagnose.knowledge.rates import load_rates
from diagnose.knowledge.records import (
    Branch,
    Coil,
    Condition,
    Domain,
    Exposure,
    Fault,
    Form,
    Kind,
    Path,
    Probing,
    Rating,
    Remedy,
    Sense,
    Sign,
    Surface,
    Terminal,
    Trip,
)
from diagnose.knowledge.surfaces import read_surface
from diagnose.knowledge.words import (
    CONDITIONS,
    DEFAULT_CONTACT_OHMS,
    EXPOSURES,
    FORMS,
    MEASURES,
    PATHS,
    QUANTITIES,
    SENSING_PLACES,
    STATES,
    WIRINGS,
)  # fmt: skip
from diagnose.units import DIMENSIONS
from diagnose.yamlfile import Collector, Mapping, Node, Scalar, read


def read_kind(path: FilePath, shown_as: str) -> Kind:
    """Read a kind of part; raises FileError with every problem found."""
    collector = Collector()
    kind = _Reader(collector).kind(read(path, shown_as))
    collector.raise_errors()
    if kind is None:
        raise AssertionError("a kind without problems was not built")
    return kind


class _Reader:
    """Turns nodes into records and notes every problem on the way."""

    def __init__(self, collector: Collector) -> None:
        self.collect = collector
        self.ratings: dict[str, Rating] = {}
        self.points: set[str] = set()
        self.terminals: set[str] = set()
        self.branches: dict[str, Branch] = {}
        self.surfaces: dict[str, Surface] = {}

    def kind(self, node: Node) -> Kind | None:
        keys = self.collect.mapping(
            node,
            required=("kind", "title", "role", "terminals"),
            optional=(
                "note", "ratings", "through", "inside", "branches", "handle", "coil", "powered", "control",
                "output", "bad_probe", "sense", "trip", "plug", "faults", "signs", "measure", "cautions",
                "surfaces", "airflow",
            ),
        )  # fmt: skip
        if not {"kind", "title", "role", "terminals"} <= keys.keys():
            return None
        text = self.collect.text
        self.ratings = {name: self._rating(name, value) for name, value in self._entries(keys.get("ratings"))}
        terminals = {name: self._terminal(name, value) for name, value in self._entries(keys["terminals"])}
        inside = self._words(keys.get("inside"))
        self.points = {*terminals, *inside}
        positions, rest, run = self._handle(keys.get("handle"))
        self.branches = {
            name: self._branch(name, value, positions) for name, value in self._entries(keys.get("branches"))
        }
        plug = {name: text(value) for name, value in self._entries(keys.get("plug"))}
        self._known(keys.get("plug"), plug, terminals, "terminal")
        mates = {f"mate_{name}" for name in plug}
        if "role" in keys and text(keys["role"]) == "socket":
            mates = {f"mate_{name}" for name in terminals}
        self.surfaces = {
            name: read_surface(self.collect, name, value, self._expression, {*self.branches, *mates})
            for name, value in self._entries(keys.get("surfaces"))
        }
        airflow = self._expression(keys["airflow"]) if "airflow" in keys else None
        mates |= {*self.surfaces, *(["airflow"] if airflow else [])}
        self.terminals = set(terminals)
        self._check_follows(keys.get("branches"))
        bad_probe = self.collect.choice(keys["bad_probe"], ("rest", "call")) if "bad_probe" in keys else "rest"
        through = self._words(keys.get("through"))
        if "through" in keys and (len(through) != 2 or not set(through) <= terminals.keys()):
            self.collect.error(keys["through"], f"'{', '.join(through)}' is no way through", "two terminals")
            through = ()
        return Kind(
            name=self.collect.word(keys["kind"]),
            title=text(keys["title"]),
            role=self.collect.word(keys["role"]),
            note=text(keys["note"]) if "note" in keys else "",
            ratings=MappingProxyType(self.ratings),
            terminals=MappingProxyType(terminals),
            through=(through[0], through[1]) if through else None,
            branches=MappingProxyType(self.branches),
            positions=positions,
            rest=rest,
            run=run,
            coil=self._coil(keys.get("coil")),
            powered=self._coil(keys.get("powered")),
            control=self._coil(keys.get("control")),
            output="output" in keys and self.collect.boolean(keys["output"]),
            sense=self._sense(keys.get("sense")),
            trip=self._trip(keys.get("trip")),
            plug=MappingProxyType(plug),
            faults=MappingProxyType(
                {name: self._fault(name, value, mates) for name, value in self._entries(keys.get("faults"))}
            ),
            signs=MappingProxyType({name: self._sign(name, value) for name, value in self._entries(keys.get("signs"))}),
            probings=tuple(self._probings(keys.get("measure"))),
            cautions=tuple(self._texts(keys.get("cautions"))),
            place=node.place,
            surfaces=MappingProxyType(self.surfaces),
            airflow=airflow,
            bad_probe="call" if bad_probe == "call" else "rest",
        )

    def _entries(self, node: Node | None) -> list[tuple[str, Node]]:
        if node is None:
            return []
        if not isinstance(node, Mapping):
            self.collect.error(node, "this is not a mapping", "names with values")
            return []
        return [(self.collect.word(key), value) for key, value in node.entries]

    def _texts(self, node: Node | None) -> list[str]:
        if node is None:
            return []
        if isinstance(node, Scalar):
            return [self.collect.text(node)]
        return [self.collect.text(item) for item in self.collect.sequence(node)]

    def _words(self, node: Node | None) -> tuple[str, ...]:
        if node is None:
            return ()
        items = [node] if isinstance(node, Scalar) else self.collect.sequence(node)
        return tuple(self.collect.word(item) for item in items)

    def _known(self, node: Node | None, used: Iterable[str], known: Iterable[str], what: str) -> None:
        known_names(self.collect, node, used, known, what)

    def _rating(self, name: str, node: Node) -> Rating:
        keys = self.collect.mapping(node, required=("dimension",), optional=("default", "choices"))
        choices = tuple(self._texts(keys.get("choices")))
        if choices:
            return Rating(name, "choice", None, choices)
        dimension = (self.collect.choice(keys["dimension"], DIMENSIONS) if "dimension" in keys else "ratio") or "ratio"
        default = self.collect.quantity(keys["default"], dimension) if "default" in keys else None
        return Rating(name, dimension, default)

    def _terminal(self, name: str, node: Node) -> Terminal:
        keys = self.collect.mapping(node, required=("title",), optional=("path", "outside"))
        title = self.collect.text(keys["title"]) if "title" in keys else name
        path = self.collect.choice(keys["path"], PATHS) if "path" in keys else "power"
        outside = "outside" in keys and self.collect.boolean(keys["outside"])
        return Terminal(name, title, cast(Path, path or "power"), bool(outside))

    def _handle(self, node: Node | None) -> tuple[tuple[str, ...], str, str]:
        if node is None:
            return (), "", ""
        keys = self.collect.mapping(node, required=("positions", "rest", "run"))
        positions = self._words(keys.get("positions"))
        rest, run = (self.collect.choice(keys[key], positions) or "" if key in keys else "" for key in ("rest", "run"))
        return positions, rest, run

    def _expression(self, node: Node) -> Expression:
        text = self.collect.text(node)
        try:
            expression = parse_expression(text)
        except ValueError as error:
            self.collect.error(node, str(error), "numbers, ratings, + - * / ** and brackets")
            return Expression("1", frozenset())
        self._known(node, expression.names, self.ratings, "rating")
        return expression

    def _branch(self, name: str, node: Node, positions: tuple[str, ...]) -> Branch:
        if name in STATES:
            self.collect.error(node, f"a branch can't be named '{name}', which is a state", "another name")
        if name in WIRINGS:
            self.collect.error(node, f"a branch can't be named '{name}', which is a change of wires", "another name")
        keys = self.collect.mapping(
            node,
            required=("form", "from", "to"),
            optional=(
                "ohms", "reactance", "farads", "drop", "volts", "degrees", "range", "closed", "path",
                "heats", "only", "ratio", "of", "curve", "between",
            ),
        )  # fmt: skip
        form = self.collect.choice(keys["form"], tuple(FORMS)) if "form" in keys else "leak"
        form = form or "leak"
        ends = [self.collect.text(keys[end]) for end in ("from", "to") if end in keys]
        self._known(node, ends, self.points, "terminal or inside point")
        values = {key: self._expression(keys[key]) for key in FORMS[form] if key in keys}
        if form == "sensor" and "ohms" in keys:
            values["ohms"] = self._expression(keys["ohms"])  # what a digital one draws
        if form == "contact":
            values.setdefault("ohms", DEFAULT_CONTACT_OHMS)
        for key in FORMS[form]:
            if key not in values:
                self.collect.error(node, f"a {form} needs '{key}'", f"{key}: a number or an expression")
        path = self.collect.choice(keys["path"], PATHS) if "path" in keys else "power"
        only = self.collect.choice(keys["only"], ("ac", "dc")) if "only" in keys else None
        low, high = self._range(keys.get("range"))
        return Branch(
            name=name,
            form=cast(Form, form),
            tail=ends[0] if ends else "",
            head=ends[-1] if ends else "",
            values=MappingProxyType(values),
            low=low,
            high=high,
            closed=tuple(self._conditions(keys.get("closed"), positions)),
            path=cast(Path, path or "power"),
            heats="heats" in keys and bool(self.collect.boolean(keys["heats"])),
            domain=cast("Domain | None", only),
            of=self.collect.text(keys["of"]) if "of" in keys else "",
            curve=self._curve(node, form, keys.get("curve")),
            between=self._between(node, form, keys.get("between")),
        )

    def _curve(self, node: Node, form: str, given: Node | None) -> str:
        if (form in ("sensor", "thermocouple")) != (given is not None):
            self.collect.error(node, "'curve' belongs to a sensor or thermocouple, which needs it", "curve: a name")
        return (self.collect.choice(given, tuple(load_curves())) or "") if given is not None else ""

    def _between(self, node: Node, form: str, given: Node | None) -> tuple[str, str]:
        ends = self.collect.text(given).split(" - ") if given is not None else []
        if (form == "thermocouple") != (len(ends) == 2) or not set(ends) <= set(SENSING_PLACES):
            self.collect.error(given or node, "a thermocouple lies between two places", " - ".join(SENSING_PLACES[:2]))
            return "", ""
        return (ends[0], ends[1]) if ends else ("", "")

    def _check_follows(self, node: Node | None) -> None:
        for name, branch in self.branches.items():
            if (branch.form == "follow") != bool(branch.of) and node is not None:
                self.collect.error(node, f"{name}: 'of' belongs to a follow, and a follow needs it", "of: a branch")
            elif branch.of:
                self._known(node, [branch.of], self.branches.keys() - {name}, "branch")

    def _range(self, node: Node | None) -> tuple[float, float]:
        if node is None:
            return 0.95, 1.05
        match = re.fullmatch(r"(\d+(?:\.\d+)?)\s*-\s*(\d+(?:\.\d+)?)", self.collect.text(node).strip())
        if not match:
            self.collect.error(node, f"'{self.collect.text(node)}' is not a range", "shares such as 0.95 - 1.11")
            return 1.0, 1.0
        low, high = float(match[1]), float(match[2])
        if low > high:
            text = self.collect.text(node)
            self.collect.error(
                node, f"the range '{text}' runs backwards", f"the smaller end first: {match[2]} - {match[1]}"
            )
        return low, high

    def _conditions(self, node: Node | None, positions: tuple[str, ...]) -> Iterable[Condition]:
        for item, text in zip(self._items(node), self._texts(node), strict=True):
            words = text.split()
            negated = bool(words) and words[0] == "not"
            words = words[1:] if negated else words
            what = words[0] if words else ""
            if what not in CONDITIONS:
                self.collect.error(
                    item, f"'{text}' is no condition",
                    "handle POSITION, pressed POSITION, coil, tripped, powered, output or control",
                )  # fmt: skip
                continue
            self._known(item, words[1:], positions, "position")
            yield Condition(what, tuple(words[1:]), negated)  # type: ignore[arg-type]

    def _items(self, node: Node | None) -> list[Node]:
        if node is None:
            return []
        return [node] if isinstance(node, Scalar) else list(self.collect.sequence(node))

    def _coil(self, node: Node | None) -> Coil | None:
        if node is None:
            return None
        keys = self.collect.mapping(node, required=("branch", "pull_in", "drop_out"), optional=("domain",))
        if not {"branch", "pull_in", "drop_out"} <= keys.keys():
            return None
        branch = self.collect.text(keys["branch"])
        self._known(keys["branch"], [branch], self.branches, "branch")
        domain = self.collect.choice(keys["domain"], ("ac", "dc")) if "domain" in keys else "ac"
        pull_in, drop_out = self._expression(keys["pull_in"]), self._expression(keys["drop_out"])
        return Coil(branch, pull_in, drop_out, cast(Domain, domain or "ac"))

    def _sense(self, node: Node | None) -> Sense | None:
        if node is None:
            return None
        keys = self.collect.mapping(node, required=("plus", "minus"), optional=("compensate", "force"))
        names = {key: self.collect.text(value) for key, value in keys.items()}
        self._known(node, names.values(), self.points, "terminal")
        return Sense(**names) if {"plus", "minus"} <= names.keys() else None

    def _trip(self, node: Node | None) -> Trip | None:
        if node is None:
            return None
        keys = self.collect.mapping(node, required=("form", "through", "rating", "standard"))
        if not {"form", "through", "rating", "standard"} <= keys.keys():
            return None
        form = self.collect.choice(keys["form"], ("overcurrent", "residual", "fuse")) or "fuse"
        through = self._words(keys["through"])
        self._known(keys["through"], through, self.branches, "branch")
        standard = self.collect.text(keys["standard"])
        return Trip(form, through, self._expression(keys["rating"]), standard)  # type: ignore[arg-type]

    def _fault(self, name: str, node: Node, mates: set[str]) -> Fault:
        keys = self.collect.mapping(
            node,
            required=("title", "rate", "does", "remedy", "proof"),
            optional=(
                "levels", "signs", "stop", "source", "electrician", "when_warm", "new_only", "at_times", "when_moved",
                "usable",
            ),
        )  # fmt: skip
        at_times = self.collect.number(keys["at_times"], 0.05, 0.95) if "at_times" in keys else None
        rates = load_rates()
        words = tuple(rates.words)
        rate_word = (self.collect.choice(keys["rate"], words) if "rate" in keys else None) or words[0]
        reader = EffectReader(self.collect, self.branches, self.terminals)
        levels = [reader.level(item) for item in self._items(keys.get("levels"))]
        effects = [
            reader.effect(target, value, mates, bool(levels)) for target, value in self._entries(keys.get("does"))
        ]
        return Fault(
            name=name,
            title=self.collect.text(keys["title"]) if "title" in keys else name,
            rate=rates.words[rate_word],
            rate_word=rate_word,
            levels=tuple(level for level in levels if level is not None),
            effects=tuple(effect for effect in effects if effect is not None),
            remedy=Remedy(
                self.collect.text(keys["remedy"]) if "remedy" in keys else "",
                self._words(keys.get("proof")),
                "electrician" in keys and bool(self.collect.boolean(keys["electrician"])),
            ),
            signs=MappingProxyType(
                {sign: self.collect.text(value) for sign, value in self._entries(keys.get("signs"))}
            ),
            stop="stop" in keys and bool(self.collect.boolean(keys["stop"])),
            when_warm="when_warm" in keys and bool(self.collect.boolean(keys["when_warm"])),
            source=self.collect.text(keys["source"]) if "source" in keys else rates.source,
            new_only="new_only" in keys and bool(self.collect.boolean(keys["new_only"])),
            at_times=1.0 if at_times is None else at_times,
            when_moved="when_moved" in keys and bool(self.collect.boolean(keys["when_moved"])),
            usable="usable" in keys and bool(self.collect.boolean(keys["usable"])),
        )

    def _sign(self, name: str, node: Node) -> Sign:
        keys = self.collect.mapping(
            node,
            required=("question", "measure", "outcomes"),
            optional=("of", "rated", "exposure", "minutes", "procedure", "dead", "sure", "setups"),
        )
        measure = (self.collect.choice(keys["measure"], MEASURES) if "measure" in keys else None) or "state"
        of = self.collect.text(keys["of"]) if "of" in keys else ""
        if measure == "warmth":
            self._known(keys.get("of"), [of], self.surfaces, "surface")
        if measure in ("voltage", "current", "power", "sag"):
            self._known(node, [of], [*self.branches, "all"], "branch")
        outcomes = self._outcomes(keys.get("outcomes"))
        exposure = self.collect.choice(keys["exposure"], EXPOSURES) if "exposure" in keys else "outside"
        minutes = self.collect.number(keys["minutes"], 0, 600) if "minutes" in keys else None
        return Sign(
            name=name,
            question=self.collect.text(keys["question"]) if "question" in keys else "",
            of=of,
            measure=measure,  # type: ignore[arg-type]
            bands=tuple(outcomes),
            rated=self._expression(keys["rated"]) if "rated" in keys else None,
            exposure=cast(Exposure, exposure or "outside"),
            minutes=0.3 if minutes is None else minutes,
            procedure=self.collect.text(keys["procedure"]) if "procedure" in keys else "",
            outcomes=tuple(band[0] for band in outcomes),
            dead="dead" in keys and bool(self.collect.boolean(keys["dead"])),
            setups=self._words(keys.get("setups")),
            sure=(self.collect.number(keys["sure"], 0.5, 1) if "sure" in keys else None) or 1.0,
        )

    def _outcomes(self, node: Node | None) -> list[tuple[str, float, float]]:
        """`dark: 0 - 30` bands in percent; a bare list where the outcome is a state."""
        if node is None:
            return []
        if not isinstance(node, Mapping):
            return [(self.collect.text(item), 0.0, 0.0) for item in self.collect.sequence(node)]
        bands = []
        for name, value in node.entries:
            low, high = self._range(value)
            bands.append((self.collect.text(name), low / 100, high / 100))
        return bands

    def _probings(self, node: Node | None) -> Iterable[Probing]:
        if node is None:
            return
        for quantity, pairs in self._entries(node):
            if quantity not in QUANTITIES:
                self.collect.error(node, f"'{quantity}' is no quantity", f"one of {', '.join(QUANTITIES)}")
                continue
            for item in self._items(pairs):
                ends = [end.strip() for end in self.collect.text(item).split(" - ")]
                if len(ends) != 2:
                    self.collect.error(item, f"'{self.collect.text(item)}' is no pair", "two ends as 'a - b'")
                    continue
                self._known(
                    item, ends, [*self.points, "neutral", "earth", "other_leg", "return"], "terminal or reference"
                )
                yield Probing(quantity, ends[0], ends[1])
