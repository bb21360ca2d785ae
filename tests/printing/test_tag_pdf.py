"""The tag as paper: read back, decoded and measured with libraries that did not write it."""

from __future__ import annotations

import functools
import itertools
import re
import subprocess
import sys
from datetime import UTC, datetime, timedelta, timezone
from typing import Any

import pytest
import zxingcpp

from ndi.domain.check_code import check_code, parse_qr
from ndi.domain.errors import InputError
from ndi.printing.tag import tag_lines, tag_pdf
from ndi.services.report_models import CHECK_CODE_LABEL, PRACTICE_TAG, TAG_WORDS
from tests.printing.pdf_text import MM, baselines, level, page_count, page_glyphs, page_size_mm, picture, printed_lines
from tests.printing.printing_models import CREATED, TAGS, tag

PAPER_WIDTH, PAPER_HEIGHT = 100 * MM, 150 * MM

# words that are never a statement on a part; UNSERVICEABLE is another word, "release to service" is denied
NEVER = re.compile(r"\b(serviceable|airworthy|overhauled|ok|okay|good|pass|passed)\b", re.IGNORECASE)

every_tag = pytest.mark.parametrize("changes", TAGS.values(), ids=TAGS.keys())


@functools.cache
def _printed(name: str) -> bytes:
    return tag_pdf(tag(**TAGS[name]), created=CREATED)


def pdf_of(changes: dict[str, Any]) -> bytes:
    """The tag of these changes, printed once for all tests."""
    return _printed(next(name for name, known in TAGS.items() if known is changes))


@every_tag
def test_tag_read_back_has_exactly_its_lines_in_order_and_the_check_code(changes: dict[str, Any]) -> None:
    printed = printed_lines(pdf_of(changes))
    code_lines = [line for line in printed if line == CHECK_CODE_LABEL or re.fullmatch("[0-9A-HJKMNP-TV-Z]{8}", line)]
    assert len(code_lines) == 2
    others = [line for line in printed if line not in code_lines]
    assert tuple(others) == tag_lines(tag(**changes))
    assert check_code(others) == code_lines[1]


@every_tag
@pytest.mark.parametrize("dpi", [203, 300])
def test_tag_qr_decodes_from_the_printed_dots(changes: dict[str, Any], dpi: int) -> None:
    found = zxingcpp.read_barcodes(picture(pdf_of(changes), dpi))
    model = tag(**changes)
    assert [code.text for code in found] == [f"ndi:{model.book_id}:{model.tag_no}:{model.record_hash[:16]}"]
    assert parse_qr(found[0].text) == (model.book_id, model.tag_no, model.record_hash[:16])


@every_tag
def test_tag_nothing_leaves_the_paper_and_no_lines_touch(changes: dict[str, Any]) -> None:
    glyphs = [glyph for glyph in level(page_glyphs(pdf_of(changes))) if glyph.char.strip()]
    for glyph in glyphs:
        assert glyph.left >= 4 * MM and glyph.right <= PAPER_WIDTH - 4 * MM, glyph
        assert glyph.bottom >= 2 * MM and glyph.top <= PAPER_HEIGHT - 2 * MM, glyph
    for one, other in itertools.combinations(glyphs, 2):
        overlap_x = min(one.right, other.right) - max(one.left, other.left)
        overlap_y = min(one.top, other.top) - max(one.bottom, other.bottom)
        # neighbours in a word may reach under each other (R and J), lines may not touch
        neighbours = one.baseline == other.baseline
        allowed = 0.05 * (one.top - one.bottom) if neighbours else 0.1
        assert not (overlap_x > allowed and overlap_y > 0.2), (one, other)


@every_tag
def test_tag_text_keeps_clear_of_the_hole_and_of_the_qr_quiet_zone(changes: dict[str, Any]) -> None:
    pdf = pdf_of(changes)
    glyphs = [glyph for glyph in level(page_glyphs(pdf)) if glyph.char.strip()]
    hole_x, hole_y, clear = 50 * MM, PAPER_HEIGHT - 9 * MM, 5 * MM
    dots = zxingcpp.read_barcodes(picture(pdf, 300))[0].position
    corners = [dots.top_left, dots.top_right, dots.bottom_left, dots.bottom_right]
    scale = 72 / 300
    left, right = min(c.x for c in corners) * scale, max(c.x for c in corners) * scale
    top, bottom = (PAPER_HEIGHT - y * scale for y in (min(c.y for c in corners), max(c.y for c in corners)))
    quiet = 4 * (right - left) / 33  # four modules (ISO/IEC 18004), at least, of a code of up to 33
    assert right - left >= 18 * MM
    for glyph in glyphs:
        assert max(abs(glyph.left - hole_x), abs(glyph.right - hole_x), abs(glyph.baseline - hole_y)) > clear
        beside = glyph.right < left - quiet or glyph.left > right + quiet
        assert beside or glyph.bottom > top + quiet or glyph.top < bottom - quiet, glyph


@every_tag
def test_tag_smallest_print_can_be_read(changes: dict[str, Any]) -> None:
    capitals = [g.top - g.bottom for g in level(page_glyphs(pdf_of(changes))) if g.char in "EHT"]
    assert min(capitals) >= 5.5 * 0.72  # capitals of a 5.5 point face


@every_tag
def test_tag_same_model_and_date_give_the_same_bytes(changes: dict[str, Any]) -> None:
    assert tag_pdf(tag(**changes), created=CREATED) == pdf_of(changes)


def test_tag_other_date_or_value_gives_other_bytes() -> None:
    assert tag_pdf(tag(), created=CREATED) != tag_pdf(tag(), created=CREATED + timedelta(seconds=1))
    assert tag_pdf(tag(), created=CREATED) != tag_pdf(tag(quantity=2), created=CREATED)


def test_tag_same_bytes_in_another_process() -> None:
    """Nothing of the run (hash seeds, order of imports) gets into the file."""
    script = (
        "import hashlib; from tests.printing.printing_models import CREATED, tag; from ndi.printing.tag import tag_pdf;"
        "print(hashlib.sha256(tag_pdf(tag(), created=CREATED)).hexdigest())"
    )
    runs = [
        subprocess.run(
            [sys.executable, "-c", script], env={"PYTHONHASHSEED": seed}, capture_output=True, text=True, check=True
        ).stdout
        for seed in ("1", "2")
    ]
    assert runs[0] == runs[1]


def test_tag_is_one_page_of_100_by_150_mm() -> None:
    pdf = tag_pdf(tag(), created=CREATED)
    assert page_count(pdf) == 1
    assert page_size_mm(pdf) == (100.0, 150.0)


def test_tag_creation_time_without_zone_is_refused() -> None:
    with pytest.raises(InputError, match="has no zone"):
        tag_pdf(tag(), created=CREATED.replace(tzinfo=None))


def test_tag_creation_time_of_another_zone_is_kept() -> None:
    local = datetime(2026, 3, 10, 16, 36, 12, tzinfo=timezone(timedelta(hours=-5)))
    assert b"D:20260310163612-05'00" in tag_pdf(tag(), created=local)
    assert local.astimezone(UTC) == CREATED


# --- words ---


@pytest.mark.parametrize(("disposition", "word"), [(d, w) for d, words in TAG_WORDS.items() for w in words])
def test_tag_word_is_the_largest_print(disposition: str, word: str) -> None:
    waits = "closing UV-A reading of LP-5" if word.endswith("PROVISIONAL") else None
    pdf = tag_pdf(tag(disposition=disposition, tag_word=word, waits_for=waits), created=CREATED)
    glyphs = [glyph for glyph in page_glyphs(pdf) if glyph.char.isalpha()]
    tallest = max(glyph.top - glyph.bottom for glyph in glyphs if glyph.char in "ET")
    line = next(line for line in baselines(glyphs) if any(g.top - g.bottom == tallest for g in line if g.char in "ET"))
    assert "".join(glyph.char for glyph in line) == re.sub("[^A-Z]", "", word)


@every_tag
def test_tag_never_calls_a_part_fit(changes: dict[str, Any]) -> None:
    for line in printed_lines(pdf_of(changes)):
        assert not NEVER.search(line), line


def test_the_forbidden_words_test_can_fail() -> None:
    assert NEVER.search("Part is OK") and NEVER.search("serviceable") and NEVER.search("PASS")
    assert not NEVER.search("UNSERVICEABLE") and not NEVER.search("SPLIT PASSAGE")


def test_tag_says_that_it_is_no_release_and_what_the_code_guards_against() -> None:
    printed = printed_lines(tag_pdf(tag(), created=CREATED))
    assert "Inspection result only. Not a release to service; other inspections and work may be open." in printed
    assert "It guards against copying errors, not against forgery: compare with the record book." in printed


def test_tag_copy_number_is_printed() -> None:
    assert printed_lines(tag_pdf(tag(copy=1), created=CREATED))[0] == "TAG 5512 ORIGINAL"
    assert printed_lines(tag_pdf(tag(copy=2), created=CREATED))[0] == "TAG 5512 COPY 2"


def test_tag_provisional_prints_what_it_waits_for_right_under_the_word() -> None:
    printed = printed_lines(pdf_of(TAGS["provisional"]))
    assert printed[1:4] == ["ACCEPT - PROVISIONAL", "WAITS FOR closing UV-A reading of lamp LP-5 at", "15 in, booth PT"]


def test_tag_accents_and_signs_come_back_as_typed() -> None:
    text = " ".join(printed_lines(pdf_of(TAGS["accents"])))
    assert "Bielle forgée, traitée à 180 °C ± 5 °C, émaillée µ²" in text
    assert "É-Ł-Ż-ß" in text


def test_tag_decomposed_accents_print_and_code_like_composed_ones() -> None:
    composed, decomposed = tag(description="forg\u00e9e"), tag(description="forge\u0301e")
    assert composed.check_code == decomposed.check_code
    assert tag_pdf(composed, created=CREATED) == tag_pdf(decomposed, created=CREATED)


# --- practice ---


def test_practice_tag_has_the_mark_across_and_in_two_bars() -> None:
    glyphs = page_glyphs(pdf_of(TAGS["practice"]))
    turned = "".join(glyph.char for glyph in glyphs if glyph.angle != 0)
    assert turned.strip() == PRACTICE_TAG
    diagonal = [glyph for glyph in glyphs if glyph.angle != 0]
    assert max(g.right for g in diagonal) - min(g.left for g in diagonal) > 0.7 * PAPER_WIDTH
    assert max(g.top for g in diagonal) - min(g.bottom for g in diagonal) > 0.6 * PAPER_HEIGHT
    printed = printed_lines(pdf_of(TAGS["practice"]))
    assert printed.count(PRACTICE_TAG) == 2
    assert printed[0] == "PRACTICE 5512 ORIGINAL"


def test_real_tag_has_no_trace_of_practice_and_another_check_code() -> None:
    assert "PRACTICE" not in " ".join(printed_lines(tag_pdf(tag(), created=CREATED)))
    assert all(glyph.angle == 0 for glyph in page_glyphs(tag_pdf(tag(), created=CREATED)))
    assert tag().check_code != tag(practice=True).check_code


# --- what is refused ---


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"disposition": "NO DECISION", "tag_word": "NO DECISION"}, "no tag is printed for NO DECISION"),
        ({"disposition": "SCRAP", "tag_word": "SCRAP"}, "no tag is printed for SCRAP"),
        ({"disposition": "REJECT"}, "a tag of REJECT cannot say 'ACCEPT'"),
        ({"disposition": "SUSPENDED"}, "a tag of SUSPENDED cannot say 'ACCEPT'"),
        ({"tag_word": "ACCEPT - PROVISIONAL"}, "goes with the reading that it waits for"),
        ({"waits_for": "a reading"}, "goes with the reading that it waits for"),
        ({"copy": 0}, "copy 0"),
        ({"quantity": 0}, "quantity 0"),
    ],
)
def test_tag_model_that_contradicts_itself_is_refused(changes: dict[str, Any], says: str) -> None:
    with pytest.raises(InputError, match=re.escape(says)):
        tag(**changes)


def test_tag_character_that_the_font_lacks_is_refused_by_name() -> None:
    with pytest.raises(InputError, match=r"U\+66F2.*correct the value"):
        tag_pdf(tag(description="曲軸"), created=CREATED)


def test_tag_more_text_than_can_be_read_is_refused_not_clipped() -> None:
    with pytest.raises(InputError, match="shorten conditions and exceptions"):
        tag_pdf(tag(conditions="inspect again at 500 h; " * 80), created=CREATED)


def test_tag_more_and_more_conditions_print_in_full_until_refused() -> None:
    longest = 0
    for count in range(1, 400, 12):
        model = tag(conditions="; ".join(f"condition {number}" for number in range(count)))
        try:
            printed = " ".join(printed_lines(tag_pdf(model, created=CREATED)))
        except InputError:
            break
        assert f"condition {count - 1}" in printed
        longest = count
    assert 20 < longest < 300


# --- speed ---


def test_the_library_is_not_imported_before_a_tag_is_drawn() -> None:
    loaded = (
        "import sys, ndi.printing.tag, ndi.printing.record; print('fpdf' in sys.modules, 'zxingcpp' in sys.modules)"
    )
    run = subprocess.run([sys.executable, "-c", loaded], capture_output=True, text=True, check=True)
    assert run.stdout.split() == ["False", "False"]
