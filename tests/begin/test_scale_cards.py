"""Scale cards: true size on paper, marks of the public dictionary, codes that are read back."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import cv2
import numpy as np
import pypdfium2  # type: ignore[import-untyped]
import pytest
import zxingcpp

from ndi.domain.errors import NotFound
from ndi.domain.scale_card import BITS, CARD_OF_MARK, CARDS, MODULES, dark_modules
from ndi.printing import scale_card_sheet as sheet
from ndi.services.report_models import ScaleCardModel, ScaleCardSheetModel
from ndi.services.scale_cards import scale_cards
from tests.begin.conftest import Run
from tests.services.shop import GEAR, ORDER, Shop

DPI = 600
MM = DPI / 25.4  # pixels
WHEN = datetime(2026, 3, 10, tzinfo=UTC)
DICTIONARY = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50)


def rendered(pdf: bytes, dpi: int = DPI, page: int = 0) -> np.ndarray:  # type: ignore[type-arg]
    document = pypdfium2.PdfDocument(pdf)
    image = np.asarray(document[page].render(scale=dpi / 72).to_pil().convert("L"))
    document.close()
    return image


def model(code: str | None = "part:W-1/GEAR/CG-1") -> ScaleCardSheetModel:
    return ScaleCardSheetModel((ScaleCardModel(code, ("GEAR", "serial CG-1", "W-1")),), "BOOK", "2026-03-10", True)


def test_bits_are_those_of_the_public_dictionary() -> None:
    """Compared with the library's own picture of each mark."""
    for mark in range(len(BITS)):
        image = cv2.aruco.generateImageMarker(DICTIONARY, mark, MODULES)
        assert {(int(r), int(c)) for r, c in zip(*np.nonzero(image == 0), strict=True)} == set(dark_modules(mark))


def test_every_mark_is_on_one_card_with_a_white_edge_round_it() -> None:
    """ISO has no figure for such marks; the picture library's manual asks for a white border, one module is kept."""
    assert sorted(CARD_OF_MARK) == list(range(len(BITS)))
    for card in CARDS.values():
        module = card.mark_side / MODULES
        boxes = [(*card.marks[m], card.mark_side, card.mark_side) for m in card.marks]
        for left, top, width, height in boxes:
            assert left >= module and top >= module
            assert left + width + module <= card.width and top + height + module <= card.height
        for other in (card.code, card.window):
            if other is None:
                continue
            for left, top, width, height in boxes:
                apart_x = left - module >= other.right or left + width + module <= other.left
                apart_y = top - module >= other.bottom or top + height + module <= other.top
                assert apart_x or apart_y, (card.name, left, top)


@pytest.mark.parametrize("paper", sheet.PAPERS)
def test_marks_stand_at_their_true_size(paper: str) -> None:
    """The page drawn at 600 dots per inch by a reader of its own; every corner within two dots of where the card says."""
    image = rendered(sheet.scale_card_pdf(model(), created=WHEN, paper=paper))
    corners, ids, _ = cv2.aruco.ArucoDetector(DICTIONARY).detectMarkers(image)
    assert ids is not None and len(ids) == sum(len(card.marks) for card, _, _ in sheet.PLACES)
    for found, mark in zip(corners, ids.ravel(), strict=True):
        card = CARD_OF_MARK[int(mark)]
        wanted = [
            [((left + x) * MM, (top + y) * MM) for x, y in card.corners(int(mark))]
            for each, left, top in sheet.PLACES
            if each is card
        ]
        assert min(np.abs(found[0] - np.asarray(one)).max() for one in wanted) <= 2


def test_check_lines_are_as_long_as_they_say() -> None:
    """Dark pixels counted along each line."""
    image = rendered(sheet.scale_card_pdf(model(), created=WHEN))
    for (x, y), across in ((sheet.ACROSS, True), (sheet.DOWN, False)):
        row, column = round(y * MM), round(x * MM)
        near = image[row - 3 : row + 4].min(axis=0) if across else image[:, column - 3 : column + 4].min(axis=1)
        start = column if across else row
        dark = np.nonzero(near[start - 20 :] < 128)[0]
        run = next((int(i) for i in range(1, len(dark)) if dark[i] != dark[i - 1] + 1), len(dark))
        assert abs((dark[run - 1] - dark[0]) / MM - sheet.CHECK) < 0.25  # the ends are as wide as their stroke


@pytest.mark.parametrize(("card", "left", "top"), list(sheet.PLACES[:3]), ids=lambda v: str(v)[:9])
def test_ticks_are_a_millimetre_and_a_twentieth_of_an_inch_apart(card, left: float, top: float) -> None:  # type: ignore[no-untyped-def]
    """The distance of the ticks' middles, from a row of pixels through all of them."""
    image = rendered(sheet.scale_card_pdf(model(), created=WHEN))
    if card.window is None:
        rows = {1.0: top + card.height - 0.6, 1.27: top + 0.5}
        first, last = left + 9.5, left + card.width - 9.5
    else:
        rows = {1.0: top + card.window.bottom + 0.6, 1.27: top + card.window.top - 0.5}
        first, last = left + card.window.left - 0.5, left + card.window.right + 0.5
    for step, row in rows.items():
        dark = image[round(row * MM), round(first * MM) : round(last * MM)] < 160
        edges = np.nonzero(np.diff(dark.astype(int)))[0]
        middles = (edges[0::2] + edges[1::2]) / 2 / MM
        assert len(middles) == int((last - first - 1) / step + 1e-9) + 1
        assert np.abs(middles - middles[0] - step * np.arange(len(middles))).max() < 0.06


def test_codes_and_marks_are_read_at_the_resolution_of_a_plain_printer() -> None:
    image = rendered(sheet.scale_card_pdf(model(), created=WHEN), dpi=203)
    assert {code.text for code in zxingcpp.read_barcodes(image)} == {"part:W-1/GEAR/CG-1"}
    _, ids, _ = cv2.aruco.ArucoDetector(DICTIONARY).detectMarkers(image)
    assert set(ids.ravel()) == set(CARD_OF_MARK)


def test_card_without_a_code_has_none() -> None:
    image = rendered(sheet.scale_card_pdf(model(None), created=WHEN), dpi=203)
    assert zxingcpp.read_barcodes(image) == []


def test_long_names_stay_on_the_card(shop: Shop) -> None:
    part = "W-2026-041/" + "A" * 60 + "/" + "S" * 40
    long = ScaleCardSheetModel((ScaleCardModel(f"part:{part}", ("A" * 60, "S" * 40, "W")),), "B", "2026-03-10", False)
    image = rendered(sheet.scale_card_pdf(long, created=WHEN), dpi=300)
    assert {code.text for code in zxingcpp.read_barcodes(image)} == {f"part:{part}"}
    _, ids, _ = cv2.aruco.ArucoDetector(DICTIONARY).detectMarkers(image)
    assert set(ids.ravel()) == set(CARD_OF_MARK)


def test_cards_name_a_part_or_a_work_order_of_the_book(shop: Shop) -> None:
    part = shop.receive(GEAR, "CG-1")
    found = scale_cards(shop.work, [part, ORDER])
    assert [card.code for card in found.cards] == [f"part:{part}", f"order:{ORDER}"]
    assert found.cards[0].lines == (GEAR, "serial CG-1", ORDER) and found.practice
    assert [card.code for card in scale_cards(shop.work).cards] == [None]
    with pytest.raises(NotFound, match="no part and no work order 'W-9'"):
        scale_cards(shop.work, ["W-9"])


def test_command_line_prints_cards(shop: Shop, tmp_path: Path, ndi: Run) -> None:
    part, out = shop.receive(GEAR, "CG-1"), tmp_path / "cards.pdf"
    book = tmp_path / "book" / "shop.book"
    said = ndi("codes", book, "cards", "--name", part, "--name", ORDER, "--paper", "Letter", "--out", out)
    assert said.code == 0 and said.out.startswith("2 sheets of scale cards") and "100 %" in said.out
    pages = [rendered(out.read_bytes(), 203, page) for page in (0, 1)]
    assert [{code.text for code in zxingcpp.read_barcodes(page)} for page in pages] == [
        {f"part:{part}"},
        {f"order:{ORDER}"},
    ]
    assert ndi("codes", book, "cards", "--name", "nothing", "--out", out).code == 3
