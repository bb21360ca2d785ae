"""Look-ahead against a brute force that tries every order and every whole minute of waiting."""

from fractions import Fraction
from itertools import permutations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ndi.calc.look_ahead import Job, best_order
from ndi.domain.errors import InputError


def job(name, release, deadline, work):
    return Job(name, Fraction(release), Fraction(deadline), Fraction(work))


def test_best_order_waits_on_purpose():
    """Starting X at once would make Y late by 2 (worked by hand)."""
    plan = best_order([job("X", 0, 40, 15), job("Y", 5, 25, 12), job("Z", 10, 60, 20)])
    assert [(item.name, item.start, item.end, item.latest_start) for item in plan.order] == [
        ("Y", 5, 17, 13),
        ("X", 17, 32, 25),
        ("Z", 32, 52, 40),
    ]
    assert plan.late == [] and plan.wait == 5


def test_best_order_latest_start_is_deadline_less_work():
    """A basket wet at 11:18 with a limit of 120 min and 12 min of work: start by 13:06 (minutes of the day)."""
    (only,) = best_order([job("B4a", 11 * 60 + 51, 11 * 60 + 18 + 120, 12)]).order
    assert only.latest_start == 13 * 60 + 6


def test_best_order_of_nothing_is_nothing():
    plan = best_order([])
    assert (plan.order, plan.late, plan.wait) == ([], [], 0)


def test_best_order_on_time_includes_the_deadline_itself():
    assert best_order([job("A", 0, "10.5", "10.5")]).late == []
    assert best_order([job("A", 0, "10.499", "10.5")]).late == [("A", Fraction(1, 1000))]


def test_best_order_release_before_now_counts_as_now():
    plan = best_order([job("A", -30, 60, 10)])
    assert plan.order[0].start == 0 and plan.wait == 0


def test_best_order_full_tie_keeps_the_positions():
    names = "HGFEDCBA"
    assert [item.name for item in best_order([job(name, 0, 100, 5) for name in names]).order] == list(names)


def _brute(jobs, waits):
    """Best score over every order and every pattern of extra whole minutes before each job."""
    best = None
    for order in permutations(range(len(jobs))):
        partial = [((), 0, 0, 0)]  # ends, late, minutes late, end
        for index in order:
            partial = [
                (
                    (*ends, stop),
                    late + (stop > jobs[index].deadline),
                    over + max(0, stop - jobs[index].deadline),
                    stop,
                )
                for ends, late, over, end in partial
                for extra in range(waits + 1)
                for stop in [max(end, jobs[index].release) + extra + jobs[index].work]
            ]
        for ends, late, over, end in partial:
            score = (late, over, end, sum(ends), order)
            best = score if best is None or score < best else best
    return best


small = st.builds(
    Job,
    name=st.just("?"),
    release=st.integers(0, 6).map(Fraction),
    deadline=st.integers(0, 14).map(Fraction),
    work=st.integers(1, 4).map(Fraction),
)


@settings(max_examples=60, deadline=None)
@given(st.lists(small, min_size=1, max_size=4))
def test_best_order_is_the_brute_force_with_waiting(drawn):
    jobs = [Job(str(index), each.release, each.deadline, each.work) for index, each in enumerate(drawn)]
    plan = best_order(jobs)
    late, over, end, ends, order = _brute(jobs, waits=2)
    assert [item.name for item in plan.order] == [str(index) for index in order]
    assert (len(plan.late), sum(by for _, by in plan.late)) == (late, over)
    assert plan.order[-1].end == end and sum(item.end for item in plan.order) == ends


@settings(max_examples=25, deadline=None)
@given(st.lists(small, min_size=5, max_size=6))
def test_best_order_is_the_brute_force_of_orders(drawn):
    jobs = [Job(str(index), each.release, each.deadline / 3, each.work / 7) for index, each in enumerate(drawn)]
    plan = best_order(jobs)
    _, _, end, _, order = _brute(jobs, waits=0)
    assert [item.name for item in plan.order] == [str(index) for index in order]
    busy = sum(item.end - item.start for item in plan.order)
    assert plan.wait == end - busy and busy == sum(each.work for each in jobs)


@pytest.mark.parametrize(
    "jobs",
    [
        [job("A", 0, 1, 0)],
        [job("A", 0, 1, -2)],
        [job("A", 0, 1, 1), job("A", 0, 1, 1)],
        [job(str(index), 0, 1, 1) for index in range(9)],
    ],
)
def test_best_order_impossible_jobs_are_input_errors(jobs):
    with pytest.raises(InputError):
        best_order(jobs)
