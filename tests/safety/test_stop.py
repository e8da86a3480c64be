"""What stops a session: said with a key, a word or a sentence, at any prompt; an answer; a device that trips again."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

import pytest

from diagnose.danger import danger_in, shorted
from diagnose.errors import AnswerError
from diagnose.knowledge.library import load_library
from diagnose.model import Model
from diagnose.opening import Recorded, all_complaints, bundled_panels, fitting, open_model, open_panel
from diagnose.protocol import apply_proof_request, apply_request, verdict_message
from diagnose.protocol_requests import read_request
from diagnose.proving import AskProof, AskRepair, ask_proof, proofs_of
from diagnose.questions import Answer
from diagnose.safety import DANGERS, STOP_KEY, danger_said
from diagnose.safety.stop import DANGEROUS_OUTCOMES
from diagnose.screen.pages import verdict_page
from diagnose.session import (
    AskCheck,
    ConfirmStep,
    Session,
    Verdict,
    answer,
    ask,
    back,
    confirm,
    open_checks,
    start,
    stop,
)
from diagnose.texts import load_texts
from tests.screen.helpers import proof_reply, recorded, step_on

SENTENCES = {
    "no ground": "no earth",
    "There is smoke!": "smoke", "SMOKE": "smoke", "it is smoking": "smoke", "I got a shock": "shock", "flames": "fire",
    "it tingles when I touch it": "tingle", "smells like something burning": "burning smell",
    "  Hot  Plug. ": "hot plug",
    "!": "danger", "!!!": "danger", " ! ": "danger",
}  # fmt: skip
HARMLESS = (
    "", "no smoke", "it does not smoke", "nothing burning", "there isn't any fire", "118 V", "OL", "lit", "done", "no",
    "yes!", "firewall", "smoke_house.yaml", "shockproof", "danger_list.txt",
)  # fmt: skip


@pytest.mark.parametrize("text", SENTENCES)
def test_a_danger_is_heard_in_a_sentence(text: str) -> None:
    assert danger_said(text) == SENTENCES[text]
    assert danger_said(text) in DANGERS


@pytest.mark.parametrize("text", HARMLESS)
def test_what_is_denied_or_only_looks_like_one_is_none(text: str) -> None:
    assert danger_said(text) == ""


@pytest.mark.parametrize("word", DANGERS)
def test_every_danger_is_heard_by_its_own_name(word: str) -> None:
    assert danger_said(word.upper()) == word


def test_no_answer_is_taken_for_a_danger_that_means_none() -> None:
    """Outcomes that are dangers in themselves end it anyway; no other one sounds like one."""
    kinds = load_library().kinds.values()
    outcomes = {outcome for kind in kinds for sign in kind.signs.values() for outcome in sign.outcomes}
    assert {outcome for outcome in outcomes if danger_said(outcome)} - set(DANGEROUS_OUTCOMES) == set()
    assert set(DANGEROUS_OUTCOMES) & outcomes >= {"burnt", "acrid"}


@pytest.mark.parametrize("panel", [entry.name for entry in bundled_panels()])
def test_what_a_complaint_says_is_no_danger_but_where_it_is_one(panel: str) -> None:
    """A complaint is chosen by its words. A hot plug is both: typed it stops; by its number it stays unplugged."""
    texts = [
        text for each in fitting(open_panel(panel), all_complaints().values()) for text in (each.title, *each.says)
    ]
    assert {text for text in texts if danger_said(text)} <= {"hot plug"}


def _first(competence: str, kind: type) -> Recorded:
    going, _ = recorded(competence)  # type: ignore[arg-type]
    while not isinstance(going.question, kind):
        step_on(going)
    return going


@pytest.mark.parametrize("typed", ["smoke", STOP_KEY, "I felt a tingle"])
def test_it_is_an_answer_to_anything_that_is_asked(typed: str) -> None:
    """A check, a step, whether it was mended, a proof check: each ends with nothing more to be done."""
    check = _first("isolated", AskCheck).session
    step = _first("isolated", ConfirmStep).session
    for ended in (answer(check, typed), confirm(step, typed)):
        _is_over(ended, typed)
    going = _first("isolated", Verdict)
    for kind in (AskRepair, AskProof):
        while not isinstance(going.proof, kind):
            what, text = proof_reply(going.proof)
            going.prove(text) if what == "proof" else going.do(what, text)
        beside = Recorded(going.session, lambda event: None)
        if kind is AskRepair:
            beside.do("repaired", typed)
        else:
            beside.prove(typed)
        _is_over(beside.session, typed)
        assert ask_proof(beside.session) is None


def _is_over(session: Session, typed: str) -> None:
    verdict = ask(session)
    assert isinstance(verdict, Verdict) and verdict.danger == danger_said(typed) == session.stopped
    with pytest.raises(AnswerError, match="the session has ended"):
        stop(session)


@pytest.mark.parametrize("kind", [AskCheck, ConfirmStep])
def test_a_program_can_say_it_as_an_answer_too(kind: type) -> None:
    going = _first("isolated", kind)
    apply_request(going, read_request(b'{"answer": "there is smoke"}'))
    assert going.session.stopped == "smoke"


def test_a_program_can_say_it_at_a_proof_check() -> None:
    going = _first("isolated", Verdict)
    apply_proof_request(going, read_request(b'{"answer": "sparks"}'))
    assert going.session.stopped == "sparks"


# A device that trips ----------------------------------------------------------------------------------------


@lru_cache(maxsize=1)
def _tripping() -> Model:
    return open_model("shed_single_kettle", "gfci_trips_with_element", "element")


def _trip_answer(model: Model) -> Answer:
    check = next(check for check in model.checks if check.sign == "trip" and check.part == "feed_rcd")
    at_once = model.panel.kind_of("feed_rcd").signs["trip"].outcomes.index("trips at once")
    return Answer(check.id, "trips at once", None, at_once)


def test_a_device_that_tripped_at_once_twice_stays_off() -> None:
    model = _tripping()
    answered = _trip_answer(model)
    assert danger_in(model, [answered]) == ""
    assert danger_in(model, [answered, answered]) == "trips again"


def test_an_answer_that_is_taken_back_does_not_undo_a_trip() -> None:
    """Else going back would set the device again and again."""
    model = _tripping()
    check = model.checks_by_id[_trip_answer(model).check_id]
    session = replace(start(model, "outside"), chooser=lambda *_: _Choice(check))  # type: ignore[arg-type]
    once = answer(session, "trips at once")
    assert not once.stopped
    again = back(once)
    assert again.answers == () and isinstance(ask(again), AskCheck)
    assert answer(again, "trips at once").stopped == "trips again"
    assert not answer(again, "holds").stopped


class _Choice:
    """A choice of one check."""

    def __init__(self, check: object) -> None:
        self.check, self.bits = check, 1.0


# A short --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("tail", "head", "typed", "off"),
    [
        ("cord.plug_a", "cord.plug_b", "0.3 ohm", True),  # the element's cores on each other
        ("cord.plug_a", "cord.plug_b", "17.6 ohm", False),
        ("cord.plug_a", "cord.plug_b", "9 ohm", False),  # a thinned element is no short
        ("cord.plug_a", "cord.plug_earth", "0.3 ohm", True),  # a pole on the earth
        ("cord.plug_a", "cord.plug_earth", "OL", False),
        ("relay.line", "relay.load", "0.2 ohm", False),  # a welded contact is closed, and no short
    ],
)
def test_nobody_switches_on_into_a_short(tail: str, head: str, typed: str, off: bool) -> None:
    """After a reading of a short across the supply no check with the supply on is open any more."""
    model = open_model("shed_single_kettle", "element_cold", "element")
    checks = [c for c in model.checks if (c.tail, c.head) == (tail, head) and c.quantity == "resistance"]
    session = start(model, "isolated")
    value = float("inf") if typed == "OL" else float(typed.partition(" ")[0])
    after = replace(session, answers=(Answer(checks[0].id, typed, value, None),))
    assert shorted(model, after.answers[0]) == off
    assert any(check.setup.supply_on for check in open_checks(after)) != off
    assert any(not check.setup.supply_on for check in open_checks(after))


# What is to be proved after a stop ---------------------------------------------------------------------------


@pytest.mark.parametrize("danger", ["smoke", "not dead", "water inside"])
def test_after_a_danger_it_is_told_what_has_to_be_proved_and_nothing_is_asked(danger: str) -> None:
    """The panel is not closed: the session ended, and who puts it right measures it."""
    going = _first("isolated", AskCheck)
    going.do("stop", danger)
    verdict = going.question
    assert isinstance(verdict, Verdict) and going.proof is None
    wanted = proofs_of(going.session, verdict)
    assert {"earth_continuity", "insulation", "polarity", "gfci_test", "first_heat"} <= set(wanted)
    page = " ".join(verdict_page(going.session, verdict, "log").lines)
    assert "It is not closed." in page
    assert all(load_texts().proofs[name].title in page for name in wanted)
    message = verdict_message(going.session, verdict)
    assert [proof["id"] for proof in message["proof"]] == list(wanted)


def test_a_plain_stop_asks_for_no_proof() -> None:
    going = _first("isolated", AskCheck)
    going.do("stop", "stopped")
    verdict = going.question
    assert isinstance(verdict, Verdict) and proofs_of(going.session, verdict) == ()


def test_a_danger_in_an_answer_names_the_remedy_and_says_that_nothing_is_proved() -> None:
    """The cause may be plain, but it was found by a danger: an electrician mends it and proves it."""
    model = open_model("shed_single_kettle", "plug_hot", "element")
    burnt = next(check for check in model.checks if check.sign == "warmth" and check.part == "cord")
    session = replace(start(model, "outside"), chooser=lambda *_: _Choice(burnt))  # type: ignore[arg-type]
    for _ in range(4):
        if isinstance(ask(session), ConfirmStep):
            session = confirm(session, "done")
    ended = answer(session, "burnt")
    verdict = ask(ended)
    assert isinstance(verdict, Verdict) and verdict.danger == "scorch marks" and verdict.electrician
    page = " ".join(verdict_page(ended, verdict, "log").lines)
    assert verdict.remedy and "None of it is proved yet, so it is not closed" in page
    assert ask_proof(ended) is None


def test_a_panel_without_a_residual_device_has_no_button_to_press() -> None:
    model = _tripping()
    session = stop(start(model, "outside"), "smoke")
    verdict = ask(session)
    assert isinstance(verdict, Verdict)
    assert ("gfci_test" in proofs_of(session, verdict)) == bool(model.panel.of_role("residual"))
