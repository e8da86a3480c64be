"""The package as people get it: built, installed into an empty environment, and run from elsewhere."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
import tarfile
import tomllib
import zipfile
from dataclasses import dataclass
from pathlib import Path

import pytest

CHECKOUT = Path(__file__).resolve().parents[1]
SOURCES = (
    "diagnose", "knowledge", "cases", "tests",
    "pyproject.toml", "README.md", "DEVELOPERS.md", "LICENSE", "MANIFEST.in",
)  # fmt: skip
PROJECT = tomllib.loads((CHECKOUT / "pyproject.toml").read_text(encoding="utf-8"))
NO_INDEX = (
    "No matching distribution",
    "Could not find a version",
    "connection",
    "Temporary failure",
    "timed out",
)


def _run(*command: str | Path, cwd: Path, feed: str = "") -> subprocess.CompletedProcess[str]:
    plain = {name: value for name, value in os.environ.items() if not name.startswith("PYTHON")}
    return subprocess.run(
        [str(word) for word in command],
        cwd=cwd, env=plain, input=feed, capture_output=True, text=True, timeout=400, check=False,
    )  # fmt: skip


def _environment(folder: Path) -> Path:
    """An empty virtual environment; returns its bin folder."""
    done = _run(sys.executable, "-m", "venv", folder, cwd=folder.parent)
    assert done.returncode == 0, done.stderr
    return folder / "bin"


def _from_index(bin_folder: Path, *requirements: str) -> None:
    """Install what others have published. With no index in reach the test is skipped, but never in CI."""
    done = _run(bin_folder / "pip", "install", "--quiet", *requirements, cwd=bin_folder)
    if done.returncode == 0:
        return
    if os.environ.get("CI") != "true" and any(sign in done.stderr for sign in NO_INDEX):
        pytest.skip(f"pip can't reach a package index to get {', '.join(requirements)}")
    pytest.fail(f"pip install {' '.join(requirements)}: {done.stderr}")


@dataclass(frozen=True, slots=True)
class Built:
    """What a build gave."""

    sdist: Path
    wheel: Path


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> Built:
    """The sdist of a clean copy of the tree, and the wheel that is built from that sdist alone."""
    folder = tmp_path_factory.mktemp("build")
    tree, out = folder / "tree", folder / "out"
    tree.mkdir()
    for name in SOURCES:
        source = CHECKOUT / name
        if source.is_dir():
            shutil.copytree(source, tree / name, ignore=shutil.ignore_patterns("__pycache__"))
        else:
            shutil.copy2(source, tree / name)
    tools = _environment(folder / "tools")
    _from_index(tools, *PROJECT["build-system"]["requires"])
    sdist = f"from setuptools import build_meta; build_meta.build_sdist({str(out)!r})"
    done = _run(tools / "python", "-c", f"import os; os.mkdir({str(out)!r}); {sdist}", cwd=tree)
    assert done.returncode == 0, done.stderr
    (archive,) = out.glob("*.tar.gz")
    done = _run(tools / "pip", "wheel", "--quiet", "--no-deps", "--no-build-isolation", "-w", out, archive, cwd=folder)
    assert done.returncode == 0, done.stderr
    (wheel,) = out.glob("*.whl")
    return Built(archive, wheel)


@pytest.fixture(scope="module")
def installed(built: Built, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The bin folder of an environment with the wheel and what it asks for, and nothing else."""
    bin_folder = _environment(tmp_path_factory.mktemp("installed") / "venv")
    _from_index(bin_folder, *PROJECT["project"]["dependencies"])
    done = _run(bin_folder / "pip", "install", "--quiet", "--no-index", built.wheel, cwd=bin_folder)
    assert done.returncode == 0, done.stderr
    return bin_folder


def _below(folder: str, *patterns: str) -> set[str]:
    root = CHECKOUT / folder
    return {path.relative_to(root).as_posix() for pattern in patterns for path in root.rglob(pattern)}


def test_every_package_folder_is_listed() -> None:
    """The list of packages is explicit, so a new folder has to be added to it."""
    folders = {path.parent for path in (CHECKOUT / "diagnose").rglob("*.py")}
    names = {".".join(folder.relative_to(CHECKOUT).parts) for folder in folders}
    assert set(PROJECT["tool"]["setuptools"]["packages"]) == names | {"diagnose.shipped"}
    assert all((folder / "__init__.py").is_file() for folder in folders)


def _bound(requirement: str) -> tuple[str, str]:
    name, _, least = requirement.partition(">=")
    return name.strip(), least.strip()


def test_oldest_versions_are_the_bounds() -> None:
    """tests/oldest.txt pins just what pyproject.toml allows at the least; what has no bound can't be tested."""
    lines = (CHECKOUT / "tests" / "oldest.txt").read_text(encoding="utf-8").splitlines()
    pinned = dict(line.split("==") for line in lines if line and not line.startswith("#"))
    assert pinned == dict(_bound(requirement) for requirement in PROJECT["project"]["dependencies"])


@pytest.mark.slow
def test_wheel_holds_the_knowledge_base_and_no_cases(built: Built) -> None:
    """What is needed to run is in the wheel; what is needed to develop is not."""
    names = set(zipfile.ZipFile(built.wheel).namelist())
    shipped = {f"diagnose/shipped/{name}" for name in _below("knowledge", "*.yaml", "*.json")}
    modules = {f"diagnose/{name}" for name in _below("diagnose", "*.py", "*.txt", "py.typed")}
    wanted = shipped | modules
    assert "diagnose/units.txt" in wanted and "diagnose/py.typed" in wanted and "diagnose/shipped/steps.yaml" in wanted
    assert sorted(wanted - names) == []
    rest = {name for name in names - wanted if ".dist-info/" not in name}
    assert sorted(rest) == []


@pytest.mark.slow
def test_sdist_holds_cases_and_tests_too(built: Built) -> None:
    """From the sdist the tests can be run and the cases replayed."""
    with tarfile.open(built.sdist) as archive:
        names = {name.partition("/")[2] for name in archive.getnames()}
    wanted = {
        f"{folder}/{name}"
        for folder in ("knowledge", "cases", "tests", "diagnose")
        for name in _below(folder, "*.yaml", "*.json", "*.py", "*.txt")
    }
    assert sorted(wanted - names) == []
    assert {"README.md", "DEVELOPERS.md", "LICENSE", "pyproject.toml"} <= names


def _headers(text: str) -> dict[str, list[str]]:
    """The header fields of a METADATA or PKG-INFO, each with all its values."""
    found: dict[str, list[str]] = {}
    for line in text.partition("\n\n")[0].splitlines():
        name, _, value = line.partition(": ")
        found.setdefault(name, []).append(value)
    return found


@pytest.mark.slow
def test_both_say_what_they_are_and_carry_the_licence(built: Built) -> None:
    """The same metadata in sdist and wheel, as pyproject.toml has it, and the licence word for word."""
    stem = f"diagnose-{PROJECT['project']['version']}"
    licence = (CHECKOUT / "LICENSE").read_bytes()
    with zipfile.ZipFile(built.wheel) as archive:
        assert archive.testzip() is None
        wheel_text = archive.read(f"{stem}.dist-info/METADATA").decode()
        assert archive.read(f"{stem}.dist-info/licenses/LICENSE") == licence
        assert "diagnose = diagnose.cli:main" in archive.read(f"{stem}.dist-info/entry_points.txt").decode()
        assert "Root-Is-Purelib: true" in archive.read(f"{stem}.dist-info/WHEEL").decode()
    with tarfile.open(built.sdist) as archive:
        kept = {name: archive.extractfile(f"{stem}/{name}") for name in ("PKG-INFO", "LICENSE")}
        sdist_text, sdist_licence = (file.read() if file else b"" for file in kept.values())
    assert sdist_licence == licence
    wheel, sdist = _headers(wheel_text), _headers(sdist_text.decode())
    assert wheel == sdist
    assert wheel["Name"] == ["diagnose"] and wheel["Version"] == [PROJECT["project"]["version"]]
    assert wheel["License-Expression"] == ["MIT"] and wheel["License-File"] == ["LICENSE"]
    assert wheel["Requires-Python"] == [PROJECT["project"]["requires-python"]]
    asked = [each for each in wheel["Requires-Dist"] if "extra" not in each]
    assert asked == [each.replace(" ", "") for each in PROJECT["project"]["dependencies"]]
    assert "Mains can kill" in wheel_text


@pytest.mark.slow
def test_it_is_installed_from_a_folder_with_no_index(built: Built, tmp_path: Path) -> None:
    """The way for a machine that has no network: wheels gathered elsewhere, then pip with `--no-index`."""
    wheels = tmp_path / "wheels"
    tools = _environment(tmp_path / "gathering")
    done = _run(tools / "python", "-m", "pip", "wheel", "--quiet", "-w", wheels, built.sdist, cwd=tmp_path)
    if done.returncode and os.environ.get("CI") != "true" and any(sign in done.stderr for sign in NO_INDEX):
        pytest.skip("pip can't reach a package index to gather the wheels")
    assert done.returncode == 0, done.stderr
    away = _environment(tmp_path / "away")
    done = _run(away / "pip", "install", "--no-index", "--find-links", wheels, "diagnose", cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    done = _run(away / "diagnose", "review", "shed_single_kettle", cwd=tmp_path)
    assert done.returncode == 0, done.stdout + done.stderr


@pytest.mark.slow
def test_it_runs_on_the_oldest_that_it_allows(built: Built, tmp_path: Path) -> None:
    """A session, a drawing and a panel's expected readings on the versions of tests/oldest.txt."""
    bin_folder = _environment(tmp_path / "oldest")
    oldest = CHECKOUT / "tests" / "oldest.txt"
    done = _run(bin_folder / "pip", "install", "--quiet", "-c", oldest, built.wheel, cwd=tmp_path)
    if done.returncode and os.environ.get("CI") != "true" and any(sign in done.stderr for sign in NO_INDEX):
        pytest.skip("pip can't reach a package index to get the oldest versions")
    assert done.returncode == 0, done.stderr
    done = _run(bin_folder / "pip", "freeze", cwd=tmp_path)
    pinned = {line.lower().replace("_", "-") for line in done.stdout.splitlines()}
    assert {line for line in oldest.read_text(encoding="utf-8").splitlines() if "==" in line} <= pinned
    done = _run(bin_folder / "diagnose", *START, cwd=tmp_path, feed=WHO + "skip\n" * 300)
    assert done.returncode == 0 and "Narrowed down" in done.stdout, done.stdout + done.stderr
    for words in (("expect", "shed_single_kettle"), ("draw", "shed_single_kettle", "--out", "drawing.svg")):
        done = _run(bin_folder / "python", "-W", "error", "-m", "diagnose", *words, cwd=tmp_path)
        assert done.returncode == 0, done.stdout + done.stderr


@pytest.mark.slow
def test_installed_package_finds_its_own_knowledge_base(installed: Path, tmp_path: Path) -> None:
    """Away from any checkout, the knowledge base is the one inside the package."""
    code = "from diagnose.knowledge.library import load_library; print(load_library().folder)"
    done = _run(installed / "python", "-c", code, cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    assert Path(done.stdout.strip()).parts[-2:] == ("diagnose", "shipped")


START = ("start", "--panel", "shed_single_kettle", "--complaint", "element_cold", "--log", "kettle.yaml")
WHO = "\n\n"  # never opened a panel; no instruments


@pytest.mark.slow
def test_installed_command_gets_to_a_verdict_on_plain_lines(installed: Path, tmp_path: Path) -> None:
    """`diagnose start` in an empty folder, with someone who can do no check at all, says what it comes to."""
    done = _run(installed / "diagnose", *START, cwd=tmp_path, feed=WHO + "skip\n" * 300)
    assert done.returncode == 0, done.stdout + done.stderr
    assert "Check 1" in done.stdout and "Narrowed down" in done.stdout
    assert "Traceback" not in done.stderr


@pytest.mark.slow
def test_installed_command_can_be_left_and_resumed(installed: Path, tmp_path: Path) -> None:
    """The input ends in mid session: nothing is lost, and `diagnose resume` asks on."""
    done = _run(installed / "diagnose", *START, cwd=tmp_path, feed=WHO + "skip\nskip\n")
    assert done.returncode == 0, done.stdout + done.stderr
    assert "diagnose resume kettle.yaml" in done.stdout
    asked = re.findall(r"^Check \d+.*", done.stdout, re.MULTILINE)
    done = _run(installed / "diagnose", "resume", "kettle.yaml", cwd=tmp_path, feed="stop\n")
    assert done.returncode == 0, done.stdout + done.stderr
    assert re.findall(r"^Check \d+.*", done.stdout, re.MULTILINE) == asked[-1:]
