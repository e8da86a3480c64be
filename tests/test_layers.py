"""The shape of the package: imports go one way, modules stay small, the command starts quickly."""

from __future__ import annotations

import ast
import subprocess
import sys
from collections.abc import Iterator
from functools import lru_cache
from pathlib import Path

import networkx as nx
import pytest

PACKAGE = Path(__file__).resolve().parents[1] / "diagnose"
MOST_LINES = 450

# Each module, or package with all its modules, may import those above it. In a package only a cycle is wrong.
LAYERS = (
    "errors",
    "escaping",
    "files",
    "units",
    "yamlfile",
    "readings",
    "knowledge",
    "physics",
    "signals",
    "heat_answers",
    "temperature_log",
    "panel",
    "topology",
    "exchanges",
    "causes",
    "meter",
    "safety",
    "friend",
    "belief",
    "plan",
    "combine",
    "circuit",
    "warmth",
    "controller_signs",
    "grading",
    "site",
    "setups",
    "checks",
    "variation",
    "expect",
    "some_causes",
    "complained",
    "finish",
    "scales",
    "likelihoods",
    "loading",
    "design_rules",
    "earthing",
    "watt_density",
    "findings",
    "expectation",
    "texts",
    "costs",
    "model",
    "heat_checks",
    "probe_checks",
    "choose",
    "acting",
    "questions",
    "chains",
    "levels",
    "combined",
    "conflict",
    "doubt",
    "evidence",
    "danger",
    "hot",
    "ending",
    "in_turn",
    "still_open",
    "session",
    "revising",
    "proving",
    "remedied",
    "log",
    "log_recovery",
    "log_places",
    "log_list",
    "play",
    "wording",
    "said",
    "opening",
    "ladder",
    "describe",
    "review",
    "expected_points",
    "expected_table",
    "finish_text",
    "kinds_table",
    "counting",
    "learning",
    "drawing",
    "cases",
    "replay",
    "coverage",
    "validate",
    "study",
    "sheet",
    "report",
    "protocol_requests",
    "protocol_proofs",
    "protocol",
    "screen",
    "completion",
    "help_examples",
    "console_options",
    "options",
    "streams",
    "cli",
    "__main__",
)
# Imports against the order, each with its reason. Those for type checkers alone are never run.
AGAINST_THE_ORDER: dict[tuple[str, str], str] = {
    ("questions", "evidence"): "for the type of what a verdict carries: the evidence reads answers",
}
ROOT = "diagnose"
QUICK_WITHOUT = ("numpy", "networkx", "pint", "prompt_toolkit", "yaml")


def module_names() -> list[str]:
    """All modules of the package, by their names below it; the package itself is ''."""
    return sorted(_name_of(path) for path in PACKAGE.rglob("*.py"))


def _name_of(path: Path) -> str:
    parts = list(path.relative_to(PACKAGE).with_suffix("").parts)
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def _path_of(name: str) -> Path:
    below = PACKAGE.joinpath(*name.split(".")) if name else PACKAGE
    return below / "__init__.py" if below.is_dir() else below.with_suffix(".py")


@lru_cache(maxsize=256)
def _tree(name: str) -> ast.Module:
    return ast.parse(_path_of(name).read_text(encoding="utf-8"))


def _imported(name: str) -> Iterator[str]:
    """The package's own modules that a module imports, also within functions and for type checkers."""
    known = set(module_names())
    for node in ast.walk(_tree(name)):
        if isinstance(node, ast.Import):
            for alias in node.names:
                if alias.name.startswith(f"{ROOT}."):
                    yield alias.name.removeprefix(f"{ROOT}.")
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{name}: relative imports hide where a module lies"
            source = node.module or ""
            if source != ROOT and not source.startswith(f"{ROOT}."):
                continue
            below = source.removeprefix(ROOT).removeprefix(".")
            for alias in node.names:
                inner = f"{below}.{alias.name}".removeprefix(".")
                target = inner if inner in known else below
                if target:
                    yield target


def _layer(name: str) -> int:
    return LAYERS.index(name.partition(".")[0])


MODULES = module_names()


def test_every_module_has_its_layer() -> None:
    """A new module is given its place on purpose."""
    placed = {name for name in MODULES if name == "" or name.partition(".")[0] in LAYERS}
    assert sorted(set(MODULES) - placed) == []


def test_no_layer_is_named_twice() -> None:
    """Else its place would be anyone's guess."""
    assert len(set(LAYERS)) == len(LAYERS)


@pytest.mark.parametrize("name", [name for name in MODULES if name])
def test_imports_go_one_way(name: str) -> None:
    """No module imports a later layer, not even late, within a function."""
    own = name.partition(".")[0]
    later = {
        target
        for target in _imported(name)
        if target.partition(".")[0] in LAYERS
        and own in LAYERS
        and _layer(target) > _layer(name)
        and (own, target.partition(".")[0]) not in AGAINST_THE_ORDER
    }
    assert sorted(later) == [], f"{name} imports what lies after it"


def test_the_exceptions_are_still_needed() -> None:
    """An exception that nothing uses any more is to be taken off the list."""
    used = {(name.partition(".")[0], target.partition(".")[0]) for name in MODULES for target in _imported(name)}
    assert set(AGAINST_THE_ORDER) - used == set()


def test_exceptions_are_for_type_checkers_alone() -> None:
    """At run time there is no import against the order at all."""
    for own, target in AGAINST_THE_ORDER:
        for node in ast.walk(_tree(own)):
            if isinstance(node, ast.ImportFrom) and node.module == f"{ROOT}.{target}":
                guards = [
                    guard
                    for guard in ast.walk(_tree(own))
                    if isinstance(guard, ast.If) and ast.unparse(guard.test) == "TYPE_CHECKING" and node in guard.body
                ]
                assert guards, f"{own} imports {target} at run time"


def test_no_import_cycle() -> None:
    """Modules, one by one, import each other in no circle."""
    graph = nx.DiGraph()
    for name in MODULES:
        for target in _imported(name):
            if (name.partition(".")[0], target.partition(".")[0]) not in AGAINST_THE_ORDER:
                graph.add_edge(name, target)
    assert list(nx.simple_cycles(graph)) == []


@pytest.mark.parametrize("name", MODULES)
def test_modules_stay_small(name: str) -> None:
    """A module that outgrows a few screens has two subjects."""
    lines = len(_path_of(name).read_text(encoding="utf-8").splitlines())
    assert lines <= MOST_LINES, f"{name} has {lines} lines"


def _without_docstring(body: list[ast.stmt], prefix: str = "") -> Iterator[str]:
    for node in body:
        if not isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef) or node.name.startswith("_"):
            continue
        if ast.get_docstring(node) is None:
            yield f"{prefix}{node.name}"
        if isinstance(node, ast.ClassDef):
            yield from _without_docstring(node.body, f"{node.name}.")


@pytest.mark.parametrize("name", MODULES)
def test_what_is_public_is_described(name: str) -> None:
    """Every module, public class and public function says what it is for."""
    tree = _tree(name)
    missing = list(_without_docstring(tree.body))
    if tree.body and ast.get_docstring(tree) is None:
        missing.insert(0, "the module itself")
    assert missing == []


PROBE = """
import sys
from diagnose.cli import main
sys.argv[0] = "diagnose"
try:
    main()
except SystemExit as end:
    assert end.code in (0, None), end.code
print("HEAVY", *sorted({name.partition(".")[0] for name in sys.modules} & set(%r)))
"""


@pytest.mark.parametrize("option", ["--help", "--version"])
def test_help_and_version_load_nothing_heavy(option: str) -> None:
    """Asking for help has to be quick: none of the libraries that take long to load is loaded."""
    done = subprocess.run(
        [sys.executable, "-c", PROBE % (QUICK_WITHOUT,), option],
        capture_output=True,
        text=True,
        timeout=60,
        cwd=PACKAGE.parent,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert done.stdout.splitlines()[-1] == "HEAVY"
