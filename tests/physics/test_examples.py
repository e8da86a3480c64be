"""The examples in the docstrings run, errors are documented, and the layer imports nothing above it."""

import ast
import doctest
import importlib
import inspect
import pkgutil
from pathlib import Path

import pytest

from diagnose import physics

NAMES = sorted(module.name for module in pkgutil.iter_modules(physics.__path__))


def functions(module):
    return [
        (name, value)
        for name, value in vars(module).items()
        if inspect.isfunction(value) and value.__module__ == module.__name__ and not name.startswith("_")
    ]


@pytest.mark.parametrize("name", NAMES)
def test_examples_run(name):
    result = doctest.testmod(importlib.import_module(f"diagnose.physics.{name}"))
    assert result.attempted > 0
    assert result.failed == 0


@pytest.mark.parametrize("name", [name for name in NAMES if name != "number"])
def test_every_public_function_has_an_example(name):
    module = importlib.import_module(f"diagnose.physics.{name}")
    lacking = [each for each, function in functions(module) if ">>>" not in (function.__doc__ or "")]
    assert lacking == []


@pytest.mark.parametrize("name", NAMES)
def test_functions_that_raise_say_so(name):
    module = importlib.import_module(f"diagnose.physics.{name}")
    lacking = []
    for each, function in functions(module):
        source = inspect.getsource(function)
        code = source.replace(function.__doc__ or "", "")
        if ("raise " in code or "require_" in code) and "Raises" not in (function.__doc__ or ""):
            lacking.append(each)
    assert lacking == []


@pytest.mark.parametrize("name", [*NAMES, "__init__"])
def test_nothing_above_the_formulas_is_imported(name):
    tree = ast.parse((Path(physics.__path__[0]) / f"{name}.py").read_text(encoding="utf-8"))
    imported = {node.module or "" for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)}
    ours = {module for module in imported if module.startswith("diagnose")}
    assert all(module.startswith("diagnose.physics.") for module in ours)
