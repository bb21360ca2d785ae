"""A photograph with what lies over it: zoom by wheel or + and -, the arrows move, a click marks a point."""

from __future__ import annotations

import tkinter as tk
from collections.abc import Callable, Iterable, Sequence
from math import hypot

from ndi.gui.presenters.desk.photographs import Drawn, Opened, Place
from ndi.gui.views.desk import look as looks
from ndi.gui.views.desk.chart_view import Ask

Box = tuple[float, float, float, float]  # left, top, right, bottom as shares of the picture
Region = Callable[[Box, tuple[int, int]], bytes]  # a PPM

# over a photograph, dark or bright, every line has a dark edge
_EDGE, _MARKED, _LAYER, _LENGTH, _PROPOSED, _DIM = "#000000", "#ffd400", "#ffffff", "#6fe3ff", "#ffa24d", "#8a97a3"
_GROUND = "#20262d"
_STEP, _MOVE, _CLOSEST = 1.5, 0.2, 0.01
_REST_MS = 60


class PictureCanvas(tk.Canvas):
    """``region`` gives the pixels of a part, read in the worker's thread; ``on_click`` gets a place in the picture."""

    def __init__(
        self, parent: tk.Misc, ask: Ask, on_click: Callable[[Place], None], on_drop: Callable[[], None]
    ) -> None:
        super().__init__(
            parent,
            background=_GROUND,
            highlightthickness=2,
            highlightbackground=looks.LINE,
            highlightcolor=looks.ACCENT,
            takefocus=True,
        )
        self._look, self._ask, self._on_click = looks.dress(parent), ask, on_click
        self._opened: Opened | None = None
        self._region: Region | None = None
        self._marks: dict[str, tuple[Place, ...]] = {}
        self._image: tk.PhotoImage | None = None
        self._box: Box = (0.0, 0.0, 1.0, 1.0)
        self._asked = 0
        self._waiting: str | None = None
        self.bind("<Configure>", lambda _event: self._later())
        self.bind("<Button-1>", self._clicked)
        self.bind("<Button-3>", lambda _event: on_drop())
        self.bind("<BackSpace>", lambda _event: on_drop())
        self.bind("<Button-4>", lambda event: self.zoom(_STEP, event.x, event.y))
        self.bind("<Button-5>", lambda event: self.zoom(1 / _STEP, event.x, event.y))
        self.bind("<MouseWheel>", lambda event: self.zoom(_STEP if event.delta > 0 else 1 / _STEP, event.x, event.y))
        for key in ("<plus>", "<KP_Add>"):
            self.bind(key, lambda _event: self.zoom(_STEP))
        for key in ("<minus>", "<KP_Subtract>"):
            self.bind(key, lambda _event: self.zoom(1 / _STEP))
        for key in ("<Key-0>", "<KP_0>"):
            self.bind(key, lambda _event: self.whole())
        for key, way in {"<Left>": (-1, 0), "<Right>": (1, 0), "<Up>": (0, -1), "<Down>": (0, 1)}.items():
            self.bind(key, lambda _event, way=way: self.pan(*way))  # type: ignore[misc]
        self.bind("<Destroy>", lambda _event: self._let_go())

    # --- what is shown ------------------------------------------------------------------------------

    def show(self, opened: Opened | None, region: Region | None) -> None:
        """Another picture (whole), or the same one with what lies over it now."""
        is_same = opened is not None and self._opened is not None and opened.key == self._opened.key
        self._opened, self._region = opened, region
        if not is_same:
            self._box, self._image = (0.0, 0.0, 1.0, 1.0), None
        if opened is None or is_same:
            self._overlay()
        if opened is not None and not is_same:
            self._now()

    def mark(self, marks: dict[str, tuple[Place, ...]]) -> None:
        """What a person has marked so far, by tool."""
        self._marks = marks
        self._overlay()

    def zoom(self, by: float, x: int | None = None, y: int | None = None) -> str:
        """Closer or farther, the place under the pointer (or the middle) stays where it is."""
        left, top, right, bottom = self._box
        at = self.place_at(x, y) if x is not None and y is not None else None
        px, py = at or ((left + right) / 2, (top + bottom) / 2)
        share = min(max((right - left) / by, _CLOSEST), 1.0) / (right - left)
        self._go(px - (px - left) * share, py - (py - top) * share, (right - left) * share)
        return "break"

    def whole(self) -> str:
        self._go(0.0, 0.0, 1.0)
        return "break"

    def pan(self, across: int, down: int) -> str:
        left, top, right, _ = self._box
        wide = right - left
        self._go(left + across * wide * _MOVE, top + down * wide * _MOVE, wide)
        return "break"

    def _go(self, left: float, top: float, wide: float) -> None:
        wide = min(wide, 1.0)
        left, top = (min(max(edge, 0.0), 1.0 - wide) for edge in (left, top))
        self._box = (left, top, left + wide, top + wide)
        self._later()

    # --- places -------------------------------------------------------------------------------------

    def _frame(self) -> tuple[float, float, float]:
        """Left and top of what is shown in pixels, and pixels of the screen to one of the picture's width."""
        opened = self._opened
        assert opened is not None
        room = max(self.winfo_width() - 4, 1), max(self.winfo_height() - 4, 1)
        left, top, right, bottom = self._box
        per_pixel = min(room[0] / (opened.width * (right - left)), room[1] / (opened.height * (bottom - top)))
        across, down = opened.width * (right - left) * per_pixel, opened.height * (bottom - top) * per_pixel
        return (room[0] - across) / 2 + 2, (room[1] - down) / 2 + 2, per_pixel

    def place_at(self, x: float, y: float) -> Place | None:
        """The place in the picture under a pixel; None beside the picture."""
        if self._opened is None:
            return None
        at_left, at_top, per_pixel = self._frame()
        left, top, right, bottom = self._box
        px = left + (x - at_left) / (per_pixel * self._opened.width)
        py = top + (y - at_top) / (per_pixel * self._opened.height)
        return (px, py) if left <= px <= right and top <= py <= bottom else None

    def pixel(self, place: Place) -> tuple[float, float]:
        """Where a place of the picture stands on the canvas."""
        assert self._opened is not None
        at_left, at_top, per_pixel = self._frame()
        return (
            at_left + (place[0] - self._box[0]) * self._opened.width * per_pixel,
            at_top + (place[1] - self._box[1]) * self._opened.height * per_pixel,
        )

    def _clicked(self, event: tk.Event[tk.Misc]) -> None:
        self.focus_set()
        place = self.place_at(event.x, event.y)
        if place is not None:
            self._on_click(place)

    # --- drawing ------------------------------------------------------------------------------------

    def _let_go(self) -> None:
        """The picture goes with the widget, on the window's own thread."""
        self._image = self._region = None

    def _later(self) -> None:
        if self._waiting is not None:
            self.after_cancel(self._waiting)
        self._waiting = self.after(_REST_MS, self._now)

    def _now(self) -> None:
        self._waiting = None
        opened, region = self._opened, self._region
        if opened is None or region is None or self.winfo_width() < 50:
            return
        self._asked += 1
        token, box = self._asked, self._box
        left, top, right, bottom = box
        per_pixel = self._frame()[2]
        size = (
            max(round(opened.width * (right - left) * per_pixel), 1),
            max(round(opened.height * (bottom - top) * per_pixel), 1),
        )
        self._ask(lambda: region(box, size), lambda ppm: self._draw(ppm) if token == self._asked else None)

    def _draw(self, ppm: bytes) -> None:
        self._image = tk.PhotoImage(master=self, data=ppm, format="PPM")
        self._overlay()

    def _overlay(self) -> None:
        self.delete("all")
        opened = self._opened
        if opened is None:
            return
        left, top, _ = self._frame()
        if self._image is not None:
            self.create_image(left, top, anchor="nw", image=self._image)
        for drawn in opened.measured:
            self._lined(drawn, _LENGTH)
        for drawn in opened.proposed:
            self._lined(drawn, _DIM if drawn.is_dim else _PROPOSED)
        for shape in opened.shapes:
            self._shape(shape.shape, shape.points, shape.text)
        for tool, points in self._marks.items():
            self._marked(tool, points)

    def _lined(self, drawn: Drawn, colour: str) -> None:
        points = [self.pixel(point) for point in (*drawn.points, *(drawn.points[:1] if drawn.closed else ()))]
        self._line(points, colour, dash=(4, 4) if drawn.is_dim else ())
        if points:
            self._words(max(x for x, _ in points), min(y for _, y in points), drawn.label, colour)

    def _shape(self, shape: str, places: Sequence[Place], text: str) -> None:
        points = [self.pixel(place) for place in places]
        if shape == "circle":
            (x, y), rim = points
            radius = hypot(rim[0] - x, rim[1] - y)
            for colour, width in ((_EDGE, 4), (_LAYER, 2)):
                self.create_oval(x - radius, y - radius, x + radius, y + radius, outline=colour, width=width)
            self._words(x + radius, y - radius, text, _LAYER)
            return
        if shape != "text":
            self._line(points, _LAYER, arrow=shape == "arrow", ends=shape == "scale bar")
        self._words(points[0][0], points[0][1], text, _LAYER)

    def _marked(self, tool: str, places: Sequence[Place]) -> None:
        points = [self.pixel(place) for place in places]
        if tool == "outline" and len(points) > 2:
            points.append(points[0])
        self._line(points, _MARKED)
        for x, y in points:
            for colour, width, arm in ((_EDGE, 3, 7), (_MARKED, 1, 6)):
                self.create_line(x - arm, y, x + arm, y, fill=colour, width=width)
                self.create_line(x, y - arm, x, y + arm, fill=colour, width=width)
        if points:
            self._words(points[0][0] + 8, points[0][1] - 8, tool, _MARKED)

    def _line(
        self,
        points: Iterable[tuple[float, float]],
        colour: str,
        *,
        arrow: bool = False,
        ends: bool = False,
        dash: tuple[int, ...] = (),
    ) -> None:
        flat = [value for point in points for value in point]
        if len(flat) < 4:
            return
        for used, width, dashed in ((_EDGE, 4, ()), (colour, 2, dash)):
            item = self.create_line(flat, fill=used, width=width, dash=dashed)
            if arrow:
                self.itemconfigure(item, arrow="last", arrowshape=(14, 16, 6))
        if ends:
            for x, y in (flat[:2], flat[-2:]):
                self.create_line(x, y - 7, x, y + 7, fill=colour, width=2)

    def _words(self, x: float, y: float, text: str, colour: str) -> None:
        """Beside their place, inside the canvas, on a dark ground."""
        if not text:
            return
        room = self.winfo_width() - 6
        wide = self._look.bold.measure(text)
        item = self.create_text(
            min(max(x + 4, 6), max(room - wide, 6)),
            max(y - 2, self._look.line + 4),
            anchor="sw",
            text=text,
            font=self._look.bold,
            fill=colour,
        )
        back = self.create_rectangle(*self.bbox(item), fill=_EDGE, outline="")
        self.tag_lower(back, item)
