"""Prints the review of a panel: what in its design does not suit what."""

from __future__ import annotations

from diagnose.errors import Problem, UsageError
from diagnose.escaping import json_text
from diagnose.findings import design_findings, findings_markdown, findings_text
from diagnose.opening import open_panel
from diagnose.units import quoted
from diagnose.wording import regional, regional_data, review_cautions

FORMATS = ("text", "json", "markdown")


def main_review(panel: str, format: str = "text") -> int:
    """Print the review of a panel, given by name or file; 1 if anything in it is an error, else 0.

    Raises DiagnoseError for a panel or format that there isn't.
    """
    if format not in FORMATS:
        raise UsageError(Problem(f"--format: {quoted(format)} is not known", f"one of {', '.join(FORMATS)}"))
    read = open_panel(panel)
    findings = design_findings(read)
    cautions = review_cautions(read) if findings else []
    if format == "json":
        data = {"panel": panel, "findings": [regional_data(read, finding.as_data()) for finding in findings]}
        data["cautions"] = cautions
        print(json_text(data))
    else:
        write = findings_text if format == "text" else findings_markdown
        print(regional(read, write(findings)))
        print("".join(f"{'' if format == 'text' else '- '}Caution: {text}\n" for text in cautions), end="")
    return 1 if any(finding.severity == "error" for finding in findings) else 0
