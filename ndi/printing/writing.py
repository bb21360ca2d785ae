"""What is written on by hand: empty tables, lines with a label, codes beside them."""

from __future__ import annotations

from ndi.printing.flow import LEFT, RIGHT, WIDTH, Column, Flow
from ndi.printing.page import MM_PER_POINT
from ndi.printing.qr import draw_qr
from ndi.services import paper_blocks as b

_FIELD_HEIGHT, _LABEL = 8.0, 7.0
_CODES_ACROSS, _CODE_BOX, _CODE_HEIGHT = 4, 20.0, 21.0
_NAME, _NOTE = 9.5, 6.5
_GREY = 150


def draw_writing_rows(flow: Flow, block: b.WritingRows) -> None:
    """A table of empty cells under its heads; it goes on over pages as rows do."""
    columns = [Column(name, share * WIDTH) for name, share in block.columns]
    rows = block.rows
    if block.on_this_page:
        rows = min(rows, int((flow.left() - flow.heading_height() - flow.head_height(columns)) / block.height_mm))
    if rows < 1:
        return
    if block.heading:
        flow.heading(block.heading, keep=flow.head_height(columns) + block.height_mm)
    for number in range(rows):
        if number == 0 or flow.is_full(block.height_mm):
            flow.begin_table(columns, block.height_mm)
        top = flow.y
        flow.y += block.height_mm
        flow.marks.line(LEFT, flow.y, RIGHT, flow.y, width=0.2, grey=_GREY)
        x = LEFT
        for column in [*columns, None]:
            flow.marks.line(x, top, x, flow.y, width=0.2, grey=_GREY)
            x += column.width if column else 0.0
    flow.y += 2.0


def draw_writing_fields(flow: Flow, block: b.WritingFields) -> None:
    """Labels with lines to write on, two beside each other."""
    half = WIDTH / 2
    for start in range(0, len(block.labels), 2):
        flow.room_for(_FIELD_HEIGHT)
        for column, label in enumerate(block.labels[start : start + 2]):
            x, y = LEFT + column * half, flow.y + _FIELD_HEIGHT - 2.0
            text = flow.canvas.spelled(label)
            flow.marks.text(x, y, text, _LABEL, grey=70)
            begin = x + min(flow.canvas.width_of(text, _LABEL) + 2.0, half - 20)
            flow.marks.line(begin, y + 0.6, x + half - 5.0, y + 0.6, width=0.2)
        flow.y += _FIELD_HEIGHT
    flow.y += 1.0


def draw_codes(flow: Flow, block: b.Codes) -> None:
    """Codes with their names, four beside each other."""
    width = WIDTH / _CODES_ACROSS
    for number, cell in enumerate(block.cells):
        column = number % _CODES_ACROSS
        if column == 0:
            flow.room_for(_CODE_HEIGHT)
        x = LEFT + column * width
        draw_qr(flow.marks, cell.code, x, flow.y, _CODE_BOX)
        y, room = flow.y + 5.0, width - _CODE_BOX - 2.5
        for text, size, bold in ((cell.name, _NAME, True), (cell.note, _NOTE, False)):
            for line in flow.canvas.wrap(flow.canvas.spelled(text), room, size, bold=bold):
                flow.marks.text(x + _CODE_BOX + 1.5, y, line, size, bold=bold)
                y += size * MM_PER_POINT * 1.25
        if column == _CODES_ACROSS - 1 or number == len(block.cells) - 1:
            flow.y += _CODE_HEIGHT
    flow.y += 1.0
