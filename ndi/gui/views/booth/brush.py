"""Draws on the dark canvas and keeps account of the light that it lays down."""

from __future__ import annotations

import tkinter as tk
from collections.abc import Sequence
from tkinter import font as tkfont
from typing import Literal

from ndi.gui.presenters.scene import Shape
from ndi.gui.views.booth import digits
from ndi.gui.views.booth.palette import BLACK, BRIGHT, FONT, LINE, TEXT, red_of, relative_luminance

# share of a text's box (width x letter size) that its strokes light, as luminance; measured on screenshots, rounded up
INK = 0.17
INK_BOLD = 0.235
Anchor = Literal["nw", "n", "ne", "w", "center", "e", "sw", "s", "se"]
DIGIT_MM = 25.0  # timers are read from 1.5 m
X_HEIGHT_MM = 5.0  # records are read from 0.6 m
_X_HEIGHT = 0.547  # of the letter size, DejaVu Sans


class Brush:
    """Sizes in pixels, chosen from the size of the canvas and the scaling of the screen."""

    def __init__(self, canvas: tk.Canvas) -> None:
        self.canvas = canvas
        self.light = 0.0  # luminance times pixels
        self._fonts: dict[tuple[int, bool], tkfont.Font] = {}
        self.set_size(1366, 768)

    def set_size(self, width: int, height: int) -> None:
        """Choose sizes: letters with an x-height of 5 mm where they fit, timers 25 mm high always."""
        mm = self.canvas.winfo_fpixels("1m")
        self.width, self.height = width, height
        wanted = X_HEIGHT_MM * mm / _X_HEIGHT
        self.size = max(11, int(min(wanted, height / 25, width / 50)))
        self.small = max(10, int(self.size * 0.78))
        self.digit = DIGIT_MM * mm
        self.line = max(1, round(mm * 0.3))
        self.gap = max(4, self.size // 3)

    def clear(self) -> None:
        self.canvas.delete("all")
        self.light = 0.0

    def font(self, size: int, bold: bool = False) -> tkfont.Font:
        """A font of a pixel size."""
        key = (size, bold)
        if key not in self._fonts:
            made = tkfont.Font(self.canvas, family=FONT, size=-size)
            if bold:
                made.configure(weight="bold")
            self._fonts[key] = made
        return self._fonts[key]

    def line_height(self, size: int) -> int:
        return int(size * 1.32)

    # --- text -------------------------------------------------------------------------------------

    def text(
        self,
        x: float,
        y: float,
        text: str,
        *,
        size: int | None = None,
        colour: str = TEXT,
        anchor: Anchor = "nw",
        width: float = 0,
        bold: bool = False,
        tag: str = "",
    ) -> int:
        """Write; returns the y below.  ``width`` wraps."""
        size = size or self.size
        made = self.font(size, bold)
        item: int = self.canvas.create_text(
            x, y, text=text, fill=colour, font=made, anchor=anchor, width=int(width), tags=[tag] if tag else []
        )
        if colour != BLACK:
            ink = INK_BOLD if bold else INK
            self.light += made.measure(text) * size * ink * relative_luminance(red_of(colour))
        box = self.canvas.bbox(item)
        return box[3] if box else int(y)

    def fitting(self, text: str, width: float, size: int | None = None, bold: bool = False) -> str:
        """The text, cut with an ellipsis where it is wider."""
        made = self.font(size or self.size, bold)
        if made.measure(text) <= width:
            return text
        low, high = 0, len(text)
        while low < high:
            middle = (low + high + 1) // 2
            if made.measure(text[:middle].rstrip() + "…") <= width:
                low = middle
            else:
                high = middle - 1
        return text[:low].rstrip() + "…"

    def lines_of(self, text: str, width: float, size: int | None = None) -> int:
        """How many lines a text takes when it is wrapped."""
        made, lines, room = self.font(size or self.size), 1, width
        left = room
        for word in text.split(" "):
            need = made.measure(word + " ")
            if need > left and left < room:
                lines, left = lines + 1, room
            left -= need
        return lines

    # --- digits, lines, boxes, shapes -------------------------------------------------------------

    def number(self, centre: float, top: float, text: str, height: float, tag: str = "", colour: str = BRIGHT) -> None:
        """A timer's number, centred; words that have no strokes are written in letters of that height."""
        if not digits.can_draw(text):
            size = min(int(height / 1.2), int(self.width * 0.5 / max(1, len(text)) / 0.62))
            self.text(centre, top + height / 2, text, size=size, colour=colour, anchor="center", tag=tag)
            return
        width = digits.width_of(text) * height
        stroke = max(2, round(height / 26))
        for points in digits.strokes(text, centre - width / 2, top, height):
            self.path(points, colour, stroke, tag)

    def path(self, points: Sequence[float], colour: str, width: float, tag: str = "") -> None:
        self.canvas.create_line(
            *points, fill=colour, width=width, capstyle="round", joinstyle="round", tags=(tag,) if tag else ()
        )
        length = sum(
            ((points[n + 2] - points[n]) ** 2 + (points[n + 3] - points[n + 1]) ** 2) ** 0.5
            for n in range(0, len(points) - 3, 2)
        )
        self.light += (length + width) * width * relative_luminance(red_of(colour))

    def box(
        self,
        x0: float,
        y0: float,
        x1: float,
        y1: float,
        *,
        line: str = LINE,
        fill: str = "",
        width: float | None = None,
    ) -> None:
        width = self.line if width is None else width
        self.canvas.create_rectangle(x0, y0, x1, y1, outline=line, fill=fill, width=width)
        if fill and fill != BLACK:
            self.light += (x1 - x0) * (y1 - y0) * relative_luminance(red_of(fill))
        if line:
            self.light += 2 * ((x1 - x0) + (y1 - y0)) * width * relative_luminance(red_of(line))

    def shape(self, shape: Shape, x: float, y: float, size: float, colour: str = TEXT) -> None:
        """State by shape in a square of ``size`` whose upper left corner is given."""
        w = max(2.0, size / 11)
        s, m = size, size / 2
        match shape:
            case Shape.OPEN:
                self.path(
                    [x + w, y + w, x + s - w, y + w, x + s - w, y + s - w, x + w, y + s - w, x + w, y + w], colour, w
                )
            case Shape.RUNNING:
                self.path([x + w, y + m, x + s - w, y + m], colour, w * 2.4)
            case Shape.DONE:
                self.path(
                    [x + s * 0.10, y + s * 0.55, x + s * 0.40, y + s * 0.85, x + s * 0.92, y + s * 0.15], colour, w
                )
            case Shape.CROSS:
                self.path([x + s * 0.12, y + s * 0.12, x + s * 0.88, y + s * 0.88], colour, w)
                self.path([x + s * 0.88, y + s * 0.12, x + s * 0.12, y + s * 0.88], colour, w)
            case Shape.WAIT:
                ends = [x + s * 0.15, y + w, x + s * 0.85, y + w, x + s * 0.15, y + s - w, x + s * 0.85, y + s - w]
                self.path([*ends, x + s * 0.15, y + w], colour, w)
            case Shape.DASH:
                self.path([x + s * 0.2, y + m, x + s * 0.45, y + m], colour, w)
                self.path([x + s * 0.6, y + m, x + s * 0.85, y + m], colour, w)
