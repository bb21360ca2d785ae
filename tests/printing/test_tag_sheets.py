"""Many tags in one file, and two tags beside each other on office paper."""

from __future__ import annotations

import time

import pytest
import zxingcpp

from ndi.domain.errors import InputError
from ndi.printing.tag import tag_pdf, tags_pdf, tags_two_up_pdf
from tests.printing.pdf_text import MM, level, page_count, page_glyphs, page_size_mm, picture, printed_lines
from tests.printing.printing_models import CREATED, tag

THREE = [tag(tag_no=number, serial=f"CCL-{number}", practice=number == 2) for number in (1, 2, 3)]
ALONE = [printed_lines(tag_pdf(model, created=CREATED)) for model in THREE]

# width and height in millimetres, landscape: ISO 216 A4; ANSI Letter is 8.5 in x 11 in
SHEETS = {"A4": (297.0, 210.0), "Letter": (279.4, 215.9)}


def test_tags_in_one_file_are_the_tags_alone_page_by_page() -> None:
    pdf = tags_pdf(THREE, created=CREATED)
    assert page_count(pdf) == 3
    assert page_size_mm(pdf) == (100.0, 150.0)
    assert [printed_lines(pdf, page) for page in range(3)] == ALONE


def test_tags_file_with_one_tag_is_that_tag() -> None:
    assert tags_pdf(THREE[:1], created=CREATED) == tag_pdf(THREE[0], created=CREATED)


@pytest.mark.parametrize("sheet", SHEETS)
def test_two_up_prints_every_line_of_both_tags_and_an_odd_one_alone(sheet: str) -> None:
    pdf = tags_two_up_pdf(THREE, sheet=sheet, created=CREATED)
    assert page_count(pdf) == 2
    assert page_size_mm(pdf) == SHEETS[sheet]
    halves = [[glyph for glyph in page_glyphs(pdf, 0) if side(glyph.x, sheet) == half] for half in (0, 1)]
    for half, model in zip(halves, ALONE, strict=False):
        text = "".join(
            glyph.char for glyph in sorted(level(half), key=lambda g: (-round(g.baseline, 1), g.x)) if glyph.char != " "
        )
        assert text == "".join(model).replace(" ", "")
    assert printed_lines(pdf, 1) == ALONE[2]


def side(x: float, sheet: str) -> int:
    return int(x > SHEETS[sheet][0] * MM / 2)


@pytest.mark.parametrize("sheet", SHEETS)
@pytest.mark.parametrize("dpi", [203, 300])
def test_two_up_both_codes_decode_and_each_tag_keeps_its_size(sheet: str, dpi: int) -> None:
    pdf = tags_two_up_pdf(THREE[:2], sheet=sheet, created=CREATED)
    assert {code.text for code in zxingcpp.read_barcodes(picture(pdf, dpi))} == {model.qr for model in THREE[:2]}
    glyphs = level(page_glyphs(pdf))
    width, height = (size * MM for size in SHEETS[sheet])
    for half in (0, 1):
        xs = [g for g in glyphs if side(g.x, sheet) == half and g.char.strip()]
        assert max(g.right for g in xs) - min(g.left for g in xs) <= 88.5 * MM  # a tag of 100 mm with margins of 6 mm
        assert max(g.top for g in xs) - min(g.bottom for g in xs) <= 150 * MM
    assert min(g.left for g in glyphs) > 20 * MM and max(g.right for g in glyphs) < width - 20 * MM
    assert min(g.bottom for g in glyphs) > 20 * MM and max(g.top for g in glyphs) < height - 20 * MM


def test_two_up_mark_of_a_practice_tag_stays_on_its_own_half() -> None:
    turned = [g for g in page_glyphs(tags_two_up_pdf(THREE[:2], sheet="A4", created=CREATED)) if g.angle]
    assert turned
    assert all(side(g.x, "A4") == 1 for g in turned)


def test_sheet_that_is_none_and_no_tags_are_refused() -> None:
    with pytest.raises(InputError, match="A4, Letter"):
        tags_two_up_pdf(THREE, sheet="A5", created=CREATED)
    with pytest.raises(InputError, match="no tag"):
        tags_pdf([], created=CREATED)


def test_tags_same_models_and_date_give_the_same_bytes() -> None:
    assert tags_two_up_pdf(THREE, sheet="A4", created=CREATED) == tags_two_up_pdf(THREE, sheet="A4", created=CREATED)


def test_hundred_tags_are_one_file_with_one_font_in_a_few_seconds() -> None:
    models = [tag(tag_no=number, serial=f"CCL-{number}") for number in range(1, 101)]
    begun = time.perf_counter()
    pdf = tags_pdf(models, created=CREATED)
    # measured 1.3 s alone on 2 cores; the limit leaves room for a busy machine
    assert time.perf_counter() - begun < 6
    assert pdf.count(b"/FontFile2") == 2  # regular and bold, once each
    assert len(pdf) < 400_000
    assert page_count(pdf) == 100
