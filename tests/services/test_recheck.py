"""After a program update: signed records whose answers would differ are listed, with both answers, and nothing changes (law 11)."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from ndi.cli.main import main
from ndi.domain.errors import NotFound
from ndi.domain.outcome import Outcome, failed, passed
from ndi.rules import registry
from ndi.rules.inquiry import Inquiry
from ndi.services.recheck import Because, Difference, recheck
from tests.services.shop import Shop

Update = Callable[..., None]


@pytest.fixture
def update(monkeypatch: pytest.MonkeyPatch) -> Update:
    """A program update: another version of a rule, another answer, or a rule that is not there any more."""

    def change(rule_id: str, ask: Callable[[Inquiry], Outcome] | None = None, version: int | None = None) -> None:
        rule = registry.load_all()[rule_id]
        new = replace(rule, ask=ask or rule.ask, version=version or rule.version)
        monkeypatch.setitem(registry.RULES, rule_id, new)

    return change


def differences(shop: Shop, inspection: str = "MT-001") -> dict[str, Difference]:
    (found,) = recheck(shop.work, inspections=[inspection])
    return {each.rule: each for each in found.differences}


def test_the_same_program_and_facts_differ_in_nothing(accepted: Shop) -> None:
    assert differences(accepted.after(3600)) == {}


def test_a_new_version_that_fails_is_listed_with_both_answers(accepted: Shop, update: Update) -> None:
    update("M03", lambda q: failed("too thin for the new rule", "look again", found="0.20 mL"), version=2)
    (found,) = differences(accepted).values()
    assert found.then is not None and found.now is not None
    assert (found.rule, found.because, found.verdict_differs) == ("M03", Because.VERSION, True)
    assert (found.then.verdict, found.then.version) == ("PASS", 1)
    assert (found.now.verdict, found.now.version, found.now.says) == ("FAIL", 2, "too thin for the new rule")


def test_a_new_version_with_the_same_answer_is_listed_too(accepted: Shop, update: Update) -> None:
    update("M03", version=2)
    (found,) = differences(accepted).values()
    assert (found.because, found.verdict_differs) == (Because.VERSION, False)


def test_another_answer_without_a_new_version_is_the_programs(accepted: Shop, update: Update) -> None:
    update("M03", lambda q: failed("changed and not marked"))
    (found,) = differences(accepted).values()
    assert found.because is Because.PROGRAM


def test_a_closing_reading_is_told_apart_from_a_change_of_the_program(accepted: Shop) -> None:
    accepted.at("16:20").read_lamp("LP-1", "1495")
    (found,) = differences(accepted).values()
    assert found.then is not None and found.now is not None
    assert (found.rule, found.because) == ("L11", Because.FACTS)
    assert (found.then.verdict, found.now.verdict) == ("NOT YET", "PASS")


def test_a_rule_that_was_not_asked_and_one_that_is_gone(
    accepted: Shop, update: Update, monkeypatch: pytest.MonkeyPatch
) -> None:
    rule = registry.load_all()["M03"]
    monkeypatch.setitem(registry.RULES, "M03", replace(rule, scope="part"))  # stands in no record's answers any more
    (found,) = differences(accepted).values()
    assert (found.because, found.now, found.verdict_differs) == (Because.GONE, None, True)
    monkeypatch.setitem(registry.RULES, "M03", rule)
    monkeypatch.setitem(registry.RULES, "M04", replace(registry.RULES["M04"], scope="part"))
    accepted.gear("MT-003", "CG-3")
    accepted.sign("MT-003")
    monkeypatch.undo()
    (new,) = differences(accepted, "MT-003").values()
    assert (new.rule, new.because, new.then) == ("M04", Because.NEW, None)


def test_nothing_is_changed(accepted: Shop, update: Update) -> None:
    update("M03", lambda q: failed("fails now"), version=2)
    before, row = accepted.head(), accepted.row("MT-001")
    recheck(accepted.work)
    assert accepted.head() == before
    assert accepted.row("MT-001") == row
    assert not row.suspended


def test_undecided_records_are_not_asked_and_unknown_names_are_refused(accepted: Shop) -> None:
    accepted.gear("MT-003", "CG-3")
    assert [record.inspection for record in recheck(accepted.work)] == ["MT-001"]
    with pytest.raises(NotFound, match="MT-003: no signed record"):
        recheck(accepted.work, inspections=["MT-003"])


# --- the command ----------------------------------------------------------------------------------


def book_of(shop: Shop) -> str:
    path = shop.work.book.path  # type: ignore[attr-defined]
    assert isinstance(path, Path)
    return str(path)


def test_command_prints_both_answers(accepted: Shop, update: Update, capsys: pytest.CaptureFixture[str]) -> None:
    update("M03", lambda q: failed("too thin for the new rule", found="0.20 mL", limit="at least 0.25 mL"), version=2)
    accepted.at("16:20").read_lamp("LP-1", "1495")
    assert main(["recheck", book_of(accepted)]) == 0
    text = capsys.readouterr().out
    assert "M03  PASS (version 1) -> FAIL (version 2): the rule changed" in text
    assert "now  too thin for the new rule; found 0.20 mL; limit at least 0.25 mL; entries none" in text
    assert "L11  NOT YET (version 2) -> PASS (version 2): facts since the signature" in text
    assert "1 signed records asked again, 1 differ: 1 x facts since the signature, 1 x the rule changed" in text
    assert text.splitlines()[-1] == "nothing was changed: a person decides what becomes of them"


def test_command_leaves_out_what_facts_explain(accepted: Shop, capsys: pytest.CaptureFixture[str]) -> None:
    accepted.at("16:20").read_lamp("LP-1", "1495")
    assert main(["recheck", book_of(accepted), "--rules"]) == 0
    assert "1 signed records asked again, 0 differ" in capsys.readouterr().out


def test_command_for_machines(accepted: Shop, update: Update, capsys: pytest.CaptureFixture[str]) -> None:
    update("M03", lambda q: passed("0.20 mL by the new rule"), version=2)
    assert main(["recheck", book_of(accepted), "MT-001", "--json"]) == 0
    (record,) = json.loads(capsys.readouterr().out)
    (found,) = record["differences"]
    assert (found["rule"], found["because"], found["now"]["version"]) == ("M03", "the rule changed", 2)
    assert (found["then"]["answer"], found["now"]["answer"]) == ("PASS", "PASS")
