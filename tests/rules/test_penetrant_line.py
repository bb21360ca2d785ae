"""P28 to P34: process checks of the penetrant line."""

from __future__ import annotations

from typing import Any

import pytest

from ndi.domain.answer import Verdict
from tests import build
from tests.rules.penetrant_day import Fact, ask, ask_d, basket, check, load, panel, pen, reading

PASS, FAIL, NOT_RECORDED, NOT_APPLICABLE = Verdict.PASS, Verdict.FAIL, Verdict.NOT_RECORDED, Verdict.NOT_APPLICABLE
YESTERDAY = "2026-03-09"


def with_panel(*checks: Fact) -> list[Fact]:
    return [*basket(without=["panel"]), *checks]


@pytest.mark.parametrize(
    ("changed", "verdict"),
    [
        ({}, PASS),
        ({"when": "08:00"}, PASS),
        ({"when": "08:00:01"}, NOT_RECORDED),
        ({"when": "06:00"}, PASS),
        ({"when": "05:59:59"}, NOT_RECORDED),
        ({"day": YESTERDAY}, NOT_RECORDED),
        ({"passed": False}, FAIL),
        ({"batches": ("PEN", "DEV")}, PASS),
        ({"batches": ("PEN-OLD",)}, NOT_RECORDED),
        ({"batches": ("PEN", "PEN-OLD")}, NOT_RECORDED),
        ({"batches": ("DEV",)}, NOT_RECORDED),
        ({"batches": ()}, NOT_RECORDED),
        ({"line": "Method D line"}, NOT_RECORDED),
    ],
)
def test_p28_panel_of_line_day_and_batches(changed: dict[str, Any], verdict: Verdict) -> None:
    assert ask("P28", with_panel(panel(**changed))).verdict is verdict


def test_p28_no_panel_not_recorded() -> None:
    answer = ask("P28", with_panel())
    assert (answer.verdict, answer.says) == (
        NOT_RECORDED,
        "no panel result of Method A line today before 08:00: line not released",
    )


def test_p28_latest_panel_counts() -> None:
    assert ask("P28", with_panel(panel(), panel("07:50", passed=False))).verdict is FAIL
    assert ask("P28", with_panel(panel(passed=False), panel("07:50"))).verdict is PASS


def test_p28_other_batches_are_named() -> None:
    answer = ask("P28", with_panel(panel(batches=("PEN-OLD",))))
    assert answer.says == "panel of Method A line at 07:31 was run on PEN-OLD, not on PEN"


def test_p28_method_d_needs_the_remover_too() -> None:
    facts = basket("D", without=["panel"])
    assert ask_d("P28", [*facts, panel(batches=("PEN",))]).verdict is NOT_RECORDED
    assert ask_d("P28", [*facts, panel(batches=("PEN", "REM"))]).verdict is PASS


def test_p28_wetting_missing_not_recorded() -> None:
    assert ask("P28", basket(wet=None)).verdict is NOT_RECORDED


@pytest.mark.parametrize(("compared", "verdict"), [(True, PASS), (False, FAIL), (None, NOT_RECORDED)])
def test_p29_compared_with_reference(compared: bool | None, verdict: Verdict) -> None:
    assert ask("P29", with_panel(panel(compared_with_reference=compared))).verdict is verdict


def test_p29_no_panel_not_recorded() -> None:
    assert ask("P29", with_panel()).verdict is NOT_RECORDED


def without_check(*words: str) -> list[Fact]:
    """The whole basket without the readings and checks of these kinds."""
    return [r for r in basket() if not {getattr(r.fact, "quantity", ""), getattr(r.fact, "check", "")} & set(words)]


@pytest.mark.parametrize(
    # 10 specks in the circle: practice (a teaching text on developer control has 9), the shop's value decides
    ("value", "verdict"),
    [("9 pcs", PASS), ("10 pcs", PASS), ("11 pcs", FAIL), ("14 pcs", FAIL)],
)
def test_p30_specks_at_limit(value: str, verdict: Verdict) -> None:
    answer = ask("P30", [*without_check("specks"), reading("DEV", "specks", value)])
    assert (answer.verdict, answer.limit) == (verdict, "at most 10")


@pytest.mark.parametrize(
    ("when", "day", "verdict"),
    [
        ("09:12", build.DAY, PASS),
        ("09:12:01", build.DAY, NOT_RECORDED),
        ("05:59:59", build.DAY, NOT_RECORDED),
        ("07:02", YESTERDAY, NOT_RECORDED),
    ],
)
def test_p30_look_of_the_day_before_developing(when: str, day: str, verdict: Verdict) -> None:
    assert ask("P30", [*without_check("specks"), reading("DEV", "specks", "2 pcs", when, day)]).verdict is verdict


def test_p30_nothing_developed_not_recorded() -> None:
    assert ask("P30", basket(develop=None)).verdict is NOT_RECORDED


TANK = "penetrant tank look"


@pytest.mark.parametrize(
    ("when", "day", "passed", "verdict"),
    [
        ("06:52", build.DAY, True, PASS),
        ("08:00", build.DAY, True, PASS),
        ("06:52", build.DAY, False, FAIL),
        ("08:00:01", build.DAY, True, NOT_RECORDED),
        ("06:52", YESTERDAY, True, NOT_RECORDED),
    ],
)
def test_p31_tank_look_of_the_day(when: str, day: str, passed: bool, verdict: Verdict) -> None:
    assert ask("P31", [*without_check(TANK), check(TANK, "PEN", when, day, passed)]).verdict is verdict


def test_p31_look_at_another_batch_not_recorded() -> None:
    assert ask("P31", [*without_check(TANK), check(TANK, "PEN-OLD")]).verdict is NOT_RECORDED


@pytest.mark.parametrize(
    # water content 5 %: teaching page on control of penetrant, water-washable penetrant
    ("value", "verdict"),
    [("4.9 %", PASS), ("5 %", PASS), ("5.1 %", FAIL), ("5.6 %", FAIL)],
)
def test_p32_water_content_at_limit(value: str, verdict: Verdict) -> None:
    assert ask("P32", [*without_check("water content"), reading("PEN", "water content", value)]).verdict is verdict


@pytest.mark.parametrize(
    # 31 whole days before 10 March is 7 February; the due day counts
    ("day", "when", "verdict"),
    [
        ("2026-02-08", "07:00", PASS),
        ("2026-02-07", "00:10", PASS),
        ("2026-02-06", "23:50", NOT_RECORDED),
        ("2026-03-10", "08:00:01", NOT_RECORDED),
    ],
)
def test_p32_due_day_counts(day: str, when: str, verdict: Verdict) -> None:
    assert (
        ask("P32", [*without_check("water content"), reading("PEN", "water content", "1 %", when, day)]).verdict
        is verdict
    )


def test_p32_never_read_not_recorded_and_method_d_not_applicable() -> None:
    assert ask("P32", without_check("water content")).verdict is NOT_RECORDED
    assert ask_d("P32", basket("D")).verdict is NOT_APPLICABLE


@pytest.mark.parametrize(
    # 90 % of unused penetrant: practice, from memory
    ("value", "verdict"),
    [("89.9 %", FAIL), ("90 %", PASS), ("90.1 %", PASS), ("86 %", FAIL)],
)
def test_p33_brightness_at_limit(value: str, verdict: Verdict) -> None:
    assert ask("P33", [*without_check("brightness"), reading("PEN", "brightness", value)]).verdict is verdict


@pytest.mark.parametrize(("day", "verdict"), [("2025-12-09", PASS), ("2025-12-08", PASS), ("2025-12-07", NOT_RECORDED)])
def test_p33_due_day_counts(day: str, verdict: Verdict) -> None:
    assert ask("P33", [*without_check("brightness"), reading("PEN", "brightness", "98 %", day=day)]).verdict is verdict


def test_p33_never_read_not_recorded() -> None:
    assert ask("P33", without_check("brightness")).verdict is NOT_RECORDED


REMOVABILITY = "removability and sensitivity"


@pytest.mark.parametrize(
    ("day", "passed", "verdict"),
    [
        ("2026-02-08", True, PASS),
        ("2026-02-07", True, PASS),
        ("2026-02-06", True, NOT_RECORDED),
        ("2026-03-02", False, FAIL),
    ],
)
def test_p34_comparison_due_and_passed(day: str, passed: bool, verdict: Verdict) -> None:
    assert (
        ask("P34", [*without_check(REMOVABILITY), check(REMOVABILITY, "PEN", day=day, passed=passed)]).verdict
        is verdict
    )


def test_p34_overdue_says_by_when() -> None:
    answer = ask("P34", [*without_check(REMOVABILITY), check(REMOVABILITY, "PEN", day="2026-02-01")])
    assert answer.says == "PEN: last comparison 2026-02-01, 37 d ago, due every 31 d"


def test_p34_never_compared_not_recorded() -> None:
    assert ask("P34", without_check(REMOVABILITY)).verdict is NOT_RECORDED


@pytest.mark.parametrize("rule_id", ["P28", "P29", "P30", "P31", "P32", "P33", "P34"])
def test_line_rules_with_unknown_tanks_not_recorded(rule_id: str) -> None:
    assert ask(rule_id, basket(without=["tanks"])).verdict is NOT_RECORDED


def test_line_rules_with_unloaded_basket_not_recorded() -> None:
    assert ask("P28", basket(without=["load"])).verdict is NOT_RECORDED
    assert ask("P31", [load(), pen()]).verdict is NOT_RECORDED
