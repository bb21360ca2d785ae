"""One chart, drawn as large as its place; drawn anew in the worker's thread when the place changes."""

from __future__ import annotations

import tkinter as tk
from collections.abc import Callable
from typing import Any

from ndi.gui.views.desk import look as looks

Draw = Callable[[int, int, float], bytes]  # width and height in pixels, dots to the inch: a PNG
Ask = Callable[[Callable[[], Any], Callable[[Any], None]], None]

_REST_MS = 120  # a window that is being drawn larger is not drawn at every step
_SMALLEST = 80  # pixels


class ChartView(tk.Label):
    """Shows what ``draw`` makes; the picture before stays until the new one is there."""

    def __init__(self, parent: tk.Misc, ask: Ask) -> None:
        super().__init__(
            parent,
            background=looks.PAPER,
            foreground=looks.QUIET,
            highlightthickness=1,
            highlightbackground=looks.LINE,
            borderwidth=0,
            takefocus=False,
        )
        self._ask, self._draw = ask, None  # type: tuple[Ask, Draw | None]
        self._shown: tk.PhotoImage | None = None
        self._wanted = self._drawn = (0, 0, 0)  # which drawing, how wide, how high
        self._number = 0
        self._waiting: str | None = None
        self.bind("<Configure>", lambda _event: self._later())
        self.bind("<Destroy>", lambda _event: self._let_go())

    def show(self, draw: Draw | None, words: str = "") -> None:
        """Show another chart; None: the words instead."""
        self._number += 1
        self._draw = draw
        if draw is None:
            self._shown = None
            self.configure(image="", text=words)
            return
        self._now()

    def _let_go(self) -> None:
        """The picture goes with the widget, on the window's own thread."""
        self._draw = self._shown = None

    def _later(self) -> None:
        if self._waiting is not None:
            self.after_cancel(self._waiting)
        self._waiting = self.after(_REST_MS, self._now)

    def _now(self) -> None:
        if self._waiting is not None:
            self.after_cancel(self._waiting)
            self._waiting = None
        draw, wanted = self._draw, (self._number, self.winfo_width() - 2, self.winfo_height() - 2)
        if draw is None or wanted in (self._wanted, self._drawn) or min(wanted[1:]) < _SMALLEST:
            return
        self._wanted = wanted
        dpi = float(self.winfo_fpixels("1i"))
        self._ask(lambda: draw(wanted[1], wanted[2], dpi), lambda png: self._put(wanted, png))

    def _put(self, drawn: tuple[int, int, int], png: bytes) -> None:
        if not self.winfo_exists() or drawn != self._wanted:
            return  # another one was asked for meanwhile
        self._drawn = drawn
        before, self._shown = self._shown, tk.PhotoImage(master=self, data=png)
        self.configure(image=self._shown, text="")
        del before
