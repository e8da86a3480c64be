"""Arithmetic in knowledge files: numbers, ratings and five signs, and nothing else that Python would take."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from diagnose.knowledge.expressions import parse_expression

RATINGS = {"voltage": 240.0, "power": 4500.0}


@pytest.mark.parametrize(
    ("text", "value", "names"),
    [
        ("voltage ** 2 / power", 12.8, {"voltage", "power"}),
        ("-0.85 * (voltage - 40)", -170.0, {"voltage"}),
        ("1.5e3 + 2", 1502.0, set()),
    ],
)
def test_what_it_comes_to(text: str, value: float, names: set[str]) -> None:
    expression = parse_expression(text)
    assert expression.names == names
    assert expression.value(RATINGS) == pytest.approx(value)


@pytest.mark.parametrize("text", ["(0 - 2) ** 0.5", "1 / (voltage - 240)", "9 ** 9 ** 9", "1e308 * 10", "current * 2"])
def test_what_has_no_value_says_so(text: str) -> None:
    """The root of a negative number is complex to Python, a product that is too large infinite: no values."""
    with pytest.raises(ValueError, match="can't be computed from"):
        parse_expression(text).value(RATINGS)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("~1", "'~1' is not allowed in arithmetic"),
        ("voltage % 2", "'voltage % 2' is not allowed in arithmetic"),
        ("True + 1", "'True' is not allowed in arithmetic"),
        ("2j", "'2j' is not allowed in arithmetic"),
        ("open('file')", "'open('file')' is not allowed in arithmetic"),
        ("voltage.real", "'voltage.real' is not allowed in arithmetic"),
        ("1 if voltage else 2", "'1 if voltage else 2' is not allowed in arithmetic"),
        ("1 +", "'1 +' is not arithmetic"),
        ("1" + " + 1" * 60, "the expression is too long"),
    ],
)
def test_nothing_else_is_taken(text: str, message: str) -> None:
    with pytest.raises(ValueError) as caught:
        parse_expression(text)
    assert str(caught.value) == message


@given(st.text(alphabet="voltagepwr0123456789.+-*/() ejTruenNo_[]", max_size=60))
def test_any_text_has_a_finite_value_or_is_refused(text: str) -> None:
    try:
        value = parse_expression(text).value(RATINGS)
    except ValueError:
        return
    assert abs(value) < float("inf")
