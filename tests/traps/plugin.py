"""A pytest plugin for the slow proof: switches off what the variable ``TRAP_OFF`` names, before any test is read."""

from __future__ import annotations

import os

import pytest

from tests.traps.switches import switch_off


def pytest_configure(config: pytest.Config) -> None:
    words = os.environ.get("TRAP_OFF", "")
    try:
        switch_off(words)
    except (LookupError, ImportError, AttributeError) as wrong:
        raise pytest.UsageError(f"{words}: {wrong}") from wrong
