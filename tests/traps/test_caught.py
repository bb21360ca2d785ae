"""Traps that no other test shows: each is walked into on purpose and must be caught."""

from __future__ import annotations

from datetime import date

import pytest

from ndi.domain import facts as f
from ndi.domain.errors import NotPermitted
from ndi.rules.basket import Timed, at_least
from ndi.rules.inquiry import as_timedelta
from ndi.services import inspecting
from tests import build as b
from tests.rules import general_record as g
from tests.rules import light_record as light
from tests.rules import penetrant_day as pt
from tests.services.conftest import accepted, morning, shop  # noqa: F401  fixtures
from tests.services.shop import GEAR, GEAR_SHEET, Shop


def test_second_open_record_of_a_part_is_refused(shop: Shop) -> None:  # noqa: F811
    part = shop.receive(GEAR, "CG-7")
    inspecting.open_inspection(shop.work, "MT-007", part, GEAR_SHEET, "L2-A", quantity=1)
    with pytest.raises(NotPermitted, match="open record MT-007"):
        inspecting.open_inspection(shop.work, "MT-008", part, GEAR_SHEET, "L2-A", quantity=1)


def test_next_record_of_a_part_opens_once_the_first_is_decided(accepted: Shop) -> None:  # noqa: F811
    part = accepted.row("MT-001").part
    inspecting.open_inspection(accepted.work, "MT-009", part, GEAR_SHEET, "L2-A", quantity=1)
    assert accepted.row("MT-009").decision is None


def test_revision_that_changes_while_the_basket_is_wet_is_no_error() -> None:
    """First step under D on the day, asked the day after, when E is in force: the record stays under D."""
    newer = b.procedure("PT", revision="E")
    newer = type(newer)(**{**vars(newer), "effective_from": date(2026, 3, 11)})
    answer = g.ask("G06", asked=b.at("09:00", "2026-03-11"), inquiry={"newer_revisions": (newer,)})
    assert answer.verdict == "PASS", answer.line()


def test_dwell_over_the_change_to_summer_time_is_counted_as_it_was() -> None:
    """8 March 2026, 01:59 is followed by 03:00: 40 minutes of waiting show as 100 on the wall and stay 40."""
    wet, wash = b.at("01:50", "2026-03-08", offset=-360), b.at("03:30", "2026-03-08", offset=-300)
    inquiry = b.inquiry("PT", [])
    timed = Timed("dwell", wet, wash, None, ())
    need = b.num("41 min")
    answer = at_least(inquiry, timed, as_timedelta(need), need)
    assert (answer.verdict, answer.found) == ("FAIL", "40 min")


@pytest.mark.parametrize(("value", "verdict"), [("999.6", "FAIL"), ("1000", "PASS")])
def test_reading_just_under_the_limit_is_not_rounded_up(value: str, verdict: str) -> None:
    answer = light.ask("L02", light.record(opening=light.reading("06:42", value)))
    assert answer.verdict == verdict
    assert value in answer.found


def test_lamp_that_was_cleaned_and_reads_well_closes_no_interval_behind_it() -> None:
    """Under its limit at mid-day, wiped, good again: the view before stays in doubt."""
    readings = [light.reading("12:35", "880"), light.reading("12:36", "1490", condition="as-left")]
    answer = light.ask("L11", light.record(closing=readings))
    assert answer.verdict == "FAIL"


def test_view_with_two_lamps_needs_both_keys() -> None:
    """The hand lamp that was named has no reading: the overhead lamp does not answer for it."""
    facts = light.record(view=b.view("10:00", "10:20", ("LP-1", "LP-2")))
    assert light.ask("L16", facts).verdict == "FAIL"


def test_developer_that_nobody_looks_at_in_time_is_said_beforehand() -> None:
    """Ten castings and one viewer: what stands developed past its limit is FAIL though no view was begun."""
    facts = pt.basket(view=None, develop=("09:12", "09:14"))
    assert pt.ask("P25", facts, "13:12").verdict == "NOT YET"
    assert pt.ask("P25", facts, "13:12:01").verdict == "FAIL"


def test_photograph_shown_for_two_parts_is_refused_by_its_hash() -> None:
    other = b.rec(f.PhotoAttached("X-002", "aa", b.at("08:55")), "08:56")
    answer = g.ask("G25", photo=[g.photo(), other])
    assert answer.verdict == "FAIL"
