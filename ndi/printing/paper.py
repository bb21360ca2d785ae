"""Reports of blocks on A4, as PDF/A with the machine-readable record attached: header, footer and each kind of block.

Set with plain lines of text, so that a report takes time in proportion to its length.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import Any

from ndi.printing.flow import BOTTOM, LEFT, RIGHT, WIDTH, Column, Flow
from ndi.printing.outline import draw_outline, drawing_height, drawn
from ndi.printing.page import A4, Canvas
from ndi.services import paper_blocks as b
from ndi.services.report_models import SheetTable

PRACTICE_REPORT = "PRACTICE - NOT A REPORT"
RECORD_NAME = "record.json"
_DRAWING_HEIGHT = 80.0
_PICTURE_WIDTH, _PICTURE_HEIGHT, _WIDE_HEIGHT = 87.0, 62.0, 98.0
_SIGN_HEIGHT = 20.0


def paper_pdf(model: b.PaperModel, *, created: datetime) -> bytes:
    """The report as a PDF/A-3 of as many pages as it takes."""
    with Canvas(A4, title=f"{model.title} {model.subject}", created=created, archival=True) as canvas:
        if model.record is not None:
            canvas.attach(RECORD_NAME, model.record.encode(), "the same report for machines")
        flow = Flow(canvas)
        flow.add_page()
        for block in model.blocks:
            _DRAW[type(block)](flow, block)
        for page in range(1, canvas.pages + 1):
            _furniture(canvas, model, page)
        return canvas.save()


def _furniture(canvas: Canvas, model: b.PaperModel, page: int) -> None:
    """Header and footer, the same on every page."""
    marks, spelled = canvas.go_to(page), canvas.spelled
    if model.practice:
        marks.watermark(PRACTICE_REPORT, 52, grey=225, angle=54, edged=False)
        marks.text(RIGHT, 19.8, PRACTICE_REPORT, 9, bold=True, align="R")
    title = spelled(model.title)
    marks.text(LEFT, 14.5, title, canvas.fit(title, 13, WIDTH - 52, bold=True), bold=True)
    marks.text(RIGHT, 14.5, spelled(model.printed_at), 8, align="R")
    subject = spelled(model.subject)
    marks.text(LEFT, 19.8, subject, canvas.fit(subject, 9, WIDTH - (52 if model.practice else 0)))
    marks.line(LEFT, 22, RIGHT, 22, width=0.5)
    marks.line(LEFT, BOTTOM + 3, RIGHT, BOTTOM + 3, width=0.3)
    marks.text(LEFT, BOTTOM + 6.5, f"book {model.book_id}   head {model.head}", 7)
    marks.text(RIGHT, BOTTOM + 6.5, f"page {page} of {canvas.pages}", 7, align="R")
    marks.text(LEFT, BOTTOM + 9.8, spelled(model.footer), 7)


def _table(flow: Flow, table: SheetTable) -> None:
    columns = [Column(name, share * WIDTH) for name, share in table.columns]
    if table.heading:
        flow.table(table.heading, columns, table.rows, empty=table.empty, emphasised=table.emphasised)
    elif table.rows:
        flow.rows(columns, table.rows, emphasised=table.emphasised)
    else:
        flow.paragraph(table.empty)


def _drawing(flow: Flow, block: b.Drawing) -> None:
    if not block.outline or not drawn(block.marks):
        return
    height = min(_DRAWING_HEIGHT, drawing_height(block.outline, WIDTH, _DRAWING_HEIGHT))
    flow.room_for(height + 12)
    legend = draw_outline(
        flow.canvas, flow.marks, (LEFT, flow.y, WIDTH, height), block.outline, block.zones, block.marks
    )
    flow.y += height + 2
    if legend:
        flow.paragraph("Zones: " + ";  ".join(legend), small=True)
    flow.paragraph(block.caption, small=True)


def _pictures(flow: Flow, block: b.Pictures) -> None:
    width, height = (WIDTH, _WIDE_HEIGHT) if block.wide else (_PICTURE_WIDTH, _PICTURE_HEIGHT)
    across = 1 if block.wide else 2
    row_height = height + 10
    for number, picture in enumerate(block.pictures):
        column = number % across
        if column == 0:
            flow.room_for(row_height)
        x = LEFT + column * (WIDTH - width)
        flow.marks.image(picture.content, x, flow.y, width, height)
        lines = flow.canvas.wrap(flow.canvas.spelled(picture.caption), width, 7)[:2]
        for offset, line in enumerate(lines):
            flow.marks.text(x, flow.y + height + 3.5 + offset * 3.2, line, 7)
        if column == across - 1 or number == len(block.pictures) - 1:
            flow.y += row_height


def _signs(flow: Flow, block: b.SignLines) -> None:
    flow.room_for(_SIGN_HEIGHT)
    share = WIDTH / max(1, len(block.labels))
    for column, label in enumerate(block.labels):
        x = LEFT + column * share
        flow.marks.line(x, flow.y + 12, x + share - 8, flow.y + 12, width=0.3)
        flow.marks.text(x, flow.y + 15.5, flow.canvas.spelled(label), 7)
    flow.y += _SIGN_HEIGHT


_DRAW: dict[type, Callable[[Flow, Any], None]] = {
    b.Heading: lambda flow, block: flow.heading(block.text),
    b.Text: lambda flow, block: flow.paragraph(block.text, small=block.small),
    b.Bullets: lambda flow, block: flow.bullets(block.texts),
    b.Pairs: lambda flow, block: flow.pairs([(item.label, item.value) for item in block.pairs]),
    b.NoticeBox: lambda flow, block: flow.notice(block.word, block.texts, inverted=block.inverted),
    b.Drawing: _drawing,
    b.Pictures: _pictures,
    b.SignLines: _signs,
    b.NewPage: lambda flow, _block: flow.add_page(),
    SheetTable: _table,
}
