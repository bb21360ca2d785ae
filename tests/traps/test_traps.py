"""The table of traps is whole: every trap, every named test, every switch.  ``python -m tests.traps`` proves that each catch bites."""

from __future__ import annotations

import ast
import importlib
import re
from functools import cache
from pathlib import Path

import pytest

from ndi.domain.outcome import failed
from ndi.rules import registry
from tests.traps import switches
from tests.traps.table import TRAPS, Row, rows

ROOT = Path(__file__).resolve().parents[2]
ROWS = rows()
PROVED = [row for row in ROWS if row.is_proved]


@cache
def names_in(file: str) -> frozenset[str]:
    """The names of the test functions in a file."""
    tree = ast.parse((ROOT / file).read_text("utf-8"))
    return frozenset(node.name for node in tree.body if isinstance(node, ast.FunctionDef))


def test_every_trap_stands_in_the_table_in_order() -> None:
    numbers = [row.number for row in ROWS]
    assert sorted(set(numbers)) == list(range(1, TRAPS + 1))
    assert numbers == sorted(numbers)
    for number in set(numbers):
        said = {(row.trap, row.severity) for row in ROWS if row.number == number}
        assert len(said) == 1, f"trap {number} is told in two ways"


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"{row.number}-{row.catch or 'open'}")
def test_row_names_a_catch_with_its_test_or_says_what_is_open(row: Row) -> None:
    assert row.trap
    assert row.severity in (1, 2, 3)
    if row.is_proved:
        assert row.catch and row.off and not row.open
    else:
        assert row.open and not row.catch and not row.off


@pytest.mark.parametrize("row", PROVED, ids=lambda row: f"{row.number}-{row.test}")
def test_named_test_exists(row: Row) -> None:
    file, _, name = row.test.partition("::")
    assert name.partition("[")[0] in names_in(file), row.test


@pytest.mark.parametrize("row", PROVED, ids=lambda row: f"{row.number}-{row.off}")
def test_what_is_switched_off_exists(row: Row) -> None:
    for word in row.off.split():
        if word.startswith("@"):
            assert word[1:] in switches.SPECIAL
        elif re.fullmatch(r"[GLPMDK]\d\d", word):
            assert word in registry.load_all()
            assert word in row.catch or row.catch.startswith(("The", "A "))
        else:
            module, _, name = word.partition("=")[0].rpartition(".")
            assert callable(getattr(importlib.import_module(module), name))


def test_a_switched_off_rule_passes_and_an_unknown_function_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    rule = registry.load_all()["L02"]
    monkeypatch.setitem(registry.RULES, "L02", rule)  # put back afterwards
    switches.switch_off("L02")
    assert registry.RULES["L02"].ask(None).verdict == "PASS"  # type: ignore[arg-type]
    with pytest.raises(LookupError, match="is no function any more"):
        switches.switch_off("ndi.services.recording.no_such_catch")


def test_a_function_is_replaced_by_what_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    from ndi.domain import outcome

    monkeypatch.setattr(outcome, "failed", failed)
    switches.switch_off("ndi.domain.outcome.failed=True")
    assert outcome.failed("x") is True  # type: ignore[comparison-overlap]
    switches.switch_off("ndi.domain.outcome.failed=PASS")
    assert outcome.failed("x").verdict == "PASS"
