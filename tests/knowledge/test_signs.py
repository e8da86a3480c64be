"""Every kind of check with eyes and ears says how long it takes, with what exposure, and what may be answered."""

from __future__ import annotations

from diagnose.knowledge.library import load_library
from diagnose.knowledge.slips import load_slips
from diagnose.knowledge.words import EXPOSURES

SIGNS = [(kind.name, sign) for kind in load_library().kinds.values() for sign in kind.signs.values()]


def test_each_sign_has_a_question_minutes_an_exposure_and_outcomes() -> None:
    for kind, sign in SIGNS:
        where = f"{kind}: {sign.name}"
        assert sign.question.strip().endswith(("?", ".")), where
        assert 0 < sign.minutes <= 30, where
        assert sign.exposure in EXPOSURES, where
        assert len(sign.outcomes) >= 2 and len(set(sign.outcomes)) == len(sign.outcomes), where


def test_most_say_how_it_is_done_and_looks_have_their_slips() -> None:
    """What a question says by itself (is it lit?) needs no procedure."""
    assert sum(bool(sign.procedure) for _, sign in SIGNS) >= 80
    assert sum("sign" in slip.quantities for slip in load_slips()) >= 3
