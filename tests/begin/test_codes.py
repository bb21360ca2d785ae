"""Code sheets and traveller lines: every code is read back by a reader that shares nothing with the writer (zxing-cpp)."""

from __future__ import annotations

from pathlib import Path

import pypdfium2  # type: ignore[import-untyped]
import pytest
import zxingcpp
from hypothesis import given, settings
from hypothesis import strategies as st

from ndi import bootstrap
from ndi.domain import facts as f
from ndi.domain.errors import InputError
from ndi.domain.scan_codes import COMMANDS, ScanKind, parse_scan, scan_text
from ndi.printing.code_sheet import COLUMNS, ROWS
from ndi.services.code_sheets import SHEETS, code_sheet
from ndi.services.travellers import travellers
from ndi.services.workplace import Workplace
from tests.begin.conftest import Run, put
from tests.services.shop import GEAR, ORDER, Shop

DPI = 203  # of a plain label printer


def pages(pdf: bytes) -> list[tuple[str, set[str]]]:
    """Text and codes of each page as a printer of 203 dpi would show it."""
    document = pypdfium2.PdfDocument(pdf)
    found = []
    for page in document:
        image = page.render(scale=DPI / 72).to_pil()
        found.append((page.get_textpage().get_text_range(), {code.text for code in zxingcpp.read_barcodes(image)}))
    document.close()
    return found


@pytest.fixture
def stocked(empty: Workplace) -> Workplace:
    put(
        empty,
        f.PersonEntered("L2-Ä", ("inspector", "second")),
        f.PersonEntered("GONE", ("inspector",)),
        f.PersonRemoved("GONE", "left", empty.now().local.date()),
        f.BadgeAssigned("CLERK", "B-77"),
        f.EquipmentEntered("UV-1", "lamp", "MT booth"),
        f.EquipmentEntered("RM-1", "meter"),
        f.EquipmentEntered("MT booth", "station"),
        f.EquipmentEntered("B-01", "basket"),
        f.EquipmentEntered("TR-1", "ring"),
    )
    return empty


@pytest.mark.parametrize("kind", SHEETS)
def test_every_code_of_a_sheet_is_read_back_and_stands_in_words_too(stocked: Workplace, kind: str) -> None:
    model = code_sheet(stocked, kind)
    printed = pages(bootstrap.code_sheet_pdf(model, stocked))
    assert len(printed) == -(-len(model.cells) // (COLUMNS * ROWS))
    assert set().union(*(codes for _, codes in printed)) == {cell.code for cell in model.cells}
    words = " ".join(" ".join(text.split()) for text, _ in printed)
    for cell in model.cells:
        assert cell.name in words
        assert parse_scan(cell.code)
    assert "PRACTICE BOOK" in words


def test_sheet_of_people_shows_the_badge_and_leaves_out_who_was_removed(stocked: Workplace) -> None:
    cells = {cell.name: cell.code for cell in code_sheet(stocked, "people").cells}
    assert cells == {"CLERK": "badge:B-77", "L2-Ä": "person:L2-Ä"}


def test_baskets_and_places_may_be_named_other_kinds_not(stocked: Workplace) -> None:
    assert [cell.name for cell in code_sheet(stocked, "baskets", ["B-02", "B-01"]).cells] == ["B-01", "B-02"]
    with pytest.raises(InputError, match="from the book alone"):
        code_sheet(stocked, "lamps", ["UV-9"])


def test_sheet_of_nothing_is_refused(empty: Workplace) -> None:
    with pytest.raises(InputError, match="holds no lamps"):
        code_sheet(empty, "lamps")


def test_long_names_stay_inside_their_cell(empty: Workplace) -> None:
    """A name of one long word and a name of many words are both set smaller or wrapped, never over the next code."""
    put(
        empty,
        f.EquipmentEntered("X" * 40, "lamp"),
        f.EquipmentEntered("a lamp with a very long name for a small shop", "lamp", "W" * 60),
    )
    model = code_sheet(empty, "lamps")
    ((_, codes),) = pages(bootstrap.code_sheet_pdf(model, empty))
    assert codes == {cell.code for cell in model.cells}


def test_command_line_writes_only_pdf(stocked: Workplace, tmp_path: Path, ndi: Run) -> None:
    book = tmp_path / "empty.ndibook"
    reading = stocked.book.session
    with reading(readonly=True) as session:
        head = session.head()
    assert ndi("codes", book, "lamps", "--out", book).code == 2
    # closing a book may fold its log into the file, so its end is compared, not its bytes
    with reading(readonly=True) as session:
        assert session.head() == head
    assert book.read_bytes().startswith(b"SQLite format 3")
    assert (
        ndi("codes", book, "commands", "--out", tmp_path / "c.pdf").out
        == f"{len(COMMANDS)} codes in {tmp_path / 'c.pdf'}\n"
    )


# --- the text of codes --------------------------------------------------------------------------------


@settings(derandomize=True)
@given(
    kind=st.sampled_from([kind for kind in ScanKind if kind is not ScanKind.COMMAND]),
    name=st.text(min_size=1, max_size=40),
)
def test_a_name_comes_back_as_it_was_or_is_refused(kind: ScanKind, name: str) -> None:
    try:
        text = scan_text(kind, name)
    except InputError:
        return
    assert parse_scan(f" {text}\r\n") == (kind, name)


@settings(derandomize=True)
@given(st.text(max_size=60))
def test_any_text_that_is_scanned_is_read_or_refused_with_words(text: str) -> None:
    try:
        assert scan_text(*parse_scan(text)) == text.strip()
    except InputError as error:
        assert str(error)


@pytest.mark.parametrize(
    "text", ["", "lamp:", ":UV-1", "UV-1", "ndi:BOOK:1:0123456789abcdef", "command:START LUNCH", "LAMP:UV-1"]
)
def test_what_is_no_code_of_the_shop_is_refused(text: str) -> None:
    with pytest.raises(InputError):
        parse_scan(text)


# --- traveller lines ----------------------------------------------------------------------------------


def test_traveller_says_part_method_state_and_its_code_is_the_part(shop: Shop) -> None:
    shop.gear()
    shop.sign("MT-001")
    model = travellers(shop.work, work_order=ORDER)
    ((text, codes),) = pages(bootstrap.traveller_pdf(model, shop.work))
    words = " ".join(text.split())
    (line,) = [line for line in model.lines if line.part_no == GEAR]
    assert codes == {line.code for line in model.lines}
    assert line.code == f"part:{shop.row('MT-001').part}"
    for part in (
        GEAR,
        line.description,
        line.item,
        ORDER,
        "MT-001: ACCEPT - PROVISIONAL",
        "state when printed",
        "PRACTICE",
        "not a tag",
        model.head,
    ):
        assert part in words
    assert [need.method for need in line.needs] == [need.method for need in _required(shop.work, GEAR)]


def _required(work: Workplace, part_no: str) -> tuple:  # type: ignore[type-arg]
    with work.book.session(readonly=True) as session:
        return work.master(session, part_no).required


def test_traveller_before_any_record_says_so(shop: Shop) -> None:
    shop.gear()
    part = shop.row("MT-001").part
    open_one = travellers(shop.work, [part]).lines[0]
    assert (open_one.state, open_one.needs[0].state) == ("NO DECISION", "MT-001: NO DECISION")
    other = f.PartListed(f"{ORDER}/{GEAR}/CG-9", ORDER, GEAR, 1, "CG-9")
    shop.record(other, by="RCV-H")
    assert travellers(shop.work, [other.part]).lines[0].needs[0].state == "no record yet"


def test_many_lines_and_a_part_with_two_methods_take_more_pages(shop: Shop) -> None:
    shop.record(
        *(f.PartListed(f"{ORDER}/T6-12001/C-{n}", ORDER, "T6-12001", 1, f"C-{n}") for n in range(12)), by="RCV-H"
    )
    model = travellers(shop.work, work_order=ORDER)
    printed = pages(bootstrap.traveller_pdf(model, shop.work))
    assert len(printed) == 2
    assert set().union(*(codes for _, codes in printed)) == {line.code for line in model.lines}
    text = " ".join(printed[0][0].split())
    for need in _required(shop.work, "T6-12001"):
        assert f"{need.method} {need.technique}" in text


def test_traveller_of_an_empty_work_order_is_refused(shop: Shop) -> None:
    with pytest.raises(InputError, match="holds no part"):
        travellers(shop.work, work_order="W-NONE")
