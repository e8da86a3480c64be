"""A review of a panel, from its file alone: what does not suit what, and what complaints that is behind."""

from __future__ import annotations

from functools import lru_cache

from diagnose.design_rules import RULES
from diagnose.earthing import earth_missing
from diagnose.errors import Level
from diagnose.escaping import markdown_text, unseen_out
from diagnose.loading import Finding, study
from diagnose.panel.records import Panel
from diagnose.watt_density import elements_too_dense

__all__ = ["Finding", "design_findings", "explaining", "findings_markdown", "findings_text", "overload_causes"]

ORDER: tuple[Level, ...] = ("error", "warning", "note")
NOTHING_WRONG = "Nothing found by reading the file: wires, breakers, relays and coils suit their loads."


@lru_cache(maxsize=16)
def design_findings(panel: Panel) -> tuple[Finding, ...]:
    """Everything that reading a panel's file tells to be wrong, the gravest first.

    Raises CircuitError where its ratings make no circuit.
    """
    of = study(panel)
    found = [finding for rule in (*RULES, earth_missing, elements_too_dense) for finding in rule(of)]
    return tuple(sorted(found, key=lambda finding: (ORDER.index(finding.severity), finding.place, finding.rule)))


def overload_causes(panel: Panel) -> tuple[Finding, ...]:
    """The findings behind a complaint with nothing broken, such as a breaker too small for its element.

    `explains` of each names the complaints.
    """
    return tuple(finding for finding in design_findings(panel) if finding.explains)


def explaining(panel: Panel, complaint: str, subject: str | None) -> tuple[Finding, ...]:
    """The findings behind one complaint: about its subject, or about a part or wire on a way to it."""
    found = [finding for finding in overload_causes(panel) if complaint in finding.explains]
    if subject is None or not found:
        return tuple(found)
    near = {subject}
    driven = {load.part: load for load in study(panel).loads if load.part == subject}
    for load in driven.values():
        near |= {step.part for way in load.ways for step in way}
    return tuple(finding for finding in found if near & set(finding.parts))


def findings_text(findings: tuple[Finding, ...]) -> str:
    """Two lines for each finding, and a count."""
    lines = []
    for finding in findings:
        told = f"{finding.place}: {finding.severity}: {finding.message}; expected {finding.expected}"
        lines.append(unseen_out(told))
        lines.append(f"    {finding.rule}: {finding.source}")
    return "\n".join([*lines, _count(findings)])


def findings_markdown(findings: tuple[Finding, ...]) -> str:
    """A table with a row for each finding, and a count."""
    lines = ["| | what | expected | source | where |", "|---|---|---|---|---|"] if findings else []
    for finding in findings:
        cells = (finding.severity, finding.message, finding.expected, finding.source, str(finding.place))
        lines.append(f"| {' | '.join(markdown_text(cell) for cell in cells)} |")
    return "\n".join([*lines, *([""] if lines else []), _count(findings)])


def _count(findings: tuple[Finding, ...]) -> str:
    counts = [(sum(finding.severity == level for finding in findings), level) for level in ORDER]
    said = [f"{count} {level}{'' if count == 1 else 's'}" for count, level in counts if count]
    return f"{', '.join(said)}." if said else NOTHING_WRONG
