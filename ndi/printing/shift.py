"""The shift sheet on A4: what the next shift must know, with the head of the book and room to sign."""

from __future__ import annotations

from datetime import datetime

from ndi.printing.flow import BOTTOM, LEFT, RIGHT, WIDTH, Column, Flow
from ndi.printing.machine import machine_text
from ndi.printing.page import A4, RECORD_NAME, Canvas
from ndi.services.report_models import ShiftModel

PRACTICE_SHEET = "PRACTICE - NOT A SHIFT SHEET"
_SIGN_HEIGHT = 18.0


def shift_pdf(model: ShiftModel, *, created: datetime) -> bytes:
    """The sheet as a PDF/A-3 of as many pages as it takes, with the same sheet for machines attached."""
    with Canvas(A4, title=f"Shift sheet {model.day}", created=created, archival=True) as canvas:
        canvas.attach(RECORD_NAME, machine_text("shift sheet", model), "the same sheet for machines")
        flow = Flow(canvas)
        flow.add_page()
        flow.pairs([(item.label, item.value) for item in model.figures])
        for table in model.tables:
            columns = [Column(name, share * WIDTH) for name, share in table.columns]
            flow.table(table.heading, columns, table.rows, empty=table.empty, emphasised=table.emphasised)
        _signatures(flow)
        for page in range(1, canvas.pages + 1):
            _furniture(canvas, model, page)
        return canvas.save()


def _signatures(flow: Flow) -> None:
    flow.heading("Handover", keep=_SIGN_HEIGHT)
    half = WIDTH / 2
    for column, label in enumerate(("handed over by, time", "taken over by, time")):
        x = LEFT + column * half
        flow.marks.line(x, flow.y + 11, x + half - 8, flow.y + 11, width=0.3)
        flow.marks.text(x, flow.y + 14.5, label, 7)
    flow.y += _SIGN_HEIGHT


def _furniture(canvas: Canvas, model: ShiftModel, page: int) -> None:
    """Header and footer, the same on every page."""
    marks = canvas.go_to(page)
    if model.practice:
        marks.watermark(PRACTICE_SHEET, 44, grey=225, angle=54, edged=False)
        marks.text(RIGHT, 19.8, PRACTICE_SHEET, 9, bold=True, align="R")
    marks.text(LEFT, 14.5, f"SHIFT SHEET {model.day}", 13, bold=True)
    marks.text(RIGHT, 14.5, canvas.spelled(f"shop {model.shop}"), 10, align="R")
    marks.text(LEFT, 19.8, f"as the book stood at {model.printed_at}", 9)
    marks.line(LEFT, 22, RIGHT, 22, width=0.5)
    marks.line(LEFT, BOTTOM + 3, RIGHT, BOTTOM + 3, width=0.3)
    marks.text(LEFT, BOTTOM + 6.5, f"book {model.book_id}   head {model.head}", 8, bold=True)
    marks.text(RIGHT, BOTTOM + 6.5, f"page {page} of {canvas.pages}", 7, align="R")
    marks.text(
        LEFT,
        BOTTOM + 10,
        "Keep this sheet: a later check of the book against this head finds an end that was cut off.",
        7,
    )
