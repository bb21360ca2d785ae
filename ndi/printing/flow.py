"""Text that flows down A4 pages: headings, pairs, paragraphs, tables with page breaks.

Knows nothing of inspections.  Tables are set with plain lines of text, because
the library's own table costs eight times as much.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Sequence
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
_SMALLEST_HEAD = 5.5
_HAIR = 0.01  # mm, so that a word that was fitted is not broken for the last digit of a width
_LABEL_WIDTH, _BELOW_PAIR, _BELOW_PARAGRAPH = 31.0, 0.6, 0.8
_HEAD_FILL, _OPEN_FILL, _RULE_GREY = 226, 240, 190


@dataclass(frozen=True)
class Column:
    """A column of a table: heading and width in millimetres."""

    heading: str
    width: float
    bold: bool = False


class Flow:
    """A cursor that moves down the page and begins a new one when there is no room; ``on_page`` marks each new page first."""

    def __init__(self, canvas: Canvas, on_page: Callable[[PageMarks], None] | None = None) -> None:
        self.canvas, self._on_page = canvas, on_page
        self.y = TOP

    @property
    def marks(self) -> PageMarks:
        return self.canvas.top

    def add_page(self) -> None:
        self.canvas.add_page()
        if self._on_page is not None:
            self._on_page(self.canvas.top)
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
        self.y += _BELOW_PARAGRAPH

    def paragraph_height(self, text: str, *, small: bool = False) -> float:
        """What :meth:`paragraph` takes of the page."""
        size = _SMALL if small else _SIZE
        return len(self.canvas.wrap(self.canvas.spelled(text), WIDTH, size)) * _line_height(size) + _BELOW_PARAGRAPH

    def heading_height(self) -> float:
        """What :meth:`heading` takes where it is not the first of a page."""
        return _ABOVE_HEADING + _HEADING_HEIGHT

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
        self.y += 1.5 if self.y > TOP else 0.0
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
        half, label_width = WIDTH / 2, _LABEL_WIDTH
        for start in range(0, len(pairs), 2):
            texts = self._pair_texts(pairs[start : start + 2])
            height = max(len(lines) for lines in texts) * _line_height(_SIZE)
            self.room_for(height)
            for column, (lines, (label, _)) in enumerate(zip(texts, pairs[start : start + 2], strict=True)):
                x, y = LEFT + column * half, self.y + _line_height(_SIZE) * 0.76
                self.marks.text(
                    x, y, self.canvas.spelled(label), self.canvas.fit(label, _LABEL, label_width - 2), grey=70
                )
                for number, line in enumerate(lines):
                    self.marks.text(x + label_width, y + number * _line_height(_SIZE), line, _SIZE)
            self.y += height + _BELOW_PAIR
        self.y += _BELOW_PARAGRAPH

    def pairs_height(self, pairs: Sequence[tuple[str, str]]) -> float:
        """What :meth:`pairs` takes of the page."""
        rows = [self._pair_texts(pairs[start : start + 2]) for start in range(0, len(pairs), 2)]
        lines = [max(len(texts) for texts in row) for row in rows]
        return sum(count * _line_height(_SIZE) + _BELOW_PAIR for count in lines) + _BELOW_PARAGRAPH

    def _pair_texts(self, pairs: Sequence[tuple[str, str]]) -> list[list[str]]:
        return [self._wrapped(value, WIDTH / 2 - _LABEL_WIDTH - 3, _SIZE) for _, value in pairs]

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
        first = self._cells(columns, rows[0], 0 in emphasised) if rows else []
        self.heading(heading, keep=self._table_start(columns, first))
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
                self.room_for(self._table_start(columns, cells))
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

    def is_full(self, height: float) -> bool:
        """Whether ``height`` does not fit on this page any more."""
        return self.y + height > BOTTOM

    def left(self) -> float:
        """What is left of this page."""
        return BOTTOM - self.y

    def head_height(self, columns: Sequence[Column]) -> float:
        """What the head of a table takes."""
        size, texts = self._head_texts(columns)
        return self._head_height(texts, size)

    def begin_table(self, columns: Sequence[Column], first: float) -> None:
        """The head of a table whose rows are drawn elsewhere, on a page that has room for the ``first`` of them."""
        self.room_for(self.head_height(columns) + first)
        self._head(columns)

    def _next_page(self, columns: Sequence[Column]) -> None:
        self.add_page()
        self._head(columns)

    def _head(self, columns: Sequence[Column]) -> None:
        """All headings in one size, on as many lines as the longest needs, at the foot of the head."""
        size, texts = self._head_texts(columns)
        height = self._head_height(texts, size)
        self.marks.box(LEFT, self.y, WIDTH, height, fill=_HEAD_FILL, edge=None)
        x, most = LEFT, max(len(lines) for lines in texts)
        for column, lines in zip(columns, texts, strict=True):
            for number, line in enumerate(lines, start=most - len(lines)):
                baseline = self.y + _PAD + (number + 0.76) * _line_height(size)
                self.marks.text(x + _CELL_GAP / 2, baseline, line, size, bold=True)
            x += column.width
        self.y += height
        self.marks.line(LEFT, self.y, RIGHT, self.y, width=0.3)

    def _head_texts(self, columns: Sequence[Column]) -> tuple[float, list[list[str]]]:
        """The size at which the longest word of every heading fits its column, and the headings in lines."""
        size = min(
            (
                self.canvas.fit(word, _TABLE_SIZE, column.width - _CELL_GAP - _HAIR, bold=True)
                for column in columns
                for word in self.canvas.spelled(column.heading).split()
            ),
            default=_TABLE_SIZE,
        )
        size = max(size, _SMALLEST_HEAD)
        return size, [self._wrapped(column.heading, column.width - _CELL_GAP, size, bold=True) for column in columns]

    @staticmethod
    def _head_height(texts: Sequence[list[str]], size: float) -> float:
        return max(1, *(len(lines) for lines in texts)) * _line_height(size) + 2 * _PAD

    def _table_start(self, columns: Sequence[Column], first: Sequence[list[str]]) -> float:
        """What must stay together at the start of a table: its head and its first row, unless that is very tall."""
        size, texts = self._head_texts(columns)
        lines = max((len(cell) for cell in first), default=1)
        return self._head_height(texts, size) + min(lines, _KEPT_LINES) * _line_height(_TABLE_SIZE) + 2 * _PAD

    def _line(self, x: float, line: str, size: float) -> None:
        self.room_for(_line_height(size))
        self.marks.text(x, self.y + _line_height(size) * 0.76, line, size)
        self.y += _line_height(size)

    def _wrapped(self, text: str, width: float, size: float, *, bold: bool = False) -> list[str]:
        spelled = (self.canvas.spelled(part) for part in text.split("\n"))
        return [line for part in spelled for line in self.canvas.wrap(part, width, size, bold=bold)]


def _line_height(size: float) -> float:
    return size * MM_PER_POINT * _LEADING
