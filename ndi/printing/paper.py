"""Reports of blocks on A4, as PDF/A with the machine-readable record attached: header, footer and each kind of block.

Set with plain lines of text, so that a report takes time in proportion to its length.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime
from typing import Any

from ndi.printing.chart import MM_PER_INCH, PAPER_DPI, chart_png
from ndi.printing.finding import draw_drawing, draw_finding, draw_pictures
from ndi.printing.flow import BOTTOM, LEFT, RIGHT, TOP, WIDTH, Column, Flow
from ndi.printing.page import A4, RECORD_NAME, Canvas, PageMarks
from ndi.printing.record import draw_record
from ndi.printing.writing import draw_codes, draw_writing_fields, draw_writing_rows
from ndi.services import paper_blocks as b
from ndi.services.report_models import SheetTable

PRACTICE_REPORT = "PRACTICE - NOT A REPORT"
_SIGN_HEIGHT = 20.0


DRAWN, WRITTEN = "part drawn", "page written"


def paper_pdf(model: b.PaperModel, *, created: datetime, progress: b.Progress = b.unheard) -> bytes:
    """The report as a PDF/A-3 of as many pages as it takes."""
    with Canvas(A4, title=f"{model.title} {model.subject}", created=created, archival=True, settling=True) as canvas:
        if model.record is not None:
            canvas.attach(RECORD_NAME, model.record.encode(), "the same report for machines")
        flow = Flow(canvas, _watermark if model.practice else None)
        flow.add_page()
        for number, block in enumerate(model.blocks, start=1):
            before, after = model.blocks[number - 2] if number > 1 else None, model.blocks[number : number + 1]
            _keep_with_signatures(flow, (block, *after))
            if isinstance(block, b.Finding) and isinstance(before, b.Heading):
                draw_finding(flow, block, before.text)
            elif not (isinstance(block, b.Heading) and after and isinstance(after[0], b.Finding)):
                _DRAW[type(block)](flow, block)
            progress(DRAWN, number, len(model.blocks))
        for page in range(1, canvas.pages + 1):
            _furniture(canvas, model, page)
        return canvas.save(lambda done: progress(WRITTEN, done, canvas.pages))


def _watermark(marks: PageMarks) -> None:
    marks.watermark(PRACTICE_REPORT, 52, grey=225, angle=54, edged=False)


def _furniture(canvas: Canvas, model: b.PaperModel, page: int) -> None:
    """Header and footer, the same on every page."""
    marks, spelled = canvas.go_to(page), canvas.spelled
    if model.practice:
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


def _record(flow: Flow, block: b.RecordBlock) -> None:
    """A record from a new page on, under its number and word."""
    if flow.y > TOP:
        flow.add_page()
    model = block.record
    flow.heading(f"INSPECTION RECORD {model.record_no}: {model.word}")
    flow.paragraph(f"{model.part_no}   {model.item}   work order {model.work_order}   record hash {model.record_hash}")
    draw_record(flow, model)


def _keep_with_signatures(flow: Flow, blocks: Sequence[b.Block]) -> None:
    """What is signed stands on the page of the signatures: the text before the lines goes with them."""
    text, below = blocks[0], blocks[-1]
    if isinstance(text, b.Text) and isinstance(below, b.SignLines):
        flow.room_for(flow.paragraph_height(text.text, small=text.small) + _SIGN_HEIGHT)


def _signs(flow: Flow, block: b.SignLines) -> None:
    flow.room_for(_SIGN_HEIGHT)
    share = WIDTH / max(1, len(block.labels))
    for column, label in enumerate(block.labels):
        x = LEFT + column * share
        flow.marks.line(x, flow.y + 12, x + share - 8, flow.y + 12, width=0.3)
        flow.marks.text(x, flow.y + 15.5, flow.canvas.spelled(label), 7)
    flow.y += _SIGN_HEIGHT


def _figure(flow: Flow, block: b.Figure) -> None:
    flow.room_for(block.height_mm + 2)
    width, height = (round(size / MM_PER_INCH * PAPER_DPI) for size in (WIDTH, block.height_mm))
    flow.marks.image(chart_png(block.picture, width, height, PAPER_DPI), LEFT, flow.y, WIDTH, block.height_mm)
    flow.y += block.height_mm + 2


_DRAW: dict[type, Callable[[Flow, Any], None]] = {
    b.Heading: lambda flow, block: flow.heading(block.text),
    b.Text: lambda flow, block: flow.paragraph(block.text, small=block.small),
    b.Bullets: lambda flow, block: flow.bullets(block.texts),
    b.Pairs: lambda flow, block: flow.pairs([(item.label, item.value) for item in block.pairs]),
    b.NoticeBox: lambda flow, block: flow.notice(block.word, block.texts, inverted=block.inverted),
    b.Drawing: draw_drawing,
    b.Pictures: draw_pictures,
    b.Finding: draw_finding,
    b.RecordBlock: _record,
    b.WritingRows: draw_writing_rows,
    b.WritingFields: draw_writing_fields,
    b.Codes: draw_codes,
    b.Figure: _figure,
    b.SignLines: _signs,
    b.NewPage: lambda flow, _block: flow.add_page(),
    SheetTable: _table,
}
