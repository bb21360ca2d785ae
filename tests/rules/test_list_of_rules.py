"""``ndi rules``: what it lists of each rule, and that the number of tests is counted, not typed."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from ndi.cli import rules
from ndi.cli.main import main
from ndi.rules import registry


def test_count_tests_by_name_and_by_case() -> None:
    found = rules.count_tests(
        [
            "tests/rules/test_light.py::test_l02_at_the_limit_passes",
            "tests/rules/test_light.py::test_missing_parameter[L02-uv_min]",
            "tests/rules/test_light.py::test_l02_and_l03_together[L02]",
            "tests/rules/test_k01.py::test_something_else[MT-001 LP-1 L2-A P1 XL02 L021]",
        ]
    )
    assert found == {"L02": 3, "L03": 1}


def test_tests_are_counted_where_they_lie_beside_the_program(tmp_path: Path) -> None:
    assert rules.tests_found(tmp_path) is None
    (tmp_path / "tests" / "rules").mkdir(parents=True)
    (tmp_path / "tests" / "rules" / "test_some.py").write_text(
        "import pytest\n\n@pytest.mark.parametrize('rule', ['P06', 'P07'])\ndef test_one(rule): pass\n\ndef test_p06_short(): pass\n"
    )
    assert rules.tests_found(tmp_path) == {"P06": 2, "P07": 1}


def test_rows_say_everything_of_each_rule() -> None:
    rows = {row["id"]: row for row in rules.rule_rows({"L02": 3})}
    assert rows.keys() == registry.load_all().keys()
    light = rows["L02"]
    assert (light["tests"], rows["L03"]["tests"]) == (3, 0)
    assert light["severity"]["MT-P-01 Rev F"] == "B"
    assert "uv_min" in light["parameters"]
    assert "ReadingRecorded" in light["facts"]
    assert "US T.O. 33B-1-1" in light["sources"]
    assert rows["D01"]["sources"] == ["from memory"]
    assert all(row["sources"] and row["question"].endswith("?") for row in rows.values())


def test_list_for_people_shows_limits_facts_and_source(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["rules"]) == 0
    lines = capsys.readouterr().out.splitlines()
    start = next(number for number, line in enumerate(lines) if line.startswith("K06"))
    assert [line.split()[0] for line in lines[start + 1 : start + 4]] == ["limits", "facts", "source"]
    assert lines[-1] == f"{len(registry.load_all())} rules"


def test_list_for_machines_counts_tests(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(rules, "tests_found", lambda: {"K01": 7})
    assert main(["rules", "--json"]) == 0
    rows = {row["id"]: row for row in json.loads(capsys.readouterr().out)}
    assert (rows["K01"]["tests"], rows["K02"]["tests"]) == (7, 0)
