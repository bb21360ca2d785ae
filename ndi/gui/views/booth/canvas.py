"""The booth's whole screen: draws a scene, redraws its timers every second, says how much light it adds."""

from __future__ import annotations

import tkinter as tk
from collections.abc import Callable
from datetime import datetime

from ndi.gui.presenters.scene import Outline, Point, Scene, Shape, Side
from ndi.gui.views.booth import outline_drawing
from ndi.gui.views.booth.brush import Brush
from ndi.gui.views.booth.drawing import Box, Drawing, until_text
from ndi.gui.views.booth.palette import BLACK, BRIGHT, LINE, TEXT, foot_candles


class BoothCanvas(tk.Canvas):
    """``now`` gives the local time of the station, with its zone."""

    def __init__(
        self, parent: tk.Misc, now: Callable[[], datetime], stroked: Callable[[list[Point]], None] | None = None
    ) -> None:
        super().__init__(
            parent,
            background=BLACK,
            highlightthickness=0,
            borderwidth=0,
            takefocus=True,
            cursor=f"crosshair {TEXT} {BLACK}",
        )
        self.now = now
        self.brush = Brush(self)
        self.scene: Scene | None = None
        self.drawing: Drawing | None = None
        self.hand_typed = ""  # of a scan that is coming in
        self.busy = False
        self._stroked = stroked
        self._stroke: list[tuple[float, float]] = []
        self._outline: tuple[Outline, Box] | None = None
        self.bind("<Configure>", lambda _event: self.redraw())
        self.bind("<ButtonPress-1>", self._pen_down)
        self.bind("<B1-Motion>", self._pen_moved)
        self.bind("<ButtonRelease-1>", self._pen_up)

    # --- showing ----------------------------------------------------------------------------------

    def show(self, scene: Scene) -> None:
        """Draw a scene; the same scene is not drawn twice."""
        if scene != self.scene:
            self.scene = scene
            self.redraw()

    def typed(self, text: str) -> None:
        """What the scanner has sent so far."""
        self.hand_typed = text
        self._message_line()

    def set_busy(self, busy: bool) -> None:
        if busy != self.busy:
            self.busy = busy
            self._message_line()

    def redraw(self) -> None:
        scene = self.scene
        width, height = self.winfo_width(), self.winfo_height()
        if scene is None or width < 50 or height < 50:
            return
        brush = self.brush
        brush.set_size(width, height)
        brush.clear()
        pad = brush.size * 0.8
        self.drawing = Drawing(brush, self.now())
        top = self._head(scene, pad)
        bottom = self._feet(scene, pad)
        box = (pad, top, width - pad, bottom)
        self._outline = None
        self._find_outline(scene, box)
        self.drawing.column(scene.parts, box)
        self._message_line()
        self._status()

    def _find_outline(self, scene: Scene, box: Box) -> None:
        """Where the outline is, for the pointer."""
        left, top, right, bottom = box
        for part in scene.parts:
            if isinstance(part, Outline):
                self._outline = (part, box)
            elif isinstance(part, Side):
                middle, gap = left + (right - left) * part.share, self.brush.size * 0.7
                for inner in part.left[:1]:
                    if isinstance(inner, Outline):
                        self._outline = (inner, (left, top, middle - gap, bottom))
                for inner in part.right[:1]:
                    if isinstance(inner, Outline):
                        self._outline = (inner, (middle + gap, top, right, bottom))

    def _head(self, scene: Scene, pad: float) -> float:
        brush = self.brush
        width = brush.width
        clock_width = brush.font(brush.size).measure("00:00:00") + brush.size
        title = f"PRACTICE  {scene.title}" if scene.practice else scene.title
        brush.text(pad, pad * 0.6, brush.fitting(title, width - clock_width - pad * 2, bold=True), bold=True)
        self._clock_at = (width - pad, pad * 0.6)
        brush.text(*self._clock_at, f"{self.now():%H:%M:%S}", anchor="ne", tag="clock")
        y = pad * 0.6 + brush.line_height(brush.size)
        strip = "   ".join(scene.strip)
        self._light_at = (width - pad, y)
        brush.text(pad, y, brush.fitting(strip, width - pad * 3 - brush.size * 11, brush.small), size=brush.small)
        y += brush.line_height(brush.small)
        brush.path([pad, y + 2, width - pad, y + 2], LINE, brush.line)
        return y + brush.gap * 1.5

    def _feet(self, scene: Scene, pad: float) -> float:
        brush = self.brush
        height = brush.line_height(brush.small)
        keys_top = brush.height - pad * 0.5 - height
        x: float = pad
        for hint in scene.keys:
            wide = brush.font(brush.small).measure(hint.key) + brush.small * 0.6
            need = wide + brush.small * 0.4 + brush.font(brush.small).measure(hint.word) + brush.small
            if x + need > brush.width - pad:
                break
            brush.box(x, keys_top, x + wide, keys_top + height, line=LINE)
            brush.text(x + wide / 2, keys_top + height / 2, hint.key, size=brush.small, anchor="center")
            x += wide + brush.small * 0.4
            brush.text(x, keys_top + height / 2, hint.word, size=brush.small, anchor="w")
            x += brush.font(brush.small).measure(hint.word) + brush.small
        self._message_at = keys_top - brush.gap - brush.line_height(brush.size) * 2
        brush.path(
            [pad, self._message_at - brush.gap * 0.4, brush.width - pad, self._message_at - brush.gap * 0.4],
            LINE,
            brush.line,
        )
        return self._message_at - brush.gap

    def _message_line(self) -> None:
        """The one line that speaks: a scan coming in, what was saved, what was refused, that something is being worked out."""
        scene, brush = self.scene, self.brush
        if scene is None or not hasattr(self, "_message_at"):
            return
        self.delete("message")
        light = brush.light
        pad = brush.size * 0.8
        y = self._message_at
        text, colour = scene.message, BRIGHT if scene.refused else TEXT
        shape: Shape | None = (Shape.CROSS if scene.refused else Shape.DONE) if text else None
        if self.hand_typed:
            secret = any(word in scene.name for word in ("signing",))
            text = "•" * len(self.hand_typed) if secret else self.hand_typed
            shape, colour = Shape.RUNNING, TEXT
        elif self.busy:
            text, shape, colour = "working …", Shape.WAIT, TEXT
        if shape is not None and text:
            before = set(self.find_all())
            brush.shape(shape, pad, y + brush.size * 0.22, brush.size * 0.85, colour)
            room = brush.width - pad * 2 - brush.size * 1.4
            two_lines = brush.lines_of(text, room) > 2
            size = brush.small if two_lines else brush.size
            brush.text(
                pad + brush.size * 1.4, y, brush.fitting(text, room * 2.6, size), size=size, colour=colour, width=room
            )
            for item in set(self.find_all()) - before:
                self.addtag_withtag("message", item)
        brush.light = max(light, brush.light)

    def _status(self) -> None:
        """How much light this screen adds on the part."""
        self.delete("light")
        brush = self.brush
        added = self.added_light()
        brush.text(*self._light_at, f"screen adds {added:.2f} fc", size=brush.small, anchor="ne", tag="light")

    def mean_luminance(self) -> float:
        """Estimated mean relative luminance of what is drawn."""
        return self.brush.light / max(1, self.brush.width * self.brush.height)

    def added_light(self) -> float:
        """Estimated foot-candles that the screen adds at the part."""
        return foot_candles(self.mean_luminance())

    # --- every second -----------------------------------------------------------------------------

    def tick(self) -> None:
        """Clock and timers move on; nothing else is drawn."""
        if self.scene is None or self.drawing is None:
            return
        now, light = self.now(), self.brush.light
        self.itemconfigure("clock", text=f"{now:%H:%M:%S}")
        for until, centre, top, height, tag, colour in self.drawing.live:
            self.delete(tag)
            self.brush.number(centre, top, until_text(until, now), height, tag, colour)
        self.brush.light = light

    # --- a pointer draws on the outline -----------------------------------------------------------

    def _pen_down(self, event: tk.Event[tk.Misc]) -> None:
        self.focus_set()
        self._stroke = [(event.x, event.y)] if self._outline is not None else []

    def _pen_moved(self, event: tk.Event[tk.Misc]) -> None:
        if not self._stroke:
            return
        last = self._stroke[-1]
        if abs(event.x - last[0]) + abs(event.y - last[1]) >= 3:
            self._stroke.append((event.x, event.y))
            self.create_line(*last, event.x, event.y, fill=BRIGHT, width=self.brush.line * 2, tags=("pen",))

    def _pen_up(self, _event: tk.Event[tk.Misc]) -> None:
        stroke, self._stroke = self._stroke, []
        self.delete("pen")
        if not stroke or self._outline is None or self._stroked is None:
            return
        scale = outline_drawing.scale_of(*self._outline, self.brush)
        if scale is not None:
            self._stroked([scale.back(x, y) for x, y in stroke])
