"""No network at run time, no other program started, nothing taken from a file as code."""

from __future__ import annotations

import ast
import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

CHECKOUT = Path(__file__).resolve().parents[1]
PANEL = "shed_single_kettle"
CASE = "cases/shed_supply_off.yaml"
LOG = "session.yaml"
START = ["start", "--panel", PANEL, "--complaint", "element_cold", "--competence", "outside", "--instruments", "none"]

# The interpreter's own audit events (PEP 578) are raised by C code as well, so nothing gets around them.
WRAPPER = """
import json, os, sys
LOCAL = 1  # AF_UNIX, never off this machine
def watch(event, arguments):
    away = event == "socket.__new__" and arguments[1] != LOCAL
    asked = event.startswith("socket.get") and event != "socket.gethostname"
    if away or asked or event in ("os.system", "os.exec", "os.posix_spawn", "subprocess.Popen", "pickle.find_class"):
        print("REFUSED", event, file=sys.stderr)
        raise RuntimeError(event)
sys.addaudithook(watch)
if sys.argv[1]:
    exec(sys.argv[1])
from diagnose.cli import main
for arguments in json.load(sys.stdin):
    if not os.fork():  # a process for each, as for those who type them; what it takes to load is loaded once
        fed, typed = os.pipe()
        os.write(typed, b"skip\\n" * 3)
        os.close(typed)
        os.dup2(fed, 0)
        sys.stdin = open(0, encoding="utf-8")
        code = main(arguments)
        sys.stdout.flush()
        os._exit(code)
    print("##", arguments[0], os.waitstatus_to_exitcode(os.wait()[1]), flush=True)
"""


def _run(folder: Path, commands: list[list[str]], tried: str = "") -> subprocess.CompletedProcess[str]:
    environment = {
        **os.environ,
        "PYTHONPATH": str(CHECKOUT),
        "XDG_DATA_HOME": str(folder),
        "XDG_STATE_HOME": str(folder),
    }
    return subprocess.run(
        [sys.executable, "-c", WRAPPER, tried], input=json.dumps(commands), env=environment, cwd=folder,
        capture_output=True, text=True, timeout=240, check=False,
    )  # fmt: skip


def test_no_command_opens_a_socket_or_starts_a_program(tmp_path: Path) -> None:
    """The commands, one after the other, where every such thing is refused by the interpreter."""
    (tmp_path / "noted.txt").write_text("0 20\n5 30\n10 40\n15 50\n20 60\n25 66\n30 68\n35 67\n", encoding="utf-8")
    commands = [
        [*START, "--log", LOG],
        ["resume", LOG],
        [*START, "--json-lines"],
        ["expect", PANEL],
        ["review", PANEL],
        ["kinds"],
        ["draw", PANEL, "--out", "drawing.svg"],
        ["finish", PANEL, "--fault", "element:open"],
        ["swing", "noted.txt", "--set", "66 C"],
        ["validate", str(CHECKOUT / "knowledge" / "panels" / f"{PANEL}.yaml")],
        ["replay", str(CHECKOUT / CASE)],
        ["report", LOG, "--out", "report.html"],
        ["history", PANEL, "--logs", "."],
        ["learn", LOG, "--confirmed", "element:open"],
        ["completion", "bash"],
    ]
    done = _run(tmp_path, commands)
    assert done.returncode == 0, done.stderr
    assert "REFUSED" not in done.stderr and "Traceback" not in done.stderr, done.stderr
    codes = {"finish": 1}  # an honest no: with its only element burned open nothing is heated
    ended = [line for line in done.stdout.splitlines() if line.startswith("## ")]
    assert ended == [f"## {name} {codes.get(name, 0)}" for name, *_ in commands], done.stderr


@pytest.mark.parametrize(
    "tried",
    [
        "import socket; socket.socket()",
        "import socket; socket.getaddrinfo('localhost', 80)",
        "import os; os.system('true')",
        "import subprocess; subprocess.run(['true'])",
    ],
)
def test_what_the_test_above_relies_on_does_refuse(tmp_path: Path, tried: str) -> None:
    """Else it could not fail."""
    done = _run(tmp_path, [], tried)
    assert done.returncode == 1
    assert "REFUSED" in done.stderr


# What reaches over the network, starts programs, or makes code or objects out of bytes.
AWAY = {
    "asyncio", "ctypes", "ftplib", "http", "imaplib", "marshal", "pickle", "poplib", "requests", "shelve", "smtplib",
    "socket", "socketserver", "ssl", "subprocess", "telnetlib", "urllib", "webbrowser", "xmlrpc",
}  # fmt: skip
AS_CODE = {"eval", "exec", "compile", "__import__"}
UNSAFE_ATTRIBUTES = {"popen", "unsafe_load", "full_load", "UnsafeLoader", "FullLoader"}
MODULES = sorted((CHECKOUT / "diagnose").rglob("*.py"))


def _reaching(tree: ast.Module) -> list[str]:
    found = []
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            found += [name.name for name in node.names if name.name.partition(".")[0] in AWAY]
        elif isinstance(node, ast.ImportFrom):
            found += [node.module or ""] if (node.module or "").partition(".")[0] in AWAY else []
        elif isinstance(node, ast.Name) and node.id in AS_CODE:
            found.append(node.id)
        elif isinstance(node, ast.Attribute) and (
            node.attr in UNSAFE_ATTRIBUTES or ast.unparse(node) in ("os.system", "yaml.load")
        ):
            found.append(ast.unparse(node))
    return found


def test_no_module_reaches_away_or_takes_text_for_code() -> None:
    """Also in what the commands above did not come through."""
    found = {path.name: names for path in MODULES if (names := _reaching(ast.parse(path.read_text(encoding="utf-8"))))}
    assert found == {}


@pytest.mark.parametrize(
    "text",
    ["import socket", "from urllib.request import urlopen", "eval('1')", "os.system('x')", "yaml.unsafe_load(x)"],
)
def test_such_a_module_would_be_found(text: str) -> None:
    assert _reaching(ast.parse(text)) != []


# An assert is left out with -O. So one may tell the type checker what is known already, and nothing else.
def _narrows(test: ast.expr) -> bool:
    if isinstance(test, ast.BoolOp):
        return all(_narrows(value) for value in test.values)
    if isinstance(test, ast.Call):
        return isinstance(test.func, ast.Name) and test.func.id == "isinstance"
    return isinstance(test, ast.Compare) and isinstance(test.ops[0], ast.Is | ast.IsNot)


def test_asserts_of_the_package_only_tell_types() -> None:
    """Python with -O behaves the same: what a person may get wrong raises, and is never asserted."""
    others = [
        f"{path.name}:{node.lineno}"
        for path in MODULES
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if (isinstance(node, ast.Assert) and not _narrows(node.test))
        or (isinstance(node, ast.Name) and node.id == "__debug__")
    ]
    assert others == []
