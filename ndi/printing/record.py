"""The inspection record on A4: everything an acceptance stands on, rule by rule.

Sections in the order in which a reader asks: what and where it stands, how it
was worked, what was seen, what each rule answered, who signed.
"""

from __future__ import annotations

from datetime import datetime

from ndi.printing.flow import BOTTOM, LEFT, RIGHT, WIDTH, Column, Flow
from ndi.printing.machine import machine_text
from ndi.printing.outline import draw_outline, drawing_height, drawn
from ndi.printing.page import A4, BLACK, RECORD_NAME, WHITE, Canvas
from ndi.services.report_models import IndicationModel, RecordModel

PRACTICE_RECORD = "PRACTICE - NOT A RECORD"
NOT_A_RELEASE = "Inspection result only. Not a release to service; other inspections and work may be open."

# shape first, then word: told apart without colour and from a poor copy
VERDICT_SHAPES = {"PASS": "●", "FAIL": "✖", "NOT RECORDED": "□", "NOT YET": "△", "NOT APPLICABLE": "–"}
_SETTLED = ("PASS", "NOT APPLICABLE")

_DRAWING_HEIGHT = 88.0
_PICTURE_WIDTH, _PICTURE_HEIGHT = 87.0, 62.0


def record_pdf(model: RecordModel, *, created: datetime) -> bytes:
    """The record as a PDF/A-3 of as many pages as it takes, with the same record for machines attached."""
    with Canvas(A4, title=f"Inspection record {model.record_no}", created=created, archival=True) as canvas:
        canvas.attach(RECORD_NAME, machine_text("inspection record", model), "the same record for machines")
        flow = Flow(canvas)
        flow.add_page()
        draw_record(flow, model)
        for page in range(1, canvas.pages + 1):
            _furniture(canvas, model, page)
        return canvas.save()


def draw_record(flow: Flow, model: RecordModel) -> None:
    """Every section of a record from where the cursor stands."""
    for section in (_identity, _process, _seen, _answers, _signatures):
        section(flow, model)


def _furniture(canvas: Canvas, model: RecordModel, page: int) -> None:
    """Header and footer, the same on every page; the number of pages is known only now."""
    marks = canvas.go_to(page)
    spelled = canvas.spelled
    if model.practice:
        marks.watermark(PRACTICE_RECORD, 56, grey=225, angle=54, edged=False)
    title = f"INSPECTION RECORD {spelled(model.record_no)}"
    marks.text(LEFT, 14.5, title, canvas.fit(title, 13, WIDTH - 75, bold=True), bold=True)
    size = canvas.fit(model.word, 12, 66, bold=True)
    width = canvas.width_of(model.word, size, bold=True) + 5
    grey = BLACK
    marks.box(RIGHT - width, 9, width, 7.4, fill=BLACK if model.suspended else None, edge=0.4)
    if model.suspended:
        grey = WHITE
    marks.text(RIGHT - 2.5, 14.2, spelled(model.word), size, bold=True, grey=grey, align="R")
    subject = spelled(f"{model.part_no}   {model.item}   work order {model.work_order}")
    marks.text(LEFT, 19.8, subject, canvas.fit(subject, 9, WIDTH - (48 if model.practice else 0)))
    if model.practice:
        marks.text(RIGHT, 19.8, PRACTICE_RECORD, 9, bold=True, align="R")
    marks.line(LEFT, 22, RIGHT, 22, width=0.5)
    marks.line(LEFT, BOTTOM + 3, RIGHT, BOTTOM + 3, width=0.3)
    marks.text(LEFT, BOTTOM + 6.5, f"Record {spelled(model.record_no)}   book {model.book_id}   head {model.head}", 7)
    marks.text(RIGHT, BOTTOM + 6.5, f"page {page} of {canvas.pages}", 7, align="R")
    marks.text(LEFT, BOTTOM + 9.8, f"Record hash {model.record_hash}", 7)
    marks.text(LEFT, BOTTOM + 13.1, NOT_A_RELEASE, 7)


def _identity(flow: Flow, model: RecordModel) -> None:
    if model.standing:
        flow.notice(model.word, model.standing, inverted=model.suspended)
    flow.heading("Identity")
    flow.pairs([(item.label, item.value) for item in model.identity])
    flow.heading("Revisions in force at the first step")
    flow.pairs([(item.label, item.value) for item in model.revisions])
    flow.paragraph(f"Rules asked: {model.rules_asked}")
    if model.exceptions:
        flow.heading("Exceptions under which this was decided")
        flow.bullets(model.exceptions)
    if model.containments:
        flow.heading("Recall sets that hold this record")
        flow.bullets(model.containments)
    flow.heading("Attempts")
    flow.bullets(model.attempts or ("One attempt.",))


def _process(flow: Flow, model: RecordModel) -> None:
    if model.steps:
        columns = [Column("Attempt", 14), Column("On", 16), Column("Step", 22), Column("Started", 17),
                   Column("Ended", 17), Column("Shortest / longest", 32), Column("By", 14), Column("Observed", 48)]  # fmt: skip
        flow.table(
            "Process times",
            columns,
            [(r.attempt, r.on, r.step, r.started, r.ended, r.duration, r.by, r.observed) for r in model.steps],
        )
    if model.shots:
        columns = [Column("Shot", 11), Column("Kind", 33), Column("Bench", 17), Column("Current", 24),
                   Column("Nominal", 26), Column("Pulses", 28), Column("Fired", 27), Column("By", 14)]  # fmt: skip
        flow.table(
            "Shots",
            columns,
            [(r.shot, r.kind, r.bench, r.current, r.nominal, r.pulses, r.fired_at, r.by) for r in model.shots],
        )
    columns = [Column("At", 27), Column("Object", 24), Column("Quantity", 36), Column("Value", 32, bold=True),
               Column("Condition", 34), Column("Meter", 13), Column("By", 14)]  # fmt: skip
    flow.table(
        "Readings",
        columns,
        [(r.at, r.object, r.quantity, r.value, r.condition, r.meter, r.by) for r in model.readings],
    )


def _seen(flow: Flow, model: RecordModel) -> None:
    columns = [Column("View", 20), Column("Kind", 19), Column("Att.", 8), Column("By", 12), Column("Lamps", 17),
               Column("Started", 16), Column("Ended", 16), Column("Zones seen", 43), Column("Stated", 29)]  # fmt: skip
    flow.table(
        "Views",
        columns,
        [(r.view, r.kind, r.attempt, r.person, r.lamps, r.started, r.ended, r.zones, r.said) for r in model.views],
    )
    columns = [Column("No", 8, bold=True), Column("Indication", 28), Column("Zone, place", 38),
               Column("Form, size", 26), Column("Interpretation, basis", 38), Column("Evaluation, limit", 42)]  # fmt: skip
    flow.table(
        "Indications",
        columns,
        [_indication_row(number, mark) for number, mark in enumerate(model.indications, start=1)],
    )
    if len(model.outline) > 2:
        _drawing(flow, model)
    _pictures(flow, model)
    if model.second_looks:
        columns = [Column("Look", 18), Column("About", 30), Column("By", 15), Column("Certificate", 26),
                   Column("Blind", 14), Column("Found", 39), Column("Compared", 38)]  # fmt: skip
        flow.table(
            "Second looks",
            columns,
            [(r.look, r.about, r.person, r.certificate, r.blind, r.found, r.compared) for r in model.second_looks],
        )


def _indication_row(number: int, mark: IndicationModel) -> tuple[str, ...]:
    return (
        str(number),
        "\n".join(filter(None, (mark.name, mark.disposition, mark.note))),
        "\n".join(filter(None, (mark.zone, mark.position))),
        "\n".join(filter(None, (mark.form, mark.size))),
        "\n".join(filter(None, (mark.interpretation, mark.basis))),
        "\n".join(filter(None, (mark.evaluation, mark.limit))),
    )


def _drawing(flow: Flow, model: RecordModel) -> None:
    height = drawing_height(model.outline, WIDTH, _DRAWING_HEIGHT)
    flow.heading("Where on the part", keep=height + 8)
    top = flow.y
    flow.marks.box(LEFT, top, WIDTH, height, edge=0.2)
    legend = draw_outline(
        flow.canvas, flow.marks, (LEFT, top, WIDTH, height), model.outline, model.zones, model.indications
    )
    flow.y = top + height + 1.5
    if legend:
        flow.paragraph("Zones: " + ";  ".join(legend), small=True)
    absent = [str(n) for n, mark in enumerate(model.indications, start=1) if mark.x_mm is None or mark.y_mm is None]
    if absent:
        flow.paragraph(
            f"Not on the drawing, because no place in millimetres is recorded: {', '.join(absent)}", small=True
        )
    if drawn(model.indications):
        flow.paragraph("Lengths are drawn to scale inside the ring; numbers are those of the list above.", small=True)


def _pictures(flow: Flow, model: RecordModel) -> None:
    if not model.pictures:
        return
    row_height = _PICTURE_HEIGHT + 13
    flow.heading("Pictures", keep=row_height)
    for number, picture in enumerate(model.pictures):
        column = number % 2
        if column == 0:
            flow.room_for(row_height)
        x = LEFT + column * (WIDTH - _PICTURE_WIDTH)
        flow.marks.image(picture.content, x, flow.y, _PICTURE_WIDTH, _PICTURE_HEIGHT)
        lines = flow.canvas.wrap(flow.canvas.spelled(picture.caption), _PICTURE_WIDTH, 7)[:3]
        for offset, line in enumerate(lines):
            flow.marks.text(x, flow.y + _PICTURE_HEIGHT + 3.5 + offset * 3.2, line, 7)
        if column == 1 or number == len(model.pictures) - 1:
            flow.y += row_height


def _answers(flow: Flow, model: RecordModel) -> None:
    counts = {verdict: sum(line.verdict == verdict for line in model.answers) for verdict in VERDICT_SHAPES}
    flow.heading(f"Every rule and its answer: {model.rules_asked}", keep=40)
    flow.paragraph(", ".join(f"{shape} {verdict}: {counts[verdict]}" for verdict, shape in VERDICT_SHAPES.items()))
    flow.paragraph("Severity: S stops the process, B bars acceptance, W needs a reason with a person.", small=True)
    columns = [Column("Rule", 11, bold=True), Column("Sev.", 8), Column("Answer", 29), Column("Question", 49),
               Column("Found", 38), Column("Limit", 29), Column("Paragraph", 16)]  # fmt: skip
    rows = [
        (
            line.rule,
            line.severity,
            f"{VERDICT_SHAPES.get(line.verdict, '?')} {line.verdict}",
            line.text if line.person is None else f"{line.text}\nReason by {line.person}",
            line.found,
            line.limit,
            line.paragraph,
        )
        for line in model.answers
    ]
    open_rows = {number for number, line in enumerate(model.answers) if line.verdict not in _SETTLED}
    flow.rows(columns, rows, emphasised=open_rows)
    if model.changed:
        flow.heading("Answers that are other now than when it was signed")
        flow.bullets(model.changed)
    if model.reasons:
        columns = [Column("Rule", 15, bold=True), Column("Reason", 139), Column("Given by", 26)]
        flow.table("Reasons for warnings", columns, [(r.rule, r.text, r.person) for r in model.reasons])


def _signatures(flow: Flow, model: RecordModel) -> None:
    columns = [Column("At", 38), Column("Person", 20, bold=True), Column("Certificate", 30), Column("Meaning", 28),
               Column("Covers", 64)]  # fmt: skip
    flow.table(
        "Decisions and signatures",
        columns,
        [(r.at, r.person, r.certificate, r.meaning, r.covers) for r in model.signatures],
        empty="Not signed.",
    )
