"""Drawings and photographs in a report, and the finding that keeps both beside its words on one page."""

from __future__ import annotations

from collections.abc import Sequence

from ndi.printing.flow import BOTTOM, LEFT, TOP, WIDTH, Flow
from ndi.printing.outline import draw_outline, drawing_height, drawn, legend_for
from ndi.services import paper_blocks as b
from ndi.services.report_models import PictureModel, Point

_DRAWING_HEIGHT = 80.0
_PICTURE_WIDTH, _PICTURE_HEIGHT, _WIDE_HEIGHT = 87.0, 62.0, 98.0
_CAPTION_HEIGHT = 10.0
_LONG_PART = 2.6  # length over height from which an outline needs the whole width
_IN_FINDING = 52.0  # millimetres that a drawing or photograph takes at most there
_LEGEND_LINE = 3.2
_GAP, _ABOVE_ROW = 6.0, 1.5


def draw_drawing(flow: Flow, block: b.Drawing) -> None:
    """A drawing as wide as the page, with its legend and caption; nothing where no mark has a place."""
    if not is_drawn(block):
        return
    height = min(_DRAWING_HEIGHT, drawing_height(block.outline, WIDTH, _DRAWING_HEIGHT))
    flow.room_for(height + 12)
    legend = _outline(flow, block, (LEFT, flow.y, WIDTH, height))
    flow.y += height + 2
    if legend:
        flow.paragraph("Zones: " + ";  ".join(legend), small=True)
    flow.paragraph(block.caption, small=True)


def draw_pictures(flow: Flow, block: b.Pictures) -> None:
    """Photographs two beside each other, or one as wide as the page, each with its caption."""
    width, height = (WIDTH, _WIDE_HEIGHT) if block.wide else (_PICTURE_WIDTH, _PICTURE_HEIGHT)
    _rows_of_pictures(flow, block.pictures, 1 if block.wide else 2, width, height)


def draw_finding(flow: Flow, block: b.Finding, above: str = "") -> None:
    """Words, drawing and the first photographs stay together; a long part has its drawing above the photographs."""
    pairs = [(item.label, item.value) for item in block.pairs]
    beside = bool(block.pictures) and is_drawn(block.drawing) and not _is_long(block.drawing.outline)
    first_row = block.pictures[: 1 if beside else 2]
    width = WIDTH / 2 - _GAP / 2 if beside else WIDTH
    height, legend = _drawing_size(flow, block.drawing, width)
    drawing = height + len(legend) * _LEGEND_LINE + 2.0 if height else 0.0
    pictures = _IN_FINDING + _CAPTION_HEIGHT if first_row else 0.0
    below = max(drawing, pictures) if beside else drawing + pictures
    caption = flow.paragraph_height(block.drawing.caption, small=True) if drawing else 0.0
    words = flow.pairs_height(pairs) + flow.paragraph_height(block.follows)
    notes = sum(flow.paragraph_height(note, small=True) for note in block.notes)
    rest = -(-len(block.pictures[len(first_row) :]) // 2) * (_IN_FINDING + _CAPTION_HEIGHT)
    needed = words + _ABOVE_ROW + below + caption + notes
    whole = flow.heading_height() + needed + rest
    keep = needed + rest if whole <= BOTTOM - TOP else needed
    if above:  # the heading of all findings goes with the first one
        flow.heading(above, keep=flow.heading_height() + keep)
    flow.heading(block.heading, keep=keep)
    flow.pairs(pairs)
    flow.paragraph(block.follows)
    flow.y += _ABOVE_ROW
    top = flow.y
    if height:
        _outline(flow, block.drawing, (LEFT, top, width, height))
        for number, line in enumerate(legend, start=1):
            flow.marks.text(LEFT, top + height + number * _LEGEND_LINE, line, 7)
    if beside:
        _picture(flow, first_row[0], LEFT + WIDTH - _PICTURE_WIDTH, top, _PICTURE_WIDTH, _IN_FINDING)
        flow.y = top + below
    else:
        flow.y = top + drawing
        _rows_of_pictures(flow, first_row, 2, _PICTURE_WIDTH, _IN_FINDING)
    if drawing:
        flow.paragraph(block.drawing.caption, small=True)
    for note in block.notes:
        flow.paragraph(note, small=True)
    _rows_of_pictures(flow, block.pictures[len(first_row) :], 2, _PICTURE_WIDTH, _IN_FINDING)


def is_drawn(block: b.Drawing) -> bool:
    """Whether there is an outline and a mark with a place on it."""
    return len(block.outline) > 2 and bool(drawn(block.marks))


def _outline(flow: Flow, block: b.Drawing, box: tuple[float, float, float, float]) -> list[str]:
    return draw_outline(flow.canvas, flow.marks, box, block.outline, block.zones, block.marks, block.first)


def _is_long(outline: Sequence[Point]) -> bool:
    xs, ys = [x for x, _ in outline], [y for _, y in outline]
    return (max(xs) - min(xs)) > _LONG_PART * (max(ys) - min(ys))


def _drawing_size(flow: Flow, block: b.Drawing, width: float) -> tuple[float, list[str]]:
    """The height of the drawing and the lines of its legend; 0 and none where nothing is drawn."""
    if not is_drawn(block):
        return 0.0, []
    height = min(_IN_FINDING, drawing_height(block.outline, width, _IN_FINDING))
    legend = legend_for(flow.canvas, width, height, block.outline, block.zones)
    return height, flow.canvas.wrap("Zones: " + ";  ".join(legend), width, 7) if legend else []


def _rows_of_pictures(flow: Flow, pictures: Sequence[PictureModel], across: int, width: float, height: float) -> None:
    for number, picture in enumerate(pictures):
        column = number % across
        if column == 0:
            flow.room_for(height + _CAPTION_HEIGHT)
        _picture(flow, picture, LEFT + column * (WIDTH - width), flow.y, width, height)
        if column == across - 1 or number == len(pictures) - 1:
            flow.y += height + _CAPTION_HEIGHT


def _picture(flow: Flow, picture: PictureModel, x: float, y: float, width: float, height: float) -> None:
    flow.marks.image(picture.content, x, y, width, height)
    lines = flow.canvas.wrap(flow.canvas.spelled(picture.caption), width, 7)[:2]
    for offset, line in enumerate(lines):
        flow.marks.text(x, y + height + 3.5 + offset * 3.2, line, 7)
