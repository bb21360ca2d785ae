"""The window: first paint, key to screen, change of screen, a long list; each beside a bare window of the same toolkit.

Needs Xvfb.  Pictures are drawn by the X server in memory, so the figures are of
the program and the toolkit, not of a graphics card.
"""

from __future__ import annotations

import shutil
import sqlite3
import statistics
import subprocess
import sys
import tempfile
import time
import tkinter as tk
from collections.abc import Callable, Sequence
from pathlib import Path
from tkinter import ttk
from typing import Any

from ndi.cli.practice import practice_copy
from ndi.domain.scan_codes import ScanKind
from ndi.gui.presenters.desk.listing import Column, Row
from ndi.gui.views.desk import look as looks
from ndi.gui.views.desk.virtual_list import VirtualList
from tests.bench.measures import Line
from tests.gui.screens import screen
from tests.gui.window import Window

ROOT = Path(__file__).resolve().parents[2]
SIZE = "1366x768"
TIMES = 7
PAGES = 60
ROWS = 1_000_000
BARE_ROWS = 40
PART = "W26-0148/T6-10301/LOT-148-RKR"
MOST_BLOCKED = 0.1  # seconds: the goal

_SEEN = """
import os, sys, time
import tkinter as tk
def loop(self, n=0):
    self.update()
    self.winfo_pointerx()  # an answer of the server: all before it is drawn
    print(time.time(), "sqlalchemy" in sys.modules, flush=True)
    os._exit(0)
tk.Misc.mainloop = loop
"""
_BARE = f"""
root = tk.Tk()
root.geometry("{SIZE}+0+0")
canvas = tk.Canvas(root, background="black")
canvas.pack(fill="both", expand=True)
canvas.create_text(100, 100, text="ndi", fill="red")
root.mainloop()
"""
_OURS = f"""
from ndi.cli.main import main
main(["open", sys.argv[1], "--size", "{SIZE}"])
"""


def window() -> list[Line]:
    """Every measure of the window; none where there is no Xvfb."""
    if shutil.which("Xvfb") is None:
        return []
    with tempfile.TemporaryDirectory() as scratch, screen(SIZE):
        book = practice_copy(Path(scratch), "10:57", lambda _said: None)
        return [*_first_paint(book), *_keys(book), *_long_list()]


# --- first paint ----------------------------------------------------------------------------------


def _first_paint(book: Path) -> list[Line]:
    loaded: list[bool] = []

    def run(program: str) -> float:
        begun = time.time()
        done = subprocess.run(
            [sys.executable, "-c", _SEEN + program, str(book)], capture_output=True, text=True, cwd=ROOT, check=True
        )
        seen, has_store = done.stdout.split()
        loaded.append(has_store == "True")
        return float(seen) - begun

    ours, floor = [], []
    for _ in range(TIMES):
        ours.append(run(_OURS))
        floor.append(run(_BARE))
    note = "from the start of the process; SQLAlchemy loaded before it: " + ("yes" if any(loaded) else "no")
    return [Line("first paint of ndi open BOOK", "window", statistics.median(ours), statistics.median(floor), 2, note)]


# --- keys -----------------------------------------------------------------------------------------


def _keys(book: Path) -> list[Line]:
    """From the event to the scene drawn, with what the key records on the disk."""
    w = Window(book, "10:57", size=SIZE)
    root = w.app.root
    blocked = _Blocked(root)
    w.scan(ScanKind.PERSON, "L2-A").scan(ScanKind.LAMP, "LP-1")
    bare = _bare_canvas(root)
    drawn: list[float] = []
    changed: list[float] = []
    recorded: list[float] = []
    for _ in range(TIMES * 3):
        changed.append(_timed(w, "KP_Divide"))  # another screen comes
        changed.append(_timed(w, "KP_Decimal"))  # and goes
    w.key("+", "1").scan(ScanKind.LAMP, "LP-2")
    for _ in range(TIMES * 3):
        drawn.append(_timed(w, "KP_1"))  # a figure of a number
        drawn.append(_timed(w, "KP_Subtract"))
    w.key("-", "-", "-", ".", ".").key(".")
    w.scan(ScanKind.PART, PART).key("*", "enter")
    floor_key = statistics.median(bare() for _ in range(TIMES * 3))
    commit = _bare_commit(book.parent / "bare.sqlite")
    for key in ("KP_Enter",) * 8:
        assert w.work is not None
        before = _head(w)
        taken = _timed(w, key)
        if _head(w) > before:
            recorded.append(taken)
    blocked.stop()
    longest = blocked.longest
    w.close()
    lines = [
        Line("key to screen, a figure typed in the booth", "key", statistics.median(drawn), floor_key, note=_BARE_NOTE),
        Line("change of screen in the booth", "key", statistics.median(changed), floor_key, note=_BARE_NOTE),
    ]
    if recorded:
        floor = floor_key + commit
        note = f"{len(recorded)} keys; floor: a bare key and a bare durable commit of {commit * 1e3:.1f} ms"
        lines.append(Line("key to screen, a key that records", "key", statistics.median(recorded), floor, note=note))
    note = (
        f"on this walk in the booth (not the desk, not the opening of the book); goal {MOST_BLOCKED * 1e3:.0f} ms"
        + ("" if longest <= MOST_BLOCKED else ", missed")
    )
    return [*lines, Line("longest time that the window's thread was blocked", "time", longest, note=note)]


_BARE_NOTE = "floor: a bare canvas of the same size draws 40 lines of text anew on a key"


def _timed(w: Window, keysym: str) -> float:
    """One key, from its event to the scene that the server has drawn."""
    root = w.app.root
    root.focus_force()
    root.update()
    begun = time.perf_counter()
    root.event_generate(f"<KeyPress-{keysym}>")
    while w.app.worker.is_busy:
        root.update()
        w.app.worker.pump()
    root.update()
    root.winfo_pointerx()
    taken = time.perf_counter() - begun
    root.event_generate(f"<KeyRelease-{keysym}>")
    w.wait()
    return taken


def _head(w: Window) -> int:
    assert w.work is not None
    with w.work.book.session(readonly=True) as session:
        return session.head().position


def _bare_canvas(root: tk.Misc) -> Callable[[], float]:
    """A window of the toolkit alone that draws its texts anew with each key."""
    top = tk.Toplevel(root)
    top.geometry(f"{SIZE}+0+0")
    canvas = tk.Canvas(top, background="black")
    canvas.pack(fill="both", expand=True)

    def draw(_event: object = None) -> None:
        canvas.delete("all")
        for number in range(BARE_ROWS):
            canvas.create_text(20, 18 * number, anchor="nw", text=f"line {number} of a bare window", fill="red")

    canvas.bind("<Key>", draw)
    top.withdraw()

    def key() -> float:
        top.deiconify()
        canvas.focus_force()
        top.update()
        begun = time.perf_counter()
        canvas.event_generate("<KeyPress-1>")
        top.update()
        top.winfo_pointerx()
        taken = time.perf_counter() - begun
        top.withdraw()
        root.focus_force()
        root.update()
        return taken

    return key


def _bare_commit(path: Path) -> float:
    """A row of 1,000 bytes into a table of its own, on the disk when it returns."""
    connection = sqlite3.connect(path, isolation_level=None)
    connection.execute("PRAGMA journal_mode=WAL")
    connection.execute("PRAGMA synchronous=FULL")
    connection.execute("CREATE TABLE t (body BLOB)")
    times = []
    for _ in range(TIMES * 5):
        begun = time.perf_counter()
        connection.execute("INSERT INTO t VALUES (?)", (b"x" * 1000,))
        times.append(time.perf_counter() - begun)
    connection.close()
    return statistics.median(times)


class _Blocked:
    """How long the window's thread did not come back to its events: between two looks of a timer of 5 ms."""

    def __init__(self, root: tk.Misc) -> None:
        self._root, self._last = root, time.perf_counter()
        self.longest = 0.0
        self._look()

    def _look(self) -> None:
        now = time.perf_counter()
        self.longest = max(self.longest, now - self._last - 0.005)
        self._last = now
        self._next = self._root.after(5, self._look)

    def stop(self) -> None:
        self._root.after_cancel(self._next)


# --- a long list ----------------------------------------------------------------------------------


class _Million:
    """Rows that are made when they are asked for."""

    def count(self) -> int:
        return ROWS

    def rows(self, first: int, most: int) -> Sequence[Row]:
        last = min(first + most, ROWS)
        return [Row((f"W26-{n:07d}", f"T6-{n % 90_000 + 10_000}", f"serial R-{n}"), str(n)) for n in range(first, last)]


def _long_list() -> list[Line]:
    """A page of a list of a million rows, beside a bare list of the toolkit that holds 40 and gets 40 others."""
    root = tk.Tk()
    root.geometry(f"{SIZE}+0+0")
    looks.dress(root)
    ours = VirtualList(root)
    ours.place(x=0, y=0, relwidth=1, relheight=1)
    ours.show_source((Column("Work order", 20), Column("Part", 20), Column("Serial", 30, stretch=True)), _Million())
    bare = ttk.Treeview(root, columns=("a", "b", "c"), show="headings", style="Desk.Treeview")
    items = [bare.insert("", "end", values=("", "", "")) for _ in range(BARE_ROWS)]
    root.update()
    page = ours.visible
    at = {"ours": 0, "bare": 0}

    def seen(widget: Any) -> None:
        widget.update()
        widget.winfo_pointerx()

    def scroll() -> None:
        at["ours"] = (at["ours"] + 7_919 * page) % ROWS
        ours.move_to(at["ours"])
        seen(root)

    def refill() -> None:
        at["bare"] += BARE_ROWS
        for number, item in enumerate(items, at["bare"]):
            bare.item(item, values=(f"W26-{number:07d}", f"T6-{number % 90_000 + 10_000}", f"serial R-{number}"))
        seen(root)

    mine, floor = [], []
    for _ in range(PAGES):
        bare.place_forget()
        root.update()
        mine.append(_clocked(scroll))
        bare.place(x=0, y=0, relwidth=1, relheight=1)
        bare.lift()
        root.update()
        floor.append(_clocked(refill))
    root.destroy()
    note = f"{page} rows a page, from all over the list; floor: a bare list of {BARE_ROWS} rows gets {BARE_ROWS} others"
    return [
        Line("a page of a list of 1,000,000 rows", "page", statistics.median(mine), statistics.median(floor), 2, note)
    ]


def _clocked(call: Callable[[], object]) -> float:
    begun = time.perf_counter()
    call()
    return time.perf_counter() - begun
