"""Drives the real window with real key events on a copy of the practice book, at the times of its day."""

from __future__ import annotations

import os
import shutil
import tkinter as tk
from collections.abc import Callable
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path
from time import monotonic
from typing import Any

from ndi import bootstrap
from ndi.day.clock import SetClock
from ndi.domain.scan_codes import ScanKind, scan_text
from ndi.gui.app import App, Opened
from ndi.gui.memory_file import MemoryFile
from ndi.gui.presenters.booth.booth import Booth
from ndi.gui.presenters.booth.outside import Outside
from ndi.gui.presenters.scene import Scene
from ndi.services.workplace import Workplace
from tests.gui.screens import keep, picture

OFFSET = -300  # minutes; the clock of the demonstration shop on that day
DAY = datetime(2026, 3, 10, tzinfo=timezone(timedelta(minutes=OFFSET)))
KEYSYMS = {
    "enter": "KP_Enter",
    "+": "KP_Add",
    "-": "KP_Subtract",
    "*": "KP_Multiply",
    "/": "KP_Divide",
    ".": "KP_Decimal",
}
PATIENCE = 90.0


def instant(clock: str) -> datetime:
    """``10:58`` or ``10:58:30`` of the demonstration day."""
    hour, minute, second = ([int(part) for part in clock.split(":")] + [0])[:3]
    return DAY.replace(hour=hour, minute=minute, second=second).astimezone(UTC)


def copy_of(book: Path, folder: Path) -> Path:
    """A book of its own for one test, keys included."""
    folder.mkdir(parents=True, exist_ok=True)
    copied = folder / book.name
    shutil.copy(book, copied)
    keys = bootstrap.key_folder(book)
    shutil.copytree(keys, bootstrap.key_folder(copied), dirs_exist_ok=True)
    return copied


class Window:
    """One window on a book's file or address; keys are counted, and each waits until the window has answered."""

    def __init__(
        self,
        book: bootstrap.Where,
        clock: str,
        *,
        place: str = "MT booth",
        size: str = "1366x768",
        outside: Outside | None = None,
        make_desk: Callable[..., Any] | None = None,
        station: str | None = None,
    ) -> None:
        self.clock = SetClock(instant(clock), OFFSET)
        self.pressed: list[str] = []
        self.work: Workplace | None = None
        name = "window.json" if station is None else f"{station}.window.json"
        self.memory = MemoryFile(bootstrap.key_folder(book) / name)

        def opening(_said: Callable[[str], None]) -> Opened:
            self.work = bootstrap.open_book(book, station=station, clock=self.clock)
            booth = Booth(self.work, self.memory, outside)
            if booth.hand.place is None:
                booth.hand.place = place
            work = self.work
            desk = make_desk or (lambda parent, _worker: tk.Frame(parent))
            return Opened(booth, lambda: work.now().local, desk, lambda: bootstrap.close(work.book))

        self.app = App(opening, lambda: instant(clock).astimezone(), size=size)
        self.wait()

    # --- time -------------------------------------------------------------------------------------

    def at(self, clock: str) -> Window:
        """It is now this time of the day."""
        self.clock.set(instant(clock), OFFSET)
        return self

    def later(self, **more: float) -> Window:
        self.clock.set(self.clock.now() + timedelta(**more), OFFSET)
        return self

    # --- hands ------------------------------------------------------------------------------------

    def key(self, *keys: str) -> Window:
        """Press keys of the keypad, one after the other."""
        for key in keys:
            self.pressed.append(key)
            self.event(KEYSYMS.get(key, f"KP_{key}"))
        return self

    def number(self, text: str) -> Window:
        """Type a number and its Enter; not counted, as a number read from a meter."""
        count = len(self.pressed)
        self.key(*text, "enter")
        del self.pressed[count:]
        return self

    def event(self, keysym: str) -> None:
        """One real key event to the window."""
        self.app.root.focus_force()
        self.app.root.update()
        self.app.root.event_generate(f"<KeyPress-{keysym}>")
        self.app.root.event_generate(f"<KeyRelease-{keysym}>")
        self.wait()

    def scan(self, kind: ScanKind, name: str) -> Window:
        """A code of the sheets, as a scanner types it."""
        return self.type(scan_text(kind, name))

    def type(self, text: str) -> Window:
        """Characters and Return, as a scanner or keyboard sends them."""
        for character in text:
            self.app.keypad.key(character, character)
        self.app.keypad.key("Return", "\r")
        self.wait()
        return self

    # --- looking ----------------------------------------------------------------------------------

    def wait(self) -> None:
        """Until the window has nothing more to do; a window that never comes to rest fails the test."""
        end = monotonic() + PATIENCE
        quiet = 0
        while quiet < 2:
            self.app.root.update()
            quiet = quiet + 1 if self.app.opened is not None and not self.app.worker.is_busy else 0
            if monotonic() > end:
                raise AssertionError("the window does not come to rest")
            self.app.worker.pump()

    @property
    def scene(self) -> Scene:
        assert self.app.canvas.scene is not None
        return self.app.canvas.scene

    @property
    def booth(self) -> Booth:
        assert self.app.opened is not None
        return self.app.opened.booth

    def says(self, *words: str) -> bool:
        """Whether what is shown contains these words."""
        shown = repr(self.scene)
        return all(word in shown for word in words)

    def shot(self, name: str) -> Any:
        """A picture of the screen, kept for looking at."""
        self.app.root.update()
        image = picture()
        keep(image, name)
        return image

    def close(self) -> None:
        self.app.close()


def has_xvfb() -> bool:
    return any(Path(folder, "Xvfb").exists() for folder in os.environ.get("PATH", "").split(os.pathsep))
