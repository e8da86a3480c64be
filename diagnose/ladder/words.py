"""The path of the current in sentences: for a screen reader, and wherever nothing can be drawn."""

from __future__ import annotations

from collections.abc import Iterator

from diagnose.ladder.circuits import Circuit, circuit_for
from diagnose.ladder.rows import Row, ladder_of
from diagnose.ladder.state import Marks, marks_of
from diagnose.panel.records import Panel
from diagnose.session import AskCheck, Question, Session


def spoken_lines(session: Session, question: Question | None) -> list[str]:
    """The path of the current, one part a line, numbered in the order in which the current passes them."""
    panel = session.model.panel
    check = question.check if isinstance(question, AskCheck) else None
    circuit = circuit_for(panel, session.model.subject, check)
    if circuit is None:
        return []
    ladder = ladder_of(panel, marks_of(session, question), circuit)
    rows = [*ladder.left, ladder.load, *ladder.right[::-1]]
    lines = list(_numbered(rows))
    return [*lines, *(f"Not on this path: {_said(row)}" for row in ladder.off_path)]


def panel_words(panel: Panel, circuit: Circuit) -> list[str]:
    """A circuit of a panel about which nothing is asked."""
    ladder = ladder_of(panel, Marks({}, {}, {}, ()), circuit)
    return list(_numbered([*ladder.left, ladder.load, *ladder.right[::-1]]))


def _numbered(rows: list[Row]) -> Iterator[str]:
    number = 0
    for row in rows:
        if row.what == "probe":
            yield f"Here: {_said(row)}"
            continue
        number += 1
        yield f"{number}. {_said(row)}"


def _said(row: Row) -> str:
    text = row.text.replace("RED  ", "red probe on ").replace("BLACK  ", "black probe on ")
    mark = row.mark.replace("? ", "suspect, ").replace("RED", "red probe here").replace("BLACK", "black probe here")
    words = [text, "cleared" if mark == "ok" else mark, "look here" if row.looked_at else ""]
    return ", ".join(word for word in words if word) + "."
