"""What all tests share: how property tests are run, and a way to insist that nothing was skipped."""

from __future__ import annotations

import os

import pytest
from hypothesis import HealthCheck, settings

import diagnose  # first of all, since it settles how many threads numpy's algebra takes  # noqa: F401

# No deadline: the machines that run these tests are shared, and a slow moment is no fault.
settings.register_profile("usual", deadline=None, suppress_health_check=[HealthCheck.too_slow])
# The same examples every time, so that a run that passed once passes again.
settings.register_profile("ci", parent=settings.get_profile("usual"), derandomize=True)
settings.load_profile("ci" if os.environ.get("CI") else "usual")


@pytest.fixture(scope="session", autouse=True)
def _no_rates_of_ones_own(tmp_path_factory: pytest.TempPathFactory) -> None:
    """Failure rates that someone learned on this machine shift no test."""
    os.environ["XDG_DATA_HOME"] = str(tmp_path_factory.mktemp("data"))


def pytest_addoption(parser: pytest.Parser) -> None:
    """`--no-skips`: a test that was skipped fails the run, as where every reference has to be there."""
    parser.addoption("--no-skips", action="store_true", help="fail if any test was skipped")


@pytest.hookimpl(trylast=True)
def pytest_sessionfinish(session: pytest.Session) -> None:
    """Turn a run that passed, but skipped, into a failed one where skipping was not allowed."""
    reporter = session.config.pluginmanager.get_plugin("terminalreporter")
    if not session.config.getoption("--no-skips") or reporter is None:
        return
    skipped = reporter.stats.get("skipped", [])
    if skipped and session.exitstatus == pytest.ExitCode.OK:
        session.exitstatus = pytest.ExitCode.TESTS_FAILED


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter, config: pytest.Config) -> None:
    """Say which tests were skipped that should not have been."""
    if not config.getoption("--no-skips"):
        return
    for report in terminalreporter.stats.get("skipped", []):
        reason = report.longrepr[2] if isinstance(report.longrepr, tuple) else report.longrepr
        terminalreporter.write_line(f"SKIPPED, which is not allowed here: {report.nodeid}: {reason}", red=True)
