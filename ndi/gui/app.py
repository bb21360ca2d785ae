"""The window of a station: black from the first instant, the book opened in a thread, booth and desk on one root.

Nothing that belongs to the book is imported here: the window is seen before it is loaded.
"""

from __future__ import annotations

import gc
import tkinter as tk
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime
from typing import TYPE_CHECKING

from ndi.domain.errors import InputError
from ndi.gui.holding import Holding
from ndi.gui.presenters.scene import Point, Said, Scene
from ndi.gui.views.booth.canvas import BoothCanvas
from ndi.gui.views.booth.palette import BLACK
from ndi.gui.views.keypad import Keypad
from ndi.gui.worker import Worker

if TYPE_CHECKING:
    from ndi.gui.presenters.booth.booth import Booth
    from ndi.gui.presenters.set_up import Ways
    from ndi.gui.views.start_frame import StartFrame

PUMP_MS = 8  # how often finished work is looked for while something is being worked out
IDLE_MS = 40
TICK_MS = 1000
FULL_COLLECTION = 120  # ticks
BUSY_SHOWN = 0.15  # seconds after which the window says that it is working


@dataclass
class Opened:
    """A book that is open: its booth, how to make its desk, how to let it go."""

    booth: Booth
    now: Callable[[], datetime]
    make_desk: Callable[[tk.Misc, Worker], tk.Widget]
    close: Callable[[], None]
    look: Callable[[], object] = lambda: None  # every second in the worker's thread: what the sounds are about
    heard: Callable[[], object] = lambda: None  # every second in the window's thread: sounds and speech


Opening = Callable[[Callable[[str], None]], Opened]


@dataclass(frozen=True)
class Start:
    """No book is named: the window begins with what can be chosen, bright, or dark in the booth."""

    ways: Ways
    dark: bool = False


class App:
    """``opening`` is called in a thread with a function that takes words about its progress; ``now`` is the machine's clock.

    With ``start`` it is called for no book; what is opened is chosen in the window first.
    """

    def __init__(
        self,
        opening: Opening,
        now: Callable[[], datetime],
        *,
        desk: bool = False,
        size: str = "",
        fullscreen: bool = False,
        start: Start | None = None,
    ) -> None:
        try:
            self.root = tk.Tk(className="ndi")
        except tk.TclError:
            raise InputError(
                "no screen here (DISPLAY is not set, or cannot be reached): every use case has a command, see ndi --help"
            ) from None
        self.root.withdraw()
        self.root.title("ndi")
        self.root.configure(background=BLACK)
        self.root.geometry(size or f"{self.root.winfo_screenwidth()}x{self.root.winfo_screenheight()}+0+0")
        self.root.protocol("WM_DELETE_WINDOW", self.close)
        # what belongs to the window may only be let go by its own thread; an automatic collection may run in any
        gc.disable()
        self._ticks = 0
        self._machine_now = now
        self.worker = Worker("book")
        self.opened: Opened | None = None
        self.desk: tk.Widget | None = None
        self.in_booth = True
        self._wants_desk = desk
        self._progress = "opening the book"
        self._is_opening = False
        self._closed = False
        self.canvas = BoothCanvas(self.root, self._now, self._stroked)
        self.canvas.pack(fill="both", expand=True)
        self.keypad = Keypad(self.press, self.scan, self.canvas.typed)
        self.holding = Holding(
            self.canvas, lambda: self.canvas.scene, self.worker, self._content, self._held, self._not_shown
        )
        self.root.bind("<Key>", self._key)
        self.root.bind("<KeyRelease>", lambda event: self.holding.released(event.keycode))
        self.root.bind("<FocusOut>", lambda _event: self.holding.stop())
        self.root.bind("<F12>", lambda _event: self.toggle())
        for to_the_booth in ("<Control-b>", "<<DarkBooth>>"):
            self.root.bind(to_the_booth, lambda _event: None if self.in_booth else self.toggle())
        self.root.bind("<Alt-Return>", lambda _event: self._toggle_fullscreen())
        if fullscreen:
            self.root.attributes("-fullscreen", True)
        self._start = start
        self.start_frame: StartFrame | None = None
        if start is None:
            self.canvas.show(_message_scene("ndi", self._progress))
            self.root.deiconify()
            self.root.update()  # seen before the thread begins to load what belongs to the book
            self.canvas.focus_set()
            self._open(opening)
        else:
            self._begin(start)
        self._pump()
        self._tick()

    # --- opening ----------------------------------------------------------------------------------

    def _begin(self, start: Start) -> None:
        """Show what can be chosen while no book is named."""
        if start.dark:
            self._show_choice()
            self.root.deiconify()
            self.canvas.focus_set()
            return
        from ndi.gui.views.start_frame import StartFrame

        self._wants_desk = True  # whoever chose in the light goes on in the light
        self.in_booth = False
        self.canvas.pack_forget()
        self.start_frame = StartFrame(self.root, start.ways, self.worker, self._open)
        self.start_frame.pack(fill="both", expand=True)
        self.root.deiconify()
        self.start_frame.focus_set()

    def _show_choice(self, message: str = "") -> None:
        assert self._start is not None
        from ndi.gui.presenters.set_up import dark_choice

        self.canvas.show(dark_choice(self._start.ways, message))

    def _choose_in_the_dark(self, key: str) -> None:
        """A key while the dark choice is shown."""
        if self._start is None or self._is_opening:
            return
        from ndi.gui.presenters.set_up import dark_chosen

        opening = dark_chosen(self._start.ways, key)
        if opening is not None:
            self._open(opening)

    def _open(self, opening: Opening) -> None:
        self._is_opening, self._progress = True, "opening the book"
        self.worker.ask(lambda: opening(self._said), self._is_open, self._failed)

    def _said(self, progress: str) -> None:
        """From the worker's thread; shown by the next look of the window's own thread."""
        self._progress = progress

    def _is_open(self, opened: Opened) -> None:
        self.opened = opened
        self.in_booth = True
        if self._wants_desk:
            self.toggle()
        if self.start_frame is not None:
            self.start_frame.destroy()
            self.start_frame = None
        self._show_booth()

    def _failed(self, error: Exception) -> None:
        self._is_opening = False
        if self.start_frame is not None:
            self.start_frame.failed(error)
            return
        if self._start is not None:
            self._show_choice(str(error))
            return
        self.canvas.show(_message_scene("This cannot be opened", str(error)))
        self.root.title("ndi: not opened")

    def _now(self) -> datetime:
        return self.opened.now() if self.opened is not None else self._machine_now()

    # --- keys -------------------------------------------------------------------------------------

    def _key(self, event: tk.Event[tk.Misc]) -> None:
        if not self.in_booth or (not self.canvas.hand_typed and self.holding.pressed(event.keysym, event.keycode)):
            return
        self.keypad.key(event.keysym, event.char)

    def press(self, key: str) -> None:
        """A key of the booth."""
        if self.opened is None:
            self._choose_in_the_dark(key)
        else:
            booth = self.opened.booth
            self._do(lambda: booth.press(key))

    def scan(self, text: str) -> None:
        """A code or text for the booth."""
        if self.opened is not None:
            booth = self.opened.booth
            self._do(lambda: booth.scan(text))

    def _stroked(self, points: list[Point]) -> None:
        if self.opened is not None:
            booth = self.opened.booth
            self._do(lambda: booth.stroked(points))

    # --- photographs that are looked at while a key is held ---

    def _content(self, path: str) -> bytes:
        from ndi.gui.presenters.booth.picture_content import content_for

        assert self.opened is not None
        return content_for(self.opened.booth, path)

    def _held(self, path: str, seconds: float) -> None:
        if self.opened is not None:
            booth = self.opened.booth
            self._do(lambda: booth.held(path, seconds))

    def _not_shown(self, why: str) -> None:
        if self.opened is not None:
            booth = self.opened.booth
            self._do(lambda: booth.refuse(why))

    def _do(self, act: Callable[[], None]) -> None:
        assert self.opened is not None
        booth = self.opened.booth

        def job() -> Scene:
            act()
            return booth.scene()

        self.worker.ask(job, self._show, self._broken)

    def _show(self, scene: Scene) -> None:
        self.canvas.show(scene)
        self.holding.look_again()
        if self.opened is not None and self.opened.booth.wants_desk:
            self.opened.booth.wants_desk = False
            if self.in_booth:
                self.toggle()

    def _broken(self, error: Exception) -> None:
        """Something that no use case foresaw: said, and the window goes on; the book holds what it held."""
        scene = self.canvas.scene
        if scene is not None:
            self.canvas.show(replace(scene, message=f"not done ({type(error).__name__}): {error}", refused=True))

    # --- the window's own work --------------------------------------------------------------------

    def _pump(self) -> None:
        if self._closed:
            return
        try:
            self.worker.pump()
            self.canvas.set_busy(self.worker.busy_for > BUSY_SHOWN and self.opened is not None)
            if self._is_opening and self.opened is None:
                self._show_progress()
        finally:  # whatever went wrong with one answer, the next ones are still handed over
            self.root.after(PUMP_MS if self.worker.is_busy else IDLE_MS, self._pump)

    def _show_progress(self) -> None:
        if self.start_frame is not None:
            self.start_frame.progress(self._progress)
        else:
            self.canvas.show(_message_scene("ndi", self._progress))

    def _tick(self) -> None:
        if self._closed:
            return
        if self.in_booth:
            self.canvas.tick()
            self.holding.look_again()
        if self.opened is not None:
            self.opened.heard()
            if not self.worker.is_busy:
                self._look()
        self._ticks += 1
        gc.collect(2 if self._ticks % FULL_COLLECTION == 0 else 1)
        self.root.after(TICK_MS, self._tick)

    def _look(self) -> None:
        """What another window or station wrote; the desk looks by itself."""
        assert self.opened is not None
        opened = self.opened

        def look() -> None:
            opened.look()
            opened.booth.tick()

        if self.in_booth:
            self._do(look)
        else:
            self.worker.ask(opened.look, None, lambda _error: None)

    # --- booth and desk ---------------------------------------------------------------------------

    def toggle(self) -> None:
        """From the dark booth to the bright desk, or back; the dark side is painted before it is shown."""
        if self.opened is None:
            return
        self.holding.stop()
        if self.in_booth:
            if self.desk is None:
                self.desk = self.opened.make_desk(self.root, self.worker)
            self.in_booth = False
            self.canvas.pack_forget()
            self.desk.pack(fill="both", expand=True)
            self.desk.focus_set()
        else:
            assert self.desk is not None
            self.root.configure(background=BLACK)
            self.desk.pack_forget()
            self.canvas.pack(fill="both", expand=True)
            self.in_booth = True
            self.canvas.focus_set()
            self._show_booth()

    def _show_booth(self) -> None:
        assert self.opened is not None
        self._do(self.opened.booth.reload)

    def _toggle_fullscreen(self) -> None:
        self.root.attributes("-fullscreen", not self.root.attributes("-fullscreen"))

    def close(self) -> None:
        """Let the last job end, close the book, end the window."""
        if self._closed:
            return
        self.holding.stop()
        self._closed = True
        if self.opened is not None:
            self.worker.ask(self.opened.close)
        self.worker.stop()
        self.root.destroy()
        gc.collect()
        gc.enable()

    def run(self) -> None:
        self.root.mainloop()


def _message_scene(title: str, text: str) -> Scene:
    return Scene("opening", title, (Said(text),))
