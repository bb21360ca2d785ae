"""The tables of answers and facts say what a run of the rule tests says; both are written by ``python -m tests.rules.answers``."""

from __future__ import annotations

from collections.abc import Mapping

import pytest

from ndi.domain.answer import Verdict
from ndi.domain.fact_set import FactSet
from ndi.domain.facts import KINDS
from ndi.rules import registry
from ndi.rules.facts_read import FACTS_READ
from tests.rules import answer_recorder, answers


@pytest.fixture(scope="module")
def seen() -> Mapping[str, answers.Seen]:
    return answers.run_rule_tests()


def test_every_answer_occurs_or_has_its_reason(seen: Mapping[str, answers.Seen]) -> None:
    assert answers.problems(seen) == []


def test_table_of_answers_is_what_the_tests_show(seen: Mapping[str, answers.Seen]) -> None:
    assert answers.TABLE.read_text(encoding="utf-8") == answers.table(seen), "run python -m tests.rules.answers"


def test_facts_read_are_what_the_tests_show(seen: Mapping[str, answers.Seen]) -> None:
    assert {rule: seen[rule].kinds for rule in seen} == FACTS_READ, "run python -m tests.rules.answers"


def test_facts_read_are_kinds_of_the_book() -> None:
    assert {kind for kinds in FACTS_READ.values() for kind in kinds} <= set(KINDS)
    assert set(FACTS_READ) <= set(registry.load_all())


def test_every_way_to_a_fact_is_watched() -> None:
    offered = {name for name in vars(FactSet) if not name.startswith("_")}
    assert offered == answer_recorder.WATCHED, "teach tests/rules/answer_recorder.py the new way"


def test_a_wrong_table_is_seen() -> None:
    """An answer that occurs nowhere and has no reason, and a reason that is not true, are both named."""
    every = answers.Seen(frozenset(Verdict), ())
    seen = {rule: every for rule in answers.IDS if rule not in answers.INSIDE}
    found = answers.problems(seen)
    assert "G02 FAIL occurs, but tests/rules/answers.py says why it cannot" in found
    seen["L02"] = answers.Seen(frozenset({Verdict.FAIL}), ())
    del seen["L03"]
    found = answers.problems(seen)
    assert any(line.startswith("L02 PASS occurs in no test") for line in found)
    assert "L03 is asked by no test" in found
    assert not any(line.startswith("L02 NOT YET") for line in found)
