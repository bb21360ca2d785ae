"""Reports from the desk by keys: each form writes its file; an outage from blank forms to the second person."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from ndi.domain import facts as f
from ndi.domain.errors import InputError
from ndi.gui.presenters.desk.acts import Act, Form
from ndi.gui.presenters.desk.desk import Desk
from ndi.gui.views.desk.panels import FormPanel, SignPanel
from ndi.services import recording
from tests import build as b
from tests.gui.desk.seat import Seat
from tests.printing.pdf_text import words

Sit = Callable[[Desk], Seat]


def written(desk: Desk, form: Form, folder: Path, **typed: str) -> str:
    """A form handed over as it is, and what stands on the paper."""
    values = {field.name: field.value for field in form.fields} | typed | {"file": str(folder / "paper.pdf")}
    assert "written to" in desk.carry_out(form.act(values))
    return words((folder / "paper.pdf").read_bytes())


def test_each_report_is_written_where_the_form_says(desk: Desk, tmp_path: Path) -> None:
    forms = {
        "ENGINE INSPECTION REPORT": desk.reports.engine_form("W26-0148"),
        "EVIDENCE PACK": desk.reports.record_evidence_form("MT-001"),
        "HANDOVER SHEET": desk.reports.handover_form(),
        "VERIFICATION SHEET": desk.verification.sheet_form(),
        "RECALL LIST CT-01": desk.reports.recall_form("CT-01"),
        "NOTICE OF RECALL CT-01": desk.reports.letters_form("CT-01"),
        "CALIBRATION AND CERTIFICATE CALENDAR": desk.reports.calendar_form(),
    }
    for title, form in forms.items():
        assert written(desk, form, tmp_path).startswith(title)
    part = "W26-0148/T6-10101/R-7744"
    assert f"part {part}" in written(desk, desk.reports.part_form(part), tmp_path)


def test_sample_is_drawn_by_what_was_typed(desk: Desk, tmp_path: Path) -> None:
    said = written(desk, desk.reports.sample_form(), tmp_path, count="2", seed="blue", method="MT")
    assert "sample of 2 from 34 records, drawn by blue" in said
    for typed in ({"count": "two"}, {"count": "99"}, {"since": "10 March"}):
        with pytest.raises(InputError):
            written(desk, desk.reports.sample_form(), tmp_path, **typed)


def test_without_a_choice_nothing_is_printed(desk: Desk) -> None:
    for make in (desk.reports.engine_form, desk.reports.part_form, desk.reports.recall_form, desk.outages.next_of):
        with pytest.raises(InputError, match="choose"):
            make("")


def test_keys_of_the_screens_open_their_reports(sit: Sit, desk: Desk, tmp_path: Path) -> None:
    """On each screen Ctrl+P (on handover Ctrl+L, beside the shift sheet) opens the form; Return in it writes the file."""
    seat = sit(desk)
    for screen, key, start in (
        ("work orders", "Control-p", "ENGINE INSPECTION REPORT"),
        ("checks", "Control-p", "CALIBRATION AND CERTIFICATE CALENDAR"),
        ("handover", "Control-l", "HANDOVER SHEET"),
        ("recalls", "Control-p", "RECALL LIST CT-01"),
        ("verification", "Control-p", "VERIFICATION SHEET"),
    ):
        seat.frame.go(screen)
        seat.wait()
        seat.key(key)
        panel = seat.frame.here.panel if seat.frame.here else None
        assert isinstance(panel, FormPanel), screen
        seat.shot(f"report-{screen.replace(' ', '-')}")
        path = tmp_path / f"{screen}.pdf"
        panel.set("file", str(path))
        panel.hand_over()
        seat.wait()
        assert "written to" in seat.message, seat.message
        assert words(path.read_bytes()).startswith(start)


def test_an_outage_from_blank_forms_to_the_second_person(sit: Sit, desk: Desk, tmp_path: Path) -> None:
    """SUP-F prints, declares and ties; SUP-F may not compare; L2-A does, by keys."""
    seat = sit(desk)
    seat.key("Key-F10", "Control-o")
    screen = seat.frame.here
    assert screen is not None and screen.name == "outages"
    seat.key("Control-p")
    panel = screen.panel
    assert isinstance(panel, FormPanel)
    panel.set("file", str(tmp_path / "forms.pdf"))
    panel.hand_over()
    seat.wait()
    assert "OF-0001 to OF-0005" in seat.message
    seat.key("Control-n")
    panel = screen.panel
    assert isinstance(panel, FormPanel)
    for name, text in (("began", "17:00"), ("ended", "17:20"), ("why", "no power"), ("forms", "OF-0002")):
        panel.set(name, text)
    panel.hand_over()
    seat.wait()
    assert "1 sheet to type in" in seat.message
    typed = recording.record(
        desk.work, [f.BoothClosed("MT booth", "L2-A")], "SUP-F", when=b.at("17:10"), why="written on OF-0002, no power"
    )
    form = desk.outages.next_of("OF-0002")
    assert isinstance(form, Form)
    values = {"entries": str(typed[0].position), "written_by": "L2-A", "paper": "binder 3", "picture": ""}
    assert "a second person compares" in desk.carry_out(form.act(values))
    screen.refresh()
    seat.wait()
    seat.key("Return")
    assert isinstance(screen.panel, SignPanel)
    seat.shot("outage-compare")
    seat.key("Return")
    assert "SUP-F typed OF-0002 in" in seat.message
    seat.key("Escape")
    desk.stand("L2-A")
    seat.key("Return", "Return")
    assert "OF-0002 compared with its entries by L2-A" in seat.message
    seat.shot("outages")
    listing, said = desk.outages.listing()
    assert said == "1 sheet written on in outages, 0 not compared yet"
    assert "compared" in listing.all_rows[0].cells[2]


def test_a_sheet_that_differs_waits_on(desk: Desk) -> None:
    from ndi.services import outage_paper

    outage_paper.number_forms(desk.work, "mt", 1, "SUP-F")
    outage_paper.declare(desk.work, b.at("17:00"), b.at("17:20"), "no power", ["OF-0001"], "SUP-F")
    (entry,) = recording.record(
        desk.work, [f.BoothClosed("MT booth", "L2-A")], "SUP-F", when=b.at("17:10"), why="written on OF-0001"
    )
    outage_paper.tie(desk.work, "OF-0001", "SUP-F", "L2-A", [entry.position], "binder 3")
    desk.stand("L2-A")
    form = desk.outages.amend_form("OF-0001")
    values = {field.name: field.value for field in form.fields}
    assert values["began"].endswith("17:00") and values["forms"] == "OF-0001"
    assert (
        desk.carry_out(form.act(values | {"ended": "17:25", "why": "the power came back later"})) == "OUT-01 put right"
    )
    act = desk.outages.differs_form("OF-0001").act({"differences": "17:11 on the sheet"})
    assert isinstance(act, Act) and "Differs: 17:11 on the sheet" in act.notes
    assert "correct the entries" in desk.carry_out(act)
    listing, _ = desk.outages.listing()
    assert listing.all_rows[0].act and "17:11 on the sheet" in listing.all_rows[0].cells
