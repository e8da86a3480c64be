"""Values in knowledge files that follow from a part's ratings: `voltage ** 2 / power`, `0.85 * voltage`."""

from __future__ import annotations

import ast
import math
import operator
from collections.abc import Callable, Mapping
from dataclasses import dataclass

_OPERATORS: dict[type[ast.operator], Callable[[float, float], float]] = {
    ast.Add: operator.add,
    ast.Sub: operator.sub,
    ast.Mult: operator.mul,
    ast.Div: operator.truediv,
    ast.Pow: operator.pow,
}
_LONGEST = 200


@dataclass(frozen=True, slots=True)
class Expression:
    """Arithmetic over a part's ratings, in SI units: numbers, names, + - * / ** and brackets."""

    text: str
    names: frozenset[str]

    def value(self, ratings: Mapping[str, float]) -> float:
        """Evaluate with the ratings in SI; raises ValueError where the arithmetic can't be done."""
        try:
            value = _evaluate(ast.parse(self.text, mode="eval").body, ratings)
        except (ZeroDivisionError, OverflowError, KeyError, TypeError) as error:
            # The root of a negative number is complex, which is no float: a TypeError.
            raise ValueError(f"'{self.text}' can't be computed from {dict(ratings)}") from error
        if not math.isfinite(value):
            raise ValueError(f"'{self.text}' can't be computed from {dict(ratings)}")
        return value


def parse_expression(text: str) -> Expression:
    """Read an expression; raises ValueError that says which piece is not allowed.

    >>> parse_expression("voltage ** 2 / power").value({"voltage": 240.0, "power": 4500.0})
    12.8
    """
    if len(text) > _LONGEST:
        raise ValueError("the expression is too long")
    try:
        tree = ast.parse(text.strip(), mode="eval").body
    except (SyntaxError, ValueError, RecursionError, MemoryError) as error:
        raise ValueError(f"'{text}' is not arithmetic") from error
    names: set[str] = set()
    _collect(tree, names)
    return Expression(text.strip(), frozenset(names))


def _collect(node: ast.expr, names: set[str]) -> None:
    match node:
        case ast.Constant(value=int() | float() as number) if not isinstance(number, bool):
            return
        case ast.Name(id=name):
            names.add(name)
        case ast.UnaryOp(op=ast.USub(), operand=operand):
            _collect(operand, names)
        case ast.BinOp(left=left, op=operation, right=right) if type(operation) in _OPERATORS:
            _collect(left, names)
            _collect(right, names)
        case _:
            raise ValueError(f"'{ast.unparse(node)}' is not allowed in arithmetic")


def _evaluate(node: ast.expr, ratings: Mapping[str, float]) -> float:
    match node:
        case ast.Constant(value=int() | float() as number):
            return float(number)
        case ast.Name(id=name):
            return ratings[name]
        case ast.UnaryOp(operand=operand):
            return -_evaluate(operand, ratings)
        case ast.BinOp(left=left, op=operation, right=right):
            value = _OPERATORS[type(operation)](_evaluate(left, ratings), _evaluate(right, ratings))
            return float(value)
    raise ValueError("not arithmetic")
