"""The line of paper that goes with a part: strips on A4, to be cut apart."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from ndi.printing.page import A4, MM_PER_POINT, Canvas
from ndi.printing.qr import draw_qr
from ndi.services.report_models import TravellerModel, TravellerNeed, TravellerSheetModel

_LEFT, _RIGHT, _TOP = 12.0, A4.width - 12.0, 13.0
_HEIGHT = 30.0
_BOX = 25.0
_PART_X, _PART_WIDTH = _LEFT + _BOX + 1.5, 45.0
_NEEDS_X = _PART_X + _PART_WIDTH + 2.0
_STATE_WIDTH = 30.0
_STATE_X = _RIGHT - _STATE_WIDTH
_NEEDS_WIDTH = _STATE_X - _NEEDS_X - 2.0
_CUT_GREY = 120
_SMALLEST = 5.0
_LEADING = 1.22


def traveller_pdf(model: TravellerSheetModel, *, created: datetime) -> bytes:
    """The strips as a PDF; every strip says by itself what it is and of when."""
    with Canvas(A4, title="Traveller lines", created=created) as canvas:
        on_page = int((A4.height - 2 * _TOP) / _HEIGHT)
        for number, line in enumerate(model.lines):
            if number % on_page == 0:
                canvas.add_page()
            _strip(canvas, model, line, _TOP + number % on_page * _HEIGHT)
        return canvas.save()


def _strip(canvas: Canvas, sheet: TravellerSheetModel, line: TravellerModel, y: float) -> None:
    marks = canvas.top
    marks.line(0, y, A4.width, y, width=0.1, grey=_CUT_GREY)
    marks.line(0, y + _HEIGHT, A4.width, y + _HEIGHT, width=0.1, grey=_CUT_GREY)
    draw_qr(marks, line.code, _LEFT - 1.0, y + 0.8, _BOX)
    _block(canvas, _PART_X, y + 0.8, _PART_WIDTH, 22.5, _part_lines(line))
    _block(canvas, _NEEDS_X, y + 0.8, _NEEDS_WIDTH, 22.5, _need_lines(line.needs))
    marks.box(_STATE_X, y + 2.5, _STATE_WIDTH, 20.5, edge=0.4)
    marks.text(_STATE_X + 1.5, y + 5.6, "state when printed", 5.5, grey=70)
    _block(canvas, _STATE_X + 1.5, y + 6.5, _STATE_WIDTH - 3, 16, [(line.state, 11.0, True)])
    if sheet.practice:
        marks.text(_STATE_X + _STATE_WIDTH / 2, y + 21.5, "PRACTICE", 9.0, bold=True, align="C")
    practice = "PRACTICE. " if sheet.practice else ""
    small = f"{practice}Work paper, not a tag: the record book says what stands. Book {sheet.book_id}, {sheet.date}, head {sheet.head}"
    marks.text(_PART_X, y + _HEIGHT - 2.4, small, canvas.fit(small, 6.0, _RIGHT - _PART_X))


def _part_lines(line: TravellerModel) -> list[tuple[str, float, bool]]:
    return [
        (line.part_no, 13.0, True),
        (line.description, 8.0, False),
        (line.item, 9.5, True),
        (f"{line.work_order}, {line.engine}, class {line.item_class}", 7.5, False),
    ]


def _need_lines(needs: Sequence[TravellerNeed]) -> list[tuple[str, float, bool]]:
    if not needs:
        return [("no method required by the part master", 8.0, False)]
    lines: list[tuple[str, float, bool]] = []
    for need in needs:
        lines += [(f"{need.method}  {need.technique}", 9.0, True), (need.zones, 7.0, False), (need.state, 7.5, False)]
    return lines


def _block(
    canvas: Canvas, x: float, y: float, width: float, height: float, lines: Sequence[tuple[str, float, bool]]
) -> None:
    """Lines wrapped into a box; all of them are set smaller together until they fit."""
    for percent in range(100, 39, -5):
        set_lines = [
            (piece, size * percent / 100, bold)
            for text, size, bold in lines
            for piece in canvas.wrap(canvas.spelled(text), width, size * percent / 100, bold=bold)
        ]
        if sum(size for _, size, _ in set_lines) * MM_PER_POINT * _LEADING <= height:
            break
    for text, size, bold in set_lines:
        y += size * MM_PER_POINT * _LEADING
        canvas.top.text(x, y - 0.5, text, max(size, _SMALLEST), bold=bold)
