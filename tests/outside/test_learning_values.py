"""The gamma prior of failure rates against a published worked example."""

from __future__ import annotations

import pytest

from diagnose.learning.shift import gamma_mean


def test_deaths_from_asthma() -> None:
    """Gelman, Carlin, Stern, Dunson, Vehtari, Rubin: Bayesian Data Analysis, section 2.6 (from memory).

    Gamma(3, 5) for deaths in 100 000 person-years. Three deaths in 2.0: gamma(6, 7), mean 0.86. Thirty in
    20.0: gamma(33, 25), mean 1.32.
    """
    assert gamma_mean(3, 5, 0, 0) == pytest.approx(0.6)
    assert round(gamma_mean(3, 5, 3, 2.0), 2) == 0.86
    assert round(gamma_mean(3, 5, 30, 20.0), 2) == 1.32
