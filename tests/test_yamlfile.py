"""YAML files: text stays text, every refusal has a place, and what is written is read back."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from diagnose import yamlfile
from diagnose.errors import FileError, Place
from diagnose.yamlfile import Collector, Mapping, Node, Scalar, Sequence, parse, read


@pytest.fixture(params=["CSafeLoader", "SafeLoader"])
def parser(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """Run with libyaml's parser and with pyyaml's own."""
    if not hasattr(yaml, request.param):
        pytest.skip(f"pyyaml without {request.param}")
    monkeypatch.setattr(yamlfile, "_LOADER", getattr(yaml, request.param))


def refusal(text: str | bytes) -> str:
    """Return the one message with which a text is refused."""
    with pytest.raises(FileError) as caught:
        parse(text, "panel.yaml")
    assert len(caught.value.problems) == 1
    return str(caught.value)


def plain(node: Node) -> Any:
    """Return a node without its places."""
    if isinstance(node, Scalar):
        return node.text
    if isinstance(node, Sequence):
        return [plain(item) for item in node.items]
    return {key.text: plain(value) for key, value in node.entries}


@pytest.mark.usefixtures("parser")
def test_nodes_know_their_places() -> None:
    node = parse('kind: relay\nends:\n  - "NO"\n  - b\n', "relay.yaml")
    assert isinstance(node, Mapping)
    assert node.keys() == ("kind", "ends")
    assert node.get("kind") == Scalar("relay", True, Place("relay.yaml", 1, 7))
    assert node.get("ends") == Sequence(
        (Scalar("NO", False, Place("relay.yaml", 3, 5)), Scalar("b", True, Place("relay.yaml", 4, 5))),
        Place("relay.yaml", 3, 3),
    )
    assert node.get("other") is None
    assert node.key_place("ends") == Place("relay.yaml", 2, 1)
    assert node.key_place("other") == node.place == Place("relay.yaml", 1, 1)


@pytest.mark.usefixtures("parser")
@pytest.mark.parametrize(
    "text", ["NO", "off", "12:30", "1e3", "0x10", "017", "~", "null", "2024-01-02", ".inf", "=", "1_0"]
)
def test_text_stays_text(text: str) -> None:
    assert plain(parse(f"a: {text}", "f")) == {"a": text}
    assert plain(parse(f"{text}: a", "f")) == {text: "a"}


@pytest.mark.usefixtures("parser")
def test_windows_line_ends_and_a_byte_order_mark_are_fine() -> None:
    node = parse("\ufeffa: 1\r\nb: é\r\n".encode(), "f")
    assert plain(node) == {"a": "1", "b": "é"}
    assert isinstance(node, Mapping)
    assert node.key_place("a") == Place("f", 1, 1)
    assert node.key_place("b") == Place("f", 2, 1)


TEXT_IN_QUOTES = "expected the value alone, or text in quotes"


@pytest.mark.usefixtures("parser")
@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "1:1: the file is empty; expected keys with values"),
        ("# only a comment\n", "1:1: the file is empty; expected keys with values"),
        ("---\n", "1:1: the file is empty; expected keys with values"),
        ("a: 1\n---\nb: 2\n", "2:1: a second document begins here; expected one document a file"),
        ("a: 1\nb: 2\na: 3\n", "3:1: the key 'a' comes twice (first on line 1); expected each key once"),
        ("a: &x 1\n", f"1:4: the anchor '&x'; {TEXT_IN_QUOTES}"),
        ("a: *x\n", f"1:4: the alias '*x'; {TEXT_IN_QUOTES}"),
        ("a: !!int 1\n", f"1:4: the tag 'tag:yaml.org,2002:int'; {TEXT_IN_QUOTES}"),
        ("a: !new [1]\n", f"1:4: the tag '!new'; {TEXT_IN_QUOTES}"),
        ("<<: 1\n", "1:1: the merge key '<<'; expected a text as key"),
        ("?\n: 1\n", "1:2: an empty key; expected a text as key"),
        ("{a: 1}: b\n",
         "1:1: a mapping stands where a key belongs; expected a text (in quotes if it has brackets)"),
        ("? [a]\n: b\n",
         "1:3: a list stands where a key belongs; expected a text (in quotes if it has brackets)"),
        ("a: x: y\n", "1:5: a ':' is out of place; expected keys in line with those above, "
         "and quotes around text with ': ' in it"),
        ("a: 1\n  b: 2\n", "2:4: a ':' is out of place; expected keys in line with those above, "
         "and quotes around text with ': ' in it"),
        ("a: - b\n", "1:4: a '- ' is out of place; expected each '- ' at the beginning of a line"),
        ("- a\nb: 1\n", "2:1: this line does not go on with the list above; "
         "expected a line that begins with '- ' in line with those above"),
        ("a:\n  - b\n c: 1\n", "3:2: this does not go on with the mapping above; "
         "expected keys in line with those above, and quotes around all of a text or none of it"),
        ("a: 'b' c\n", "1:8: this does not go on with the mapping above; "
         "expected keys in line with those above, and quotes around all of a text or none of it"),
        ("a:\n\t- b\n", "2:1: a tab in the indentation; expected spaces"),
        ("a: @b\n", "1:4: a value can't begin with '@'; expected quotes around it"),
        ("a: % of all\n", "1:4: a value can't begin with '%'; expected quotes around it"),
        ("a: *\n", "1:4: a value can't begin with '&' or '*'; expected quotes around it"),
        ("a: [1, 2\nb: 3\n", "1:4: the list in [ ] is not closed or lacks a comma; expected [one, two]"),
        ("a: {b: 1\n", "1:4: the mapping in { } is not closed or lacks a comma; expected {key: value}"),
        ("a: 'b\nc: 1\n", "1:4: the quote that begins here is not closed; expected a closing quote"),
        ('a: "\\q"\n', "1:4: an unknown escape in double quotes; "
         "expected 'single quotes', or two backslashes for one"),
        ("a: 1\nb\n", "2:1: a line without a ':'; expected key: value"),
        ("a: ]\n", "1:4: a bracket or comma is out of place; "
         "expected a value, in quotes if it begins with a bracket"),
        ("[a] b\n", "1:5: more text after the end of the value; expected one value, or keys with values"),
        ("a: >x\n  b\n", "1:4: more text after '|' or '>'; expected the text on the lines below, indented"),
        ("%YAML 3.0\n---\na\n", "1:1: a line that begins with '%'; expected keys with values"),
        ("a: b\x00", "1:5: the control character U+0000; expected plain text"),
        ("a: 1\nb: \x1b[2J", "2:4: the control character U+001B; expected plain text"),
        ("a: 1\nb: x\u2028y", "2:5: the control character U+2028; expected plain text"),
        ('a: "\\x1b"\n', "1:4: the control character U+001B in this text; expected plain text"),
        (b"a: 1\nb: caf\xe9\n", "2:7: the byte 0xe9 is not UTF-8; expected text saved as UTF-8"),
        ("a: 1\n".encode("utf-16"), "1:1: the byte 0xff is not UTF-8; expected text saved as UTF-8"),
        ("x" * 4_000_001, "1:1: the file is larger than 4 MB; expected a smaller one"),
        ("[" * 500, "1:41: nested more than 40 deep; expected lists and mappings less deep"),
        ("- " * 5000 + "a", "1:81: nested more than 40 deep; expected lists and mappings less deep"),
    ],
    ids=lambda value: value[:20] if isinstance(value, str) else None,
)  # fmt: skip
def test_refusals_have_a_place_and_an_expectation(text: str | bytes, message: str) -> None:
    assert refusal(text) == f"panel.yaml:{message}"


@pytest.mark.usefixtures("parser")
@pytest.mark.parametrize("text", ["[" * 100_000, "{a: " * 100_000, "- " * 100_000, "[{a: " * 50_000])
def test_no_nesting_exhausts_the_stack(text: str) -> None:
    assert refusal(text).endswith(": nested more than 40 deep; expected lists and mappings less deep")


@pytest.mark.usefixtures("parser")
def test_a_file_of_too_many_values_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(yamlfile, "MOST_NODES", 2000)
    assert plain(parse("[" + "a," * 1999 + "]", "f")) == ["a"] * 1999
    message = refusal("[" + "a," * 2000 + "]")
    assert message == "panel.yaml:1:4000: more than 2,000 values; expected a smaller file"


@pytest.mark.usefixtures("parser")
def test_forty_deep_is_taken() -> None:
    assert isinstance(parse("[" * 40 + "]" * 40, "f"), Sequence)


@pytest.mark.usefixtures("parser")
@pytest.mark.parametrize("text", ['a: "\\U00110000"', 'a: "\\ud800"', "%YAML 1." + "9" * 5000 + "\n---\na", "a: !<\n"])
def test_odd_text_is_refused_all_the_same(text: str) -> None:
    assert refusal(text).startswith("panel.yaml:1:")


@pytest.mark.usefixtures("parser")
@given(st.text("ab:-[]{}#'\"|>?!&*%@,\n \t\\", max_size=60) | st.text(max_size=40) | st.binary(max_size=40))
def test_any_text_is_a_node_or_one_problem_with_a_place(text: str | bytes) -> None:
    try:
        parse(text, "f")
    except FileError as error:
        (problem,) = error.problems
        assert problem.expected
        assert problem.place is not None
        assert problem.place.file == "f"


def test_files_that_cannot_be_read(tmp_path: Path) -> None:
    for path, message in [
        (tmp_path, "p:1:1: this is a directory; expected a YAML file"),
        (tmp_path / "none.yaml", "p:1:1: there is no such file; expected a YAML file"),
        (tmp_path / ("x" * 300), "p:1:1: this file can't be read (File name too long); expected a YAML file"),
        (tmp_path / "a\0b", "p:1:1: this file can't be read (embedded null byte); expected a YAML file"),
    ]:
        with pytest.raises(FileError) as caught:
            read(path, "p")
        assert str(caught.value) == message


def test_a_file_is_called_by_its_path_unless_told_otherwise(tmp_path: Path) -> None:
    path = tmp_path / "a.yaml"
    path.write_text("a: 1")
    assert read(path).place.file == str(path)
    assert read(path, "shown.yaml").place.file == "shown.yaml"


def mapping(text: str) -> Mapping:
    node = parse(text, "f")
    assert isinstance(node, Mapping)
    return node


def test_a_collector_returns_values() -> None:
    collect = Collector()
    keys = collect.mapping(
        mapping('t: a b\ne: ""\nw: k_1\nb: yes\nn: -1.5e3\ni: 7\ns: [x]\nc: ac\nq: 10 kΩ\n'),
        tuple("tewbniscq"),
    )
    assert collect.text(keys["t"]) == "a b"
    assert collect.text(keys["e"]) == ""
    assert collect.word(keys["w"]) == "k_1"
    assert collect.boolean(keys["b"]) is True
    assert collect.number(keys["n"]) == -1500
    assert collect.whole(keys["i"], 7, 7) == 7
    assert [collect.text(item) for item in collect.sequence(keys["s"])] == ["x"]
    assert collect.choice(keys["c"], ("ac", "dc")) == "ac"
    assert collect.quantity(keys["q"], "resistance") == 10_000
    assert collect.problems == []
    collect.raise_errors()


@pytest.mark.parametrize(
    ("value", "method", "arguments", "default", "message"),
    [
        ("[a]", "text", (), "", "a list stands here; expected text"),
        ("", "text", (), "", "nothing stands here; expected text"),
        ("Main relay", "word", (), "Main relay",
         "'Main relay' is no name; expected small letters, digits and _, a letter first"),
        ("on", "boolean", (), False, "'on' is neither yes nor no; expected yes or no"),
        ("ten", "number", (), None, "'ten' is not a number; expected a number"),
        (".nan", "number", (), None, "'.nan' is not a number; expected a number"),
        ("1e999", "number", (), None, "'1e999' is not a number; expected a number"),
        ("1_0", "number", (0,), None, "'1_0' is not a number; expected a number from 0"),
        ("11", "number", (0, 10), None, "'11' is out of range; expected a number from 0 to 10"),
        ("-1", "number", (0,), None, "'-1' is out of range; expected a number from 0"),
        ("1.5", "whole", (), None, "'1.5' is not a whole number; expected a whole number"),
        ("{a: 1}", "sequence", (), [],
         "a mapping stands here; expected a list: lines that begin with '- ', or [one, two]"),
        ("x", "mapping", (), {}, "the text 'x' stands here; expected keys with values"),
        ("acc", "choice", (("ac", "dc"),), None,
         "unknown choice 'acc'; expected one of ac, dc (did you mean 'ac'?)"),
        ("24 W", "quantity", ("voltage",), None, "'24 W' is power; expected voltage (such as 120 V)"),
        ("[24]", "quantity", ("voltage",), None, "a list stands here; expected voltage"),
    ],
)  # fmt: skip
def test_a_collector_notes_what_is_wrong(
    value: str, method: str, arguments: tuple[Any, ...], default: Any, message: str
) -> None:
    collect = Collector()
    node = mapping(f"key: {value}\n").entries[0][1]
    assert getattr(collect, method)(node, *arguments) == default
    (problem,) = collect.problems
    assert str(problem) == f"{node.place}: {message}"


def test_keys_unknown_and_missing_are_all_noted() -> None:
    collect = Collector()
    keys = collect.mapping(mapping("kind: a\ntermnals: b\nzzz: c\n"), ("kind", "title"), ("terminals",))
    assert list(keys) == ["kind"]
    with pytest.raises(FileError) as caught:
        collect.raise_errors()
    assert str(caught.value) == (
        "f:1:1: the key 'title' is missing; expected keys kind, title\n"
        "f:2:1: unknown key 'termnals'; expected one of kind, title, terminals (did you mean 'terminals'?)\n"
        "f:3:1: unknown key 'zzz'; expected one of kind, title, terminals"
    )


def test_a_problem_is_noted_once_and_a_warning_is_no_error() -> None:
    collect = Collector()
    node = mapping("a: b")
    collect.warning(node, "odd", "even", rule="parity")
    collect.warning(node, "odd", "even", rule="parity")
    collect.raise_errors()
    assert [str(problem) for problem in collect.problems] == ["f:1:1: warning: odd; expected even"]
    collect.error(Place("f", 9, 9), "wrong")
    with pytest.raises(FileError, match=r"^f:9:9: wrong$"):
        collect.raise_errors()


TEXTS = st.text(st.characters(exclude_categories=("Cs", "Cc"), exclude_characters="\u2028\u2029\ufeff\uffff\ufffe"))
TEXTS |= st.sampled_from(["no", "NO", "1", "1e3", "~", "", " a", "a ", "a: b", "- a", "#", "a\nb", "a\n\n", "<<", "\t"])
NUMBERS = st.integers(-(10**15), 10**15) | st.floats(allow_nan=False, allow_infinity=False)
DATA = st.recursive(
    TEXTS | NUMBERS | st.booleans(),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(TEXTS, inner, max_size=4),
    max_leaves=12,
)


def same(data: Any, node: Node) -> bool:
    """Whether a node says what was written."""
    if isinstance(data, dict):
        return (
            isinstance(node, Mapping)
            and list(node.keys()) == list(data)
            and all(same(data[key.text], value) for key, value in node.entries)
        )
    if isinstance(data, list):
        return isinstance(node, Sequence) and len(node.items) == len(data) and all(map(same, data, node.items))
    collect = Collector()
    if isinstance(data, bool):
        return collect.boolean(node) is data and not collect.problems
    if isinstance(data, int | float):
        return collect.number(node) == data and not collect.problems
    return isinstance(node, Scalar) and node.text == data


@given(DATA)
def test_a_line_of_json_is_read_back(data: Any) -> None:
    """A log's events are lines of JSON in a YAML file."""
    assert same(data, parse(json.dumps(data, ensure_ascii=False), "f"))
