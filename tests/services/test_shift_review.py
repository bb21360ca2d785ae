"""What a supervisor sees of a shift that is not over: provisional acceptances, facts typed late, lamps that nobody used."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from ndi.domain import facts as f
from ndi.services import recording, verifying
from ndi.services.shift_review import LAMP_WORDS, shift_review
from tests import build as b
from tests.build import num
from tests.services.shop import Shop

DAY = date(2026, 3, 10)


def test_acceptance_that_waits_for_a_reading_is_listed_until_the_reading_comes(accepted: Shop) -> None:
    found = shift_review(accepted.work, DAY)
    assert found.provisional == ("MT-001",) and found.verifiable == ()  # nobody verifies what still waits
    assert [line.answer.rule for line in found.red] == ["L11"]
    accepted.after(60).read_lamp("LP-1", "1690")
    after = shift_review(accepted.work, DAY)
    assert after.provisional == () == after.red and after.verifiable == ("MT-001",)
    assert after.covers_text == "1 record"
    verifying.verify_records(accepted.work, "SUP-F")
    again = shift_review(accepted.work, DAY)
    assert again.verifiable == ("MT-001",) and again.covers_text == "1 record, 1 of them verified before"


def test_fact_typed_late_is_listed_with_its_reason(accepted: Shop) -> None:
    before = shift_review(accepted.work, DAY).late
    reading = f.ReadingRecorded("PT line", "water temperature", num("68 degF"))
    recording.record_reading(accepted.work, reading, "L1-D", when=b.at("06:50"), why="the terminal was off")
    late = [r for r in shift_review(accepted.work, DAY).late if r not in before]
    assert [(r.fact, r.why, r.when.clock()) for r in late] == [(reading, "the terminal was off", "06:50")]


def test_lamp_is_not_used_only_because_no_view_names_it(accepted: Shop) -> None:
    """All four lamps were switched on and read; on the day before none was read, and no view names one."""
    yesterday = shift_review(accepted.work, date(2026, 3, 9))
    assert {LAMP_WORDS[lamp.verdict] for lamp in yesterday.lamps} == {"not used"}
    used = shift_review(accepted.work, DAY)
    assert used.views == 1
    assert {lamp.lamp for lamp in used.lamps if lamp.used_for} == {"LP-1"}
    assert {LAMP_WORDS[lamp.verdict] for lamp in used.lamps} == {"in limits"}


def test_signature_covers_what_is_green_and_nothing_that_came_red_meanwhile(accepted: Shop) -> None:
    accepted.after(60).read_lamp("LP-1", "1690")
    found = shift_review(accepted.work, DAY)
    assert found.covers == ("MT-001",)
    shot = accepted.facts(f.ShotFired, "MT-001")[-1]  # its bench is found to have been another one
    recording.correct(
        accepted.work, shot.uid, replace(shot.fact, bench="MT-02"), "L2-A", when=shot.when, why="typed the wrong bench"
    )
    red = shift_review(accepted.work, DAY)
    assert red.covers == () and red.unsigned == ("MT-001",)
    assert {line.inspection for line in red.red} == {"MT-001"}
    done = verifying.verify_records(accepted.work, "SUP-F", inspections=found.scope)
    assert [s.row.inspection for s in done.left_out] == ["MT-001"] and done.covered == ()
