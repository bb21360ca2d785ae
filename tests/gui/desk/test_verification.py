"""Verification of the demonstration day at the desk, compared with the day's own account; presenters first, then by keys."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date

import pytest

from ndi.domain.errors import InputError, NotPermitted
from ndi.gui.presenters.desk.desk import Desk
from ndi.gui.views.desk.panels import SignPanel
from ndi.gui.views.desk.verification_screen import VerificationScreen
from ndi.services.shift_review import LAMP_WORDS, shift_review
from tests.gui.desk.seat import Seat

Sit = Callable[[Desk], Seat]


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


# --- by keys --------------------------------------------------------------------------------------------


def test_a_shift_is_verified_by_keys(sit: Sit, desk: Desk) -> None:
    seat = sit(desk)
    seat.key("Alt-v")
    screen = seat.frame.here
    assert isinstance(screen, VerificationScreen)
    before = desk.head()
    rows = screen.list._source.all_rows  # type: ignore[union-attr]
    words = [row.cells[0] for row in rows]
    assert words.index("✗ red") == 0 and words.index("□ amber") > len([w for w in words if w == "✗ red"]) - 1
    seat.key("Return")
    assert (seat.frame.here.name, seat.frame.here.key) == ("record", "PT-001")  # type: ignore[union-attr]
    seat.key("Alt-Left", "Control-s")
    panel = screen.panel
    assert isinstance(panel, SignPanel) and desk.head() == before  # shown, not signed
    seat.shot("verification/sign")
    seat.key("Escape")
    assert screen.panel is None and desk.head() == before
    seat.key("Control-s", "Return")
    assert seat.message.startswith("50 records verified by SUP-F; 11 left out")


def test_a_bad_lamp_of_the_shift_leads_to_its_recall_set(sit: Sit, desk: Desk) -> None:
    seat = sit(desk)
    seat.key("Alt-v")
    screen = seat.frame.here
    assert isinstance(screen, VerificationScreen)
    cells = [row.cells[1] for row in screen.list._source.all_rows]  # type: ignore[union-attr]
    seat.key(*["Down"] * cells.index("LP-3"))
    seat.shot("verification/lamps")
    seat.key("Control-r")
    assert (seat.frame.here.name, seat.frame.here.key[:3]) == ("recalls", "CT-")  # type: ignore[union-attr]
    seat.key("Alt-Left", "Return")
    assert (seat.frame.here.name, seat.frame.here.key) == ("equipment", "LP-3")  # type: ignore[union-attr]


def test_lamp_calendar_says_what_proves_that_a_lamp_was_not_used(reading: Desk) -> None:
    """Monday 9 March: LP-2 was used for three paper records and not read; on Saturday nobody viewed anything."""
    monday = shift_review(reading.work, date(2026, 3, 9))
    days = {lamp.lamp: lamp for lamp in monday.lamps}
    assert LAMP_WORDS[days["LP-2"].verdict] == "missing" and "MT-0309-11" in monday.lamp_says(days["LP-2"])
    strip = [str(day.verdict) for day in monday.calendar["LP-3"]]
    assert len(strip) == 14 and strip[-1] == "PASS"
    saturday = shift_review(reading.work, date(2026, 3, 7))
    assert {LAMP_WORDS[lamp.verdict] for lamp in saturday.lamps} == {"not used"}
    assert "none of the 0 views of the day" in saturday.lamp_says(saturday.lamps[0])


def test_own_work_is_said_before_anybody_signs(desk: Desk) -> None:
    def own() -> str:
        return next(line.value for line in desk.verification.review().lines if line.label.startswith("Own work"))

    assert own().startswith("✓ PASS")
    desk.stand("L2-B")
    assert own().startswith("✗ FAIL") and "PT-001" in own()
