"""The tag that is wired to a part: 100 x 150 mm, one colour, laser or thermal printer.

The lines and their order come from the model; here is where they stand and how
large.  A long value is set smaller, never clipped; what cannot be set in a size
that can be read is refused.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from ndi.domain.errors import InputError
from ndi.printing.page import A4, BLACK, LETTER, MM_PER_POINT, TAG_PAPER, WHITE, Canvas, Paper
from ndi.printing.qr import DOT, QUIET, dark_runs, qr_modules
from ndi.services.report_models import CHECK_CODE_LABEL, PRACTICE_TAG, TagModel, TagRole, TagRow

INVERTED_WORDS = ("REJECT", "SUSPENDED")

_MARGIN = 6.0
_LEFT, _RIGHT = _MARGIN, TAG_PAPER.width - _MARGIN
_WIDTH = _RIGHT - _LEFT
_BOTTOM = TAG_PAPER.height - 4.0

_HOLE_X, _HOLE_Y, _HOLE_RADIUS, _HOLE_CLEAR = TAG_PAPER.width / 2, 9.0, 3.0, 7.0
_HEADER_BASELINE = 11.5
_WORD_TOP, _WORD_HEIGHT = 17.0, 17.0
_STRIP_HEIGHT = 6.0

_QR_BOX = 28.5  # with its quiet zone

# sheets on which two tags lie beside each other, landscape
SHEETS = {"A4": Paper(A4.height, A4.width), "Letter": Paper(LETTER.height, LETTER.width)}
_GUTTER, _CUT_GAP, _CUT_LENGTH = 14.0, 1.0, 5.0

_LEADING, _TIGHT_LEADING = 1.28, 1.17  # line height over text size
_LARGEST_GAP = 1.3  # between lines, where there is room to spare
_LABEL_SIZE = 6.0
_CAP_HEIGHT = 0.73  # of the face, over its size
_READABLE = 5.5  # points; smaller is refused


@dataclass(frozen=True)
class _Style:
    size: float
    bold: bool
    value_x: float  # where values begin


_STYLES = {
    TagRole.WAITS: _Style(10, True, 25),
    TagRole.LARGE: _Style(19, True, 25),
    TagRole.MEDIUM: _Style(11, False, 25),
    TagRole.TEXT: _Style(7.5, False, 25),
}


def tag_lines(model: TagModel) -> tuple[str, ...]:
    """Exactly the printed lines in printed order, without the line of the check code itself."""
    return model.lines


def tag_pdf(model: TagModel, *, created: datetime) -> bytes:
    """One tag as a PDF; InputError if a value cannot be printed so that it can be read."""
    return tags_pdf([model], created=created)


def tags_pdf(models: Sequence[TagModel], *, created: datetime) -> bytes:
    """Many tags as one PDF, a page each."""
    with Canvas(TAG_PAPER, title=_title(models), created=created) as canvas:
        for model in models:
            _refuse_unprintable(canvas, model)
            canvas.add_page()
            _draw(canvas, model)
        return canvas.save()


def tags_two_up_pdf(models: Sequence[TagModel], *, sheet: str, created: datetime) -> bytes:
    """Two tags beside each other on every sheet (``A4`` or ``Letter``, landscape), with marks to cut along."""
    if sheet not in SHEETS:
        raise InputError(f"{sheet!r} is no sheet for two tags; use one of {', '.join(SHEETS)}")
    paper = SHEETS[sheet]
    top = (paper.height - TAG_PAPER.height) / 2
    with Canvas(paper, title=_title(models), created=created) as canvas:
        for number, model in enumerate(models):
            _refuse_unprintable(canvas, model)
            if number % 2 == 0:
                canvas.add_page()
            left = paper.width / 2 + (_GUTTER / 2 if number % 2 else -_GUTTER / 2 - TAG_PAPER.width)
            canvas.draw_in(left, top, TAG_PAPER)
            _draw_cut_marks(canvas)
            _draw(canvas, model)
        return canvas.save()


def _title(models: Sequence[TagModel]) -> str:
    if not models:
        raise InputError("there is no tag to print: sign a record first")
    numbers = [model.tag_no for model in models]
    return f"Tag {numbers[0]}" if len(numbers) == 1 else f"Tags {min(numbers)} to {max(numbers)}"


def _draw_cut_marks(canvas: Canvas) -> None:
    """Short lines outside the four corners of a tag."""
    width, height = TAG_PAPER.width, TAG_PAPER.height
    for x, outward in ((0.0, -1), (width, 1)):
        for y, down in ((0.0, -1), (height, 1)):
            canvas.top.line(x, y + down * _CUT_GAP, x, y + down * (_CUT_GAP + _CUT_LENGTH), width=0.15)
            canvas.top.line(x + outward * _CUT_GAP, y, x + outward * (_CUT_GAP + _CUT_LENGTH), y, width=0.15)


def _draw(canvas: Canvas, model: TagModel) -> None:
    rows = model.rows
    y = _WORD_TOP
    if model.practice:
        canvas.top.watermark(PRACTICE_TAG, 32, grey=215, angle=-52)
        y = _draw_strip(canvas, y)
    _draw_header(canvas, rows[0])
    y = _draw_word(canvas, model.tag_word, y)
    foot = _draw_foot(canvas, model, rows)
    _draw_body(canvas, [row for row in rows if row.role in _STYLES], y, foot)


def _refuse_unprintable(canvas: Canvas, model: TagModel) -> None:
    for line in model.lines:
        missing = canvas.missing(line)
        if missing:
            codes = ", ".join(f"U+{ord(char):04X}" for char in missing)
            raise InputError(f"tag {model.tag_no}: the line {line!r} has {codes}, which the tag's font cannot show; "
                             "correct the value in the record, then print again")  # fmt: skip


def _draw_header(canvas: Canvas, row: TagRow) -> None:
    marks = canvas.top
    marks.circle(_HOLE_X, _HOLE_Y, _HOLE_RADIUS, width=0.25)
    for dx, dy in ((1, 0), (0, 1)):
        marks.line(_HOLE_X - dx, _HOLE_Y - dy, _HOLE_X + dx, _HOLE_Y + dy, width=0.15)
    number, copy = row.cells
    half = _HOLE_X - _HOLE_CLEAR - _LEFT
    size = canvas.fit(number.text, 17, half, bold=True)
    marks.text(_LEFT, _HEADER_BASELINE, number.text, size, bold=True)
    marks.text(_RIGHT, _HEADER_BASELINE, copy.text, canvas.fit(copy.text, 13, half, bold=True), bold=True, align="R")


def _draw_strip(canvas: Canvas, y: float) -> float:
    canvas.top.box(_LEFT, y, _WIDTH, _STRIP_HEIGHT, fill=BLACK, edge=None)
    baseline = _baseline(y, _STRIP_HEIGHT, 14)
    canvas.top.text(TAG_PAPER.width / 2, baseline, PRACTICE_TAG, 14, bold=True, grey=WHITE, align="C")
    return y + _STRIP_HEIGHT + 1.5


def _draw_word(canvas: Canvas, word: str, y: float) -> float:
    inverted = word in INVERTED_WORDS
    canvas.top.box(_LEFT, y, _WIDTH, _WORD_HEIGHT, fill=BLACK if inverted else None, edge=0.8)
    size = canvas.fit(word, 44, _WIDTH - 5, bold=True)
    grey = WHITE if inverted else BLACK
    baseline = _baseline(y, _WORD_HEIGHT, size)
    canvas.top.text(TAG_PAPER.width / 2, baseline, word, size, bold=True, grey=grey, align="C")
    return y + _WORD_HEIGHT + 2.0


def _draw_foot(canvas: Canvas, model: TagModel, rows: Sequence[TagRow]) -> float:
    """QR code, check code and small print, from the bottom up; returns where they begin."""
    marks = canvas.top
    y = _BOTTOM
    if model.practice:
        y -= _STRIP_HEIGHT
        _draw_strip(canvas, y)
        y -= 1.0
    for row in reversed([row for row in rows if row.role is TagRole.SMALL]):
        size = canvas.fit(row.text, 5.8, _WIDTH)
        marks.text(_LEFT, y - 0.7, row.text, size)
        y -= 2.6
    top = y - _QR_BOX - 0.8
    code_x = _draw_qr(canvas, model.qr, top)
    label_size, code_size = 7.0, 25.0
    marks.text(code_x, top + 4.5, CHECK_CODE_LABEL + " ", label_size, bold=True)
    marks.text(code_x, top + 13.5, model.check_code, canvas.fit(model.check_code, code_size, _RIGHT - code_x, bold=True),
               bold=True)  # fmt: skip
    baseline = top + 18.0
    for row in [row for row in rows if row.role is TagRole.CODE]:
        cell = row.cells[0]
        marks.text(code_x, baseline, cell.label + " ", 5.6)
        marks.text(code_x + 11, baseline, cell.value, canvas.fit(cell.value, 6.5, _RIGHT - code_x - 11))
        baseline += 3.0
    marks.line(_LEFT, top, _RIGHT, top, width=0.4)
    return top


def _draw_qr(canvas: Canvas, text: str, top: float) -> float:
    """Draws the code with its quiet zone at the left margin; returns where text beside it may begin."""
    matrix = qr_modules(text)
    side = len(matrix) + 2 * QUIET
    module = int(_QR_BOX / side / DOT) * DOT
    left, upper = _LEFT - 1.0, top + (_QR_BOX - side * module) / 2 + 0.5
    canvas.top.box(left, upper, side * module, side * module, fill=WHITE, edge=None)
    start_x, start_y = left + QUIET * module, upper + QUIET * module
    runs = [
        (start_x + begin * module, start_y + number * module, length * module)
        for number, row in enumerate(matrix)
        for begin, length in dark_runs(row)
    ]
    canvas.top.squares(runs, module)
    return left + side * module + 1.5


# --- the lines between the word and the QR code ---


def _draw_body(canvas: Canvas, rows: list[TagRow], top: float, bottom: float) -> None:
    room = bottom - top - 1.0
    sizes, leading = _fitted(rows, _block_sizes(canvas, rows), room)
    used = sum(sizes) * MM_PER_POINT * leading
    gap = min(_LARGEST_GAP, (room - used) / len(rows))
    y = top
    for row, size in zip(rows, sizes, strict=True):
        line_height = size * MM_PER_POINT * leading
        _draw_row(canvas, row, y + line_height * 0.78, size)
        y += line_height + gap


def _fitted(rows: list[TagRow], sizes: list[float], room: float) -> tuple[list[float], float]:
    """Sizes and leading at which all rows find room: large values give way first, small ones stay readable."""
    if min(sizes) >= _READABLE:
        for percent in range(100, 20, -1):
            caps = [max(_STYLES[row.role].size * percent / 100, _READABLE) for row in rows]
            scaled = [min(size, cap) for size, cap in zip(sizes, caps, strict=True)]
            leading = _LEADING if percent == 100 else _TIGHT_LEADING
            if sum(scaled) * MM_PER_POINT * leading <= room:
                return scaled, leading
    raise InputError(
        f"the tag has more text than fits in letters of {_READABLE} points: shorten conditions and exceptions to "
        "references (concession number and revision) that the record spells out"
    )


def _block_sizes(canvas: Canvas, rows: list[TagRow]) -> list[float]:
    """The size of every row; the rows of one value share the smallest of theirs."""
    sizes = [_row_size(canvas, row) for row in rows]
    start = 0
    for number in range(1, len(rows) + 1):
        if number == len(rows) or rows[number].cells[0].label:
            sizes[start:number] = [min(sizes[start:number])] * (number - start)
            start = number
    return sizes


def _row_size(canvas: Canvas, row: TagRow) -> float:
    style = _STYLES[row.role]
    return min(
        canvas.fit(cell.value, style.size, right - x, bold=style.bold)
        for cell, (x, right) in zip(row.cells, _columns(row), strict=True)
    )


def _columns(row: TagRow) -> list[tuple[float, float]]:
    """Where the values of a row begin and end."""
    x = _STYLES[row.role].value_x
    if len(row.cells) == 1:
        return [(x, _RIGHT)]
    middle = (_LEFT + _RIGHT) / 2 + 6
    return [(x, middle - 1.5), (middle + 17, _RIGHT)]


def _draw_row(canvas: Canvas, row: TagRow, baseline: float, size: float) -> None:
    style = _STYLES[row.role]
    label_size = min(_LABEL_SIZE, size)
    for number, (cell, (x, _)) in enumerate(zip(row.cells, _columns(row), strict=True)):
        if cell.label:
            label_x = _LEFT if number == 0 else x - 17
            canvas.top.text(label_x, baseline, cell.label + " ", label_size)
        canvas.top.text(x, baseline, cell.value, size, bold=style.bold)


def _baseline(top: float, height: float, size: float) -> float:
    """The baseline that centres capitals of ``size`` in a box."""
    return top + (height + size * MM_PER_POINT * _CAP_HEIGHT) / 2
