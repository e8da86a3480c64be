"""Text from outside as it may stand in a terminal, in JSON and in Markdown: nothing in it steers, turns or links."""

from __future__ import annotations

import json
import re
from typing import Any

# Bidirectional controls can make a line read as another, so they go with the control characters.
_UNSEEN = re.compile(r"[\x00-\x1f\x7f-\x9f\u061c\u200b-\u200f\u2028-\u202e\u2060-\u2069\ufeff\ud800-\udfff]")
_MARKED = re.compile(r"([\\`*_{}\[\]<>#|~!&])")
_STARTS = re.compile(r"^(\s*)([-+=]|\d+[.)])(?=\s|$)")


def unseen_out(text: str) -> str:
    """Text with a space for each character that is not to be seen; all spaces are kept."""
    return _UNSEEN.sub(" ", text)


def json_text(data: Any, indent: int | None = 2) -> str:
    """JSON that is safe to look at in a terminal: what is not to be seen stands as its number.

    Raises ValueError for NaN.

    >>> json_text("a\\u202eb")
    '"a\\\\u202eb"'
    """
    text = json.dumps(data, ensure_ascii=False, indent=indent, allow_nan=False)
    return _UNSEEN.sub(lambda match: match[0] if match[0] == "\n" else f"\\u{ord(match[0]):04x}", text)


def markdown_text(text: str) -> str:
    """One line of text that no Markdown reader takes for anything but text.

    >>> markdown_text("[a](b) | 1")
    '\\\\[a\\\\](b) \\\\| 1'
    """
    text = _MARKED.sub(r"\\\1", unseen_out(text))
    return _STARTS.sub(lambda match: f"{match[1]}{match[2][:-1]}\\{match[2][-1]}", text)
