"""Contrast of two colours as WCAG 2.1 defines it, and the same for every text of an SVG (from memory)."""

from __future__ import annotations

from collections.abc import Iterator
from xml.etree import ElementTree

TEXT = 4.5  # WCAG 2.1, 1.4.3: text to what it lies on
SHAPE = 3.0  # WCAG 2.1, 1.4.11: lines and frames that have to be seen
SVG = "{http://www.w3.org/2000/svg}"


def luminance(colour: str) -> float:
    """Relative luminance of `#rrggbb` or `#rgb`: WCAG 2.1, 'relative luminance'."""
    digits = colour.removeprefix("#")
    digits = "".join(digit * 2 for digit in digits) if len(digits) == 3 else digits
    shares = [int(digits[start : start + 2], 16) / 255 for start in (0, 2, 4)]
    red, green, blue = (share / 12.92 if share <= 0.03928 else ((share + 0.055) / 1.055) ** 2.4 for share in shares)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, two: str) -> float:
    """Contrast ratio, 1 to 21: WCAG 2.1, 'contrast ratio'."""
    light, dark = sorted((luminance(one), luminance(two)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def texts_on(svg: str) -> Iterator[tuple[str, str, str]]:
    """Every text of an SVG: its words, its colour, and the colour of the last filled rectangle or circle it lies on."""
    root = ElementTree.fromstring(svg)
    filled: list[tuple[float, float, float, float, str]] = []
    fills = [(group, group.get("fill", "#000000")) for group in root.iter(f"{SVG}g")] or [(root, "#000000")]
    inherited = fills[0][1]
    for shape in root.iter():
        fill = shape.get("fill")
        if shape.tag == f"{SVG}rect" and shape.get("width") == "100%":
            filled.append((-1e9, -1e9, 1e9, 1e9, str(fill)))
        elif shape.tag == f"{SVG}rect" and fill not in (None, "none"):
            x, y = float(shape.get("x", 0)), float(shape.get("y", 0))
            filled.append((x, y, x + float(shape.get("width", 0)), y + float(shape.get("height", 0)), str(fill)))
        elif shape.tag == f"{SVG}circle" and fill not in (None, "none"):
            x, y, r = (float(shape.get(key, 0)) for key in ("cx", "cy", "r"))
            filled.append((x - r, y - r, x + r, y + r, str(fill)))
        elif shape.tag == f"{SVG}text" and shape.text:
            x, y = float(shape.get("x", 0)), float(shape.get("y", 0)) - 3
            under = [colour for left, top, right, low, colour in filled if left <= x <= right and top <= y <= low]
            yield shape.text, fill or inherited, under[-1]
