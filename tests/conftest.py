"""What every test shares: one hypothesis profile, and the truth about what did not run."""

from __future__ import annotations

import os

import hypothesis
import pytest

hypothesis.settings.register_profile(
    "kitwright",
    deadline=None,
    derandomize=True,
    max_examples=60,
    suppress_health_check=[hypothesis.HealthCheck.function_scoped_fixture],
)
hypothesis.settings.load_profile("kitwright")

NEEDED = {
    "Chromium not found": "pages in a browser: apt-get install chromium",
    "PostgreSQL not found": "the books on PostgreSQL: apt-get install postgresql",
}


def needed(what: str) -> None:
    """Stop a test that needs a program this machine lacks; with CI=true that is a failure."""
    assert what in NEEDED
    if os.environ.get("CI") == "true":
        pytest.fail(f"{what}, and CI must run every test", pytrace=False)
    pytest.skip(what)


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """The last lines say which tests did not run, and how to get them."""
    skipped = terminalreporter.stats.get("skipped", [])
    for what, how in NEEDED.items():
        count = sum(what in str(report.longrepr) for report in skipped)
        if count:
            terminalreporter.write_line(f"{count} tests did not run: {what} ({how})", yellow=True)
