"""Each file by the reader of its sort, with every problem kept instead of raised."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from pathlib import Path

from diagnose.cases import read_case
from diagnose.errors import DiagnoseError, FileError, Place, Problem, UsageError
from diagnose.knowledge.chains import load_chains
from diagnose.knowledge.complaints import read_complaints
from diagnose.knowledge.curves import load_curves
from diagnose.knowledge.kinds import read_kind
from diagnose.knowledge.library import load_library
from diagnose.knowledge.rates import load_rates
from diagnose.knowledge.records import Complaint
from diagnose.knowledge.regions import load_regions
from diagnose.knowledge.slips import load_slips
from diagnose.knowledge.sources import load_sources
from diagnose.learning.ratesfile import read_learned
from diagnose.log import read_log
from diagnose.opening import choose_part, competence_named, open_complaint, open_panel
from diagnose.panel.reader import read_panel
from diagnose.texts import load_texts
from diagnose.validate.advice import advised
from diagnose.validate.base import Base, base_of
from diagnose.validate.references import alike, of_case, of_complaint, of_part, place_of
from diagnose.validate.sorts import WORDS, sort_of
from diagnose.validate.unsourced import unsourced
from diagnose.yamlfile import Mapping as MappingNode
from diagnose.yamlfile import Node, read

VALUED = ("chains", "curves", "rates", "slips", "steps", "supplies")  # files of words with values that are claims
SORTS = "a panel, a case, a kind of part, complaints, a session's log, or a file of the knowledge base by its name"


def problems_in(paths: Sequence[Path]) -> tuple[Problem, ...]:
    """Every problem of every file, sorted by place; each once.

    Raises UsageError for a path that isn't there.
    """
    found: dict[Problem, None] = {}
    families: dict[Path, list[tuple[Complaint, Place]]] = {}
    for path in dict.fromkeys(each for given in paths for each in files_in(given)):
        complaints: list[tuple[Complaint, Place]] = []
        for problem in _problems(path, base_of(path), complaints):
            found.setdefault(problem)
        families.setdefault(path.parent, []).extend(complaints)
    for family in families.values():
        for problem in alike(family):
            found.setdefault(problem)
    return tuple(sorted(found, key=in_order))


def in_order(problem: Problem) -> tuple[Place, str, str]:
    """By place, then by what is said."""
    return (problem.place or Place(""), problem.level, problem.message)


def files_in(path: Path) -> Iterator[Path]:
    """A file itself, or the YAML files under a folder. Raises UsageError where there is neither."""
    if path.is_dir():
        yield from sorted(each for each in path.rglob("*") if each.suffix in (".yaml", ".yml") and each.is_file())
    elif path.exists():
        yield path
    else:
        raise UsageError(Problem(f"{path}: there is no such file or folder", "a file, or a folder of files"))


def _problems(path: Path, base: Base, complaints: list[tuple[Complaint, Place]]) -> Iterator[Problem]:
    try:
        node = read(path, str(path))
    except DiagnoseError as error:
        yield from error.problems
        return
    yield from advised(node)
    sort = sort_of(path, node)
    if base.sources is not None and (sort == "part" or (sort == "words" and path.stem in VALUED)):
        yield from unsourced(path.read_text(encoding="utf-8"), node, base.sources)
    if sort == "complaints":
        yield from _caught(lambda: _complaints(path, node, base, complaints))
    elif sort == "words":
        yield from _of_words(path)
    elif sort == "unknown":
        yield Problem("no telling what this file is", SORTS, node.place)
    else:
        readers: Mapping[str, Callable[[], Iterator[Problem]]] = {
            "part": lambda: _part(path, node, base),
            "panel": lambda: _panel(path, base),
            "case": lambda: _case(path, node),
            "session": lambda: _session(path, node),
            "learned rates": lambda: _nothing(read_learned(path)),
        }
        yield from _caught(readers[sort])


def _caught(reader: Callable[[], Iterator[Problem]]) -> Iterator[Problem]:
    try:
        yield from reader()
    except DiagnoseError as error:
        yield from error.problems


def _nothing(_: object) -> Iterator[Problem]:
    return iter(())


def _part(path: Path, node: Node, base: Base) -> Iterator[Problem]:
    kind = read_kind(path, str(path))
    if base.texts:
        yield from of_part(kind, node, base.texts)
    others = [] if base.library is None else [kind for kind in base.library.kinds.values() if kind.name == path.stem]
    if kind.name != path.stem and not others and path.parent.name == "parts":
        yield Problem(
            f"the kind '{kind.name}' stands in a file of another name", f"{kind.name}.yaml",
            place_of(node, "kind"), "warning", "file name",
        )  # fmt: skip


def _panel(path: Path, base: Base) -> Iterator[Problem]:
    if base.library is not None:
        read_panel(path, base.library, str(path))
    return
    yield


def _complaints(path: Path, node: Node, base: Base, complaints: list[tuple[Complaint, Place]]) -> Iterator[Problem]:
    for complaint in read_complaints(path, str(path)):
        inner = node.get(complaint.name) if isinstance(node, MappingNode) else None
        complaints.append((complaint, place_of(node, complaint.name)))
        if inner is not None and base.library is not None and base.texts is not None:
            yield from of_complaint(complaint, inner, base.library.kinds, base.texts)


def _case(path: Path, node: Node) -> Iterator[Problem]:
    case = read_case(path, str(path))
    try:
        panel = open_panel(case.panel)
    except UsageError as error:
        yield from _placed(error, place_of(node, "panel"))
        return
    try:
        complaint = open_complaint(case.complaint)
    except UsageError as error:
        yield from _placed(error, place_of(node, "complaint"))
        return
    try:
        part = choose_part(panel, complaint, case.part or None)
    except UsageError as error:
        yield from _placed(error, place_of(node, "part"))
        return
    yield from of_case(case, node, panel, complaint, part)


def _session(path: Path, node: Node) -> Iterator[Problem]:
    header, _ = read_log(path)
    openers: Mapping[str, Callable[[], object]] = {
        "panel": lambda: open_panel(header.panel),
        "complaint": lambda: open_complaint(header.complaint),
        "competence": lambda: competence_named(header.competence),
    }
    for key, opener in openers.items():
        try:
            opener()
        except UsageError as error:
            yield from _placed(error, place_of(node, key))


def _of_words(path: Path) -> Iterator[Problem]:
    """A file of which there is one each, read with those that it is read with; only its own problems are told."""
    folder = path.parent
    if not all((folder / f"{name}.yaml").is_file() for name in WORDS):
        yield Problem(
            f"{path.name} belongs to a knowledge base", f"it lies beside {', '.join(f'{name}.yaml' for name in WORDS)}",
            Place(str(path)),
        )  # fmt: skip
        return
    readers: Mapping[str, Callable[[], object]] = {
        "chains": lambda: load_chains(folder),
        "curves": lambda: load_curves(folder),
        "slips": lambda: load_slips(folder),
        "rates": lambda: load_rates(folder / "rates.yaml"),
        "regions": lambda: load_regions(folder),
        "sources": lambda: load_sources(folder),
        "supplies": lambda: load_library(folder),
    }
    try:
        readers.get(path.stem, lambda: load_texts(folder))()
    except FileError as error:
        for problem in error.problems:
            place = problem.place
            if place is None or Path(place.file).name == path.name:
                at = Place(str(path), place.line, place.column) if place else Place(str(path))
                yield Problem(problem.message, problem.expected, at, problem.level, problem.rule)


def _placed(error: DiagnoseError, place: Place) -> Iterator[Problem]:
    return (Problem(each.message, each.expected, place) for each in error.problems)
