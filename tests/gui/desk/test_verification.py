"""Verification of the demonstration day at the desk, compared with the day's own account; no screen is needed."""

from __future__ import annotations

from datetime import date

import pytest

from ndi.domain.errors import InputError, NotPermitted
from ndi.gui.presenters.desk.desk import Desk
from ndi.services.shift_review import shift_review


def test_review_shows_red_before_amber_and_what_a_signature_covers(reading: Desk) -> None:
    """The day's account: 50 records can be verified, PT-001 to PT-011 cannot."""
    found = shift_review(reading.work, date(2026, 3, 10))
    assert len(found.verifiable) == 50
    left = sorted(set(found.scope) - set(found.verifiable))
    assert left == [f"PT-{n:03d}" for n in range(1, 12)]
    assert [line.is_red for line in found.lines] == sorted((line.is_red for line in found.lines), reverse=True)
    assert {line.inspection for line in found.red} <= set(left)
    margins = [float(cells[5]) for cells in found.margins]
    assert margins and margins == sorted(margins)
    bad = [lamp.lamp for lamp in found.lamps if lamp.verdict == "FAIL"]
    assert bad == ["LP-3"]  # 880 uW/cm2 at 12:35


def test_one_signature_covers_exactly_what_was_shown(desk: Desk) -> None:
    act = desk.verification.sign()
    assert len(act.covers) == 50 and act.person == "SUP-F"
    assert desk.carry_out(act).startswith("50 records verified by SUP-F; 11 left out")
    assert len(shift_review(desk.work, date(2026, 3, 10)).verified) == 50


def test_nobody_verifies_work_of_their_own(desk: Desk) -> None:
    desk.stand("L2-B")
    with pytest.raises(NotPermitted):
        desk.carry_out(desk.verification.sign())
    desk.stand("")
    with pytest.raises(InputError, match="choose who"):
        desk.verification.sign()


def test_screen_lists_every_line_with_a_mark_and_a_word(reading: Desk) -> None:
    view = reading.verification.review()
    assert all(row.cells[0].split(" ", 1)[1] for row in view.items.all_rows)
    assert any("LP-3" in row.cells for row in view.items.all_rows)
