"""Where knowledge/ lies."""

from __future__ import annotations

from pathlib import Path

from diagnose.errors import FileError, Problem


def knowledge_folder() -> Path:
    """Where knowledge/ lies: beside the package in a checkout, inside it when installed.

    Raises FileError if it is in neither place.
    """
    package = Path(__file__).resolve().parents[1]
    for folder in (package.parent / "knowledge", package / "shipped"):
        if (folder / "parts").is_dir():
            return folder
    raise FileError(Problem("the knowledge base is missing", f"a folder knowledge/ beside {package}"))


def shown(path: Path, folder: Path) -> str:
    """A knowledge file's name as messages show it: `knowledge/parts/relay.yaml`."""
    return str(Path("knowledge") / path.relative_to(folder))
