"""The session in README.md is one that the program holds: each piece of it stands in a real one, line by line."""

from __future__ import annotations

import re
from pathlib import Path

from tests.transcript import transcript

README = (Path(__file__).resolve().parents[1] / "README.md").read_text(encoding="utf-8")


def without_shares(text: str) -> str:
    """Text without the figures of belief, which move a little with every number in the knowledge base."""
    return re.sub(r"\d+ %", "N %", text)


def test_the_session_in_the_readme_is_what_the_program_prints() -> None:
    """What to do where it is not: `python -m tests.transcript` prints the session as it is now."""
    shown = re.search(r"^```text\n(.*?)^```", README, re.MULTILINE | re.DOTALL)
    assert shown, "README shows no session"
    whole = without_shares(transcript())
    at = 0
    for piece in without_shares(shown[1]).split("...\n"):
        found = whole.find(piece, at)
        assert found >= 0, f"not in a session as it is now:\n{piece}"
        at = found + len(piece)
