"""Strategies for hostile input: real files changed, and junk that is built to be nearly right."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Sequence

from hypothesis import strategies as st

BIDI = "\u202e\u2066\u200f"
ESCAPE = "\x1b[2J\x1b]0;owned\x07"
SCRIPT = "<script>alert(1)</script>"
# Words that have broken a reader somewhere, at one time or another.
TOKENS = (
    "",
    "~",
    "null",
    "true",
    "no",
    "off",
    "12:30",
    "0x10",
    "1e400",
    "-1",
    "0",
    "1e-300",
    "9" * 400,
    "-9e99",
    ".inf",
    "nan",
    "NaN",
    "[]",
    "{}",
    "[",
    "]",
    "{",
    "}",
    "- ",
    "? ",
    ": ",
    "|",
    ">",
    "&a",
    "*a",
    "!!python/object/apply:os.system [id]",
    "!x",
    "<<: 1",
    "%YAML 9.9",
    "---",
    "...",
    "#",
    "@",
    "`",
    "'",
    '"',
    "\\",
    "\t",
    " ",
    "../../../etc/passwd",
    "/dev/zero",
    "~nobody_is_called_this/x",
    "a" * 3000,
    "x - y - z",
    "element.a - element.b",
    "relay, 40 A, 40 A, 40 A",
    "1 m, 1 m",
    "0 AWG",
    "-3 AWG",
    "1 mm2, 1e9 m",
    "<name>",
    "<<name>>",
    "OL",
    "-OL",
    "1,5",
    "1.2.3",
    "10 MΩ MΩ",
    "5 V A",
    "5 **",
    "voltage ** 9999",
    "1 / 0",
    "__import__",
    "lambda",
    "handle",
    "not",
    "level",
    "x 0",
    "x -1",
    "x nan",
    "Ω",
    "°C",
    "２３",
    "٣",
    "½",
    "e" + "\u0301" * 200,
    BIDI,
    "\ud7ff",
    "\U0010ffff",
    SCRIPT,
    "a|b`c*[d](e)",
)
BOMBS = (
    "a: &a [x,x,x,x,x,x,x,x,x]\nb: &b [*a,*a,*a,*a,*a,*a]\nc: [*b,*b,*b,*b,*b]\n",
    "a: &a {b: *a}\n",
    "<<: {a: 1}\n",
    "[" * 3000,
    "{a: " * 3000,
    "- " * 3000,
    "a: |\n  " + "x" * 100_000 + "\n",
    "a: " + "1" * 100_000 + "\n",
    "? " * 500,
    "!!binary |\n  R0lGODlhDAAMAIQAAP\n",
    "a: !!python/name:os.system\n",
    "%TAG ! tag:x,2000:\n---\n!foo a\n",
    '"\\x00": 1\n',
    "a: 1\n" * 3,
    "\n" * 2000,
    "a:\n" + " b:\n" * 50,
    "".join(f"k{i}: v\n" for i in range(2000)),
)
_WORD = re.compile(rb"[A-Za-z0-9_.<>]+")

Change = Callable[[bytes, int, int], bytes]


def _lines(data: bytes) -> list[bytes]:
    return data.split(b"\n")


def _flip(data: bytes, a: int, b: int) -> bytes:
    at = a % max(len(data), 1)
    return data[:at] + bytes([b % 256]) + data[at + 1 :]


def _insert(data: bytes, a: int, b: int) -> bytes:
    at = a % (len(data) + 1)
    return data[:at] + TOKENS[b % len(TOKENS)].encode("utf-8", "surrogatepass") + data[at:]


def _swap_token(data: bytes, a: int, b: int) -> bytes:
    """A word of the file gets another one of the file, or one of `TOKENS`."""
    found = list(_WORD.finditer(data))
    if not found:
        return data
    one = found[a % len(found)]
    other = found[b % len(found)][0] if b % 3 == 0 else TOKENS[b % len(TOKENS)].encode("utf-8", "surrogatepass")
    return data[: one.start()] + other + data[one.end() :]


def _swap_value(data: bytes, a: int, b: int) -> bytes:
    """What stands behind a colon is something else."""
    lines = _lines(data)
    at = a % len(lines)
    key, colon, _ = lines[at].partition(b":")
    if colon:
        lines[at] = key + b": " + TOKENS[b % len(TOKENS)].encode("utf-8", "surrogatepass")
    return b"\n".join(lines)


def _swap_key(data: bytes, a: int, b: int) -> bytes:
    lines = _lines(data)
    at = a % len(lines)
    key, colon, value = lines[at].partition(b":")
    if colon:
        lead = key[: len(key) - len(key.lstrip())]
        lines[at] = lead + TOKENS[b % len(TOKENS)].encode("utf-8", "surrogatepass") + b":" + value
    return b"\n".join(lines)


def _delete_line(data: bytes, a: int, b: int) -> bytes:
    lines = _lines(data)
    at = a % len(lines)
    return b"\n".join(lines[:at] + lines[at + 1 + b % 3 :])


def _double_line(data: bytes, a: int, b: int) -> bytes:
    lines = _lines(data)
    at, to = a % len(lines), b % (len(lines) + 1)
    return b"\n".join([*lines[:to], lines[at], *lines[to:]])


def _swap_lines(data: bytes, a: int, b: int) -> bytes:
    lines = _lines(data)
    one, other = a % len(lines), b % len(lines)
    lines[one], lines[other] = lines[other], lines[one]
    return b"\n".join(lines)


def _indent(data: bytes, a: int, b: int) -> bytes:
    lines = _lines(data)
    at = a % len(lines)
    lines[at] = b" " * (b % 5) + lines[at].lstrip()
    return b"\n".join(lines)


def _cut(data: bytes, a: int, b: int) -> bytes:
    return data[: a % (len(data) + 1)]


def _cut_out(data: bytes, a: int, b: int) -> bytes:
    at = a % (len(data) + 1)
    return data[:at] + data[at + b % 200 :]


def _huge_number(data: bytes, a: int, b: int) -> bytes:
    numbers = list(re.finditer(rb"\d+(\.\d+)?", data))
    if not numbers:
        return data
    one = numbers[a % len(numbers)]
    other = (b"1e308", b"-1", b"0", b"9" * 60, b"0." + b"0" * 60 + b"1", b"1e-320", b"1e999")[b % 7]
    return data[: one.start()] + other + data[one.end() :]


def _control(data: bytes, a: int, b: int) -> bytes:
    at = a % (len(data) + 1)
    return data[:at] + (b"\x00", b"\x1b[2J", b"\x07", b"\x7f", b"\xc2\x85", b"\xe2\x80\xa8", b"\r")[b % 7] + data[at:]


def _bidi(data: bytes, a: int, b: int) -> bytes:
    at = a % (len(data) + 1)
    return data[:at] + BIDI.encode() + data[at:]


def _bomb(data: bytes, a: int, b: int) -> bytes:
    lines = _lines(data)
    at = a % (len(lines) + 1)
    return b"\n".join([*lines[:at], BOMBS[b % len(BOMBS)].encode(), *lines[at:]])


def _encoding(data: bytes, a: int, b: int) -> bytes:
    text = data.decode("utf-8", "replace")
    match b % 6:
        case 0:
            return b"\xef\xbb\xbf" + data
        case 1:
            return text.encode("utf-16")
        case 2:
            return text.encode("utf-32")
        case 3:
            return text.encode("latin-1", "replace")
        case 4:
            return text.encode("utf-16-le")
    return data + b"\xff\xfe\x00"


def _windows(data: bytes, a: int, b: int) -> bytes:
    return data.replace(b"\n", (b"\r\n", b"\r", b"\n\n")[b % 3])


def _nest(data: bytes, a: int, b: int) -> bytes:
    lines = _lines(data)
    at = a % len(lines)
    key, colon, value = lines[at].partition(b":")
    deep = (2, 20, 60)[b % 3]
    lines[at] = key + colon + b" " + b"[" * deep + value.strip() + b"]" * deep
    return b"\n".join(lines)


CHANGES: tuple[Change, ...] = (
    _flip,
    _insert,
    _swap_token,
    _swap_token,
    _swap_value,
    _swap_value,
    _swap_key,
    _delete_line,
    _double_line,
    _swap_lines,
    _indent,
    _cut,
    _cut_out,
    _huge_number,
    _huge_number,
    _control,
    _bidi,
    _bomb,
    _encoding,
    _windows,
    _nest,
)


@st.composite
def changed(draw: st.DrawFn, bases: Sequence[bytes], most: int = 3) -> bytes:
    """A real file with a few things wrong with it."""
    data = bases[draw(st.integers(0, len(bases) - 1))]
    number = st.integers(0, 2**20)
    for _ in range(draw(st.integers(1, most))):
        data = CHANGES[draw(st.integers(0, len(CHANGES) - 1))](data, draw(number), draw(number))
    return data


def junk_yaml(keys: Sequence[str]) -> st.SearchStrategy[bytes]:
    """Structures that were never of that sort, with its keys: written as JSON, which is YAML."""
    word = st.sampled_from([*keys, *TOKENS])
    inner = st.recursive(
        word, lambda deeper: st.lists(deeper, max_size=4) | st.dictionaries(word, deeper, max_size=4), max_leaves=12
    )
    return st.dictionaries(word, inner, max_size=8).map(
        lambda made: json.dumps(made, ensure_ascii=False).encode("utf-8", "replace")
    )


def rubbish() -> st.SearchStrategy[bytes]:
    """Bytes, text in YAML's own characters, and the bombs."""
    return (
        st.binary(max_size=80)
        | st.text("ab1:-[]{}#'\"|>?!&*%@,\n \t\\", max_size=80).map(str.encode)
        | st.sampled_from([bomb.encode() for bomb in BOMBS])
    )


def lines_like(examples: Sequence[str], alphabet: str) -> st.SearchStrategy[str]:
    """What is typed: examples with characters put in and left out, tokens put together, and any text at all."""
    word = st.sampled_from([*examples, *TOKENS])

    @st.composite
    def edited(draw: st.DrawFn) -> str:
        text = draw(st.sampled_from(list(examples)))
        for _ in range(draw(st.integers(1, 3))):
            at = draw(st.integers(0, len(text)))
            text = text[:at] + draw(st.text(alphabet, max_size=3)) + text[at + draw(st.integers(0, 2)) :]
        return text

    exact = st.sampled_from(list(examples))
    return (
        exact
        | edited()
        | st.lists(word, min_size=1, max_size=4).map(" ".join)
        | st.text(alphabet, max_size=30)
        | st.text(max_size=20)
    )
