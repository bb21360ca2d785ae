"""A part goes to a place, at the desk: what stands against its leaving is said before, refused without a reason, listed after."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from ndi.domain import facts as f
from ndi.domain.errors import InputError, NotPermitted
from ndi.gui.presenters.desk.desk import Desk
from ndi.gui.views.desk.panels import FormPanel
from ndi.gui.views.desk.recalls_screen import RecallsScreen
from ndi.services.lookup import about
from tests.gui.desk.seat import Seat
from tests.gui.desk.test_window import clipped

Sit = Callable[[Desk], Seat]

SUSPENDED = "W26-0148/T6-11020/SP-0339"  # PT-004, of the recall set of LP-3, post-cleaned
LOT = "W26-0148/T6-11053/LOT-148-MAD"
STANDS = "W26-0151/T4-21001/CC-L-0644"  # PT-019
WHY = "the case waits for it: trial fit, back tonight"


def places_of(desk: Desk, part: str) -> list[str]:
    with desk.work.book.session(readonly=True) as session:
        return [r.fact.place for r in about(session, f.PartMoved, part)]


def test_form_says_what_stands_against_leaving(reading: Desk) -> None:
    form = reading.places.form(SUSPENDED)
    assert [each.name for each in form.fields][:2] == ["place", "reason"]
    assert "PT-004 ACCEPT - SUSPENDED" in form.lines[1] and "only with a reason" in form.lines[1]
    assert form.lines[0] == "It is at post-clean."
    assert {"assembly", "stores", "shipped", "quarantine", "PT booth"} <= set(form.fields[0].choices)
    assert len(reading.places.form(STANDS).lines) == 1
    assert "piece" in [each.name for each in reading.places.form(LOT).fields]
    with pytest.raises(InputError, match="put the bar on the part"):
        reading.places.form("")


def test_part_under_the_bar_leaves_with_a_reason_and_stands_above_the_recall_sets(sit: Sit, desk: Desk) -> None:
    seat = sit(desk)
    before = places_of(desk, SUSPENDED)
    seat.frame.go("work orders", SUSPENDED)
    seat.wait()
    seat.key("Control-g")
    panel = seat.frame.here.panel  # type: ignore[union-attr]
    assert isinstance(panel, FormPanel)
    seat.shot("places/form")
    panel.set("place", "stores")
    panel.go.focus_set()
    seat.key("Return")
    assert "PT-004 ACCEPT - SUSPENDED" in seat.message + panel_words(panel)
    assert places_of(desk, SUSPENDED) == before  # refused; the form is still there, with what was typed
    seat.shot("places/refused")
    panel = seat.frame.here.panel  # type: ignore[union-attr]
    assert isinstance(panel, FormPanel)
    panel.set("reason", WHY)
    panel.go.focus_set()
    seat.key("Return")
    assert places_of(desk, SUSPENDED) == [*before, "stores"]
    seat.frame.go("recalls")
    seat.wait()
    screen = seat.frame.here
    assert isinstance(screen, RecallsScreen)
    said = str(screen.left.cget("text"))
    assert (
        said.splitlines()[0].startswith("LEFT EARLY: W26-0148/T6-11031/OPC-0205 at assembly: trial fit") and WHY in said
    )
    assert screen.left.winfo_viewable() and screen.left.winfo_y() < screen.sets.winfo_y()
    assert clipped(seat) == []
    seat.shot("places/recalls")


def panel_words(panel: FormPanel) -> str:
    """Every word that the form shows."""
    words, todo = [], [panel.winfo_toplevel()]
    while todo:
        widget = todo.pop()
        todo += widget.winfo_children()
        try:
            words.append(str(widget.cget("text")))
        except Exception:  # a widget without a text
            continue
    return " ".join(words)


def test_refusal_is_kept_with_its_reason(desk: Desk) -> None:
    act = desk.places.form(SUSPENDED).act({"place": "shipped", "reason": ""})
    with pytest.raises(NotPermitted, match="is scanned to shipped only with a reason"):
        desk.carry_out(act)
    with desk.work.book.session(readonly=True) as session:
        refused = session.entry(session.head().position).fact
    assert isinstance(refused, f.ActionRefused) and "only with a reason" in refused.message


def test_handover_begins_with_what_left_early(reading: Desk) -> None:
    listing, _ = reading.handover.lines()
    kinds = [row.cells[1] for row in listing.all_rows]
    first = kinds.index("left early")
    assert set(kinds[:first]) <= {"serious finding"}


def test_checks_screen_says_how_old_the_copies_are(reading: Desk) -> None:
    assert reading.checks.due()[1].endswith("No backup of this book was ever made. Never exported.")
