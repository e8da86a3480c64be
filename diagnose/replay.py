"""Runs recorded cases through the real session."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from multiprocessing import get_context
from pathlib import Path

from diagnose.cases import RecordedCase, read_case
from diagnose.errors import AnswerError, DiagnoseError, FileError, Problem, printable
from diagnose.model import Model
from diagnose.opening import open_model
from diagnose.safety import WANTS
from diagnose.session import ConfirmStep, Verdict, answer, ask, confirm, leave_out, start

LONGEST = 500
SHARED_FROM = 8  # a process more takes a second to start, so a few cases are quicker in one
_DEAD = "0 V"  # a case tells of its checks; whoever recorded it had proved the panel dead


@dataclass(frozen=True, slots=True)
class Replayed:
    """How a case came out."""

    case: RecordedCase
    passed: bool
    verdict: Verdict
    checks: int
    why: str


def replay(case: RecordedCase, model: Model) -> Replayed:
    """Ask as in a real session, answer from the case; checks that the case has no answer to are skipped.

    Raises
    ------
    FileError
        Where an answer can't be read as what its check asks for, or no such check is offered.
    """
    _known_answers(case, model)
    session = start(model, case.competence, frozenset(case.instruments))  # type: ignore[arg-type]
    checks = 0
    for _ in range(LONGEST):
        question = ask(session)
        if isinstance(question, Verdict):
            passed, why = _judge(case, question)
            return Replayed(case, passed, question, checks, why)
        if isinstance(question, ConfirmStep):
            wanted = question.for_check.id in case.answers
            session = (
                confirm(session, _DEAD if WANTS[question.step] == "volts" else "") if wanted else leave_out(session)
            )
            continue
        given = case.again if question.doubted is not None and question.check.id in case.again else case.answers
        text = given.get(question.check.id)
        if text is None:
            session = leave_out(session)
            continue
        try:
            session = answer(session, text)
        except AnswerError as error:
            problem = error.problems[0]
            raise FileError(Problem(f"{question.check.id}: {problem.message}", problem.expected, case.place)) from error
        checks += question.doubted is None
    raise FileError(Problem("the session does not end", f"an end within {LONGEST} questions", case.place))


def _known_answers(case: RecordedCase, model: Model) -> None:
    unknown = [name for name in (*case.answers, *case.again) if name not in model.checks_by_id]
    if unknown:
        raise FileError(
            Problem(
                f"no check '{unknown[0]}' is offered for this complaint",
                "a check's id as a session logs it",
                case.place,
            )
        )


def _judge(case: RecordedCase, verdict: Verdict) -> tuple[bool, str]:
    named = tuple(dict.fromkeys(share.part for share in verdict.causes))
    lead = verdict.causes[0] if verdict.causes else None
    beside = {share.also_part for share in verdict.causes} | {each.part for each in verdict.further if each.sure}
    if case.confirmed.also and case.confirmed.also not in beside:
        return False, f"ended {verdict.kind} without {case.confirmed.also} beside {', '.join(named) or 'nothing'}"
    if case.group:
        passed = verdict.kind == "group" and case.confirmed.part in named and set(named) <= set(case.group)
        return passed, "" if passed else f"ended {verdict.kind} with {', '.join(named) or 'nothing'}"
    passed = (
        verdict.kind == "found"
        and lead is not None
        and lead.part == case.confirmed.part
        and case.confirmed.fault in ("", lead.fault)
    )
    found = f"{lead.part}: {lead.fault}" if lead else "nothing"
    return passed, "" if passed else f"ended {verdict.kind} with {found}"


def case_files(paths: Sequence[str]) -> Iterator[Path]:
    """The case files among files and folders, sorted. Raises FileError for a path that isn't there."""
    for name in paths:
        path = Path(name)
        if path.is_dir():
            yield from sorted(path.rglob("*.yaml"))
        elif path.is_file():
            yield path
        else:
            raise FileError(Problem(f"{name}: there is no such file or folder", "a case or a folder of cases"))


@dataclass(frozen=True, slots=True)
class _Line:
    """What is printed of a case, and what it counts for."""

    text: str
    passed: bool
    broken: bool


def main_replay(paths: Sequence[str]) -> int:
    """Replay cases, print a line each and a count; 0 if all pass, 1 if any fails, 2 where a file can't be used.

    Many cases are shared out to the cores; the lines come in the files' order all the same.
    """
    files = list(case_files(paths))
    lines: list[_Line] = []
    for line in _in_one_process(files) if len(files) < SHARED_FROM else _on_all_cores(files):
        text = "\n".join(map(printable, line.text.splitlines()))
        print(text, file=sys.stderr if line.broken else sys.stdout, flush=True)
        lines.append(line)
    passed, broken = (sum(getattr(line, what) for line in lines) for what in ("passed", "broken"))
    print(f"{passed} passed, {len(lines) - passed} failed")
    if broken:
        return 2
    return 0 if passed == len(lines) else 1


def _in_one_process(files: Sequence[Path]) -> Iterator[_Line]:
    return (_replayed(path) for path in files)


def _on_all_cores(files: Sequence[Path]) -> Iterator[_Line]:
    # Started anew, since a copy of a process that has threads may stop for ever.
    with ProcessPoolExecutor(min(os.cpu_count() or 1, len(files)), get_context("spawn")) as pool:
        yield from pool.map(_replayed, files)


def _replayed(path: Path) -> _Line:
    try:
        case = read_case(path, str(path))
        done = replay(case, open_model(case.panel, case.complaint, case.part))
    except DiagnoseError as error:
        return _Line(str(error), False, True)
    why = f"  ({done.why})" if done.why else ""
    text = f"{'passed' if done.passed else 'FAILED'}  {path}  {done.checks} checks  {case.title}{why}"
    return _Line(text, done.passed, False)
