"""Somebody at the desk: the real frame in a real window, driven with real key events."""

from __future__ import annotations

import gc
import tkinter as tk
from time import monotonic

from ndi.gui.presenters.desk.desk import Desk
from ndi.gui.views.desk.desk_frame import DeskFrame
from ndi.gui.worker import Worker
from tests.gui.screens import keep, picture

PATIENCE = 90.0


class Seat:
    """One window with the desk in it."""

    def __init__(self, desk: Desk, size: str = "1366x768") -> None:
        # what belongs to a window may only be let go by its own thread; the shell sees to it in the same way
        gc.collect()
        gc.disable()
        self.said: list[str] = []
        self.root = tk.Tk()
        self.root.geometry(f"{size}+0+0")
        self.worker = Worker("test book")
        self.desk = desk
        self.frame = DeskFrame(self.root, desk, self.worker, self.said.append)
        self.frame.pack(fill="both", expand=True)
        self.errors: list[BaseException] = []
        self.root.report_callback_exception = lambda _kind, error, _trace: self.errors.append(error)  # type: ignore[method-assign,assignment]
        self.root.update()
        self.root.focus_force()
        self.frame.focus_set()
        self.wait()

    def wait(self) -> None:
        """Until nothing is being worked out and everything is drawn."""
        end = monotonic() + PATIENCE
        quiet = 0
        while quiet < 3:
            self.worker.pump()
            self.root.update()
            quiet = 0 if self.worker.is_busy else quiet + 1
            assert monotonic() < end, "the window is still working"
        assert not self.errors, self.errors

    def key(self, *keys: str) -> None:
        """Press keys where the focus is: ``F2``, ``Return``, ``Control-e``, ``Alt-r``."""
        for key in keys:
            if self.root.focus_get() is None:  # no window manager gives the window the focus
                last = self.root.focus_lastfor()
                (last or self.root).focus_force()
            self.root.update()
            widget = self.root.focus_get() or self.root
            widget.event_generate(f"<{key}>")
            self.wait()

    def type(self, text: str) -> None:
        """Letters into the field that has the focus."""
        names = {" ": "space", "-": "minus", "/": "slash", ".": "period", ":": "colon", "+": "plus"}
        for letter in text:
            self.key(f"Key-{names.get(letter, letter)}")

    def shot(self, name: str) -> None:
        keep(picture(), f"desk/{name}")

    @property
    def message(self) -> str:
        return self.frame.said

    def close(self) -> None:
        self.worker.stop()
        self.root.destroy()
        gc.collect()
        gc.enable()
