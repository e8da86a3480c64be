"""The line protocol: what another program asks for, read from its line."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import NoReturn

from diagnose.errors import AnswerError, Problem
from diagnose.safety import COMPETENCES, DANGERS, PLAIN_STOP

REQUESTS = ("answer", "skip", "back", "why", "lower", "refer", "stop")
_EXPECTED_REQUEST = (
    'one of {"answer": ...}, {"skip": true}, {"back": true}, {"why": true}, {"lower": ...}, {"refer": true}, '
    '{"stop": true}'
)


@dataclass(frozen=True, slots=True)
class Request:
    """What the other program wants: a word of `REQUESTS`, and an answer's or a stop's text."""

    what: str
    text: str | float = ""


def refuse(message: str, wanted: str = _EXPECTED_REQUEST) -> NoReturn:
    """Raise AnswerError: what is wrong with a request, and what was wanted."""
    raise AnswerError(Problem(message, wanted))


def read_request(line: bytes) -> Request:
    """One line as a request. Raises AnswerError with what was wrong and what was expected."""
    data = _parsed(line)
    if not isinstance(data, dict):
        refuse(f"this is {json_kind(data)}")
    unknown = [key for key in data if key not in REQUESTS]
    if unknown:
        refuse(f"unknown key '{unknown[0][:40]}'")
    if len(data) != 1:
        refuse("there is more than one request" if data else "there is no request")
    what, value = next(iter(data.items()))
    if what == "answer":
        return Request(what, _answer_value(value))
    if what == "stop" and isinstance(value, str):
        if value not in (*DANGERS, PLAIN_STOP):
            refuse(f"'{value[:40]}' is no reason to stop", f"true, or one of {', '.join(DANGERS)}")
        return Request(what, value)
    if what == "lower":
        if value not in COMPETENCES:
            refuse(f"'lower' is {json_kind(value)}", f"one of {', '.join(COMPETENCES)}")
        return Request(what, str(value))
    if value is not True:
        refuse(f"'{what}' is {json_kind(value)}", "true, or a danger's name" if what == "stop" else "true")
    return Request(what, PLAIN_STOP if what == "stop" else "")


def _answer_value(value: object) -> str | float:
    if isinstance(value, str):
        return value
    if isinstance(value, int | float) and not isinstance(value, bool):
        try:
            return float(value)
        except OverflowError:
            refuse("the number is too large", "a number in SI, or text")
    refuse(f"'answer' is {json_kind(value)}", "a number in SI, or text: a reading, an outcome, OL, done")


def _parsed(line: bytes) -> object:
    try:
        text = line.decode("utf-8")
    except UnicodeDecodeError:
        refuse("this is not UTF-8")
    try:
        return json.loads(text, object_pairs_hook=_object, parse_constant=_no_constant)
    except json.JSONDecodeError as error:
        refuse(f"this is not JSON: {error.msg} at column {error.colno}")
    except (RecursionError, ValueError):
        refuse("this is nested too deep, or has a number that is too long")


def _object(pairs: list[tuple[str, object]]) -> dict[str, object]:
    data = dict(pairs)
    if len(data) != len(pairs):
        refuse("a key is there twice")
    return data


def _no_constant(name: str) -> NoReturn:
    refuse(f"{name} is no number", "a number in SI, or OL as text")


def json_kind(value: object) -> str:
    """What a JSON value is, in words."""
    match value:
        case None:
            return "null"
        case bool():
            return "true" if value else "false"
        case int() | float():
            return "a number"
        case str():
            return "text"
        case list():
            return "a list"
    return "an object"
