"""The outline of a part with zones and indications, to scale, as large as its place allows."""

from __future__ import annotations

import math
import tkinter as tk
from collections.abc import Sequence

from ndi.gui.presenters.desk.outline import Drawing, Point
from ndi.gui.views.desk import look as looks

_ROUNDED = 1e-6  # millimetres: no outline is narrower


class OutlineCanvas(tk.Canvas):
    """Draws what it was shown last, anew with each change of its size."""

    def __init__(self, parent: tk.Misc, *, height: int = 220) -> None:
        super().__init__(
            parent,
            background=looks.PAPER,
            highlightthickness=1,
            highlightbackground=looks.LINE,
            height=height,
            takefocus=False,
        )
        self._look = looks.dress(parent)
        self._drawing: Drawing | None = None
        self._chosen = ""
        self.bind("<Configure>", lambda _event: self._draw())

    def show(self, drawing: Drawing, chosen: str = "") -> None:
        """Draw; ``chosen`` is a zone or an indication to stand out."""
        self._drawing, self._chosen = drawing, chosen
        self._draw()

    def _draw(self) -> None:
        self.delete("all")
        drawing, width, height = self._drawing, self.winfo_width(), self.winfo_height()
        if drawing is None or width < 20:
            return
        pad = self._look.unit * 2
        left, bottom, right, top = drawing.size
        across, up = max(right - left, _ROUNDED), max(top - bottom, _ROUNDED)
        foot = self._look.line + self._look.unit
        scale = min((width - 2 * pad) / across, (height - 2 * pad - foot) / up)
        x0 = (width - across * scale) / 2 - left * scale
        y0 = (height - foot + up * scale) / 2 + bottom * scale

        def on_screen(points: Sequence[Point]) -> list[float]:
            return [value for x, y in points for value in (x0 + x * scale, y0 - y * scale)]

        if drawing.outline:
            self.create_polygon(on_screen(drawing.outline), outline="", fill=looks.GROUND)
        for zone in drawing.zones:
            points = on_screen(zone.polygon)
            is_chosen = zone.code == self._chosen
            self.create_polygon(
                points,
                outline=looks.ZONE,
                fill=looks.ACCENT_PALE if is_chosen else "",
                dash=() if is_chosen else (4, 3),
            )
        if drawing.outline:
            self.create_polygon(on_screen(drawing.outline), outline=looks.OUTLINE, fill="", width=2)
        for zone in drawing.zones:
            points = on_screen(zone.polygon)
            self._label(points, zone.code)
        for mark in drawing.marks:
            self._mark(x0 + mark.x * scale, y0 - mark.y * scale, (mark.length or 0) * scale, mark.angle, mark.name)
        self.create_text(
            pad // 2,
            height - foot // 2,
            anchor="w",
            text=drawing.caption,
            font=self._look.small,
            fill=looks.QUIET,
            width=width - pad,
        )

    def _label(self, points: Sequence[float], code: str) -> None:
        """The zone's code along its longer side; cut where even that is too short (the list names it in full)."""
        xs, ys = points[::2], points[1::2]
        across, up = max(xs) - min(xs), max(ys) - min(ys)
        used = self._look.small
        turned = used.measure(code) > across and up > across
        text = looks.shortened(code, used, int(up if turned else across) - 4)
        if len(text) > 1:
            x, y = (min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2
            self.create_text(x, y, text=text, font=used, fill=looks.QUIET, angle=90 if turned else 0)

    def _mark(self, x: float, y: float, length: float, angle: float, name: str) -> None:
        ring = self._look.unit
        self.create_oval(x - ring, y - ring, x + ring, y + ring, outline=looks.MARK, width=2)
        if length:
            turn = math.radians(angle)
            across, up = math.cos(turn) * length / 2, math.sin(turn) * length / 2
            self.create_line(x - across, y + up, x + across, y - up, fill=looks.MARK, width=3)
        chosen = name == self._chosen
        self.create_text(
            x + ring * 1.5,
            y - ring * 1.5,
            anchor="sw",
            text=name,
            font=self._look.bold if chosen else self._look.small,
            fill=looks.MARK,
        )
