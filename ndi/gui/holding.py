"""The key that is held to look at a photograph: down, the picture comes; up, it is gone and its seconds are told."""

from __future__ import annotations

import time
import tkinter as tk
from collections.abc import Callable
from dataclasses import dataclass

from ndi.gui.presenters.scene import Picture, Scene
from ndi.gui.views.booth.red_picture import InRed, RedPicture, in_red, picture_of
from ndi.gui.views.keypad import KEYS
from ndi.gui.worker import Worker

KEY = "5"
REPEAT_MS = 60  # X repeats a held key as release and press; a release that no press follows within this is one


@dataclass
class _Look:
    """One press of the key, until it is let go."""

    picture: Picture
    keycode: int
    view: RedPicture | None = None
    since: float = 0.0  # when the picture came
    letting_go: str | None = None  # what waits for the press of a repeat
    let_go_at: float = 0.0


class Holding:
    """``content`` reads a picture in the worker's thread; ``ended`` gets what was looked at and for how many seconds."""

    def __init__(
        self,
        over: tk.Misc,
        scene: Callable[[], Scene | None],
        worker: Worker,
        content: Callable[[str], bytes],
        ended: Callable[[str, float], None],
        failed: Callable[[str], None],
    ) -> None:
        self._over, self._scene, self._worker = over, scene, worker
        self._content, self._ended, self._failed = content, ended, failed
        self._look: _Look | None = None
        over.bind("<Configure>", lambda _event: self.stop(), add="+")  # its light was measured for another size

    @property
    def is_shown(self) -> bool:
        return self._look is not None and self._look.view is not None

    def pressed(self, keysym: str, keycode: int) -> bool:
        """Whether a key went down to look at a picture (or is held for it still); then it means nothing else."""
        look = self._look
        if look is not None and keycode == look.keycode:
            if look.letting_go is not None:
                self._over.after_cancel(look.letting_go)
                look.letting_go = None
            return True
        if KEYS.get(keysym) != KEY:
            return False
        picture = picture_of(self._scene())
        if picture is None:
            return False
        self.stop()
        self._begin(_Look(picture, keycode))
        return True

    def released(self, keycode: int) -> None:
        """A key came up; its picture goes unless the press of a repeat follows at once."""
        look = self._look
        if look is None or keycode != look.keycode or look.letting_go is not None:
            return
        look.let_go_at = time.monotonic()
        look.letting_go = self._over.after(REPEAT_MS, self.stop)

    def stop(self) -> None:
        """The picture is gone; also when the window loses the keyboard or another screen comes."""
        look, self._look = self._look, None
        if look is None:
            return
        if look.letting_go is not None:
            self._over.after_cancel(look.letting_go)
        if look.view is not None:
            look.view.destroy()
            until = look.let_go_at if look.letting_go is not None else time.monotonic()
            self._ended(look.picture.path, max(0.0, until - look.since))

    def look_again(self) -> None:
        """Every second and with every new scene: count on, or stop where the screen no longer offers this picture."""
        look = self._look
        if look is None:
            return
        offered = picture_of(self._scene())
        if offered is None or offered.path != look.picture.path:
            self.stop()
        elif look.view is not None:
            look.view.counted(int(time.monotonic() - look.since))

    def _begin(self, look: _Look) -> None:
        self._look = look
        path, width, height = look.picture.path, self._over.winfo_width(), self._over.winfo_height()

        def show(made: InRed) -> None:
            if self._look is look:  # else it was let go while it was decoded
                look.view = RedPicture(self._over, made, look.picture.caption.partition(",")[0])
                look.since = time.monotonic()

        def fail(error: Exception) -> None:
            if self._look is look:
                self._look = None
            self._failed(f"this picture cannot be shown: {error}")

        self._worker.ask(lambda: in_red(self._content(path), width, height), show, fail)
