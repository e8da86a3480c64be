"""`diagnose validate`: every finding on a line, or all as JSON."""

from __future__ import annotations

import sys
from collections.abc import Iterator, Sequence
from pathlib import Path

from diagnose.errors import Problem, printable
from diagnose.escaping import json_text
from diagnose.files import replace_file
from diagnose.knowledge.folder import knowledge_folder
from diagnose.knowledge.library import load_library
from diagnose.opening import all_complaints, fitting, open_panel
from diagnose.texts import load_texts
from diagnose.validate.deep import deep_problems
from diagnose.validate.reading import files_in, in_order, problems_in
from diagnose.validate.schemas import schemas, text_of
from diagnose.validate.sorts import sort_of
from diagnose.yamlfile import read

FORMATS = ("text", "json")
SOUND, BROKEN = 0, 2


def main_validate(paths: Sequence[str], form: str, strict: bool, deep: bool = False) -> int:
    """Read files and folders, print all that is wrong; 0 where nothing is, 2 where there are errors.

    With `strict` a warning counts as an error. With `deep` each panel without errors is worked through as well.

    Raises UsageError for a path that isn't there.
    """
    given = [Path(path) for path in paths] or [knowledge_folder()]
    problems = problems_in(given)
    if deep:
        problems = tuple(sorted((*problems, *_deep(given, problems)), key=in_order))
    files = len(dict.fromkeys(each for path in given for each in files_in(path)))
    print(_json(problems, files) if form == "json" else _text(problems, files))
    failing = [problem for problem in problems if problem.level == "error" or (strict and problem.level == "warning")]
    return BROKEN if failing else SOUND


def _deep(given: Sequence[Path], problems: Sequence[Problem]) -> Iterator[Problem]:
    broken = {problem.place.file for problem in problems if problem.place and problem.level == "error"}
    for path in dict.fromkeys(each for one in given for each in files_in(one)):
        if str(path) in broken or sort_of(path, read(path, str(path))) != "panel":
            continue
        panel = open_panel(str(path))
        complaints = {complaint.name: complaint for complaint in fitting(panel, all_complaints().values())}
        yield from deep_problems(panel, complaints, lambda line: print(line, file=sys.stderr))


def write_schemas(folder: str) -> int:
    """Write the JSON Schemas of panels, kinds of part, complaints and cases into a folder.

    Raises FileError where that can't be done.
    """
    for name, schema in schemas(load_library(), load_texts(), all_complaints()).items():
        replace_file(Path(folder) / name, text_of(schema), make_folder=True)
    return SOUND


def counts(problems: Sequence[Problem]) -> dict[str, int]:
    """How many problems there are of each level."""
    return {level: sum(problem.level == level for problem in problems) for level in ("error", "warning", "note")}


def _text(problems: Sequence[Problem], files: int) -> str:
    told = counts(problems)
    ending = f"{files} {'file' if files == 1 else 'files'}: " + ", ".join(
        f"{count} {level}{'' if count == 1 else 's'}" for level, count in told.items() if count
    )
    lines = [*(str(problem) for problem in problems), ending if any(told.values()) else ending + "sound"]
    # What stands in a file never reaches the terminal as more than text.
    return "\n".join(printable(line) for line in lines)


def _json(problems: Sequence[Problem], files: int) -> str:
    found = [
        {
            "file": problem.place.file if problem.place else "",
            "line": problem.place.line if problem.place else 0,
            "column": problem.place.column if problem.place else 0,
            "level": problem.level,
            "rule": problem.rule,
            "message": problem.message,
            "expected": problem.expected,
        }
        for problem in problems
    ]
    return json_text({"format": 1, "files": files, **counts(problems), "findings": found})
