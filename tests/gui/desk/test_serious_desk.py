"""Serious findings at the desk: the clock from first sight, red after a day, judged, reported; a release only noted."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from datetime import timedelta
from pathlib import Path

import pytest

from ndi import bootstrap
from ndi.day.clock import SetClock
from ndi.domain import facts as f
from ndi.domain.errors import InputError, NotPermitted
from ndi.gui.presenters.desk.desk import Desk
from ndi.gui.views.desk.panels import FormPanel, SignPanel
from ndi.gui.views.desk.serious_screen import SeriousScreen
from ndi.services.lookup import every
from tests.gui.desk.conftest import OFFSET, paper_tools
from tests.gui.desk.seat import Seat
from tests.gui.desk.test_recall_desk import fill
from tests.gui.desk.test_window import clipped
from tests.gui.window import instant

Sit = Callable[[Desk], Seat]
FIRST_SEEN = "08:24"  # IND-01 of the day's indications: the crankshaft's fatigue crack


@pytest.fixture
def later(day_book: Path, tmp_path: Path) -> Iterator[Desk]:
    """The desk on the morning after, a minute past a day since the crack was seen."""
    book = tmp_path / day_book.name
    shutil.copy(day_book, book)
    shutil.copytree(bootstrap.key_folder(day_book), bootstrap.key_folder(book))
    clock = SetClock(instant(FIRST_SEEN) + timedelta(hours=24, minutes=1), OFFSET)
    work = bootstrap.open_book(book, clock=clock)
    desk = Desk(work, "NL3-E", papers=paper_tools(tmp_path))
    yield desk
    bootstrap.close(work.book)


def row(desk: Desk, name: str) -> tuple[str, ...]:
    return next(row.cells for row in desk.serious.listing().all_rows if row.key == name)


def test_clock_counts_from_first_sight(reading: Desk) -> None:
    """14 CFR 145.221(a): 96 h after discovery; seen on 10 March 08:24, so due on 14 March 08:24."""
    cells = row(reading, "IND-01")
    assert cells[2:5] == ("2026-03-10 08:24", "2026-03-11 08:24", "2026-03-14 08:24")
    assert cells[1].startswith("◷ not judged") and cells[5] == "14 h 54 min"  # at 17:30
    assert reading.serious.red() == 0
    said = {line.label: line.value for line in reading.serious.finding("IND-01").lines}
    assert said["Engine"] == "Tavelin 6H-515 6H-20417" and said["Time since overhaul"].startswith("1912")
    assert (said["Type"], said["Length"]) == ("fatigue crack", "0.31 in")
    assert said["Aircraft registration"] == said["Apparent cause"] == "NOT RECORDED"


def test_a_crack_without_a_judgement_is_red_after_a_day_on_every_screen(sit: Sit, later: Desk) -> None:
    assert row(later, "IND-01")[1] == "✗ RED: not judged" and later.serious.red() == 1
    assert later.serious.listing().all_rows[0].key == "IND-01"
    seat = sit(later)
    seat.frame._look_for_alarms()
    seat.wait()
    seat.key("Key-F2")
    assert str(seat.frame._nav["serious"].cget("text")) == "Alt+S  ✗ 1 serious, late"
    assert str(seat.frame._nav["serious"].cget("style")) == "Late.TButton"
    seat.shot("serious/red-elsewhere")
    seat.key("Alt-s")
    screen = seat.frame.here
    assert isinstance(screen, SeriousScreen)
    seat.shot("serious/red")
    seat.key("Control-k")
    assert isinstance(screen.panel, FormPanel)
    seat.shot("serious/judge")
    fill(seat, judgement="serious: it is reported", reason="crankshaft, engine stops", cause="fatigue from the fillet")
    assert isinstance(screen.panel, SignPanel)
    seat.key("Return")
    assert "judged serious by NL3-E" in seat.message
    assert str(seat.frame._nav["serious"].cget("text")) == "Alt+S  Serious, release"
    assert row(later, "IND-01")[4] == "2026-03-14 08:24"  # the judgement did not move the clock
    seat.key("Control-s")
    fill(seat, reference="SDR 4", sent_to="the authority")
    seat.key("Return")
    assert row(later, "IND-01")[1] == "✓ reported SDR 4"
    seat.key("Return")
    assert seat.frame.here is not None and (seat.frame.here.name, seat.frame.here.key) == ("record", "MT-001")


def test_not_serious_is_kept_with_name_and_reason(later: Desk) -> None:
    form = later.serious.judge_form("IND-01")
    with pytest.raises(InputError, match="Reason"):
        form.act({"judgement": "not serious", "reason": ""})
    later.stand("L2-A")
    with pytest.raises(NotPermitted, match="level 3"):
        later.carry_out(form.act({"judgement": "not serious", "reason": "found at overhaul"}))
    later.stand("NL3-E")
    later.carry_out(form.act({"judgement": "not serious", "reason": "found at overhaul"}))
    with later.work.book.session(readonly=True) as session:
        (kept,) = every(session, f.SeriousnessJudged)
    assert (kept.fact.serious, kept.fact.person, kept.fact.reason) == (False, "NL3-E", "found at overhaul")
    assert later.serious.red() == 0 and row(later, "IND-01")[1] == "✓ not serious (NL3-E)"
    with pytest.raises(NotPermitted, match="not judged serious"):
        later.carry_out(later.serious.sent_form("IND-01").act({"reference": "SDR 4", "sent_to": "the authority"}))


def test_release_is_a_fact_from_outside_and_starts_the_keeping(later: Desk) -> None:
    """14 CFR 145.219(c): two years from the day of the release; three where somebody says so (145.A.55)."""
    form = later.serious.release_form("W26-0151")
    values = {"released": "2026-03-11", "reference": "8130-3 no. 7", "person": "A. Releaser"}
    act = form.act(values)
    assert act.meaning is None  # nobody signs a release here
    assert "kept to 2028-03-11" in later.carry_out(act)
    assert "kept to 2029-03-11" in later.carry_out(form.act({**values, "years": "3"}))
    rows = {row.key: row.cells for row in later.serious.releases().all_rows}
    assert rows["W26-0151"][2:] == ("2026-03-11", "8130-3 no. 7", "A. Releaser", "2029-03-11")
    assert rows["W26-0148"][2:] == ("not noted", "", "", "no end yet")
    for wrong in ({"years": "0"}, {"years": "two"}, {"released": "yesterday"}, {"reference": ""}):
        with pytest.raises(InputError):
            form.act({**values, **wrong})


@pytest.mark.parametrize("size", ["1366x768", "1920x1080"])
def test_nothing_is_clipped(
    size: str, later: Desk, display_of: Callable[[str, int], str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("DISPLAY", display_of(size, 96))
    seat = Seat(later, size)
    try:
        seat.frame._look_for_alarms()
        seat.frame.go("serious", "IND-01")
        seat.wait()
        seat.shot(f"serious/{size}")
        assert clipped(seat) == []
    finally:
        seat.close()
