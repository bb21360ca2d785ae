"""Shared outcomes: the same objects give the kept outcome, other ones never do."""

from __future__ import annotations

import pytest

from ndi.domain.outcome import Outcome, passed
from ndi.rules.memo import Memo
from tests import build as b


class Counting:
    def __init__(self) -> None:
        self.times = 0

    def __call__(self) -> Outcome:
        self.times += 1
        return passed(str(self.times))


def test_the_same_objects_are_asked_once_and_equal_ones_again() -> None:
    memo, work_out = Memo(8), Counting()
    one, equal = b.num("5 in"), b.num("5 in")
    assert one == equal
    assert [memo.outcome((each,), work_out).found for each in (one, one, equal, one)] == ["1", "1", "2", "1"]


def test_order_and_number_of_the_objects_count() -> None:
    memo, work_out = Memo(8), Counting()
    one, other = b.num("5 in"), b.num("6 in")
    for read_from in ((one, other), (other, one), (one,), (one, other, other)):
        memo.outcome(read_from, work_out)
    assert work_out.times == 4


def test_the_oldest_is_forgotten_and_worked_out_again() -> None:
    memo, work_out = Memo(2), Counting()
    objects = [b.num(f"{number} in") for number in range(3)]
    for each in objects:
        memo.outcome((each,), work_out)
    assert memo.outcome((objects[2],), work_out).found == "3"
    assert memo.outcome((objects[0],), work_out).found == "4"


def test_no_new_object_takes_the_place_of_one_that_is_gone() -> None:
    memo, work_out = Memo(1000), Counting()
    for number in range(500):
        memo.outcome(
            (b.num(f"{number} in"),), work_out
        )  # nobody else holds it: without the memo its id would be reused
    assert work_out.times == 500


def test_what_raises_is_not_kept() -> None:
    memo = Memo(8)
    given = (b.num("5 in"),)
    with pytest.raises(ZeroDivisionError):
        memo.outcome(given, lambda: 1 // 0)  # type: ignore[arg-type, return-value]
    assert memo.outcome(given, lambda: passed("now")).found == "now"
