"""What of a session is marked in a drawing: readings by their numbers, suspects with their shares, what was found."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from diagnose.checks import Check
from diagnose.drawing.marks import FOUND, Marks, ReadingMark
from diagnose.evidence import evidence_of
from diagnose.report.entries import numbers_of
from diagnose.session import CauseShare, Session, Verdict, belief
from diagnose.wording import check_title, percent

SUSPECTED = 0.05  # a share of the belief from which a part is marked: a judgement of what a drawing holds


def marks_of(session: Session, verdict: Verdict | None, causes: Sequence[CauseShare]) -> Marks:
    """The marks of a session that ended with a verdict, or of one that is still open."""
    shares: dict[str, float] = {}
    for cause in causes:
        for part in dict.fromkeys(part for part in (cause.part, cause.also_part) if part):
            shares[part] = shares.get(part, 0.0) + cause.probability
    found = found_parts(verdict)
    suspects = {part: percent(share) for part, share in shares.items() if share >= SUSPECTED and part not in found}
    return Marks(suspects, {}, reading_marks(session), dict.fromkeys(found, FOUND))


def found_parts(verdict: Verdict | None) -> tuple[str, ...]:
    """The parts that a verdict says are at fault; none where it only narrows down, or ended otherwise."""
    if verdict is None or verdict.kind != "found":
        return ()
    also = [more.part for more in verdict.further if more.sure]
    return tuple(dict.fromkeys((verdict.part, *also))) if verdict.part else ()


def reading_marks(session: Session) -> tuple[ReadingMark, ...]:
    """Every reading that counts, where it was taken."""
    model = session.model
    numbers: Mapping[str, int] = numbers_of(session.answers)
    sound = {told.check_id: told.sound for told in evidence_of(model, session.answers, belief(session))}
    marks = []
    for answer in session.answers:
        if not answer.skipped:
            check = model.checks_by_id[answer.check_id]
            text = f"{check_title(model.panel, check)}: {answer.text}"
            as_expected = sound.get(answer.check_id, False)
            marks.append(ReadingMark(numbers[answer.check_id], places_of(check), text, as_expected))
    return tuple(marks)


def places_of(check: Check) -> tuple[str, ...]:
    """Where a reading is taken: both terminals, the wires in a clamp's jaws, or a part as a whole."""
    if check.tail:
        return tuple(dict.fromkeys((check.tail, check.head)))
    if check.around:
        return tuple(dict.fromkeys(wire for wire, _ in check.around))
    return (check.part,)
