"""A table of every kind of part, each way that it fails, what that changes, and where it would be seen."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass

from diagnose.knowledge.library import Library, load_library
from diagnose.knowledge.records import Effect, Fault, Kind
from diagnose.units import show
from diagnose.wording import general_cautions

FORMATS = ("text", "markdown")
STATE_WORDS = {
    "never": "never comes on",
    "always": "stays on",
    "weak": "opens below its rating",
    "wrong_kind": "takes the probe for another kind",
    "offset": "is off by some degrees",
    "jumping": "comes and goes",
}


@dataclass(frozen=True, slots=True)
class TableRow:
    """One way in which one kind of part fails."""

    kind: str
    title: str
    fault: str
    fault_title: str
    rate: str
    changes: str
    seen: str
    new_only: bool


def rows(library: Library) -> Iterator[TableRow]:
    """All kinds by name, their faults in the order of their files."""
    for name in sorted(library.kinds):
        kind = library.kinds[name]
        for fault in kind.faults.values():
            yield TableRow(
                name, kind.title, fault.name, fault.title, fault.rate_word, changes(fault), seen(kind, fault),
                fault.new_only,
            )  # fmt: skip


def changes(fault: Fault) -> str:
    """What a fault does to the circuit: `pole_1 open`, `leak_a 1 kΩ to 500 kΩ`."""
    return "; ".join(_change(fault, effect) for effect in fault.effects) or "nothing in the circuit"


def _change(fault: Fault, effect: Effect) -> str:
    match effect.change:
        case "open" | "closed":
            return f"{effect.target} {effect.change}"
        case "stalled":
            return f"{effect.target} of a motor that stands"
        case "half_wave":
            return f"{effect.target} passes one half of each cycle"
        case "state":
            return f"{effect.target} {_state(fault, effect)}"
        case "joined":
            return f"{effect.ends[0]} joined to {effect.ends[1]}"
        case "swapped":
            return f"the wires at {effect.ends[0]} and {effect.ends[1]} exchanged"
        case "moved":
            return f"the wire for {effect.ends[0]} on {effect.ends[1]}"
        case "metal":
            return f"{effect.target} of {effect.state.replace('_', ' ')}"
        case "reversed":
            return f"{effect.target} the wrong way round"
        case "ohms":
            return f"{effect.target} {_span(_values(fault, effect), _ohms)}"
        case "scale":
            return f"{effect.target} {_span(_values(fault, effect), _times)}"


def _state(fault: Fault, effect: Effect) -> str:
    if effect.state.startswith("x "):
        return f"made for {effect.state[2:]} times the volts"
    if effect.state == "offset":
        return "off by " + " or ".join(f"{level:+g} °C" for level in fault.levels)
    return STATE_WORDS.get(effect.state, effect.state)


def _values(fault: Fault, effect: Effect) -> tuple[float, ...]:
    return (effect.value,) if effect.value is not None else tuple(sorted(fault.levels))


def _span(values: tuple[float, ...], written: Callable[[float], str]) -> str:
    ends = dict.fromkeys((written(values[0]), written(values[-1])))
    return " to ".join(ends)


def _ohms(value: float) -> str:
    return show(value, "resistance")


def _times(value: float) -> str:
    return f"times {value:g}"


def seen(kind: Kind, fault: Fault) -> str:
    """Where the fault would be seen: signs that tell it, then pairs of terminals that a meter goes to."""
    touched = _touched(kind, fault)
    ends = {end for effect in fault.effects for end in effect.ends if end}
    signs = [f"{sign}: {outcome}" for sign, outcome in fault.signs.items()]
    signs += [
        sign.name
        for sign in kind.signs.values()
        if sign.name not in fault.signs and (sign.measure in ("power", "shown", "error", "trip") or sign.of in touched)
    ]
    pairs = [
        f"{probing.quantity.replace('_', ' ')} {probing.tail} - {probing.head}"
        for probing in kind.probings
        if {probing.tail, probing.head} & (_terminals(kind, touched) | ends)
    ]
    return "; ".join((*signs, *pairs)) or "what hangs on it"


def _touched(kind: Kind, fault: Fault) -> set[str]:
    """Branches and states that a fault changes; a changed contact's part is touched as a whole by its state."""
    touched = {effect.target for effect in fault.effects}
    for state, coil in (("coil", kind.coil), ("powered", kind.powered), ("control", kind.control)):
        if coil is not None and (coil.branch in touched or state in touched):
            touched |= {coil.branch, state}
    return touched


def _terminals(kind: Kind, touched: set[str]) -> set[str]:
    found = {
        end for name in touched if name in kind.branches for end in (kind.branches[name].tail, kind.branches[name].head)
    }
    found |= {name.removeprefix("mate_") for name in touched if name.startswith("mate_")}
    return found


def table_lines(library: Library, written: str = "text") -> Iterator[str]:
    """The table's lines; raises ValueError for a format that is not one of FORMATS."""
    if written not in FORMATS:
        raise ValueError(f"'{written}' is no format, expected one of {', '.join(FORMATS)}")
    yield from _markdown(rows(library)) if written == "markdown" else _text(rows(library))


def _markdown(table: Iterable[TableRow]) -> Iterator[str]:
    yield "| kind | fault | how often | what changes | where it is seen |"
    yield "|---|---|---|---|---|"
    for row in table:
        cells = (f"`{row.kind}`", _titled(row), row.rate, row.changes, row.seen)
        yield "| " + " | ".join(cell.replace("|", "\\|") for cell in cells) + " |"


def _text(table: Iterable[TableRow]) -> Iterator[str]:
    kind = ""
    for row in table:
        if row.kind != kind:
            yield from ([""] if kind else [])
            yield f"{row.kind}: {row.title}"
            kind = row.kind
        yield f"  {_titled(row)} ({row.rate})"
        yield f"    changes: {row.changes}"
        yield f"    seen at: {row.seen}"


def _titled(row: TableRow) -> str:
    return f"{row.fault_title} [newly built only]" if row.new_only else row.fault_title


def main_kinds(written: str = "text") -> int:
    """Print the table of the bundled knowledge base; returns an exit code.

    Raises
    ------
    DiagnoseError
        Where the knowledge base can't be read.
    """
    cautions = [f"Caution: {text}" for text in general_cautions("always", "dead", "live")]
    for line in (*table_lines(load_library(), written), "", *cautions):
        print(line)
    return 0
