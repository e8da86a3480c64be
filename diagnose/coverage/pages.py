"""A panel's coverage as Markdown, HTML or JSON."""

from __future__ import annotations

import re
from html import escape

from diagnose.coverage.gather import Coverage
from diagnose.coverage.reach import REACHES
from diagnose.coverage.words import READING, tables
from diagnose.errors import printable
from diagnose.escaping import json_text
from diagnose.wording import review_cautions


def as_json(coverage: Coverage) -> str:
    """Everything, for other programs; the keys are stable."""
    return json_text(
        {
            "format": 1,
            "panel": coverage.panel.name,
            "cautions": review_cautions(coverage.panel),
            "complaints": coverage.complaints,
            "found_alone": {name: list(pair) for name, pair in coverage.shares().items()},
            "faults": [
                {
                    "part": row.part, "fault": row.fault, "title": row.title, "complaints": list(row.complaints),
                    "mistaken": {reach.name: list(row.mistaken[n]) for n, reach in enumerate(REACHES)},
                }
                for row in coverage.rows
            ],
            "silent": [{"part": part, "fault": fault, "title": title} for part, fault, title in coverage.silent],
            "together": [{"parts": list(parts), "complaints": list(where)} for parts, where in coverage.together],
            "advice": [
                {"kind": each.kind, "what": each.what, "pairs": [list(pair) for pair in each.pairs]}
                for each in coverage.advice
            ],
        }
    )  # fmt: skip


def as_markdown(coverage: Coverage) -> str:
    """For a repository or a wiki."""
    lines = [f"# What can be found: {_cell(coverage.panel.title)}", "", READING, "", *_caution_items(coverage), ""]
    for table in tables(coverage):
        lines += [f"## {table.title}", "", *([table.note, ""] if table.note else [])]
        lines += ["| " + " | ".join(table.head) + " |", "|" + "---|" * len(table.head)]
        lines += ["| " + " | ".join(_cell(cell) for cell in row) + " |" for row in table.rows]
        lines.append("")
    lines.append(f"Made by `diagnose coverage {_cell(coverage.panel.name)}`.".replace("\\_", "_"))
    return "\n".join(lines)


def as_html(coverage: Coverage) -> str:
    """One file without a script, for a screen or to print; on a narrow screen each row is a block of lines."""
    body = [f"<h1>What can be found: {_text(coverage.panel.title)}</h1>", f"<p>{_text(READING)}</p>"]
    body += [f"<p>{_text(text)}</p>" for text in _cautions(coverage)]
    for table in tables(coverage):
        heads = "".join(f'<th scope="col">{_text(cell)}</th>' for cell in table.head)
        body += [f"<h2>{_text(table.title)}</h2>", *([f"<p>{_text(table.note)}</p>"] if table.note else [])]
        body.append(f"<table><thead><tr>{heads}</tr></thead><tbody>")
        for row in table.rows:
            cells = zip(table.head, row, strict=True)
            body.append("<tr>" + "".join(f'<td data-head="{_text(head)}">{_text(cell)}</td>' for head, cell in cells))
            body.append("</tr>")
        body.append("</tbody></table>")
    return _PAGE.format(title=_text(f"What can be found: {coverage.panel.title}"), body="\n".join(body))


def _cautions(coverage: Coverage) -> list[str]:
    return [f"Caution: {text}" for text in review_cautions(coverage.panel)]


def _caution_items(coverage: Coverage) -> list[str]:
    return [f"- {_cell(text)}" for text in _cautions(coverage)]


def _cell(text: str) -> str:
    """A text that Markdown shows as it is."""
    return re.sub(r"([\\|`*_\[\]])", r"\\\1", escape(printable(text), quote=False))


def _text(text: str) -> str:
    return escape(printable(text))


_PAGE = """<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>{title}</title>
<style>
body {{ font: 16px/1.4 sans-serif; color: #111; background: #fff; margin: 1rem auto; max-width: 70rem; }}
body {{ padding: 0 1rem; }}
table {{ border-collapse: collapse; width: 100%; font-size: 0.9rem; }}
th, td {{ border: 1px solid #767676; padding: 0.3rem 0.5rem; text-align: left; vertical-align: top; }}
th {{ background: #eee; }}
@media screen and (max-width: 40rem) {{
  h1 {{ font-size: 1.4rem; }}
  thead {{ position: absolute; left: -100rem; }}
  table, tbody, tr, td {{ display: block; }}
  tr {{ border: 1px solid #767676; margin: 0 0 0.6rem; }}
  td {{ border: 0; padding: 0.1rem 0.5rem; }}
  td:first-child {{ background: #eee; font-weight: bold; }}
  td:not(:first-child)::before {{ content: attr(data-head) ": "; color: #444; }}
}}
@media print {{
  body {{ font-size: 9pt; max-width: none; }}
  thead {{ display: table-header-group; }}
  tr {{ break-inside: avoid; }}
}}
</style>
</head>
<body>
{body}
</body>
</html>"""
