"""Predictions for all causes at once, setup by setup and some at a time, are those that each would get by itself."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest

from diagnose import expect, some_causes
from diagnose.causes import Cause, causes_of
from diagnose.circuit.netlist import Netlist
from diagnose.circuit.rows import Row
from diagnose.circuit.settle import Settled, settle
from diagnose.circuit.setup import Setup
from diagnose.expect import Predictor
from diagnose.model import make_model
from diagnose.opening import all_complaints
from diagnose.some_causes import SomePredictor, WholePredictor
from diagnose.study.simulated import SimulatedPanel
from tests.test_combined import model, netlist

COMPLAINT, SUBJECT = "element_cold", "element"


@pytest.fixture(scope="module")
def whole() -> WholePredictor:
    known = model(COMPLAINT)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(some_causes, "AT_A_TIME", 30)
        made = WholePredictor(netlist(), causes_of(netlist().panel)[::3])
        made.expect(known.checks[::2])
        for check in known.checks[::2]:
            made.predict(check)  # so many at a time
        return made


def some_causes_of(whole: WholePredictor) -> list[Cause]:
    return list(whole.causes[::5])


def test_some_of_all_are_predicted_as_by_themselves(whole: WholePredictor) -> None:
    """In blocks with others, with a base of their own or not: the same readings and signs."""
    causes = some_causes_of(whole)
    alone, together = Predictor(netlist(), causes), SomePredictor(whole, causes)
    for check in model(COMPLAINT).checks[::9]:
        one, two = alone.predict(check), together.predict(check)
        for name in ("low", "high", "value", "table"):
            expected = getattr(one, name)
            if expected is None:
                assert getattr(two, name) is None
            else:
                np.testing.assert_allclose(getattr(two, name), expected, rtol=1e-6, atol=1e-9, err_msg=check.id)
        if check.quantity == "sign":
            np.testing.assert_allclose(together.level_table(check), alone.level_table(check), atol=1e-9)
    numbers = [1, 4, 6]
    narrow, few = alone.narrowed(numbers), together.narrowed(numbers)
    assert narrow.causes == few.causes and (narrow.owner == few.owner).all()


def test_what_was_said_before_is_solved_once_and_for_those_causes_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    """What two complaints may ask about in a setup is read off it together; other causes are worked out when asked."""
    solved: list[tuple[object, int]] = []

    def counted(on: Netlist, setup: Setup, rows: Sequence[Row]) -> Settled:
        solved.append((setup, len({row.cause for row in rows}) - 1))
        return settle(on, setup, rows)

    monkeypatch.setattr(expect, "settle", counted)
    made = WholePredictor(netlist(), causes_of(netlist().panel))
    checks = [check for check in model(COMPLAINT).checks if check.quantity == "resistance"]
    checks = [check for check in checks if check.solved_in == checks[0].solved_in]
    few, others = SomePredictor(made, made.causes[10:14]), SomePredictor(made, made.causes[12:20])
    few.expect(checks[:3])
    others.expect(checks[2:6])
    assert not solved
    first = few.predict(checks[0])
    assert solved == [(checks[0].solved_in, 10)]
    shared = others.predict(checks[2])
    others.predict(checks[5])
    assert len(solved) == 1 and not made._settled
    every = made.predict(checks[2])
    assert len(solved) > 1 and not made._settled
    np.testing.assert_allclose(every.low[[0, *range(13, 21)]], shared.low, rtol=1e-6)
    np.testing.assert_array_equal(few.predict(checks[0]).low, first.low)


def test_a_model_made_from_all_causes_is_the_model() -> None:
    known = model(COMPLAINT)
    whole = WholePredictor(netlist(), causes_of(netlist().panel))
    made = make_model(netlist(), all_complaints()[COMPLAINT], SUBJECT, predicted=whole)
    assert [cause.key for cause in made.causes] == [cause.key for cause in known.causes]
    np.testing.assert_allclose(made.prior, known.prior, atol=1e-9)
    assert [check.id for check in made.checks] == [check.id for check in known.checks]


def test_a_panel_that_is_solved_already_answers_as_one_that_is_not(whole: WholePredictor) -> None:
    checks = model(COMPLAINT).checks[::7]
    for cause in [None, *some_causes_of(whole)[::3]]:
        alone = SimulatedPanel(netlist(), cause, supply=0.98, jitter=0.4)
        solved = SimulatedPanel(netlist(), cause, supply=0.98, jitter=0.4, predicted=whole)
        assert solved._known is not None and not solved._settled
        for check in checks:
            if check.quantity == "sign":
                assert solved.answer(check) == alone.answer(check), (check.id, cause)
            else:
                one, two = alone.reading(check), solved.reading(check)
                assert one == pytest.approx(two, rel=1e-6, abs=1e-6), (check.id, cause)
