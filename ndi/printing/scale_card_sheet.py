"""Scale cards at their true size: a sheet with every size of card, and the lines by which the print is checked."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

from ndi.domain.scale_card import LARGE, MEDIUM, MODULES, SMALL, Box, Card, dark_modules
from ndi.printing.page import A4, LETTER, MM_PER_POINT, WHITE, Canvas, PageMarks
from ndi.printing.qr import draw_qr
from ndi.services.report_models import ScaleCardModel, ScaleCardSheetModel

PAPERS = {"A4": A4, "Letter": LETTER}
PLACES = ((LARGE, 25.0, 26.0), (MEDIUM, 25.0, 124.0), (SMALL, 112.0, 124.0), (SMALL, 112.0, 160.0))
CHECK = 150.0  # mm, drawn across and down, so that a printer that stretches one way is found
ACROSS, DOWN = (25.0, 205.0), (182.0, 26.0)  # where the two lines begin
INCH = 25.4
_CUT_GREY, _NOTE_GREY = 150, 90
_TICK = 0.12
_NUMBER = 5.5  # points
_SMALLEST = 4.5

_USE = (
    "Print at 100 %, never 'fit to page', on stiff matt paper. Measure both check lines with a calibrated rule: each must be "
    "150 mm, within 0.75 mm (0.5 %). Cards of a sheet that is off by more are thrown away.",
    "Cut along the grey lines on a mat, blade away from the hand. Cut the window out and lay the card so that the "
    "indication shows in it. Keep the card flat and at the height of the indication: a card that lies nearer to the camera "
    "than the indication makes it look shorter than it is.",
    "A card that is bent, soiled or wet with penetrant is thrown away. Under UV-A many papers glow: turn the light so that "
    "the marks stay darker than the paper. UV-A: keep eyes and skin out of the beam, as the lamp's manual says.",
)


def scale_card_pdf(model: ScaleCardSheetModel, *, created: datetime, paper: str = "A4") -> bytes:
    """One page for each part or work order."""
    with Canvas(PAPERS[paper], title="Scale cards", created=created) as canvas:
        for number, each in enumerate(model.cards, 1):
            canvas.add_page()
            _frame(canvas, model, f"page {number} of {len(model.cards)}")
            for card, left, top in PLACES:
                _card(canvas, card, each, left, top)
        return canvas.save()


def _frame(canvas: Canvas, model: ScaleCardSheetModel, page: str) -> None:
    marks, right = canvas.top, canvas.paper.width - 15
    marks.text(25, 15, "Scale cards", 14, bold=True)
    practice = "PRACTICE BOOK - " if model.practice else ""
    marks.text(right, 15, f"{practice}book {model.book_id}, {model.date}, {page}", 8, align="R")
    (x, y), (u, v) = ACROSS, DOWN
    for ends in ((x, y, x + CHECK, y), (u, v, u, v + CHECK)):
        marks.line(*ends, width=0.15)
    for end in (x, x + CHECK):
        marks.line(end, y - 1.5, end, y + 1.5, width=0.15)
    for end in (v, v + CHECK):
        marks.line(u - 1.5, end, u + 1.5, end, width=0.15)
    marks.text(x + CHECK / 2, y - 1.5, f"check line {CHECK:.0f} mm, end to end; found: ________ mm", 7, align="C")
    marks.text(u + 13, v + CHECK + 5, f"down {CHECK:.0f} mm; found: ____", 7, align="R")
    baseline = y + 8
    for text in _USE:
        for line in canvas.wrap(text, CHECK, 7.5):
            marks.text(x, baseline, line, 7.5)
            baseline += 3.6
        baseline += 1.4


def _card(canvas: Canvas, card: Card, model: ScaleCardModel, left: float, top: float) -> None:
    marks = PageMarks(canvas, canvas.pages - 1, left, top)
    marks.polygon([(0, 0), (card.width, 0), (card.width, card.height), (0, card.height)], width=0.1, grey=_CUT_GREY)
    for mark in card.marks:
        _mark(marks, card, mark)
    if model.code is not None:
        draw_qr(marks, model.code, card.code.left, card.code.top, card.code.width)
    _texts(canvas, marks, card, model)
    _rulers(marks, card)
    if card.window is not None:
        _window(marks, card.window)


def _mark(marks: PageMarks, card: Card, mark: int) -> None:
    (left, top), module = card.marks[mark], card.mark_side / MODULES
    marks.box(left, top, card.mark_side, card.mark_side, fill=0, edge=None)
    dark = set(dark_modules(mark))
    for row in range(MODULES):
        for column in range(MODULES):
            if (row, column) not in dark:
                marks.box(left + column * module, top + row * module, module, module, fill=WHITE, edge=None)


def _texts(canvas: Canvas, marks: PageMarks, card: Card, model: ScaleCardModel) -> None:
    box, lines = card.texts, [canvas.spelled(line) for line in model.lines]
    large = min(2.2 + box.height * 0.35, 9)
    baseline = box.top
    for number, line in enumerate([f"{card.name}", *lines]):
        size = max(canvas.fit(line, large if number < 2 else large * 0.8, box.width, bold=number < 2), _SMALLEST)
        for part in canvas.wrap(line, box.width, size, bold=number < 2):
            baseline += size * MM_PER_POINT * 1.15
            if baseline > box.bottom:
                return
            marks.text(box.left, baseline, part, size, bold=number < 2)


def _window(marks: PageMarks, window: Box) -> None:
    marks.polygon(
        [
            (window.left, window.top),
            (window.right, window.top),
            (window.right, window.bottom),
            (window.left, window.bottom),
        ],
        width=0.1,
        grey=_CUT_GREY,
    )
    middle = window.left + window.width / 2
    marks.text(middle, window.top + window.height / 2, "cut out", 8, grey=_NOTE_GREY, align="C")


def _rulers(marks: PageMarks, card: Card) -> None:
    """Millimetres below and left, inches above and right: along the window, or along the edges of a card without one."""
    if card.window is None:
        first, last = 10.0, card.width - 10.0

        def below(at: float, long: float) -> None:
            marks.line(first + at, card.height, first + at, card.height - long, width=_TICK)

        def above(at: float, long: float) -> None:
            marks.line(first + at, 0, first + at, long, width=_TICK)

        _millimetres(below, last - first)
        _inches(above, last - first)
        _numbers(marks, first, last, card.height - 3.0, 4.9)
        return
    box = card.window

    def under(at: float, long: float) -> None:
        marks.line(box.left + at, box.bottom, box.left + at, box.bottom + long, width=_TICK)

    def over(at: float, long: float) -> None:
        marks.line(box.left + at, box.top, box.left + at, box.top - long, width=_TICK)

    def left_of(at: float, long: float) -> None:
        marks.line(box.left, box.bottom - at, box.left - long, box.bottom - at, width=_TICK)

    def right_of(at: float, long: float) -> None:
        marks.line(box.right, box.bottom - at, box.right + long, box.bottom - at, width=_TICK)

    _millimetres(under, box.width)
    _inches(over, box.width)
    _millimetres(left_of, box.height)
    _inches(right_of, box.height)
    _numbers(marks, box.left, box.right, box.bottom + 4.9, box.top - 3.0)


def _millimetres(tick: Callable[[float, float], None], length: float) -> None:
    for at in range(int(length) + 1):
        tick(at, 2.6 if at % 10 == 0 else 1.9 if at % 5 == 0 else 1.2)


def _inches(tick: Callable[[float, float], None], length: float) -> None:
    for at in range(int(length / INCH * 20) + 1):
        tick(at * INCH / 20, 2.6 if at % 20 == 0 else 1.9 if at % 10 == 0 else 1.4 if at % 2 == 0 else 0.8)


def _numbers(marks: PageMarks, first: float, last: float, millimetres: float, inches: float) -> None:
    """Figures at whole centimetres (in mm) and whole inches, on two baselines."""
    for at in range(0, int(last - first) + 1, 10):
        marks.text(first + at, millimetres, f"{at}", _NUMBER, align="C")
    for at in range(int((last - first) / INCH) + 1):
        marks.text(first + at * INCH, inches, f"{at}", _NUMBER, align="C")
    marks.text(first + 5, millimetres, "mm", _NUMBER, align="C")
    marks.text(first + INCH / 2, inches, "in", _NUMBER, align="C")
