"""What the desk shows of the demonstration day, compared with the day's own tables; no screen is needed."""

from __future__ import annotations

import csv
from collections import Counter
from pathlib import Path

import pytest
from fontTools.ttLib import TTFont

import ndi
from ndi import bootstrap
from ndi.domain.answer import Verdict
from ndi.domain.errors import InputError
from ndi.domain.vocabulary import Disposition
from ndi.gui.presenters.desk import files, marks
from ndi.gui.presenters.desk.desk import Desk
from ndi.gui.presenters.desk.listing import Column, Listing, Row

DAY = bootstrap.data_folder("demo") / "2026-03-10"


def table(name: str) -> list[dict[str, str]]:
    with (DAY / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def keys(listing: Listing) -> list[str]:
    return [row.key for row in listing.all_rows]


# --- marks ------------------------------------------------------------------------------------------


def test_every_answer_and_decision_has_a_shape_and_a_word() -> None:
    for verdict in Verdict:
        mark = marks.of_verdict(verdict)
        assert mark.shape in marks.SHAPES and mark.word == verdict
    shapes = {marks.of_verdict(verdict).shape for verdict in Verdict}
    assert len(shapes) == len(Verdict)  # told apart without reading
    for word in Disposition:
        assert marks.of_disposition(word).shape in marks.SHAPES
    assert marks.of_disposition("ACCEPT", suspended=True) == marks.Mark(marks.FAILED, "ACCEPT - SUSPENDED")
    assert marks.of_disposition("ACCEPT", provisional=True).shape == marks.WAITING


def test_the_shapes_are_in_the_font() -> None:
    font = TTFont(Path(ndi.__file__).parent / "printing" / "fonts" / "DejaVuSans.ttf")
    assert {ord(shape) for shape in marks.SHAPES} <= set(font.getBestCmap())


def test_a_list_can_show_only_what_is_to_be_done() -> None:
    listing = Listing((Column("a", 3),), (Row(("1",), "x", act=True), Row(("2",), "y")))
    assert keys(listing.only_act()) == ["x"]
    assert [row.key for row in listing.rows(1, 5)] == ["y"]


# --- search -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("typed", "kind", "leads_to"),
    [
        ("MT-012", "inspection", "record|MT-012"),
        ("mt-012", "inspection", "record|MT-012"),
        ("W26-0148", "work order", "work orders|W26-0148"),
        ("R-7744", "part", "work orders|W26-0148/T6-10101/R-7744"),
        ("r-77", "part", "work orders|W26-0148/T6-10101/R-7744"),
        ("LOT-148-RKR", "part", "work orders|W26-0148/T6-10301/LOT-148-RKR"),
        ("L2-A", "person", "people|L2-A"),
        ("LP-3", "equipment", "equipment|LP-3"),
        ("lamp:LP-3", "equipment", "equipment|LP-3"),
        ("PEN-A-118", "batch", "materials|PEN-A-118"),
        ("BEAM", "zone", "procedures|part T6-10101"),
        ("IND-02", "indication", "record|MT-006"),
        ("CT-01", "recall set", "recalls|CT-01"),
        ("PT-P-01", "document", "procedures|procedure PT-P-01"),
    ],
)
def test_search_finds_by_anything(reading: Desk, typed: str, kind: str, leads_to: str) -> None:
    listing, said = reading.search.find(typed)
    assert (kind, leads_to) in [(row.cells[0], row.key) for row in listing.all_rows]
    assert said.startswith(f"{listing.count()} found")


def test_search_finds_a_tag_by_its_number_and_says_when_there_is_nothing(reading: Desk) -> None:
    listing, _ = reading.search.find("1")
    assert "tag" in {row.cells[0] for row in listing.all_rows}
    nothing, said = reading.search.find("no such thing")
    assert nothing.count() == 0 and "Nothing begins with 'no such thing'" in said
    assert reading.search.find("   ")[1] == ""


def test_search_says_where_a_part_stands_and_where_it_is(reading: Desk) -> None:
    stands = {
        row.cells[1]: row.cells[3] for text in ("CC-R-0871", "R-7744") for row in reading.search.find(text)[0].all_rows
    }
    assert stands["CC-R-0871"] == "PT-002 ACCEPT - SUSPENDED; at post-clean"
    assert stands["R-7744"] == "MT-006 REWORK, MT-034 ACCEPT; at NDI receiving"


def test_a_scanned_code_is_looked_for_among_its_own_kind_only(reading: Desk) -> None:
    listing, _ = reading.search.find("person:L2-A")
    assert {row.cells[0] for row in listing.all_rows} == {"person"}


# --- work orders ------------------------------------------------------------------------------------


@pytest.mark.parametrize("order", ["W26-0148", "W26-0151"])
def test_every_piece_of_the_receiving_list_is_accounted_for(reading: Desk, order: str) -> None:
    """The day's own receiving list says how many there are."""
    lines = [row for row in table("receiving") if row["wo"] == order]
    view = reading.work_orders.engine(order)
    inspected = [row for row in lines if not row["reason_code"]]
    pieces, all_of_them = (sum(int(row["qty"]) for row in rows) for rows in (inspected, lines))
    assert sum(count.pieces for count in view.counts) == all_of_them
    aside = f" + {all_of_them - pieces} not to inspect" if all_of_them > pieces else ""
    assert view.balance == marks.Mark(marks.SETTLED, f"{all_of_them} received = {pieces} in a state{aside}")
    why_not = {count.mark.word: count.pieces for count in view.counts if count.mark.shape == marks.NONE}
    assert sum(why_not.values()) == all_of_them - pieces
    assert not why_not or why_not == {"REPLACE-100 mandatory replacement": 12}  # the rocker bushes
    names = Counter(row.cells[2] for row in view.parts.all_rows)
    assert names == Counter(row["serial_or_lot"] for row in lines)


def test_a_part_shows_the_methods_it_needs_and_where_each_stands(reading: Desk) -> None:
    view = reading.work_orders.part("W26-0148/T6-10101/R-7744")
    assert [(row.cells[3], row.cells[4]) for row in view.records.all_rows] == [
        ("MT-006", "▬ REWORK"),
        ("MT-034", "✓ ACCEPT"),
    ]
    cylinder = reading.work_orders.part("W26-0151/T4-22001/CY-3101")
    assert {(row.cells[0], row.cells[3]) for row in cylinder.records.all_rows} == {("PT", "PT-023"), ("MT", "")}
    assert reading.work_orders.order_of("W26-0151/T4-22001/CY-3101") == "W26-0151"


# --- records ----------------------------------------------------------------------------------------


def test_a_record_shows_every_question_with_its_answer(reading: Desk) -> None:
    view = reading.records.record("PT-001")
    assert view.answers.count() == len(view.details) > 90
    assert {"G30", "L11"} <= set(keys(view.open_answers))
    for row in view.answers.all_rows:
        answer = view.details[row.key]
        assert row.cells[1] == str(answer.mark) and answer.question.endswith("?")
        assert {line.label for line in answer.lines} >= {"Answer", "Paragraph"}
    g30 = view.details["G30"]
    assert "Ways out" in {line.label for line in g30.lines}
    assert any("containment opened" in row.cells[2] for row in g30.entries.all_rows)
    assert view.mark == marks.Mark(marks.FAILED, "HOLD-ENG - SUSPENDED")


def test_indications_are_drawn_inside_the_outline(reading: Desk) -> None:
    drawing = reading.records.record("MT-006").drawing
    (mark,) = drawing.marks
    left, bottom, right, top = drawing.size
    assert mark.name == "IND-02" and left <= mark.x <= right and bottom <= mark.y <= top
    assert mark.length == pytest.approx(0.22 * 25.4)  # 0.22 in, by the day's table; 25.4 mm to the inch by definition


def test_a_record_lists_its_entries_and_marks_what_was_corrected(reading: Desk) -> None:
    view = reading.records.record("MT-012")
    positions = [int(key) for key in keys(view.entries)]
    assert positions == sorted(positions)
    shown = " ".join(row.cells[4] for row in view.entries.all_rows)
    assert "MT-012" in shown


def test_the_list_of_records_has_all_of_them(reading: Desk) -> None:
    opened = {row["insp"] for name in ("inspections_mt", "inspections_pt") for row in table(name)}
    assert opened <= set(keys(reading.records.listing()))


# --- equipment, checks, materials, documents ------------------------------------------------------------


def test_the_recall_list_of_a_lamp(reading: Desk) -> None:
    """17 records and 18 pieces is what the day expects of LP-3."""
    view = reading.equipment.relied("LP-3")
    assert view.title.startswith("17 records, 18 pieces relied on LP-3") and view.records.count() == 17
    # LP-1 was read last at 16:28, after the last view of the day
    assert (
        reading.equipment.relied("LP-1").title
        == "0 records, 0 pieces relied on LP-1, since its last reading 2026-03-10 16:28"
    )
    assert reading.equipment.relied("RM-1").title.endswith("since its first use")


def test_a_lamp_shows_its_calendar_and_readings(reading: Desk) -> None:
    view = reading.equipment.thing("LP-3")
    assert view.is_lamp and view.calendar.all_rows[0].cells[:2] == ("Tue 2026-03-10", "✗ FAIL")
    assert view.readings.all_rows[0].cells[1] == "UV-A at 15 in"
    assert "✗ withdrawn" in {line.label: line.value for line in view.lines}["Stands"]
    out = [row for row in reading.equipment.listing().all_rows if row.key == "LP-3"]
    assert out[0].act


def test_checks_say_when_they_were_done_and_until_when_that_holds(reading: Desk) -> None:
    listing, said = reading.checks.due()
    rows = {row.key: row for row in listing.all_rows}
    integrity = rows["LP-1|integrity check"]
    # done 2026-03-04 by the table before the day; every 7 days by the procedure
    assert integrity.cells[4].startswith("2026-03-04") and integrity.cells[5] == "2026-03-11" and not integrity.act
    assert "LP-3|integrity check" not in rows  # withdrawn: nothing is due on it
    assert "checks to do. No backup" in said or "without an interval" in said
    assert reading.checks.done().count() > 0


def test_materials_show_what_each_line_draws_on(reading: Desk) -> None:
    tanks = {row.key: row.cells[1] for row in reading.materials.tanks().all_rows}
    assert tanks["Method D line"] == "PEN-D-064 + EMU-031 + DEV-a-092"
    assert reading.materials.batch("PEN-A-118").readings.count() > 0


@pytest.mark.parametrize("key", ["procedure PT-P-01", "technique MT-T-6010", "part T6-10101"])
def test_documents_are_shown_with_their_limits_and_outline(reading: Desk, key: str) -> None:
    view = reading.procedures.document(key)
    assert view.first[1].count() > 0
    assert bool(view.drawing.zones) == (not key.startswith("procedure"))
    assert any(row.key.startswith(key) for row in reading.procedures.listing().all_rows)


def test_people_show_what_they_hold(reading: Desk) -> None:
    view = reading.persons.person("L2-B")
    vision = next(row for row in view.held.all_rows if row.cells[0] == "vision")
    assert vision.cells[4] == "◷ valid, ends in 21 d"  # to 2026-03-31, seen on 2026-03-10
    assert "L2-A" in reading.people()


# --- files ------------------------------------------------------------------------------------------


def test_paths_are_completed_and_folders_listed(tmp_path: Path) -> None:
    (tmp_path / "receiving-1.csv").touch()
    (tmp_path / "receiving-2.csv").touch()
    (tmp_path / "other.txt").touch()
    (tmp_path / "folder").mkdir()
    assert files.completed(f"{tmp_path}/rec") == f"{tmp_path}/receiving-"
    assert files.completed(f"{tmp_path}/receiving-1") == f"{tmp_path}/receiving-1.csv"
    assert files.completed(f"{tmp_path}/nothing") == f"{tmp_path}/nothing"
    assert [line.name for line in files.folder(f"{tmp_path}/", ".csv")] == [
        "folder/",
        "receiving-1.csv",
        "receiving-2.csv",
    ]
    assert files.folder(f"{tmp_path}/absent/") == ()
    assert files.parent(f"{tmp_path}/folder/") == f"{tmp_path}/"


# --- papers -----------------------------------------------------------------------------------------


def test_papers_are_written_as_pdf_only(reading: Desk, tmp_path: Path) -> None:
    form = reading.papers.record_form("MT-006")
    paper = tmp_path / "record.pdf"
    said = reading.carry_out(form.act({"file": str(paper), "queue": ""}))
    assert paper.read_bytes().startswith(b"%PDF") and str(paper) in said
    with pytest.raises(InputError, match=r"does not end in \.pdf"):
        reading.carry_out(form.act({"file": str(tmp_path / "record.txt"), "queue": ""}))
    with pytest.raises(InputError, match="needed"):
        form.act({"file": "", "queue": ""})
