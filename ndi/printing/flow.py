"""Text that flows down A4 pages: headings, pairs, paragraphs, tables with page breaks.

Knows nothing of inspections.  Tables are set with plain lines of text, because
the library's own table costs eight times as much.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass

from ndi.printing.page import A4, BLACK, MM_PER_POINT, WHITE, Canvas, PageMarks

LEFT, RIGHT, TOP, BOTTOM = 15.0, A4.width - 15.0, 27.0, 278.0
WIDTH = RIGHT - LEFT

_SIZE, _SMALL, _HEADING, _LABEL = 8.0, 7.0, 10.5, 7.5
_TABLE_SIZE = 7.2
_LEADING = 1.32
_PAD = 0.9  # above and below the text of a table row
_CELL_GAP = 1.6
_ABOVE_HEADING, _HEADING_HEIGHT = 2.5, 6.5
_KEPT_LINES = 20
_HEAD_FILL, _OPEN_FILL, _RULE_GREY = 226, 240, 190


@dataclass(frozen=True)
class Column:
    """A column of a table: heading and width in millimetres."""

    heading: str
    width: float
    bold: bool = False


class Flow:
    """A cursor that moves down the page and begins a new one when there is no room."""

    def __init__(self, canvas: Canvas) -> None:
        self.canvas = canvas
        self.y = TOP

    @property
    def marks(self) -> PageMarks:
        return self.canvas.top

    def add_page(self) -> None:
        self.canvas.add_page()
        self.y = TOP

    def room_for(self, height: float) -> None:
        """Begins a new page if ``height`` does not fit on this one."""
        if self.y + height > BOTTOM and self.y > TOP:
            self.add_page()

    def heading(self, text: str, *, keep: float = 14.0) -> None:
        """A heading that stays with the first ``keep`` millimetres of what follows."""
        self.room_for(_ABOVE_HEADING + _HEADING_HEIGHT + keep)
        self.y += _ABOVE_HEADING if self.y > TOP else 0.0
        self.marks.text(LEFT, self.y + 4, self.canvas.spelled(text), _HEADING, bold=True)
        self.y += _HEADING_HEIGHT

    def paragraph(self, text: str, *, small: bool = False) -> None:
        size = _SMALL if small else _SIZE
        for line in self.canvas.wrap(self.canvas.spelled(text), WIDTH, size):
            self._line(LEFT, line, size)
        self.y += 0.8

    def bullets(self, texts: Iterable[str]) -> None:
        for text in texts:
            for number, line in enumerate(self.canvas.wrap(self.canvas.spelled(text), WIDTH - 4, _SIZE)):
                self.room_for(_line_height(_SIZE))
                if number == 0:
                    self.marks.text(LEFT, self.y + _line_height(_SIZE) * 0.76, "-", _SIZE)
                self._line(LEFT + 4, line, _SIZE)
        self.y += 0.8

    def notice(self, word: str, texts: Sequence[str], *, inverted: bool) -> None:
        """A framed statement that must not be missed, with what explains it."""
        inner = WIDTH - 8
        lines = [line for text in texts for line in self.canvas.wrap(self.canvas.spelled(text), inner, 9)]
        height = 10 + len(lines) * _line_height(9) + 2
        self.room_for(height)
        self.marks.box(LEFT, self.y, WIDTH, height, edge=0.6)
        if inverted:
            self.marks.box(LEFT, self.y, WIDTH, 9, fill=BLACK, edge=None)
        grey = WHITE if inverted else BLACK
        self.marks.text(LEFT + 4, self.y + 6.6, self.canvas.spelled(word), 15, bold=True, grey=grey)
        y = self.y + 10
        for line in lines:
            self.marks.text(LEFT + 4, y + _line_height(9) * 0.76, line, 9)
            y += _line_height(9)
        self.y += height + 2

    def pairs(self, pairs: Sequence[tuple[str, str]]) -> None:
        """Labels and values in two columns; a value as long as it needs."""
        half = WIDTH / 2
        label_width = 31.0
        for start in range(0, len(pairs), 2):
            texts = [self._wrapped(value, half - label_width - 3, _SIZE) for _, value in pairs[start : start + 2]]
            height = max(len(lines) for lines in texts) * _line_height(_SIZE)
            self.room_for(height)
            for column, (lines, (label, _)) in enumerate(zip(texts, pairs[start : start + 2], strict=True)):
                x, y = LEFT + column * half, self.y + _line_height(_SIZE) * 0.76
                self.marks.text(
                    x, y, self.canvas.spelled(label), self.canvas.fit(label, _LABEL, label_width - 2), grey=70
                )
                for number, line in enumerate(lines):
                    self.marks.text(x + label_width, y + number * _line_height(_SIZE), line, _SIZE)
            self.y += height + 0.6
        self.y += 0.8

    def table(
        self,
        heading: str,
        columns: Sequence[Column],
        rows: Sequence[Sequence[str]],
        *,
        empty: str = "None recorded.",
        emphasised: Collection[int] = (),
    ) -> None:
        """A heading with a table under it, or with the sentence that says that there is nothing."""
        first = self._cells(columns, rows[0], False) if rows else []
        self.heading(heading, keep=_table_start(first))
        if rows:
            self.rows(columns, rows, emphasised=emphasised)
        else:
            self.paragraph(empty)

    def rows(
        self, columns: Sequence[Column], rows: Sequence[Sequence[str]], *, emphasised: Collection[int] = ()
    ) -> None:
        """Rows under a head that is repeated on every page; emphasised rows stand on a grey ground in bold."""
        for number, row in enumerate(rows):
            strong = number in emphasised
            cells = self._cells(columns, row, strong)
            if number == 0:
                self.room_for(_table_start(cells))
                self._head(columns)
            self._row(columns, cells, strong)
        self.y += 1.5

    def _cells(self, columns: Sequence[Column], row: Sequence[str], strong: bool) -> list[list[str]]:
        return [
            self._wrapped(text, column.width - _CELL_GAP, _TABLE_SIZE, bold=column.bold or strong)
            for text, column in zip(row, columns, strict=True)
        ]

    def _row(self, columns: Sequence[Column], cells: Sequence[list[str]], strong: bool) -> None:
        """One row; taller than what is left of the page it goes to the next, taller than a page it is split."""
        line_height = _line_height(_TABLE_SIZE)
        left = max(1, max(len(lines) for lines in cells))
        if self.y + left * line_height + 2 * _PAD > BOTTOM:
            self._next_page(columns)
        start = 0
        while left > 0:
            count = min(left, int((BOTTOM - self.y - 2 * _PAD) / line_height))
            self._row_part(columns, [lines[start : start + count] for lines in cells], count, strong)
            start, left = start + count, left - count
            if left > 0:
                self._next_page(columns)

    def _row_part(self, columns: Sequence[Column], cells: Sequence[list[str]], count: int, strong: bool) -> None:
        line_height = _line_height(_TABLE_SIZE)
        height = count * line_height + 2 * _PAD
        if strong:
            self.marks.box(LEFT, self.y, WIDTH, height, fill=_OPEN_FILL, edge=None)
        x = LEFT
        for column, lines in zip(columns, cells, strict=True):
            for number, line in enumerate(lines):
                baseline = self.y + _PAD + (number + 0.76) * line_height
                self.marks.text(x + _CELL_GAP / 2, baseline, line, _TABLE_SIZE, bold=column.bold or strong)
            x += column.width
        self.y += height
        self.marks.line(LEFT, self.y, RIGHT, self.y, width=0.1, grey=_RULE_GREY)

    def _next_page(self, columns: Sequence[Column]) -> None:
        self.add_page()
        self._head(columns)

    def _head(self, columns: Sequence[Column]) -> None:
        height = _head_height()
        self.marks.box(LEFT, self.y, WIDTH, height, fill=_HEAD_FILL, edge=None)
        x = LEFT
        for column in columns:
            size = self.canvas.fit(column.heading, _TABLE_SIZE, column.width - _CELL_GAP, bold=True)
            self.marks.text(x + _CELL_GAP / 2, self.y + height * 0.7, column.heading, size, bold=True)
            x += column.width
        self.y += height
        self.marks.line(LEFT, self.y, RIGHT, self.y, width=0.3)

    def _line(self, x: float, line: str, size: float) -> None:
        self.room_for(_line_height(size))
        self.marks.text(x, self.y + _line_height(size) * 0.76, line, size)
        self.y += _line_height(size)

    def _wrapped(self, text: str, width: float, size: float, *, bold: bool = False) -> list[str]:
        spelled = (self.canvas.spelled(part) for part in text.split("\n"))
        return [line for part in spelled for line in self.canvas.wrap(part, width, size, bold=bold)]


def _line_height(size: float) -> float:
    return size * MM_PER_POINT * _LEADING


def _head_height() -> float:
    return _line_height(_TABLE_SIZE) + 2 * _PAD


def _table_start(first: Sequence[list[str]]) -> float:
    """What must stay together at the start of a table: its head and its first row, unless that is very tall."""
    lines = max((len(cell) for cell in first), default=1)
    return _head_height() + min(lines, _KEPT_LINES) * _line_height(_TABLE_SIZE) + 2 * _PAD
