"""What was done, in order: every event of a log as an entry, readings with what was expected against what was found."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from diagnose.doubt import doubted
from diagnose.evidence import Evidence, evidence_of
from diagnose.proving import AskProof, AskRepair, ProofQuestion, ProofStep
from diagnose.questions import Answer
from diagnose.report.moments import Moment
from diagnose.report.records import Entry
from diagnose.report.trace import Trace
from diagnose.safety import DANGERS, REFERRED, WANTS
from diagnose.session import AskCheck, ConfirmStep, Question, Session, belief
from diagnose.texts import step_text
from diagnose.wording import (
    BADGES,
    COMPETENCE_WORDS,
    change_lines,
    check_title,
    leading,
    range_text,
    should_be,
    standing,
)

WORKS = {
    "yes": "It does again what it should.",
    "no": "It did not do what it should: the search went on, with what was mended taken to be sound.",
    "leave": "Whether it works again is not known yet.",
}
WORKS |= {"y": WORKS["yes"], "n": WORKS["no"]}
WHY_NOT = {
    "later": " (put off)", "reach both": " (out of reach)", "reach red": " (red probe out of reach)",
    "reach black": " (black probe out of reach)",
}  # fmt: skip
ASKED_AGAIN = {
    "unexplained": "Nothing known would show this, so it was asked again.",
    "overturns": "It would turn over what the others say, so it was asked again.",
    "decides": "The end hung on this one alone, so it was asked again.",
}


@dataclass(frozen=True, slots=True)
class Taken:
    """An entry in the making: with the answer that it is about, where it is about one."""

    entry: Entry
    answer: Answer | None = None


def entries_of(of: Trace) -> tuple[Entry, ...]:
    """Every event as an entry. Readings that count are numbered; one that was taken back says so."""
    taken: list[Taken] = []
    for moment in of.moments:
        taken += _of_moment(moment, taken)
    numbers = numbers_of(of.end.answers)
    side = sides_of(of.end)
    left = {given.check_id: given for given in of.end.answers}
    entries: list[Entry] = []
    for each in reversed(taken):  # of two answers to one check, the later one counts
        entry, given = each.entry, each.answer
        if given is not None and _same(left.get(given.check_id), given):
            del left[given.check_id]
            if not given.skipped:
                entry = replace(entry, number=numbers[given.check_id], says=(*side[given.check_id], *entry.says))
        elif given is not None:
            entry = _no_longer(of, entry, given, taken)
        entries.append(entry)
    return tuple(reversed(entries))


def _no_longer(of: Trace, entry: Entry, given: Answer, taken: Sequence[Taken]) -> Entry:
    """An answer that does not count any more: given anew, changed, taken back, or from before a remedy."""
    gone = _gone_with(of, given)
    if gone == "works":
        return replace(entry, kind="before", says=("From before the remedy: it counts no more.",))
    if gone in ("back", "change") or given.skipped:
        says = ("Changed later.",) if gone == "change" else entry.says
        return replace(entry, kind="taken back", says=says)
    later = [each for each in taken if each.answer is not None and each.answer.check_id == given.check_id]
    if later[-1].answer is not given:
        return replace(entry, kind="asked again", says=(ASKED_AGAIN["decides"],))
    return replace(entry, kind="taken back")


def _same(one: Answer | None, two: Answer) -> bool:
    """Whether two are the same answer; that it was asked for twice may have been noted of one of them."""
    return one is not None and (one.text, one.skipped) == (two.text, two.skipped)


def _gone_with(of: Trace, given: Answer) -> str:
    """The event with which an answer went; nothing where it never did."""
    for moment in of.moments:
        if given in moment.before.answers and given not in moment.after.answers:
            return moment.event.what
    return ""


def numbers_of(answers: Sequence[Answer]) -> Mapping[str, int]:
    """The number of each reading that counts, by its check: as the list and the drawing have it."""
    told = [answer.check_id for answer in answers if not answer.skipped]
    return {check_id: number for number, check_id in enumerate(told, start=1)}


def sides_of(session: Session) -> Mapping[str, tuple[str, ...]]:
    """By its check, what each answer says of the cause that leads at the end."""
    model = session.model
    return {
        told.check_id: (_side(model.checks_by_id[told.check_id].quantity, told),)
        for told in evidence_of(model, session.answers, belief(session))
    }


def _side(quantity: str, told: Evidence) -> str:
    cause = told.expected_outcome or range_text(quantity, told.expected_low, told.expected_high)
    out = f" {told.rules_out} others would not show it." if told.rules_out > 1 else ""
    if told.agrees and told.sound:
        return f"Fits the likeliest cause, and a sound panel.{out}"
    return f"{'For' if told.agrees else 'AGAINST'} the likeliest cause, which would show {cause}.{out}"


def _of_moment(moment: Moment, before: Sequence[Taken]) -> list[Taken]:
    event = moment.event
    match event.what:
        case "answer" if isinstance(moment.asked, AskCheck):
            return [_of_answer(moment, moment.asked)]
        case "confirm":
            return [_of_step(moment)]
        case "skip" if isinstance(moment.asked, AskProof | ProofStep):
            return []  # it stands among the proof checks
        case "skip":
            return [_left_out(moment)]
        case "back":
            return []  # the reading itself says that it was taken back
        case "resume":
            return [Taken(Entry("note", 0, "Resumed after a break. Nothing was taken to be off any more."))]
        case "lower":
            words = COMPETENCE_WORDS[moment.after.competence]
            return [Taken(Entry("note", 0, f"From here on, less is done: {words}."))]
        case "refer":
            return [Taken(Entry("note", 0, "The rest was left to an electrician."))]
        case "stop":
            return [Taken(Entry("note", 0, _stop_words(event.text)))]
        case "repaired":
            return [_repaired(moment)]
        case "works":
            return [Taken(Entry("note", 0, WORKS.get(moment.event.text.strip().lower(), WORKS["yes"])))]
    return _changed(moment, before)


def _repaired(moment: Moment) -> Taken:
    if moment.after.repaired != "yes":
        return Taken(Entry("note", 0, "It was not mended yet."))
    asked = moment.asked
    told = f" {moment.before.model.panel.label(asked.part)}: {asked.remedy}" if isinstance(asked, AskRepair) else ""
    return Taken(Entry("note", 0, f"The remedy was carried out.{told}"))


def _stop_words(text: str) -> str:
    if text in DANGERS:
        return f"Stopped for a danger: {text}."
    return "Referred." if text == REFERRED else "Left here. It can be resumed."


def _of_answer(moment: Moment, question: AskCheck) -> Taken:
    session, check = moment.before, question.check
    panel = session.model.panel
    changes = change_lines(panel, standing(session), check.setup)
    shown = Entry(
        "reading", 0, check_title(panel, check), BADGES[check.exposure],
        tuple(line for line in changes if not line.startswith("Start from")),
        found_words(question.outcomes, moment.event.text, moment.after.answers[-1:], moment.after.doubted),
        _expected(question),
    )  # fmt: skip
    if moment.after.doubted is not None:
        why = doubted(session.model, session.answers, moment.after.doubted) or "unexplained"
        return Taken(replace(shown, kind="asked again", says=(ASKED_AGAIN[why],)))
    given = moment.after.answers[-1]
    now = belief(moment.after)
    told = evidence_of(moment.after.model, (given,), now)
    sound = bool(told) and told[0].sound
    expected = should_be(check, told[0]) if told else shown.expected
    led = leading(moment.after.model, now).replace("Likeliest now", "Likeliest after it")
    danger = (f"A danger in itself: {moment.after.stopped}.",) if moment.after.stopped else ()
    return Taken(replace(shown, expected=expected, as_expected=sound, says=(*danger, led)), given)


def found_words(
    outcomes: Sequence[str], text: str, answers: Sequence[Answer] = (), doubted: Answer | None = None
) -> str:
    """What was found: the outcome in full where its number or the beginning of its word was typed."""
    given = doubted or (answers[-1] if answers else None)
    if given is not None and given.outcome is not None and outcomes:
        return outcomes[given.outcome]
    return text


def _expected(question: AskCheck) -> str:
    if question.prediction.table is not None:
        return question.outcomes[int(question.prediction.table[0].argmax())]
    return range_text(question.check.quantity, *question.sound[1:])


def _of_step(moment: Moment) -> Taken:
    asked: Question | ProofQuestion | None = moment.asked
    assert isinstance(asked, ConfirmStep | ProofStep)
    text = step_text(moment.before.model.panel, asked.step, asked.state.meter_failed)
    found = moment.event.text if WANTS[asked.step] == "volts" else ""
    says: tuple[str, ...] = ()
    if moment.after.stopped:
        says = ("That is not dead. It ended here.",)
    elif moment.after.state.meter_failed and WANTS[asked.step] == "shows":
        says = ("The meter did not show the source, so it proves nothing.",)
    return Taken(Entry("step", 0, text.title, found=found, says=says))


def _left_out(moment: Moment) -> Taken:
    panel = moment.before.model.panel
    if isinstance(moment.asked, ConfirmStep):
        title = step_text(panel, moment.asked.step, moment.asked.state.meter_failed).title
        return Taken(Entry("left out", 0, f"{title}: could not be done, nor what needs it"))
    if isinstance(moment.asked, AskCheck):
        check = moment.asked.check
        left = next((each for each in moment.after.answers[len(moment.before.answers) :] if each.skipped), None)
        why = WHY_NOT.get(moment.event.text, "")
        return Taken(Entry("left out", 0, f"{check_title(panel, check)}{why}", BADGES[check.exposure]), left)
    return Taken(Entry("left out", 0, moment.event.of))


def _changed(moment: Moment, before: Sequence[Taken]) -> list[Taken]:
    """Any other event: what it changed among the answers; nothing where it stands elsewhere."""
    if moment.event.what != "change":
        return []
    known = [each.answer for each in before if each.answer is not None]
    new = [given for given in moment.after.answers if given not in known and given.check_id == moment.event.of]
    return [_given(moment.after, given) for given in new if not given.skipped]


def _given(session: Session, given: Answer) -> Taken:
    model = session.model
    check = model.checks_by_id[given.check_id]
    told = evidence_of(model, (given,), belief(session))
    entry = Entry(
        "reading", 0, check_title(model.panel, check), BADGES[check.exposure], (),
        found_words(_outcomes(session, given), given.text, (given,)),
        should_be(check, told[0]) if told else "", bool(told) and told[0].sound,
        ("Changed to this afterwards.",),
    )  # fmt: skip
    return Taken(entry, given)


def _outcomes(session: Session, given: Answer) -> tuple[str, ...]:
    check = session.model.checks_by_id[given.check_id]
    return session.model.panel.kind_of(check.part).signs[check.sign].outcomes if check.sign else ()
