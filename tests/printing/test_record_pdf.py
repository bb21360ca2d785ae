"""The record as paper: everything of the model is there, on pages that can be told apart and read."""

from __future__ import annotations

import functools
import re
import time
from typing import Any

import pytest
from PIL import ImageChops

from ndi.printing.outline import draw_outline, drawing_height, legend_for
from ndi.printing.page import A4, Canvas
from ndi.printing.record import NOT_A_RELEASE, PRACTICE_RECORD, VERDICT_SHAPES, record_pdf
from ndi.services.report_models import AnswerLine, IndicationModel, PictureModel, ReasonLine, RecordModel, ZoneModel
from tests.printing.pdf_text import MM, level, page_count, page_glyphs, picture, printed_lines, words
from tests.printing.printing_models import CREATED, answers, photograph, record

PAPER_WIDTH, PAPER_HEIGHT = 210 * MM, 297 * MM
NEVER = re.compile(r"\b(serviceable|airworthy|overhauled|ok|okay|good|pass|passed)\b", re.IGNORECASE)

# the whole SHA-256 of no bytes at all (FIPS 180-4; NIST's examples), in groups of eight
HASH = "sha256 e3b0c442 98fc1c14 9afbf4c8 996fb924 27ae41e4 649b934c a495991b 7852b855"
LONG = "MAIN3-THROUGH-BOLT-BOSS " * 12 + "X" * 150
RECORDS: dict[str, dict[str, Any]] = {
    "rejected": {},
    "102 rules": {"answers": answers(102), "rules_asked": "102 of MT-P-01 Rev F"},
    "suspended": {
        "suspended": True,
        "word": "SUSPENDED",
        "standing": ("Suspended 2026-03-10 12:36 -05:00: lamp LP-3 read 880 µW/cm², limit 1000 µW/cm².",),
    },
    "provisional": {
        "provisional": True,
        "word": "ACCEPT - PROVISIONAL",
        "standing": ("Waits for the closing UV-A reading of LP-5.",),
        "exceptions": ("L11 NOT YET: closing reading of lamp LP-5",),
    },
    "practice": {"practice": True},
    "bare": {
        "steps": (), "shots": (), "views": (), "readings": (), "second_looks": (), "indications": (), "outline": (),
        "zones": (), "answers": (), "reasons": (), "signatures": (), "pictures": (), "attempts": (), "word": "NO DECISION",
    },
    "long values": {
        "answers": (AnswerLine("G02", "FAIL", "S", LONG, LONG, LONG, LONG, "L2-A"),) * 3,
        "reasons": (ReasonLine("G22", LONG * 60, "L2-A"),),
        "record_no": "MT-001-0123456789-0123456789-0123456789-0123456789",
        "item": "serial WWWW-MMMM-0123456789-ABCDEFGHI, lot LOT-148-RKR-0123456789, 12 pieces, after rework, twice",
        "practice": True,
    },
    "pictures": {"pictures": tuple(PictureModel(photograph(), f"picture {n} of the pin") for n in range(5))},
    "hashes": {"pictures": tuple(PictureModel(photograph(), f"MT-006/IND-{n}, 2026-03-10 08:26:20 -05:00, mixed, {HASH}") for n in range(3))},
}  # fmt: skip
every_record = pytest.mark.parametrize("changes", RECORDS.values(), ids=RECORDS.keys())


@functools.cache
def _printed(name: str) -> bytes:
    return record_pdf(record(**RECORDS[name]), created=CREATED)


def pdf_of(changes: dict[str, Any]) -> bytes:
    """The record of these changes, printed once for all tests."""
    return _printed(next(name for name, known in RECORDS.items() if known is changes))


def all_texts(model: RecordModel) -> list[str]:
    """Every text of the model that must be somewhere on the paper."""
    rows: list[Any] = [*model.steps, *model.shots, *model.views, *model.readings, *model.second_looks]
    rows += [*model.reasons, *model.signatures, *model.identity, *model.revisions, *model.answers]
    texts = [value for row in rows for value in vars(row).values() if isinstance(value, str)]
    for mark in model.indications:
        texts += [value for value in vars(mark).values() if isinstance(value, str)]
    texts += [*model.attempts, *model.exceptions, *model.standing, *(p.caption for p in model.pictures)]
    return [*texts, model.word, model.record_hash, model.head, model.rules_asked, model.item, model.part_no]


@pytest.mark.parametrize("name", ["rejected", "suspended", "provisional", "practice", "bare", "hashes"])
def test_record_every_word_of_the_model_is_printed(name: str) -> None:
    model = record(**RECORDS[name])
    printed = set(re.findall(r"\S+", words(record_pdf(model, created=CREATED))))
    for text in all_texts(model):
        assert set(text.split()) <= printed, text


def test_record_answers_stand_row_by_row_with_shape_word_question_found_limit_paragraph() -> None:
    pdf = record_pdf(record(answers=answers(102)), created=CREATED)
    starts = [line for page in range(page_count(pdf)) for line in printed_lines(pdf, page)]
    for answer in answers(102):
        shape = VERDICT_SHAPES[answer.verdict]
        opening = f"{answer.rule} {answer.severity} {shape} {answer.verdict} {' '.join(answer.text.split()[:4])}"
        assert any(line.startswith(opening) for line in starts), opening


def test_record_shapes_differ_by_verdict_and_are_the_five() -> None:
    assert len(set(VERDICT_SHAPES.values())) == 5
    assert set(VERDICT_SHAPES) == {"PASS", "FAIL", "NOT RECORDED", "NOT YET", "NOT APPLICABLE"}


def test_record_counts_of_the_answers_are_those_of_the_lines() -> None:
    text = words(record_pdf(record(answers=answers(102)), created=CREATED))
    assert "● PASS: 97, ✖ FAIL: 2, □ NOT RECORDED: 1, △ NOT YET: 1, – NOT APPLICABLE: 1" in text


@every_record
def test_record_every_page_says_whose_it_is_and_which_of_how_many(changes: dict[str, Any]) -> None:
    model, pdf = record(**changes), pdf_of(changes)
    pages = page_count(pdf)
    for page in range(pages):
        text = " ".join(printed_lines(pdf, page))
        assert f"INSPECTION RECORD {model.record_no}" in text
        assert model.word in text
        assert f"head {model.head} page {page + 1} of {pages}" in text
        assert f"Record hash {model.record_hash}" in text
        assert NOT_A_RELEASE in text


@every_record
def test_record_nothing_leaves_the_paper_and_no_texts_touch(changes: dict[str, Any]) -> None:
    pdf = pdf_of(changes)
    for page in range(page_count(pdf)):
        glyphs = [glyph for glyph in level(page_glyphs(pdf, page)) if glyph.char.strip()]
        for glyph in glyphs:
            assert glyph.left >= 14 * MM and glyph.right <= PAPER_WIDTH - 14 * MM, glyph
            assert glyph.bottom >= 4 * MM and glyph.top <= PAPER_HEIGHT - 8 * MM, glyph
        ordered = sorted(glyphs, key=lambda glyph: glyph.left)
        for number, one in enumerate(ordered):
            for other in ordered[number + 1 :]:
                if other.left >= one.right - 0.7:
                    break
                overlap_x = min(one.right, other.right) - max(one.left, other.left)
                overlap_y = min(one.top, other.top) - max(one.bottom, other.bottom)
                assert not (overlap_x > 0.7 and overlap_y > 0.3), (one, other)


@every_record
def test_record_same_model_and_date_give_the_same_bytes(changes: dict[str, Any]) -> None:
    assert record_pdf(record(**changes), created=CREATED) == pdf_of(changes)


def test_record_table_heads_are_repeated_on_every_page_of_the_table() -> None:
    pdf = record_pdf(record(answers=answers(102)), created=CREATED)
    head = "Rule Sev. Answer Question Found Limit Paragraph"
    with_rows = [
        printed_lines(pdf, page)
        for page in range(page_count(pdf))
        if any(re.match(r"[GLMPD]\d+ [SBW] ", line) for line in printed_lines(pdf, page))
    ]
    assert len(with_rows) >= 3
    assert all(head in lines for lines in with_rows)


def test_record_never_leaves_a_heading_or_table_head_at_the_foot_of_a_page() -> None:
    heads = (
        "Rule Sev.",
        "No Indication",
        "View Kind",
        "At Object",
        "Shot Kind",
        "Attempt On",
        "At Person",
        "Look About",
    )
    headings = ("Views", "Indications", "Readings", "Shots", "Second looks", "Pictures", "Decisions and signatures")
    for extra in range(0, 40, 3):
        pdf = record_pdf(record(attempts=tuple(f"Attempt {n}" for n in range(extra))), created=CREATED)
        for page in range(page_count(pdf)):
            lines = printed_lines(pdf, page)
            foot = next(number for number, line in enumerate(lines) if line.startswith("Record MT-001"))
            assert not lines[foot - 1].startswith(heads), (extra, page)
            assert lines[foot - 1] not in headings, (extra, page)


def test_record_row_taller_than_a_page_is_split_and_nothing_is_lost() -> None:
    reason = " ".join(f"word{number}" for number in range(3000))
    text = words(record_pdf(record(reasons=(ReasonLine("G22", reason, "L2-A"),)), created=CREATED))
    assert re.findall(r"word\d+", text) == reason.split()


def test_record_says_none_recorded_where_there_is_nothing() -> None:
    text = words(pdf_of(RECORDS["bare"]))
    assert text.count("None recorded.") == 3  # readings, views, indications
    assert "Not signed." in text


def test_record_character_that_the_font_lacks_is_spelled_out() -> None:
    assert "[U+66F2][U+8EF8] crank" in words(record_pdf(record(attempts=("曲軸 crank",)), created=CREATED))


def test_record_signs_and_accents_come_back_as_typed() -> None:
    text = words(record_pdf(record(attempts=("é ü ø Ł µW/cm² 180 °C ± 5 ≥ ≤ Δ",)), created=CREATED))
    assert "é ü ø Ł µW/cm² 180 °C ± 5 ≥ ≤ Δ" in text


@every_record
def test_record_never_calls_a_part_fit(changes: dict[str, Any]) -> None:
    """PASS is the answer to a rule; it stands only beside its shape."""
    text = re.sub(f"{VERDICT_SHAPES['PASS']} PASS", "", words(pdf_of(changes)))
    assert not NEVER.search(text), NEVER.findall(text)


def test_practice_record_is_marked_across_every_page() -> None:
    pdf = pdf_of(RECORDS["practice"])
    for page in range(page_count(pdf)):
        glyphs = page_glyphs(pdf, page)
        assert "".join(g.char for g in glyphs if g.angle != 0).strip() == PRACTICE_RECORD
        assert PRACTICE_RECORD in " ".join(printed_lines(pdf, page))
    assert "PRACTICE" not in words(pdf_of(RECORDS["rejected"]))


# --- the drawing ---

SQUARE = ((0.0, 0.0), (100.0, 0.0), (100.0, 50.0), (0.0, 50.0))


def changed_box(one: Any, other: Any) -> tuple[int, int, int, int]:
    """Box of what differs between two pictures of a page, in dots: left, top, right, bottom."""
    box = ImageChops.difference(one, other).point(lambda value: 255 if value > 60 else 0).getbbox()
    assert box is not None, "the pictures are the same"
    return box


def test_drawing_mark_is_to_scale_and_in_its_place() -> None:
    """A 50 mm line on a 100 mm part is half as long as the outline is wide, and lies where x and y say."""
    mark = IndicationModel("I-1", "A", "", "linear", "", "", "", "", "", x_mm=50, y_mm=25, length_mm=50)
    plain = {"indications": (mark,), "outline": SQUARE, "zones": (), "pictures": (), "second_looks": (), "answers": ()}
    with_mark = record_pdf(record(**plain), created=CREATED)
    without = record_pdf(
        record(**{**plain, "indications": (IndicationModel(**{**vars(mark), "length_mm": None}),)}), created=CREATED
    )
    page = next(p for p in range(page_count(with_mark)) if "Where on the part" in printed_lines(with_mark, p))
    dpi = 254  # ten dots to the millimetre
    left, top, right, bottom = changed_box(picture(with_mark, dpi, page), picture(without, dpi, page))
    height = drawing_height(SQUARE, 180, 88)
    factor = min((180 - 18) / 100, (height - 18) / 50)
    assert (right - left) / 10 == pytest.approx(50 * factor, abs=1.0)
    assert (left + right) / 20 == pytest.approx(105, abs=0.3)  # the middle of the sheet, as of the part
    assert (bottom - top) / 10 < 1.2


def test_drawing_angle_turns_the_mark() -> None:
    def box_at(angle: float) -> tuple[int, int, int, int]:
        pair = []
        for length in (30, None):
            mark = IndicationModel(
                "I-1", "A", "", "linear", "", "", "", "", "", x_mm=50, y_mm=25, length_mm=length, angle_deg=angle
            )
            pdf = record_pdf(record(indications=(mark,), outline=SQUARE, zones=(), pictures=()), created=CREATED)
            page = next(p for p in range(page_count(pdf)) if "Where on the part" in printed_lines(pdf, p))
            pair.append(picture(pdf, 254, page))
        return changed_box(*pair)

    flat, upright = box_at(0), box_at(90)
    assert flat[2] - flat[0] == pytest.approx(upright[3] - upright[1], abs=15)
    assert flat[3] - flat[1] < 15 and upright[2] - upright[0] < 15


def test_drawing_zone_codes_are_on_the_zone_or_in_the_legend() -> None:
    text = words(pdf_of(RECORDS["rejected"]))
    assert "MAIN2-JOURNAL" in text
    assert "Zones: a = CHEEK-1; b = PIN4-REAR-FILLET" in text


def test_drawing_says_which_indications_have_no_place() -> None:
    assert "Not on the drawing, because no place in millimetres is recorded: 3" in words(pdf_of(RECORDS["rejected"]))


def test_drawing_of_many_close_marks_keeps_their_numbers_apart() -> None:
    marks = tuple(
        IndicationModel(
            f"I-{n}", "A", "", "rounded", "", "", "", "", "", x_mm=48 + n % 4, y_mm=24 + n // 4, length_mm=1
        )
        for n in range(12)
    )
    pdf = record_pdf(record(indications=marks, outline=SQUARE, zones=(ZoneModel("A", SQUARE),)), created=CREATED)
    page = next(p for p in range(page_count(pdf)) if "Where on the part" in printed_lines(pdf, p))
    lines = printed_lines(pdf, page)
    drawing = " ".join(lines[lines.index("Where on the part") :])
    assert all(re.search(rf"\b{n}\b", drawing) for n in range(1, 13))


def test_outline_without_height_or_of_two_points_does_not_stop_the_record() -> None:
    for outline in (((0.0, 0.0), (10.0, 0.0), (20.0, 0.0)), ((0.0, 0.0), (1.0, 1.0))):
        assert page_count(record_pdf(record(outline=outline, zones=()), created=CREATED)) >= 2


def test_record_of_102_rules_is_quick() -> None:
    model = record(answers=answers(102), pictures=())
    record_pdf(model, created=CREATED)
    begun = time.perf_counter()
    record_pdf(model, created=CREATED)
    # measured 0.25 s alone on 2 cores; the limit leaves room for a busy machine
    assert time.perf_counter() - begun < 2


def test_legend_is_known_before_the_outline_is_drawn() -> None:
    """A finding is measured by it; whatever the width, it is what the drawing then says."""
    model = record()
    for width in (30.0, 60.0, 87.0, 120.0, 180.0):
        height = drawing_height(model.outline, width, 52.0)
        with Canvas(A4, title="legend", created=CREATED) as canvas:
            canvas.add_page()
            told = legend_for(canvas, width, height, model.outline, model.zones)
            drawn_ = draw_outline(canvas, canvas.top, (15.0, 30.0, width, height), model.outline, model.zones, ())
        assert told == drawn_
    assert legend_for(canvas, 30.0, 20.0, model.outline, model.zones)  # something is too small there
