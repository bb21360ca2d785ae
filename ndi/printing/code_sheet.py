"""A4 sheets of codes: people, lamps, meters, baskets, places, commands; to hang up or to cut out."""

from __future__ import annotations

from datetime import datetime

from ndi.printing.page import A4, MM_PER_POINT, Canvas
from ndi.printing.qr import draw_qr
from ndi.services.report_models import CodeCell, CodeSheetModel

COLUMNS, ROWS = 3, 7
_LEFT, _TOP = 15.0, 22.0
_CELL_WIDTH, _CELL_HEIGHT = 60.0, 36.0
_BOX = 29.0
_NAME, _NOTE = 11.0, 7.0
_SMALLEST = 5.5
_CUT_GREY = 150
_LEADING = 1.2


def code_sheet_pdf(model: CodeSheetModel, *, created: datetime) -> bytes:
    """The sheet as a PDF, as many pages as it takes."""
    with Canvas(A4, title=f"Codes: {model.title}", created=created) as canvas:
        on_page = COLUMNS * ROWS
        pages = [model.cells[start : start + on_page] for start in range(0, len(model.cells), on_page)]
        for number, cells in enumerate(pages, 1):
            canvas.add_page()
            _header(canvas, model, f"page {number} of {len(pages)}")
            for place, cell in enumerate(cells):
                _cell(canvas, cell, _LEFT + place % COLUMNS * _CELL_WIDTH, _TOP + place // COLUMNS * _CELL_HEIGHT)
            _cut_lines(canvas, len(cells))
        return canvas.save()


def _header(canvas: Canvas, model: CodeSheetModel, page: str) -> None:
    marks = canvas.top
    marks.text(_LEFT, 15, model.title, 14, bold=True)
    practice = "PRACTICE BOOK - " if model.practice else ""
    marks.text(A4.width - _LEFT, 15, f"{practice}book {model.book_id}, {model.date}, {page}", 8, align="R")
    marks.text(_LEFT, A4.height - 9, "Scan a code to enter its text; typing the name does the same.", 7.5)


def _cell(canvas: Canvas, cell: CodeCell, x: float, y: float) -> None:
    marks = canvas.top
    draw_qr(marks, cell.code, x + 0.5, y + (_CELL_HEIGHT - _BOX) / 2, _BOX)
    text_x, room = x + _BOX + 1.5, _CELL_WIDTH - _BOX - 3.0
    name, note = canvas.spelled(cell.name), canvas.spelled(cell.note)
    size = max((canvas.fit(word, _NAME, room, bold=True) for word in name.split()), default=_NAME, key=lambda s: -s)
    size = max(size, _SMALLEST)
    lines = [(line, size, True) for line in canvas.wrap(name, room, size, bold=True)]
    lines += [(line, _NOTE, False) for line in canvas.wrap(note, room, _NOTE)]
    height = sum(line_size for _, line_size, _ in lines) * MM_PER_POINT * _LEADING
    baseline = y + max(3.0, (_CELL_HEIGHT - height) / 2)
    for line, line_size, bold in lines:
        baseline += line_size * MM_PER_POINT * _LEADING
        marks.text(text_x, baseline - 0.6, line, line_size, bold=bold)


def _cut_lines(canvas: Canvas, cells: int) -> None:
    rows = -(-cells // COLUMNS)
    right, bottom = _LEFT + COLUMNS * _CELL_WIDTH, _TOP + rows * _CELL_HEIGHT
    for column in range(COLUMNS + 1):
        x = _LEFT + column * _CELL_WIDTH
        canvas.top.line(x, _TOP, x, bottom, width=0.1, grey=_CUT_GREY)
    for row in range(rows + 1):
        y = _TOP + row * _CELL_HEIGHT
        canvas.top.line(_LEFT, y, right, y, width=0.1, grey=_CUT_GREY)
