"""What is drawn on one page: texts, lines, boxes, circles, codes, pictures, in millimetres from its top left corner."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from io import BytesIO
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from fpdf import FPDF

    from ndi.printing.page import Canvas
    from ndi.services.report_models import Point

MM_PER_POINT = 25.4 / 72
BLACK, WHITE = 0, 255
FAMILY = "sheet"

Mark = Callable[["FPDF"], None]


@dataclass(frozen=True)
class Paper:
    """Width and height in millimetres."""

    width: float
    height: float


@dataclass(frozen=True)
class PageMarks:
    """Draws on one page of a canvas, or on a smaller ``paper`` that lies on it at ``left``, ``upper``."""

    canvas: Canvas
    index: int
    left: float = 0.0
    upper: float = 0.0
    paper: Paper | None = None

    def text(
        self, x: float, y: float, text: str, size: float, *, bold: bool = False, grey: int = BLACK, align: str = "L"
    ) -> None:
        """A line of text; ``align`` says what ``x`` is: L left end, C middle, R right end."""
        if not text:
            return
        left = self.left + x - self.canvas.width_of(text, size, bold=bold) * {"L": 0, "C": 0.5, "R": 1}[align]
        baseline = self.upper + y

        def mark(pdf: FPDF) -> None:
            pdf.set_font(FAMILY, "B" if bold else "", size)
            pdf.set_text_color(grey)
            pdf.text(left, baseline, text)

        self._add(mark)

    def watermark(self, text: str, size: float, *, grey: int, angle: float, edged: bool = True) -> None:
        """Large letters across the middle of the page, under all else: light grey, with a thin black edge."""
        paper = self.paper or self.canvas.paper
        width = self.canvas.width_of(text, size, bold=True)
        x, y = self.left + paper.width / 2, self.upper + paper.height / 2
        mode = "FILL_STROKE" if edged else "FILL"

        def mark(pdf: FPDF) -> None:
            with pdf.rotation(angle, x, y), pdf.local_context(text_mode=mode, line_width=0.2):
                pdf.set_font(FAMILY, "B", size)
                pdf.set_text_color(grey)
                pdf.set_draw_color(BLACK)
                pdf.text(x - width / 2, y + size * MM_PER_POINT * 0.36, text)

        self.canvas.keep(self.index, mark, under=True)

    def line(self, x1: float, y1: float, x2: float, y2: float, *, width: float = 0.2, grey: int = BLACK) -> None:
        def mark(pdf: FPDF) -> None:
            pdf.set_draw_color(grey)
            pdf.set_line_width(width)
            pdf.line(self.left + x1, self.upper + y1, self.left + x2, self.upper + y2)

        self._add(mark)

    def box(
        self, x: float, y: float, width: float, height: float, *, fill: int | None = None, edge: float | None = 0.2
    ) -> None:
        """A rectangle; ``fill`` a grey, ``edge`` the line width in millimetres, None for no line."""

        def mark(pdf: FPDF) -> None:
            if fill is not None:
                pdf.set_fill_color(fill)
            if edge is not None:
                pdf.set_draw_color(BLACK)
                pdf.set_line_width(edge)
            style = ("D" if edge is not None else "") + ("F" if fill is not None else "")
            pdf.rect(self.left + x, self.upper + y, width, height, style=style)

        self._add(mark)

    def polygon(
        self, points: Sequence[Point], *, width: float = 0.2, grey: int = BLACK, fill: int | None = None
    ) -> None:
        def mark(pdf: FPDF) -> None:
            pdf.set_draw_color(grey)
            pdf.set_line_width(width)
            if fill is not None:
                pdf.set_fill_color(fill)
            pdf.polygon([(self.left + x, self.upper + y) for x, y in points], style="D" if fill is None else "DF")

        self._add(mark)

    def circle(self, x: float, y: float, radius: float, *, width: float = 0.2, fill: int | None = None) -> None:
        def mark(pdf: FPDF) -> None:
            pdf.set_draw_color(BLACK)
            pdf.set_line_width(width)
            if fill is not None:
                pdf.set_fill_color(fill)
            pdf.circle(self.left + x, self.upper + y, radius, style="D" if fill is None else "DF")

        self._add(mark)

    def squares(self, squares: Sequence[tuple[float, float, float]], height: float) -> None:
        """Black runs of a matrix code: left, top, width of each, all of one height."""

        def mark(pdf: FPDF) -> None:
            pdf.set_fill_color(BLACK)
            for x, y, width in squares:
                pdf.rect(self.left + x, self.upper + y, width, height, style="F")

        self._add(mark)

    def image(self, content: bytes, x: float, y: float, width: float, height: float) -> None:
        """A PNG or JPEG as large as fits the box, in proportion, at its top left."""

        def mark(pdf: FPDF) -> None:
            pdf.image(BytesIO(content), self.left + x, self.upper + y, width, height, keep_aspect_ratio=True)

        self._add(mark)

    def _add(self, mark: Mark) -> None:
        self.canvas.keep(self.index, mark)
