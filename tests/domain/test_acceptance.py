"""Law 2: an acceptance needs every stopping answer settled and every warning settled or reasoned; three exceptions.

The oracle below says the law again, answer by answer and from the words of the
shop's design, and is compared with the code on generated answers.
"""

from __future__ import annotations

from collections.abc import Set

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ndi.domain import acceptance
from ndi.domain.answer import Answer, Severity, Verdict
from ndi.rules import registry

S, B, W = Severity.STOP, Severity.BLOCK, Severity.WARN
RULES = sorted(registry.load_all())
NEVER = {
    "G01": "identity",
    "G02": "identity",
    "G12": "certificate",
    "G13": "vision",
    "D07": "second look",
    "D12": "open crack",
    "G30": "containment",
}
OPEN = (Verdict.FAIL, Verdict.NOT_RECORDED, Verdict.NOT_YET)

some = st.sampled_from([*sorted(NEVER), "L11", "D05", *RULES])
answers = st.lists(
    st.builds(lambda r, v, s: Answer(r, 1, v, severity=s), some, st.sampled_from(Verdict), st.sampled_from(Severity)),
    max_size=8,
)
rule_sets = st.frozensets(some, max_size=6)


def carries(answer: Answer, reasons: Set[str], deviations: Set[str], needs_bracket: bool, concession: bool) -> bool:
    """Whether one answer leaves the acceptance standing, by the law's own words."""
    if answer.verdict in ("PASS", "NOT APPLICABLE"):
        return True
    match answer.severity.value:
        case "W":
            return answer.rule in reasons
        case "B" if answer.rule in deviations and answer.rule not in NEVER:
            return True
    return (answer.rule == "L11" and answer.verdict == "NOT YET" and not needs_bracket) or (
        answer.rule == "D05" and concession
    )


@given(answers, rule_sets, rule_sets, st.booleans(), st.booleans())
def test_standing_holds_exactly_where_every_answer_carries(
    given_: list[Answer], reasons: frozenset[str], deviations: frozenset[str], needs_bracket: bool, concession: bool
) -> None:
    found = acceptance.standing(
        given_, reasons=reasons, deviations=deviations, needs_bracket=needs_bracket, concession=concession
    )
    expected = [carries(answer, reasons, deviations, needs_bracket, concession) for answer in given_]
    assert found.holds == all(expected)
    assert sorted(a.line() for a in found.in_the_way) == sorted(
        a.line() for a, fine in zip(given_, expected, strict=True) if not fine
    )


@given(answers, rule_sets, rule_sets, st.booleans(), st.booleans())
def test_standing_puts_every_open_answer_in_one_place_and_changes_none(
    given_: list[Answer], reasons: frozenset[str], deviations: frozenset[str], needs_bracket: bool, concession: bool
) -> None:
    found = acceptance.standing(
        given_, reasons=reasons, deviations=deviations, needs_bracket=needs_bracket, concession=concession
    )
    places = (found.open_lines, found.without_reason, found.provisional, found.deviated, found.conceded)
    unsettled = [a for a in given_ if not a.settled and not (a.severity is W and a.rule in reasons)]
    assert sorted(map(id, (a for place in places for a in place))) == sorted(map(id, unsettled))


@given(answers, answers, rule_sets, rule_sets, st.booleans(), st.booleans())
def test_standing_more_answers_never_help(
    a: list[Answer], b: list[Answer], reasons: frozenset[str], deviations: frozenset[str], needs: bool, concession: bool
) -> None:
    less = acceptance.standing(a, reasons=reasons, deviations=deviations, needs_bracket=needs, concession=concession)
    more = acceptance.standing(
        [*a, *b], reasons=reasons, deviations=deviations, needs_bracket=needs, concession=concession
    )
    assert less.holds or not more.holds


@given(answers)
def test_standing_without_any_exception_stops_at_every_open_answer(given_: list[Answer]) -> None:
    assert acceptance.standing(given_).holds == all(a.settled for a in given_)


def one(rule: str, verdict: Verdict, severity: Severity, **exceptions: object) -> acceptance.Standing:
    return acceptance.standing([Answer(rule, 1, verdict, severity=severity)], **exceptions)  # type: ignore[arg-type]


@pytest.mark.parametrize("verdict", OPEN)
@pytest.mark.parametrize("severity", [S, B])
def test_l11_is_provisional_only_while_it_is_not_yet_and_only_where_the_procedure_says_so(
    verdict: Verdict, severity: Severity
) -> None:
    assert one("L11", verdict, severity, needs_bracket=False).holds is (verdict is Verdict.NOT_YET)
    assert not one("L11", verdict, severity, needs_bracket=True).holds
    assert not one("L11", verdict, severity).holds  # a procedure that says nothing
    assert not one("L10", verdict, severity, needs_bracket=False).holds


@pytest.mark.parametrize("rule", RULES)
def test_deviation_carries_a_b_rule_but_none_of_those_that_have_none(rule: str) -> None:
    assert one(rule, Verdict.FAIL, B, deviations={rule}).holds is (rule not in NEVER)
    assert not one(rule, Verdict.FAIL, B, deviations={"other"}).holds
    assert not one(rule, Verdict.FAIL, S, deviations={rule}).holds  # stop rules have none
    assert not one(rule, Verdict.FAIL, W, deviations={rule}).holds  # a warning wants a reason


def test_no_deviation_list_is_the_laws_list_and_its_rules_exist() -> None:
    assert set(NEVER) == acceptance.NO_DEVIATION
    assert set(RULES) >= acceptance.NO_DEVIATION


def test_concession_carries_d05_alone() -> None:
    assert one("D05", Verdict.FAIL, B, concession=True).conceded
    assert not one("D12", Verdict.FAIL, B, concession=True).holds
    assert not one("D05", Verdict.FAIL, B).holds


def test_reason_does_not_carry_what_stops() -> None:
    assert one("L12", Verdict.FAIL, W, reasons={"L12"}).holds
    assert not one("L12", Verdict.FAIL, B, reasons={"L12"}).holds


# --- guards of the other dispositions ---------------------------------------------------------------


def test_guards_name_rules_of_the_program() -> None:
    named = {rule for rules in acceptance.GUARDS.values() for rule in rules} | {
        rule for rules in acceptance.ANSWERED_BY.values() for rule in rules
    }
    assert named <= set(RULES)
    assert all(
        "G12" in rules and "G13" in rules for rules in acceptance.GUARDS.values()
    )  # nobody unqualified signs anything


@pytest.mark.parametrize("verdict", Verdict)
@pytest.mark.parametrize("word", sorted(acceptance.GUARDS))
def test_guard_refuses_a_disposition_while_one_of_its_rules_is_open(word: str, verdict: Verdict) -> None:
    for rule in RULES:
        answer = Answer(rule, 1, verdict)
        expected = (
            verdict in OPEN
            and rule in acceptance.GUARDS[word]
            and rule not in acceptance.ANSWERED_BY.get(word, frozenset())
        )
        assert (answer in acceptance.guard([answer], [word])) is expected


def test_guard_of_an_acceptance_is_empty_because_standing_judges_it() -> None:
    assert acceptance.guard([Answer("G12", 1, Verdict.FAIL)], ["ACCEPT"]) == ()


@given(answers, st.sampled_from(["ACCEPT", "REJECT", "HOLD-ENG", "REWORK"]))
def test_incomplete_names_what_keeps_a_record_from_being_verified(given_: list[Answer], word: str) -> None:
    answered = {"D05"} if word == "HOLD-ENG" else set()
    expected = [a for a in given_ if a.severity is not W and a.verdict in OPEN and a.rule not in answered]
    assert list(acceptance.incomplete(given_, [word])) == expected


def test_exceptions_keep_the_answer_they_carry() -> None:
    assert [a.rule for a in one("L12", Verdict.FAIL, B, deviations={"L12"}).deviated] == ["L12"]
    assert [a.rule for a in one("D05", Verdict.FAIL, B, concession=True).conceded] == ["D05"]


def test_hold_for_engineering_may_leave_d05_open_and_nothing_else_may() -> None:
    open_d05 = [Answer("D05", 1, Verdict.FAIL, severity=B)]
    assert acceptance.incomplete(open_d05, ["HOLD-ENG"]) == ()
    assert acceptance.incomplete(open_d05, ["REJECT"]) == tuple(open_d05)
