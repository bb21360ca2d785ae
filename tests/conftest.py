"""Counts what could not be run, with the reason, at the end of every test run."""

from __future__ import annotations

from collections import Counter

import pytest


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """``NOT RUN n`` and, for each reason, how many tests it kept from running."""
    skipped = terminalreporter.stats.get("skipped", [])
    reasons: Counter[str] = Counter()
    for report in skipped:
        longrepr = report.longrepr
        reason = longrepr[2] if isinstance(longrepr, tuple) else str(longrepr)
        reasons[reason.removeprefix("Skipped: ")] += 1
    for reason, count in sorted(reasons.items()):
        terminalreporter.write_line(f"not run, {count}: {reason}")
    terminalreporter.write_line(f"NOT RUN {sum(reasons.values())}")
