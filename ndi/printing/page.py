"""A sheet of paper to draw on: sizes, fonts, measuring, and the PDF at the end.

What a form looks like belongs to the form's own file.  Millimetres from the
top left corner; text sizes in points; ``y`` of a text is its baseline.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Self, cast

from ndi.domain.errors import InputError
from ndi.printing.archival import xmp_text
from ndi.printing.marks import BLACK, FAMILY, MM_PER_POINT, WHITE, Mark, PageMarks, Paper

if TYPE_CHECKING:
    from fpdf import FPDF
    from fpdf.fonts import TTFFont


__all__ = ["A4", "BLACK", "LETTER", "MM_PER_POINT", "TAG_PAPER", "WHITE", "Canvas", "PageMarks", "Paper"]

FONT_FOLDER = Path(__file__).with_name("fonts")
RECORD_NAME = "record.json"  # what an archival paper carries for machines

# the face is a wide one; all text is set a little narrower, so that a line holds more at a size that can be read
_STRETCH_PERCENT = 90
_FONT_FILES = {"": "DejaVuSans.ttf", "B": "DejaVuSans-Bold.ttf"}


TAG_PAPER = Paper(100, 150)
A4 = Paper(210, 297)
LETTER = Paper(215.9, 279.4)


class Canvas:
    """Pages that are drawn in any order and written once; a context manager, because fonts are open files.

    ``created`` is the creation date that the file carries: the same model and
    date give the same bytes.  ``archival``: the file is a PDF/A-3, which may
    carry the machine-readable record with it.  ``settling``: a page is written
    down as soon as the next one begins, so that memory does not grow with every
    mark of a long report; what is added to it later lies over the rest.
    """

    def __init__(
        self, paper: Paper, *, title: str, created: datetime, archival: bool = False, settling: bool = False
    ) -> None:
        if created.tzinfo is None:
            raise InputError(f"creation time {created} has no zone; give the offset of the station")
        # imported here: the library costs a fifth of a second, and most runs print nothing
        from fpdf import FPDF

        self.paper = paper
        self._pages: list[list[Mark]] = []
        self._settling, self._settled = settling, 0
        self._pdf = FPDF(
            orientation="portrait",
            unit="mm",
            format=(paper.width, paper.height),
            enforce_compliance="PDF/A-3B" if archival else None,
        )
        self._created = created
        self._pdf.set_creation_date(created)
        self._pdf.set_title(title)
        if archival:
            self._pdf.set_xmp_metadata(xmp_text(title, created, part=3, conformance="B"))
        self._pdf.set_auto_page_break(False)
        self._pdf.set_margin(0)
        self._fonts: dict[str, TTFFont] = {}
        for style, file in _FONT_FILES.items():
            self._pdf.add_font(FAMILY, style, FONT_FOLDER / file)
            self._fonts[style] = cast("TTFFont", self._pdf.fonts[FAMILY + style])
        self._widths: dict[tuple[str, str], float] = {}
        self._area = (0.0, 0.0, paper)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        """Lets go of the font files, which the library reads bit by bit and keeps open."""
        for font in self._fonts.values():
            font.ttfont.close()

    # --- pages ---

    @property
    def pages(self) -> int:
        return len(self._pages)

    def add_page(self) -> None:
        if self._settling and self._pages:
            self._settle()
        self._pages.append([])

    def _settle(self) -> None:
        """Write the last page down and forget its marks."""
        pdf = self._pdf
        pdf.add_page()
        _forget_state(pdf)
        for mark in self._pages[-1]:
            mark(pdf)
        self._pages[-1] = []
        self._settled += 1

    def keep(self, index: int, mark: Mark, *, under: bool = False) -> None:
        """A mark of the page at ``index``, over what is there or ``under`` it."""
        if under:
            self._pages[index].insert(0, mark)
        else:
            self._pages[index].append(mark)

    def draw_in(self, left: float, top: float, paper: Paper) -> None:
        """From now on :attr:`top` draws on a smaller paper that lies on the sheet."""
        self._area = (left, top, paper)

    def go_to(self, page: int) -> PageMarks:
        """The marks of a page, counted from 1, to add to after the fact (headers, page numbers)."""
        return PageMarks(self, page - 1)

    def attach(self, name: str, content: bytes, description: str) -> None:
        """Put a file into an archival PDF, as the same content for machines."""
        self._pdf.embed_file(
            bytes=content,
            basename=name,
            mime_type="application/json",
            desc=description,
            compress=True,
            modification_date=self._created,
            associated_file_relationship="Alternative",
        )

    def save(self, written: Callable[[int], None] = lambda _pages: None) -> bytes:
        """The finished file; ``written`` is told how many pages are in it."""
        pdf = self._pdf
        for number, marks in enumerate(self._pages, start=1):
            if number <= self._settled:
                pdf.page = number
                _forget_state(pdf)
            else:
                pdf.add_page()
                _force_stretching(pdf)
            for mark in marks:
                mark(pdf)
            written(number)
        return bytes(pdf.output())

    # --- measuring ---

    def width_of(self, text: str, size: float, *, bold: bool = False) -> float:
        """Width in millimetres."""
        return self._unit_width(text, "B" if bold else "") * size * MM_PER_POINT

    def fit(self, text: str, size: float, width: float, *, bold: bool = False) -> float:
        """The largest size up to ``size`` at which the text is not wider than ``width``."""
        needed = self.width_of(text, size, bold=bold)
        return size if needed <= width else size * width / needed

    def wrap(self, text: str, width: float, size: float, *, bold: bool = False) -> list[str]:
        """Lines not wider than ``width``; a word that is wider by itself is broken."""
        lines: list[str] = []
        line = ""
        for word in text.split():
            for piece in self._broken(word, width, size, bold):
                longer = f"{line} {piece}" if line else piece
                if line and self.width_of(longer, size, bold=bold) > width:
                    lines.append(line)
                    line = piece
                else:
                    line = longer
        return [*lines, line] if line else lines

    def missing(self, text: str) -> str:
        """The characters that the font cannot show, each once."""
        known = self._fonts[""].cmap
        return "".join(dict.fromkeys(char for char in text if ord(char) not in known))

    def spelled(self, text: str) -> str:
        """The text with what the font cannot show written as ``[U+4E2D]``, so that nothing is lost silently."""
        absent = self.missing(text)
        return "".join(f"[U+{ord(char):04X}]" if char in absent else char for char in text) if absent else text

    def _unit_width(self, text: str, style: str) -> float:
        """Width in sizes; kept, because most words of a paper come again."""
        key = (text, style)
        if key not in self._widths:
            # the face's widths are in thousandths of its size
            widths = self._fonts[style].cw
            self._widths[key] = sum(widths[ord(char)] for char in text) * _STRETCH_PERCENT / 100 / 1000
        return self._widths[key]

    def _broken(self, word: str, width: float, size: float, bold: bool) -> Iterable[str]:
        piece = ""
        for char in word:
            if piece and self.width_of(piece + char, size, bold=bold) > width:
                yield piece
                piece = char
            else:
                piece += char
        yield piece

    # --- drawing on the last page ---

    @property
    def top(self) -> PageMarks:
        left, upper, paper = self._area
        return PageMarks(self, self.pages - 1, left, upper, paper)


def _force_stretching(pdf: FPDF) -> None:
    """The library leaves out what it takes to be in force: on a new page it is not."""
    pdf.set_stretching(100)
    pdf.set_stretching(_STRETCH_PERCENT)


def _forget_state(pdf: FPDF) -> None:
    """Have colours, line width and font written anew: a page that is gone back to ended with others than the last page."""
    _force_stretching(pdf)
    for grey in (WHITE, BLACK):
        pdf.set_draw_color(grey)
        pdf.set_fill_color(grey)
    for width in (0.1, 0.2):
        pdf.set_line_width(width)
    pdf.current_font_is_set_on_page = False
