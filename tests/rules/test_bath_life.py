"""How long a bath may be used: 30 d, common practice, no source."""

from __future__ import annotations

import pytest

from ndi.domain import facts as f
from ndi.domain.answer import Answer
from ndi.domain.entry import Recorded
from tests import build as b
from tests.rules.mt_record import ask, record


def filled(day: str, *batches: str, bench: str = "MT-01") -> Recorded[f.Fact]:
    return b.rec(f.TankFilled(bench, batches or ("MTB-26-07",)), "07:30", day=day)


def age(*fillings: Recorded[f.Fact]) -> Answer:
    return ask("M36", [*record(), *fillings])


@pytest.mark.parametrize(("day", "expected"), [("2026-02-09", "PASS"), ("2026-02-08", "PASS"), ("2026-02-07", "FAIL")])
def test_m36_age_about_the_limit(day: str, expected: str) -> None:
    """8 February to 10 March 2026 are 20 + 10 days; whole local days count."""
    answer = age(filled(day))
    assert answer.verdict == expected
    assert answer.limit == "at most 30 d"
    if expected == "FAIL":
        assert answer.says == "MTB-26-07 in use for 31 d, since 2026-02-07"


def test_m36_filling_unknown_not_recorded() -> None:
    answer = age()
    assert (answer.verdict, answer.says) == ("NOT RECORDED", "MTB-26-07: its filling into MT-01 is not recorded")


def test_m36_filling_of_another_bench_not_recorded() -> None:
    assert age(filled("2026-02-20", bench="MT-02")).verdict == "NOT RECORDED"


def test_m36_filling_after_the_shot_not_recorded() -> None:
    assert age(b.rec(f.TankFilled("MT-01", ("MTB-26-07",)), "08:30")).verdict == "NOT RECORDED"


def test_m36_topping_up_makes_it_no_younger_fail() -> None:
    assert age(filled("2026-01-20"), filled("2026-03-02", "MTB-26-07", "CON-3")).verdict == "FAIL"


def test_m36_topped_up_twice_is_one_bath_fail() -> None:
    steps = [("2026-01-20", ("A",)), ("2026-02-20", ("A", "B")), ("2026-03-02", ("B", "C"))]
    assert age(*(filled(day, *batches) for day, batches in steps)).verdict == "FAIL"


def test_m36_changed_bath_counts_from_its_own_filling_pass() -> None:
    assert age(filled("2026-01-20", "MTB-26-01"), filled("2026-03-02")).verdict == "PASS"


def test_m36_no_shot_not_recorded() -> None:
    assert ask("M36", record(shots=[])).says == "no shot recorded"


def test_m36_parameter_missing_not_recorded() -> None:
    answer = ask("M36", [*record(), filled("2026-03-02")], parameters={"bath_age_max": None})
    assert answer.says == "procedure MT-P-01 rev D gives no value for bath_age_max"
