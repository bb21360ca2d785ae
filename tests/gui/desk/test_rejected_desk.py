"""Rejected pieces at the desk: the owner is asked, the piece is scrapped before a witness or goes back, by keys."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from ndi.domain import facts as f
from ndi.domain.errors import InputError, NotPermitted
from ndi.gui.presenters.desk.desk import Desk
from ndi.gui.views.desk.panels import SignPanel
from ndi.gui.views.desk.rejected_screen import RejectedScreen
from ndi.services.lookup import every
from tests.gui.desk.seat import Seat
from tests.gui.desk.test_recall_desk import fill
from tests.gui.desk.test_window import clipped
from tests.people.real_shop import ADMIN, LEVEL3, RealShop, give_secret, password

Sit = Callable[[Desk], Seat]


def cells(desk: Desk, record: str) -> tuple[str, ...]:
    return next(row.cells for row in desk.rejected.listing().all_rows if row.cells[0] == record)


def test_every_rejected_piece_of_the_day_is_listed(reading: Desk) -> None:
    """The day's own account: crankshaft MT-001, rocker arm RA-07 of MT-012, camshaft MT-032, cylinder PT-024."""
    rows = {row.cells[0]: row.cells for row in reading.rejected.listing().all_rows}
    assert set(rows) == {"MT-001", "MT-012", "MT-032", "PT-024"}
    assert (rows["MT-012"][2], rows["MT-012"][6]) == ("RA-07", "quarantine")  # the piece, not its lot
    assert {row[4] for row in rows.values()} == {"none yet"} and {row[5] for row in rows.values()} == {"ask the owner"}


def test_a_piece_is_scrapped_by_keys_after_the_owner_answered(sit: Sit, desk: Desk) -> None:
    desk.stand("CI-G")
    seat = sit(desk)
    seat.key("Alt-j")
    screen = seat.frame.here
    assert isinstance(screen, RejectedScreen) and screen.pieces.current is not None
    assert screen.pieces.current.cells[0] == "MT-001"
    assert clipped(seat) == []
    sign = {"person": "CI-G", "witness": "SUP-F", "defaced": "yes", "how": "cut in two", "photo": "ab12"}
    seat.key("Control-k")
    fill(seat, **sign)
    seat.key("Return")
    assert "owner has not answered" in seat.message
    seat.shot("rejected/refused")
    seat.key("Escape", "Control-n")
    fill(seat, answer="scrap", reference="letter 7")
    seat.key("Return")
    assert "answered scrap" in seat.message and cells(desk, "MT-001")[5] == "scrap before a witness"
    seat.key("Control-k")
    fill(seat, **sign)
    assert isinstance(screen.panel, SignPanel)
    seat.shot("rejected/scrap")
    seat.key("Return")
    assert "scrap register" in seat.message
    assert cells(desk, "MT-001")[3] == "✓ SCRAP"
    (entry,) = desk.rejected.register().all_rows
    assert entry.cells[1:5] == ("T6-10010", "6H-C-3391", "CI-G", "SUP-F")
    states = {count.mark.word: count.pieces for count in desk.work_orders.engine("W26-0148").counts}
    assert states["SCRAP"] == 1
    seat.shot("rejected/list")


def test_a_piece_goes_back_only_when_its_owner_asks(desk: Desk) -> None:
    desk.stand("CI-G")
    key = next(row.key for row in desk.rejected.listing().all_rows if row.cells[0] == "MT-012")
    back = desk.rejected.return_form(key).act({"marked": "yes"})
    with pytest.raises(NotPermitted, match="has not answered"):
        desk.carry_out(back)
    desk.carry_out(desk.rejected.owner_form(key).act({"answer": "return", "reference": "letter 8"}))
    with pytest.raises(InputError, match="choose scrap or return"):
        desk.rejected.owner_form(key).act({"answer": "keep", "reference": "letter 8"})
    with pytest.raises(NotPermitted, match="not marked"):
        desk.carry_out(desk.rejected.return_form(key).act({"marked": "no"}))
    assert "goes back" in desk.carry_out(back)
    assert cells(desk, "MT-012")[3] == "✓ RETURN UNSERVICEABLE"
    states = {count.mark.word: count.pieces for count in desk.work_orders.engine("W26-0148").counts}
    assert states["RETURN UNSERVICEABLE"] == 1 and desk.work_orders.engine("W26-0148").balance.shape == "✓"


def test_two_secrets_are_asked_for_in_a_real_book(real: RealShop) -> None:
    """A recall set without a record, closed by a Level III and quality: each types a secret, neither can for the other."""
    real.put(f.PersonEntered("CI-G", ("quality",)))
    give_secret(real, "CI-G")
    real.read_lamp("LP-4", "900")
    desk = Desk(real.work, ADMIN)
    (row,) = desk.recalls.listing().all_rows
    act = desk.recalls.close_form(row.key).act({"level_three": LEVEL3, "quality": "CI-G"})
    assert act.second is not None and desk.asks_secret(act)
    assert act.meaning_text.endswith("of CI-G, meaning: verified")
    with pytest.raises(InputError, match="CI-G types the secret"):
        desk.carry_out(act, password(LEVEL3))
    with pytest.raises(NotPermitted, match="not right"):
        desk.carry_out(act, password(LEVEL3), "", password(LEVEL3), "")
    with real.work.book.session(readonly=True) as session:
        assert not every(session, f.ContainmentClosed)
    assert "closed by" in desk.carry_out(act, password(LEVEL3), "", password("CI-G"), "")


def test_the_panel_takes_two_secrets_and_keeps_neither(sit: Sit, real: RealShop) -> None:
    real.put(f.PersonEntered("CI-G", ("quality",)))
    give_secret(real, "CI-G")
    real.read_lamp("LP-4", "900")
    seat = sit(Desk(real.work, ADMIN))
    seat.key("Alt-r", "Control-s")
    screen = seat.frame.here
    fill(seat, level_three=LEVEL3, quality="CI-G")
    panel = screen.panel  # type: ignore[union-attr]
    assert isinstance(panel, SignPanel) and len(panel._secrets) == 2
    first, second = (secret for secret, _ in panel._secrets)
    first.insert(0, password(LEVEL3))
    seat.shot("rejected/two-secrets")
    seat.key("Return")  # goes on to the second
    assert seat.root.focus_get() is second and first.get()
    second.insert(0, "a wrong one, typed")
    seat.key("Return")
    assert "not right" in seat.message and (first.get(), second.get()) == ("", "")
    first.insert(0, password(LEVEL3))
    second.insert(0, password("CI-G"))
    second.focus_set()
    seat.key("Return")
    assert "closed by" in seat.message
