"""Watts for each square inch of an element, from what the panel file says of its surface."""

from __future__ import annotations

import pytest

from diagnose.circuit.netlist import build
from diagnose.errors import FileError
from diagnose.findings import Finding
from diagnose.model import make_model
from diagnose.opening import all_complaints
from diagnose.panel.records import Panel
from tests.test_findings import CELLAR, changed, findings

LABELS = ("\nlabels:\n", "\nkettles:\n  boil_element: {holds: 50 L, SURFACE}\nlabels:\n")


def with_surface(text: str) -> tuple[str, str]:
    return LABELS[0], LABELS[1].replace("SURFACE", text)


def density(text: str) -> list[Finding]:
    return [finding for finding in findings(CELLAR, with_surface(text)) if finding.rule == "watt_density"]


@pytest.mark.parametrize(
    ("surface", "severity", "said"),
    [
        # 5500 W / 250 cm2 = 22 W/cm2, and a square inch has 6.4516 cm2: 142 W.
        ("surface: 250 cm2", "warning", "boil element puts 5.50 kW through 250 cm²: 142 W for each square inch"),
        # 3.1416 x 0.8 cm x 180 cm = 452 cm2: 12.2 W/cm2, 78 W.
        (
            "length: 180 cm, diameter: 8 mm", "note",
            "boil element puts 5.50 kW through 452 cm²: 78 W for each square inch",
        ),
    ],
)  # fmt: skip
def test_the_density_is_power_over_surface(surface: str, severity: str, said: str) -> None:
    (found,) = density(surface)
    assert (found.severity, found.message) == (severity, said)


@pytest.mark.parametrize("surface", ["surface: 1200 cm2", "mass: 9 kg"])
def test_a_gentle_element_or_one_that_nothing_is_said_of_has_no_finding(surface: str) -> None:
    assert density(surface) == []


def test_half_a_rod_is_asked_for_in_full() -> None:
    with pytest.raises(FileError, match="only one of length and diameter; expected both, or its surface"):
        changed(CELLAR, with_surface("length: 180 cm"))


@pytest.mark.parametrize(("surface", "factor"), [("250 cm2", 10.0), ("450 cm2", 1.0), ("1200 cm2", 0.1)])
def test_a_dense_element_is_thought_of_sooner(surface: str, factor: float) -> None:
    """142, 79 and 30 W for each square inch, against the same panel of which nothing is known."""

    def rate(panel: Panel) -> float:
        model = make_model(build(panel), all_complaints()["element_scorched"], "boil_element")
        return next(cause.rate for cause in model.causes if cause.fault == "too_dense")

    assert rate(changed(CELLAR, with_surface(f"surface: {surface}"))) == pytest.approx(factor * rate(changed(CELLAR)))
