"""Recall at the desk, walked with real keys on the demonstration day: from the bad reading of LP-3 to two signatures."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from ndi import bootstrap
from ndi.domain import facts as f
from ndi.domain.errors import InputError
from ndi.gui.presenters.desk.desk import Desk
from ndi.gui.views.desk.equipment_screen import EquipmentScreen
from ndi.gui.views.desk.meter_screen import MeterScreen
from ndi.gui.views.desk.panels import FormPanel, SignPanel
from ndi.gui.views.desk.recalls_screen import RecallsScreen
from ndi.services.lookup import about, every
from tests.gui.desk.conftest import open_at, paper_tools
from tests.gui.desk.seat import Seat
from tests.gui.desk.test_window import clipped

Sit = Callable[[Desk], Seat]

# the demonstration day's own account of what LP-3 put in doubt: 17 records, 3 second looks; PT-006 went to assembly
# with a reason while it was provisional, so that it comes first
RECORDS = ["PT-006", *(f"PT-{n:03d}" for n in range(1, 18) if n != 6)]


def recalls(seat: Seat) -> RecallsScreen:
    screen = seat.frame.here
    assert isinstance(screen, RecallsScreen)
    return screen


def at_lamp(seat: Seat) -> EquipmentScreen:
    """The equipment screen with the bar on LP-3 and the focus in its readings, by keys."""
    seat.key("Key-F5", "Down", "Down", "Tab", "Tab")
    screen = seat.frame.here
    assert isinstance(screen, EquipmentScreen) and screen.key == "LP-3" and screen.readings.has_focus
    return screen


def bar_on(seat: Seat, value: str) -> None:
    """Go down the readings until the bar is on the one with this value."""
    screen = seat.frame.here
    assert isinstance(screen, EquipmentScreen)
    for _ in range(20):
        if screen.readings.current is not None and screen.readings.current.cells[2].startswith(value):
            return
        seat.key("Down")
    raise AssertionError(value)


def fill(seat: Seat, **values: str) -> None:
    panel = seat.frame.here.panel  # type: ignore[union-attr]
    assert isinstance(panel, FormPanel)
    for name, value in values.items():
        panel.set(name, value)
    panel.go.focus_set()
    seat.key("Return")


def test_one_key_leads_from_the_bad_reading_to_its_frozen_set(sit: Sit, desk: Desk) -> None:
    seat = sit(desk)
    at_lamp(seat)
    bar_on(seat, "880")
    before = desk.head()
    seat.key("Control-r")
    screen = recalls(seat)
    assert screen.key == "CT-01" and [row.key for row in screen.items._source.all_rows] == RECORDS  # type: ignore[union-attr]
    view = desk.recalls.recall("CT-01")
    said = {line.label: line.value for line in view.lines}
    assert said["Looks at parts"].startswith("17 views, 3 second looks, 0 re-views")
    assert "17 records, 17 parts, 18 pieces; 1 at assembly: OPC-0205, none shipped" in said["Parts"]
    assert said["Worked out anew"] == "added: none; gone: none"
    rows = {row.key: row.cells for row in view.items.all_rows}
    assert rows["PT-006"][4:6] == ("assembly", "retrieve") and rows["PT-012"][5] == "done"
    assert desk.head() == before  # looking writes nothing
    seat.shot("recall/frozen")


def test_a_supposed_reading_recalls_the_same_and_writes_nothing_until_it_is_opened(sit: Sit, desk: Desk) -> None:
    seat = sit(desk)
    at_lamp(seat)
    bar_on(seat, "1490")  # the reading of 06:42, in limits
    before = desk.head()
    seat.key("Control-r")
    screen = recalls(seat)
    assert screen.key.startswith("entry:") and screen.heading.cget("text").startswith("Suppose LP-3 read 1490")
    supposed = [row.key for row in screen.items._source.all_rows]  # type: ignore[union-attr]
    assert supposed == RECORDS  # it opened the interval in which they were viewed
    seat.shot("recall/supposed")
    seat.key("Control-s")
    assert "only supposed" in seat.message and desk.head() == before
    seat.key("Control-o")
    fill(seat, reason="read with the filter of another meter")
    assert isinstance(screen.panel, SignPanel)
    seat.shot("recall/open")
    seat.key("Return")
    assert "opened" in seat.message
    with desk.work.book.session(readonly=True) as session:
        opened = every(session, f.ContainmentOpened)[-1].fact
    assert sorted(opened.inspections) == sorted(supposed) and screen.key == opened.containment
    seat.key("Alt-r")
    assert recalls(seat).key == opened.containment


def test_actions_are_given_out_done_and_the_set_is_not_closed_before(sit: Sit, desk: Desk) -> None:
    seat = sit(desk)
    seat.key("Alt-r")
    screen = recalls(seat)
    seat.key("Down", "Control-k")  # PT-006 is first, and has another action
    form = screen.panel
    assert isinstance(form, FormPanel)
    seat.shot("recall/give-out")
    fill(seat, which="all 10 to reprocess", person="L2-B", due="2026-03-12")
    assert isinstance(screen.panel, SignPanel)
    seat.key("Return")
    with desk.work.book.session(readonly=True) as session:
        given = [r.fact for r in about(session, f.ContainmentActionAssigned, "CT-01")]
    assert len(given) == 10 and {(g.person, g.action) for g in given} == {("L2-B", "reprocess")}
    assert "PT-006" not in {g.inspection for g in given}
    seat.key("Control-d")
    assert "signed anew" in seat.message  # PT-001 is not noted as done: it is processed again
    seat.key("Up", "Control-d")
    fill(seat, reference="back in the re-view rack")
    seat.key("Return")
    assert "PT-006 retrieve done" in seat.message
    seat.key("Control-s")
    fill(seat, level_three="NL3-E", quality="CI-G")
    panel = screen.panel
    assert isinstance(panel, SignPanel) and any("PT-001: OPEN" in line for line in _texts(panel))
    seat.shot("recall/close")
    seat.key("Return")
    assert "still to do" in seat.message and screen.panel is panel
    with desk.work.book.session(readonly=True) as session:
        assert not every(session, f.ContainmentClosed)


def test_return_opens_the_record_and_alt_left_comes_back(sit: Sit, desk: Desk) -> None:
    seat = sit(desk)
    seat.key("Alt-r", "Down", "Return")
    assert seat.frame.here is not None and (seat.frame.here.name, seat.frame.here.key) == ("record", "PT-001")
    seat.key("Alt-Left")
    assert recalls(seat).key == "CT-01"


def test_meter_found_wrong_shows_both_estimates_side_by_side(sit: Sit, desk: Desk) -> None:
    """RM-1 supposed to read 60 % high: 1490 / 1.6 = 931.25 uW/cm2, on the day of the finding by both estimates."""
    seat = sit(desk)
    seat.frame.go("equipment", "RM-1")
    seat.wait()
    before = desk.head()
    seat.key("Control-m")
    screen = seat.frame.here
    assert isinstance(screen, MeterScreen) and isinstance(screen.panel, FormPanel)
    fill(seat, error="+60", item="UV-A channel")
    assert screen.key == "RM-1|+60 %|UV-A channel"
    view = screen._view
    assert view is not None and desk.head() == before
    (row,) = [r for r in view.endangered.all_rows if r.cells[1] == "LP-3" and r.cells[3].startswith("1490")]
    assert row.cells[4] == row.cells[5] == "✗ 931.2 µW/cm²" and row.cells[7].startswith("PT-001, PT-002")
    seat.shot("recall/meter")
    assert len(view.every.all_rows) >= len(view.endangered.all_rows) > 0
    while screen.list.current is not None and screen.list.current.key != row.key:
        seat.key("Down")
    seat.key("Control-r")
    assert recalls(seat).key == f"entry:{row.key}"


@pytest.mark.parametrize("text", ["", "nine", "+9 9", "-100"])
def test_an_error_that_is_none_is_refused(desk: Desk, text: str) -> None:
    form = desk.meters.error_form("RM-1", lambda _key: None)
    with pytest.raises(InputError):
        form.act({"error": text, "item": "UV-A channel"})


def test_every_kind_of_row_leads_to_what_it_recalls(desk: Desk) -> None:
    """A lamp, bath, panel, bench, batch, certificate and the dryer's reading."""
    with desk.work.book.session(readonly=True) as session:
        entries = {
            "lamp": about(session, f.ReadingRecorded, "LP-1")[-1].position,
            "panel": [r for r in every(session, f.ProcessCheckRecorded) if r.fact.check == "known-defect panel"][
                -1
            ].position,
            "bench": [r for r in every(session, f.ProcessCheckRecorded) if r.fact.object == "MT-01"][-1].position,
            "batch": every(session, f.BatchEntered)[0].position,
            "certificate": next(
                r.position for r in about(session, f.CertificateEntered, "L2-B") if r.fact.method == "PT"
            ),
            "dryer": about(session, f.ReadingRecorded, "dryer")[-1].position,
            "bath": [r for r in every(session, f.ReadingRecorded) if r.fact.quantity == "bath concentration"][
                -1
            ].position,
        }
        nothing = every(session, f.PartMoved)[-1].position
    before = desk.head()
    for name, position in entries.items():
        view = desk.recalls.recall(desk.recalls.suspect(position))
        assert view.entry == position, name
    assert desk.recalls.recall(desk.recalls.suspect(entries["certificate"])).items.count() > 10
    with pytest.raises(InputError, match="only a reading"):
        desk.recalls.suspect(nothing)
    assert desk.head() == before


@pytest.mark.parametrize(("size", "dpi"), [("1366x768", 96), ("1920x1080", 96)])
def test_nothing_is_clipped_on_the_screens_of_a_recall(
    size: str,
    dpi: int,
    day_book: Path,
    tmp_path: Path,
    display_of: Callable[[str, int], str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setenv("DISPLAY", display_of(size, dpi))
    desk = Desk(open_at(day_book, tmp_path / "copy", "17:30"), "SUP-F", papers=paper_tools(tmp_path))
    seat = Seat(desk, size)
    try:
        with desk.work.book.session(readonly=True) as session:
            entry = about(session, f.ReadingRecorded, "LP-1")[-1].position
        for screen, key in (("recalls", "CT-01"), ("recalls", f"entry:{entry}"), ("meter", "RM-1|+60 %|UV-A channel")):
            seat.frame.go(screen, key)
            seat.wait()
            seat.shot(f"recall/{size}-{screen}-{key[:5].replace(':', '')}")
            assert clipped(seat) == [], (screen, key)
    finally:
        seat.close()
        bootstrap.close(desk.work.book)


def _texts(panel: SignPanel) -> Iterator[str]:
    for widget in panel.body.winfo_children():
        if "text" in widget.keys():  # noqa: SIM118
            yield str(widget.cget("text"))
