"""YAML with positions for text that people edit: scalars stay text, surprises are refused."""

from __future__ import annotations

import collections.abc as abc
import difflib
import math
import re
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, NoReturn, TypeAlias

import yaml

from diagnose.errors import AnswerError, FileError, Level, Place, Problem, raise_errors
from diagnose.units import quoted, to_si

DEEPEST = 40
LARGEST_BYTES = 4_000_000
MOST_NODES = 200_000
_LOADER: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
# Nothing that a person types on purpose; U+2028 and U+2029 end a line for YAML but not for editors.
_CONTROL = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u2028\u2029\ufeff\ufffe\uffff\ud800-\udfff]")
_NUMBER = re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)([eE][+-]?\d+)?", re.ASCII)
_WORD = re.compile(r"[a-z][a-z0-9_]*", re.ASCII)
_BOOLEANS = {"yes": True, "true": True, "no": False, "false": False}
_MOST_SUGGESTIONS = 200
_VALUE = "the value alone, or text in quotes"


@dataclass(frozen=True, slots=True)
class Scalar:
    """A text; `plain` if it stands without quotes."""

    text: str
    plain: bool
    place: Place


@dataclass(frozen=True, slots=True)
class Sequence:
    """A list."""

    items: tuple[Node, ...]
    place: Place


@dataclass(frozen=True, slots=True)
class Mapping:
    """Keys with values in the order of the file; no key comes twice."""

    entries: tuple[tuple[Scalar, Node], ...]
    place: Place

    def get(self, key: str) -> Node | None:
        """Return the value of a key, or None."""
        return next((value for name, value in self.entries if name.text == key), None)

    def keys(self) -> tuple[str, ...]:
        """Return the keys' texts."""
        return tuple(name.text for name, _ in self.entries)

    def key_place(self, key: str) -> Place:
        """Return where a key stands, or where the mapping begins if it lacks the key."""
        return next((name.place for name, _ in self.entries if name.text == key), self.place)


Node: TypeAlias = Scalar | Sequence | Mapping


# Reading --------------------------------------------------------------------------------------------


def read(path: Path, shown_as: str | None = None) -> Node:
    """Read a file; messages call it `shown_as`. Raises FileError with one problem."""
    return parse(read_bytes(path, shown_as), _file_name(path, shown_as))


def _file_name(path: Path, shown_as: str | None) -> str:
    return (shown_as or str(path)).encode("utf-8", "replace").decode("utf-8")


def read_bytes(path: Path, shown_as: str | None = None) -> bytes:
    """What a file holds, as far as it may be read at all. Raises FileError with one problem."""
    name = _file_name(path, shown_as)
    try:
        with path.open("rb") as stream:
            return stream.read(LARGEST_BYTES + 1)
    except IsADirectoryError:
        _refuse(Place(name), "this is a directory", "a YAML file")
    except FileNotFoundError:
        _refuse(Place(name), "there is no such file", "a YAML file")
    except PermissionError:
        _refuse(Place(name), "this file may not be read", "a file with permission to read it")
    except (OSError, ValueError) as error:
        reason = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
        _refuse(Place(name), f"this file can't be read ({reason})", "a YAML file")


def parse(text: str | bytes, file: str) -> Node:
    """Read YAML text; `file` is its name in messages. Raises FileError with one problem, with its place."""
    decoded = _decoded(text, file)
    builder = _Builder(file)
    try:
        for event in yaml.parse(decoded, Loader=_LOADER):
            builder.take(event)
    except yaml.YAMLError as error:
        raise _not_yaml(error, decoded, file) from None
    except ValueError:  # pyyaml's own parser on an escape or a version number that is out of range
        _refuse(builder.place, "this is not YAML: a number that is out of range", "a shorter one")
    if builder.root is None or builder.root == Scalar("", True, builder.root.place):
        _refuse(Place(file), "the file is empty", "keys with values")
    return builder.root


def _refuse(place: Place, message: str, expected: str) -> NoReturn:
    raise FileError(Problem(message, expected, place))


def _decoded(text: str | bytes, file: str) -> str:
    if len(text) > LARGEST_BYTES:
        _refuse(Place(file), "the file is larger than 4 MB", "a smaller one")
    if isinstance(text, bytes):
        text = _from_bytes(text, file)
    text = text.removeprefix("\ufeff")
    if found := _CONTROL.search(text):
        code = f"U+{ord(found[0]):04X}"
        _refuse(_place_at(text, found.start(), file), f"the control character {code}", "plain text")
    return text


def _from_bytes(data: bytes, file: str) -> str:
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError as error:
        place = _place_at(data[: error.start].decode("utf-8"), error.start, file)
        _refuse(place, f"the byte 0x{data[error.start]:02x} is not UTF-8", "text saved as UTF-8")


def _place_at(text: str, index: int, file: str) -> Place:
    before = re.split("\r\n|\r|\n", text[:index].removeprefix("\ufeff"))
    return Place(file, len(before), len(before[-1]) + 1)


@dataclass(slots=True)
class _Frame:
    """A list or mapping whose end has not come yet."""

    place: Place
    is_mapping: bool
    items: list[Node] = field(default_factory=list)
    entries: list[tuple[Scalar, Node]] = field(default_factory=list)
    key: Scalar | None = None
    seen: dict[str, Place] = field(default_factory=dict)

    def node(self) -> Node:
        """Return what is complete now."""
        if self.is_mapping:
            return Mapping(tuple(self.entries), self.place)
        return Sequence(tuple(self.items), self.place)


class _Builder:
    """Builds nodes from the parser's events with a stack of its own, so that no nesting exhausts Python's."""

    def __init__(self, file: str) -> None:
        self.file = file
        self.place = Place(file)
        self.root: Node | None = None
        self.frames: list[_Frame] = []
        self.nodes = 0
        self.documents = 0

    def take(self, event: Any) -> None:
        """Take the parser's next event; raises FileError."""
        self.place = Place(self.file, event.start_mark.line + 1, event.start_mark.column + 1)
        match event:
            case yaml.DocumentStartEvent():
                self.documents += 1
                if self.documents > 1:
                    _refuse(self.place, "a second document begins here", "one document a file")
            case yaml.AliasEvent():
                _refuse(self.place, f"the alias {quoted(f'*{event.anchor}')}", _VALUE)
            case yaml.ScalarEvent():
                self._begin(event)
                self._scalar(event)
            case yaml.CollectionStartEvent():
                self._begin(event)
                self._open(isinstance(event, yaml.MappingStartEvent))
            case yaml.CollectionEndEvent():
                frame = self.frames.pop()
                self._add(frame.node())
            case _:
                pass

    def _begin(self, event: Any) -> None:
        self.nodes += 1
        if self.nodes > MOST_NODES:
            _refuse(self.place, f"more than {MOST_NODES:,} values", "a smaller file")
        if event.anchor is not None:
            _refuse(self.place, f"the anchor {quoted(f'&{event.anchor}')}", _VALUE)
        if event.tag is not None:
            _refuse(self.place, f"the tag {quoted(event.tag)}", _VALUE)

    def _open(self, is_mapping: bool) -> None:
        if self.frames and self.frames[-1].is_mapping and self.frames[-1].key is None:
            what = "a mapping" if is_mapping else "a list"
            _refuse(self.place, f"{what} stands where a key belongs", "a text (in quotes if it has brackets)")
        if len(self.frames) >= DEEPEST:
            _refuse(self.place, f"nested more than {DEEPEST} deep", "lists and mappings less deep")
        self.frames.append(_Frame(self.place, is_mapping))

    def _scalar(self, event: Any) -> None:
        if found := _CONTROL.search(event.value):
            _refuse(self.place, f"the control character U+{ord(found[0]):04X} in this text", "plain text")
        scalar = Scalar(event.value, not event.style, self.place)  # libyaml: "", pyyaml: None
        frame = self.frames[-1] if self.frames else None
        if frame is None or not frame.is_mapping or frame.key is not None:
            self._add(scalar)
            return
        if scalar.plain and scalar.text in ("", "<<"):
            message = "an empty key" if not scalar.text else "the merge key '<<'"
            _refuse(self.place, message, "a text as key")
        if (first := frame.seen.get(scalar.text)) is not None:
            _refuse(self.place, f"the key {quoted(scalar.text)} comes twice (first on line {first.line})",
                    "each key once")  # fmt: skip
        frame.seen[scalar.text] = scalar.place
        frame.key = scalar

    def _add(self, node: Node) -> None:
        if not self.frames:
            self.root = node
        elif (frame := self.frames[-1]).key is not None:
            frame.entries.append((frame.key, node))
            frame.key = None
        else:
            frame.items.append(node)


# The parser's words (in both forms), ours, what was expected; True: the place is where the thing began.
_PLAIN_WORDS: tuple[tuple[str, str, str, bool], ...] = (
    (r"mapping values are not allowed", "a ':' is out of place",
     "keys in line with those above, and quotes around text with ': ' in it", False),
    (r"sequence entries are not allowed", "a '- ' is out of place",
     "each '- ' at the beginning of a line", False),
    (r"did not find expected '-'|collection.*expected <block end>",
     "this line does not go on with the list above",
     "a line that begins with '- ' in line with those above", False),
    (r"did not find expected key|mapping.*expected <block end>", "this does not go on with the mapping above",
     "keys in line with those above, and quotes around all of a text or none of it", False),
    (r"flow sequence.*expected ',' or '\]'", "the list in [ ] is not closed or lacks a comma",
     "[one, two]", True),
    (r"flow mapping.*expected ',' or '\}'", "the mapping in { } is not closed or lacks a comma",
     "{key: value}", True),
    (r"quoted scalar.*found unexpected", "the quote that begins here is not closed", "a closing quote", True),
    (r"escape", "an unknown escape in double quotes", "'single quotes', or two backslashes for one", True),
    (r"could not find expected ':'", "a line without a ':'", "key: value", True),
    (r"(anchor|alias).*expected alphabetic", "a value can't begin with '&' or '*'", "quotes around it", True),
    (r"\btag\b", "a value can't begin with '!'", "quotes around it", True),
    (r"node content", "a bracket or comma is out of place",
     "a value, in quotes if it begins with a bracket", False),
    (r"<?document start>?", "more text after the end of the value", "one value, or keys with values", False),
    (r"nesting", f"nested more than {DEEPEST} deep", "lists and mappings less deep", False),
    (r"directive|incompatible|version", "a line that begins with '%'", "keys with values", False),
    (r"block scalar", "more text after '|' or '>'", "the text on the lines below, indented", True),
    (r"tab character", "a tab in the indentation", "spaces", False),
)  # fmt: skip


def _not_yaml(error: yaml.YAMLError, text: str, file: str) -> FileError:
    """Turn the parser's words and mark into ours."""
    mark = getattr(error, "problem_mark", None)
    if mark is None:
        return FileError(Problem("this is not YAML", "keys with values", Place(file)))
    place = Place(file, mark.line + 1, mark.column + 1)
    problem = " ".join(str(getattr(error, "problem", None)).split())
    if "cannot start any token" in problem:
        character = (text.splitlines()[mark.line :] or [""])[0][mark.column : mark.column + 1]
        if character == "\t":
            return FileError(Problem("a tab in the indentation", "spaces", place))
        return FileError(Problem(f"a value can't begin with {quoted(character)}", "quotes around it", place))
    for pattern, message, expected, at_start in _PLAIN_WORDS:
        if re.search(pattern, f"{getattr(error, 'context', None) or ''} {problem}"):
            start = getattr(error, "context_mark", None) if at_start else None
            if start is not None:
                place = Place(file, start.line + 1, start.column + 1)
            return FileError(Problem(message, expected, place))
    return FileError(Problem(f"this is not YAML: {problem}", "keys with values", place))


# Reading nodes --------------------------------------------------------------------------------------


@dataclass(slots=True)
class Collector:
    """Turns nodes into values and notes every problem; a method whose node is wrong returns its default."""

    problems: list[Problem] = field(default_factory=list)
    _noted: set[Problem] = field(default_factory=set)

    def error(self, where: Node | Place | None, message: str, expected: str = "", rule: str = "") -> None:
        """Note an error at a node or place; the same one is noted once."""
        self._note("error", where, message, expected, rule)

    def warning(self, where: Node | Place | None, message: str, expected: str = "", rule: str = "") -> None:
        """Note a warning at a node or place; the same one is noted once."""
        self._note("warning", where, message, expected, rule)

    def _note(self, level: Level, where: Node | Place | None, message: str, expected: str, rule: str) -> None:
        place = where if isinstance(where, Place) or where is None else where.place
        problem = Problem(message, expected, place, level, rule)
        if problem not in self._noted:
            self._noted.add(problem)
            self.problems.append(problem)

    def raise_errors(self) -> None:
        """Raise FileError with all errors noted so far, if any."""
        raise_errors(self.problems)

    def text(self, node: Node) -> str:
        """Return a text; '' where there is none (a text in quotes may be empty)."""
        return self._text(node, "text") or ""

    def word(self, node: Node) -> str:
        """Return a name of small letters, digits and _; a faulty one too, so that it stays distinct."""
        text = self._text(node, "a name")
        if text is not None and not _WORD.fullmatch(text):
            self.error(node, f"{quoted(text)} is no name", "small letters, digits and _, a letter first")
        return text or ""

    def boolean(self, node: Node) -> bool:
        """Return yes or true, no or false; False where it is neither."""
        text = self._text(node, "yes or no")
        if text is not None and text not in _BOOLEANS:
            self.error(node, f"{quoted(text)} is neither yes nor no", "yes or no")
        return _BOOLEANS.get(text or "", False)

    def number(self, node: Node, low: float | None = None, high: float | None = None) -> float | None:
        """Return a finite number from low to high."""
        return self._number(node, low, high, "a number")

    def whole(self, node: Node, low: int | None = None, high: int | None = None) -> int | None:
        """Return a whole number from low to high, written without a point."""
        value = self._number(node, low, high, "a whole number")
        return None if value is None else int(value)

    def mapping(
        self, node: Node, required: abc.Sequence[str] = (), optional: abc.Sequence[str] = ()
    ) -> dict[str, Node]:
        """Return the values of the known keys that are there; notes unknown and missing keys."""
        if not isinstance(node, Mapping):
            self.error(node, f"{_kind(node)} stands here", "keys with values")
            return {}
        known = [*required, *optional]
        for key, _ in node.entries:
            if key.text not in known:
                expected = f"one of {', '.join(known)}" if known else "no keys here"
                self.error(key, f"unknown key {quoted(key.text)}", expected + self._suggestion(key.text, known))
        found = {key.text: value for key, value in node.entries if key.text in known}
        for name in required:
            if name not in found:
                self.error(node, f"the key '{name}' is missing", f"keys {', '.join(required)}")
        return found

    def sequence(self, node: Node) -> list[Node]:
        """Return the items of a list."""
        if isinstance(node, Sequence):
            return list(node.items)
        self.error(node, f"{_kind(node)} stands here", "a list: lines that begin with '- ', or [one, two]")
        return []

    def entries(
        self, node: Node, what: str = "this is", expected: str = "names with values"
    ) -> list[tuple[Scalar, Node]]:
        """Return the keys and values of a mapping whose keys are free; none where it is no mapping."""
        if isinstance(node, Mapping):
            return list(node.entries)
        self.error(node, f"{what} not a mapping", expected)
        return []

    def choice(self, node: Node, choices: abc.Sequence[str]) -> str | None:
        """Return one of the choices."""
        expected = f"one of {', '.join(choices)}"
        text = self._text(node, expected)
        if text is None or text in choices:
            return text
        self.error(node, f"unknown choice {quoted(text)}", expected + self._suggestion(text, choices))
        return None

    def quantity(self, node: Node, dimension: str) -> float | None:
        """Return a quantity such as '10.4 Ω' in the SI unit of its dimension."""
        text = self._text(node, dimension.replace("_", " "))
        try:
            return None if text is None else to_si(text, dimension)
        except AnswerError as error:
            self.error(node, error.problems[0].message, error.problems[0].expected)
            return None

    def _text(self, node: Node, expected: str) -> str | None:
        if isinstance(node, Scalar) and (node.text or not node.plain):
            return node.text
        self.error(node, f"{_kind(node)} stands here", expected)
        return None

    def _number(self, node: Node, low: float | None, high: float | None, what: str) -> float | None:
        text = self._text(node, what)
        if text is None:
            return None
        expected = what + (f" from {low:g}" if low is not None else "") + (f" to {high:g}" if high is not None else "")
        pattern = re.compile(r"[+-]?\d{1,15}", re.ASCII) if what == "a whole number" else _NUMBER
        if not pattern.fullmatch(text) or not math.isfinite(value := float(text)):
            self.error(node, f"{quoted(text)} is not {what}", expected)
        elif (low is not None and value < low) or (high is not None and value > high):
            self.error(node, f"{quoted(text)} is out of range", expected)
        else:
            return value
        return None

    def _suggestion(self, text: str, known: abc.Sequence[str]) -> str:
        if len(text) > 60 or len(self.problems) > _MOST_SUGGESTIONS:  # difflib is slow
            return ""
        near = difflib.get_close_matches(text, known, 1)
        return f" (did you mean '{near[0]}'?)" if near else ""


def _kind(node: Node) -> str:
    if isinstance(node, Scalar):
        return f"the text {quoted(node.text)}" if node.text else "nothing"
    return "a list" if isinstance(node, Sequence) else "a mapping"
