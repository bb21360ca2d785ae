"""One function for each kind of part of a scene: draws it into a box and returns the y below it."""

from __future__ import annotations

from datetime import datetime, timedelta

from ndi.gui.presenters.scene import (
    Asked,
    Big,
    Form,
    Outline,
    Part,
    Picture,
    Row,
    Rows,
    Said,
    Shape,
    Side,
    Strip,
    Tile,
    Tiles,
    Until,
)
from ndi.gui.views.booth import outline_drawing
from ndi.gui.views.booth.brush import Brush
from ndi.gui.views.booth.palette import BLACK, BRIGHT, GROUND, LINE, TEXT

Box = tuple[float, float, float, float]  # left, top, right, bottom
LONG = timedelta(minutes=100)
ROW_LINES = 2


def until_text(until: Until, now: datetime) -> str:
    """``12:05`` under 100 minutes, else whole minutes; below zero with a minus."""
    left = now - until.at if until.counts_up else until.at - now
    late = left < timedelta(0)
    seconds = int(abs(left).total_seconds())
    if timedelta(seconds=seconds) >= LONG:
        text = str(seconds // 60)
    else:
        text = f"{seconds // 60}:{seconds % 60:02}"
    return f"-{text}" if late else text


def number_text(number: Until | str, now: datetime) -> str:
    return until_text(number, now) if isinstance(number, Until) else number


class Drawing:
    """Draws the parts of one scene; ``live`` collects what has to be drawn again every second."""

    def __init__(self, brush: Brush, now: datetime) -> None:
        self.brush, self.now = brush, now
        self.live: list[tuple[Until, float, float, float, str, str]] = []  # until, centre, top, height, tag, colour

    def part(self, part: Part | Side, box: Box, last: bool = True) -> float:
        """Draw one part; the last one of a column may use all that is left."""
        match part:
            case Side():
                return self._side(part, box)
            case Rows():
                return self._rows(part, box)
            case Tiles():
                return self._tiles(part, box)
            case Strip():
                return self._strip(part, box)
            case Outline():
                return outline_drawing.draw(self.brush, part, box)
            case Big():
                return self._big(part, box)
            case Form():
                return self._form(part, box)
            case Said():
                return self._said(part, box)
            case Picture():
                return self._said(Said(part.caption, "Hold 5 to see it in red"), box)
        raise AssertionError(part)

    def column(self, parts: tuple[Part | Side, ...], box: Box) -> float:
        left, top, right, bottom = box
        for part in parts:
            if top >= bottom:
                break
            top = self.part(part, (left, top, right, bottom)) + self.brush.gap * 1.5
        return top

    def _side(self, part: Side, box: Box) -> float:
        left, top, right, bottom = box
        middle = left + (right - left) * part.share
        gap = self.brush.size * 0.7
        one = self.column(part.left, (left, top, middle - gap, bottom))
        two = self.column(part.right, (middle + gap, top, right, bottom))
        self.brush.path([middle, top, middle, min(bottom, max(one, two))], LINE, self.brush.line)
        return max(one, two)

    # --- text parts -------------------------------------------------------------------------------

    def _heading(self, text: str, box: Box) -> float:
        brush = self.brush
        left, top, right, _ = box
        if not text:
            return top
        below = brush.text(left, top, text, size=brush.small, width=right - left)
        brush.path([left, below + 2, right, below + 2], LINE, brush.line)
        return below + brush.gap

    def _said(self, part: Said, box: Box) -> float:
        """A paragraph: in smaller letters where it would not fit, cut only when even those do not."""
        brush = self.brush
        left, top, right, bottom = box
        top = self._heading(part.heading, box)
        width, size = right - left, brush.size
        if top + brush.lines_of(part.text, width) * brush.line_height(size) > bottom:
            size = brush.small
        room = max(1, int((bottom - top) // brush.line_height(size)))
        text = part.text
        if brush.lines_of(text, width, size) > room:
            text = brush.fitting(text, width * room * 0.92, size)
        return brush.text(left, top, text, size=size, width=width)

    def _big(self, part: Big, box: Box) -> float:
        brush = self.brush
        left, top, right, _ = box
        centre = (left + right) / 2
        height = brush.digit
        self._number(part.number, centre, top + brush.gap, height)
        below = top + brush.gap * 2 + height
        mark = brush.size if part.shape else 0
        width = brush.font(brush.size).measure(part.caption)
        start = max(left + mark * 1.4, centre - width / 2)
        if part.shape:
            brush.shape(part.shape, start - mark * 1.4, below + brush.size * 0.15, mark)
        return brush.text(start, below, part.caption, width=right - start)

    def _number(self, number: Until | str, centre: float, top: float, height: float, colour: str = BRIGHT) -> None:
        tag = f"live{len(self.live)}" if isinstance(number, Until) else ""
        self.brush.number(centre, top, number_text(number, self.now), height, tag, colour)
        if isinstance(number, Until):
            self.live.append((number, centre, top, height, tag, colour))

    # --- rows -------------------------------------------------------------------------------------

    def _row_text(self, text: str, width: float) -> str:
        """What a row says, in two lines at most."""
        if self.brush.lines_of(text, width) <= ROW_LINES:
            return text
        return self.brush.fitting(text, width * ROW_LINES * 0.9)

    def _row_height(self, row: Row, width: float) -> float:
        brush = self.brush
        text_width, below = self._row_layout(row, width)
        lines = brush.lines_of(self._row_text(row.text, text_width), text_width)
        height = lines * brush.line_height(brush.size)
        if below and row.detail:
            height += brush.lines_of(row.detail, text_width, brush.small) * brush.line_height(brush.small)
        return height + brush.gap * 0.6

    def _indent(self, row: Row) -> float:
        size = self.brush.size
        key = max(size * 1.3, self.brush.font(self.brush.small).measure(row.key) + size * 0.5) if row.key else 0
        return key + (size * 0.35 if key else 0) + (size * 1.25 if row.shape else 0)

    def _row_layout(self, row: Row, width: float) -> tuple[float, bool]:
        """Width for the text, and whether the detail goes below it."""
        brush = self.brush
        room = width - self._indent(row) - brush.gap
        if not row.detail:
            return room, False
        need = brush.font(brush.size).measure(row.text) + brush.font(brush.small).measure(row.detail) + brush.size
        return (room, True) if need > room else (room - brush.font(brush.small).measure(row.detail) - brush.gap, False)

    def _rows(self, part: Rows, box: Box) -> float:
        brush = self.brush
        left, top, right, bottom = box
        top = self._heading(part.heading, box)
        if not part.rows:
            return brush.text(left, top, part.empty, width=right - left) if part.empty else top
        width = right - left
        heights = [self._row_height(row, width) for row in part.rows]
        first = self._first_shown(part.rows, heights, bottom - top)
        if first:
            top = brush.text(left, top, f"… {first} above", size=brush.small)
        for number in range(first, len(part.rows)):
            rest = len(part.rows) - number
            if number > first and top + heights[number] > bottom:
                return brush.text(left, top, f"… {rest} more", size=brush.small)
            self._row(part.rows[number], (left, top, right, top + heights[number]))
            top += heights[number]
        return top

    def _first_shown(self, rows: tuple[Row, ...], heights: list[float], room: float) -> int:
        """The first row of the page on which the selected row is seen."""
        selected = next((n for n, row in enumerate(rows) if row.selected), 0)
        first = 0
        while first < selected and sum(heights[first : selected + 1]) > room - self.brush.size * 2:
            first += 1
        return first

    def _row(self, row: Row, box: Box) -> None:
        brush = self.brush
        left, top, right, bottom = box
        colour = BLACK if row.selected else TEXT
        if row.selected:
            brush.box(left - 2, top, right, bottom - brush.gap * 0.4, line="", fill=TEXT, width=0)
        x, size = left + brush.gap * 0.3, brush.size
        if row.key:
            wide = max(size * 1.05, brush.font(brush.small).measure(row.key) + size * 0.25)
            brush.box(x, top + size * 0.12, x + wide, top + size * 1.2, line=BLACK if row.selected else LINE)
            brush.text(x + wide / 2, top + size * 0.66, row.key, size=brush.small, colour=colour, anchor="center")
        x = left + self._indent(row)
        if row.shape:
            brush.shape(row.shape, x - size * 1.1, top + size * 0.25, size * 0.8, colour)
        text_width, below = self._row_layout(row, right - left)
        under = brush.text(x, top, self._row_text(row.text, text_width), colour=colour, width=text_width)
        if row.detail and below:
            brush.text(x, under, row.detail, size=brush.small, colour=colour, width=text_width)
        elif row.detail:
            y = top + (size - brush.small) * 0.9
            brush.text(right - brush.gap * 0.5, y, row.detail, size=brush.small, colour=colour, anchor="ne")

    # --- tiles, strip, form -----------------------------------------------------------------------

    def _tiles(self, part: Tiles, box: Box) -> float:
        brush = self.brush
        left, top, right, bottom = box
        if not part.tiles:
            return brush.text(left, top, part.empty, width=right - left)
        needed = brush.digit + brush.line_height(brush.size) * 3 + brush.gap * 3
        columns = max(1, min(len(part.tiles), int((right - left) // (brush.digit * 3.1))))
        lines = max(1, int((bottom - top) // (needed + brush.gap)))
        shown = part.tiles[: columns * lines]
        width = (right - left) / columns
        for n, tile in enumerate(shown):
            x, y = left + (n % columns) * width, top + (n // columns) * (needed + brush.gap)
            self._tile(tile, (x + brush.gap / 2, y, x + width - brush.gap / 2, y + needed))
        below = top + -(-len(shown) // columns) * (needed + brush.gap)
        if len(part.tiles) > len(shown):
            below = brush.text(left, below, f"… {len(part.tiles) - len(shown)} more baskets", size=brush.small)
        return below

    def _tile(self, tile: Tile, box: Box) -> None:
        brush = self.brush
        left, top, right, bottom = box
        brush.box(
            left,
            top,
            right,
            bottom,
            line=TEXT if tile.selected else LINE,
            width=brush.line * (3 if tile.selected else 1),
        )
        inner, pad = right - left - brush.gap * 2, left + brush.gap
        y = top + brush.gap * 0.5
        name = f"{tile.key}  {tile.title}" if tile.key else tile.title
        brush.text(pad, y, brush.fitting(name, inner * 0.6), bold=tile.selected)
        if tile.small:
            brush.text(
                right - brush.gap,
                y + brush.size * 0.2,
                brush.fitting(tile.small, inner * 0.42, brush.small),
                size=brush.small,
                anchor="ne",
            )
        y += brush.line_height(brush.size)
        self._number(tile.big, (left + right) / 2, y + brush.gap * 0.6, brush.digit)
        y += brush.digit + brush.gap * 1.4
        brush.text(pad, y, brush.fitting(tile.action, inner))
        y += brush.line_height(brush.size)
        brush.shape(tile.shape, pad, y + brush.size * 0.2, brush.size * 0.85)
        brush.text(pad + brush.size * 1.3, y, brush.fitting(tile.word, inner - brush.size * 1.3))

    def _strip(self, part: Strip, box: Box) -> float:
        brush = self.brush
        left, top, right, _ = box
        if not part.cells:
            return top
        columns = len(part.cells)
        while columns > 1 and (right - left) / columns < brush.size * 7:
            columns = -(-columns // 2)
        width = (right - left) / columns
        lines = max(len(cell.lines) for cell in part.cells)
        height = brush.line_height(brush.small) * (lines + 1) + brush.gap
        for n, cell in enumerate(part.cells):
            x, y = left + (n % columns) * width, top + (n // columns) * (height + brush.gap * 0.6)
            inner = width - brush.gap * 2 - brush.small * 1.2
            edge = TEXT if cell.selected else LINE
            brush.box(
                x + 1,
                y,
                x + width - brush.gap * 0.6,
                y + height,
                line=edge,
                width=brush.line * (3 if cell.selected else 1),
            )
            brush.shape(cell.shape, x + brush.gap * 0.8, y + brush.gap * 0.6, brush.small * 0.85)
            brush.text(
                x + brush.gap + brush.small * 1.1,
                y + brush.gap * 0.3,
                brush.fitting(cell.title, inner, brush.small),
                size=brush.small,
            )
            for line, text in enumerate(cell.lines, 1):
                at = y + brush.gap * 0.3 + line * brush.line_height(brush.small)
                brush.text(x + brush.gap, at, brush.fitting(text, width - brush.gap * 2, brush.small), size=brush.small)
        return top + -(-len(part.cells) // columns) * (height + brush.gap * 0.6)

    def _form(self, part: Form, box: Box) -> float:
        left, _top, right, bottom = box
        y = self._heading(part.heading, box)
        brush = self.brush
        current = next((n for n, asked in enumerate(part.fields) if asked.current), 0)
        height = brush.line_height(brush.size) + brush.gap
        room = max(1, int((bottom - y) // height))
        first = max(0, min(current - room // 2, len(part.fields) - room))
        for asked in part.fields[first : first + room]:
            y = self._field(asked, (left, y, right, y + height)) + brush.gap * 0.3
        return y

    def _field(self, asked: Asked, box: Box) -> float:
        brush = self.brush
        left, top, right, _ = box
        size = brush.size
        if asked.label.startswith("Enter: "):
            return brush.text(left, top, asked.label, width=right - left, bold=True)
        label_width = (right - left) * 0.44
        brush.text(left, top + size * 0.12, brush.fitting(asked.label, label_width))
        x0, x1 = left + label_width + brush.gap, left + label_width + brush.gap + size * 5.2
        height = brush.line_height(size)
        if asked.secret:
            x1 = right
        brush.box(
            x0,
            top,
            x1,
            top + height,
            line=TEXT if asked.current else LINE,
            fill=GROUND,
            width=brush.line * (2 if asked.current else 1),
        )
        cursor = "▏" if asked.current else ""
        brush.text(x0 + brush.gap * 0.7, top + size * 0.1, asked.typed + cursor, colour=BRIGHT)
        rest = f"{asked.unit}  {asked.hint}".strip()
        if rest:
            brush.text(
                x1 + brush.gap * 0.7,
                top + size * 0.25,
                brush.fitting(rest, right - x1 - brush.gap, brush.small),
                size=brush.small,
            )
        return top + height


__all__ = ["Box", "Drawing", "Shape", "until_text"]
