"""Answers that exclude each other, in words."""

from __future__ import annotations

from diagnose.model import Model
from diagnose.questions import Verdict
from diagnose.wording.checks import check_title


def conflict_lines(model: Model, verdict: Verdict) -> list[str]:
    """Which answers nothing known explains together, and what the rest would point to without the odd one."""
    conflict = verdict.conflict
    if conflict is None:
        return []
    texts = {told.check_id: told.text for told in verdict.evidence}

    def named(check_id: str) -> str:
        return f"{check_title(model.panel, model.checks_by_id[check_id])}: {texts.get(check_id, '')}"

    lines = []
    if len(conflict.check_ids) == 1:
        lines.append(f"Nothing known here gives this answer: {named(conflict.check_ids[0])}")
    elif conflict.check_ids:
        lines.append("These exclude each other:")
        lines += [f"- {named(check_id)}" for check_id in conflict.check_ids]
    if conflict.odd:
        lines.append(f"Look once more at '{named(conflict.odd)}': all others would fit {conflict.without}.")
    if conflict.together:
        lines.append(f"It takes {len(conflict.together)} wrong answers at once. Look once more at each of these:")
        lines += [f"- {named(check_id)}" for check_id in conflict.together]
        lines.append(f"All others would fit {conflict.without}.")
    return lines
