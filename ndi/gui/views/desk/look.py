"""How the desk looks: colours, fonts, spaces, styles; set once for a window, in the units of its own font."""

from __future__ import annotations

import tkinter as tk
from dataclasses import dataclass
from tkinter import font as tkfont
from tkinter import ttk
from typing import Any
from weakref import WeakKeyDictionary

GROUND, PAPER, LINE = "#f4f5f7", "#ffffff", "#cfd4da"
INK, QUIET = "#1b2733", "#5b6875"
ACCENT, ACCENT_DEEP, ACCENT_PALE, ON_ACCENT = "#1f4e79", "#173b5c", "#dbe6f1", "#ffffff"
PRACTICE_GROUND, PRACTICE_INK = "#f0b429", "#1b1400"
TROUBLE, TROUBLE_PALE = "#8c1d18", "#fbeae9"
ZONE, OUTLINE, MARK = "#6f8296", "#1b2733", "#8c1d18"


@dataclass(frozen=True)
class Look:
    """Sizes in pixels that follow the font: ``unit`` is half a line, ``digit`` the width of a figure."""

    unit: int
    line: int
    digit: int
    plain: tkfont.Font
    bold: tkfont.Font
    large: tkfont.Font
    small: tkfont.Font

    def chars(self, count: float) -> int:
        """The width of so many characters."""
        return int(self.digit * count)


_looks: WeakKeyDictionary[tk.Misc, Look] = WeakKeyDictionary()


def dress(widget: tk.Misc) -> Look:
    """Make the styles of the desk for the window of ``widget``; repeated calls give the same look."""
    root = widget.winfo_toplevel()
    if root in _looks:
        return _looks[root]
    plain = tkfont.nametofont("TkDefaultFont", root=root).copy()
    bold, large, small = plain.copy(), plain.copy(), plain.copy()
    bold.configure(weight="bold")
    size = int(plain.actual("size"))
    large.configure(size=round(size * 1.5), weight="bold")
    small.configure(size=max(size - 1, 8))
    line = plain.metrics("linespace")
    look = Look(max(line // 2, 6), line, plain.measure("0"), plain, bold, large, small)
    _looks[root] = look
    _styles(root, look)
    # Space presses a button by itself; Return does so too, as everywhere else on the desk
    for key in ("<Return>", "<KP_Enter>"):
        root.bind_class("TButton", key, _press)
    return look


def shortened(text: str, used: tkfont.Font, room: int) -> str:
    """The text, cut with … to what fits into so many pixels."""
    if used.measure(text) <= room:
        return text
    least, most = 0, len(text)
    while least < most:
        middle = (least + most + 1) // 2
        least, most = (middle, most) if used.measure(text[:middle] + "…") <= room else (least, middle - 1)
    return text[:least].rstrip() + "…"


def _press(event: tk.Event[tk.Misc]) -> str:
    invoke = getattr(event.widget, "invoke", None)
    if invoke is not None:
        invoke()
    return "break"


THEME = "ndi-desk"


def _styles(root: tk.Misc, look: Look) -> None:
    """A theme of our own on the plainest one: nothing of it reaches the dark side, which has no such widgets."""
    style = ttk.Style(root)
    if THEME not in style.theme_names():
        style.theme_create(THEME, parent="clam")
    style.theme_use(THEME)
    _texts(style, look)
    _buttons(style, look)
    _fields(style, look)
    _lists(style, look)
    for part, value in (
        ("font", str(look.plain)),
        ("background", PAPER),
        ("foreground", INK),
        ("selectBackground", ACCENT),
    ):
        root.option_add(f"*TCombobox*Listbox.{part}", value)


def _texts(style: ttk.Style, look: Look) -> None:
    for name, ground in (("Desk.TFrame", GROUND), ("Paper.TFrame", PAPER), ("Nav.TFrame", GROUND)):
        style.configure(name, background=ground)
    for name, ground, ink, used in (
        ("Desk.TLabel", GROUND, INK, look.plain),
        ("Paper.TLabel", PAPER, INK, look.plain),
        ("Quiet.TLabel", PAPER, QUIET, look.plain),
        ("QuietDesk.TLabel", GROUND, QUIET, look.plain),
        ("Bold.TLabel", PAPER, INK, look.bold),
        ("Title.TLabel", GROUND, INK, look.large),
        ("Trouble.TLabel", TROUBLE_PALE, TROUBLE, look.plain),
        ("Practice.TLabel", PRACTICE_GROUND, PRACTICE_INK, look.bold),
    ):
        style.configure(name, background=ground, foreground=ink, font=used)


def _buttons(style: ttk.Style, look: Look) -> None:
    pad = look.unit // 2
    flat: dict[str, Any] = {
        "font": look.plain,
        "padding": (pad * 2, pad),
        "relief": "raised",
        "borderwidth": 1,
        "shiftrelief": 0,
    }
    for name, ground, ink, over, edge in (
        ("Nav.TButton", GROUND, INK, ACCENT_PALE, GROUND),
        ("Here.TButton", ACCENT, ON_ACCENT, ACCENT, ACCENT),
        ("Late.TButton", TROUBLE_PALE, TROUBLE, TROUBLE_PALE, TROUBLE),
        ("Go.TButton", ACCENT, ON_ACCENT, ACCENT_DEEP, ACCENT),
        ("Plain.TButton", PAPER, INK, ACCENT_PALE, ACCENT),
    ):
        style.configure(
            name,
            background=ground,
            foreground=ink,
            bordercolor=edge,
            lightcolor=ground,
            darkcolor=ground,
            focuscolor=ink,
            **flat,
        )
        style.map(
            name,
            background=[("disabled", GROUND), ("active", over), ("focus", over)],
            lightcolor=[("disabled", GROUND), ("active", over), ("focus", over)],
            darkcolor=[("disabled", GROUND), ("active", over), ("focus", over)],
            bordercolor=[("disabled", LINE), ("focus", INK)],
            foreground=[("disabled", QUIET)],
            relief=[],
        )
    for name in ("Nav.TButton", "Here.TButton", "Late.TButton"):  # low: the list of screens is as long as the window
        style.configure(name, anchor="w", padding=(pad * 2, pad // 2))


def _fields(style: ttk.Style, look: Look) -> None:
    pad = look.unit // 2
    for name in ("TEntry", "TCombobox"):
        style.configure(
            name,
            fieldbackground=PAPER,
            foreground=INK,
            background=PAPER,
            bordercolor=LINE,
            lightcolor=PAPER,
            darkcolor=PAPER,
            insertcolor=INK,
            insertwidth=max(look.unit // 5, 1),
            padding=pad,
            selectbackground=ACCENT,
            selectforeground=ON_ACCENT,
            arrowcolor=INK,
            arrowsize=look.line,
        )
        style.map(
            name,
            bordercolor=[("focus", ACCENT)],
            lightcolor=[("focus", ACCENT)],
            darkcolor=[("focus", ACCENT)],
            fieldbackground=[("disabled", GROUND), ("readonly", PAPER)],
            background=[("active", ACCENT_PALE)],
            foreground=[("disabled", QUIET)],
            selectbackground=[("readonly", PAPER)],
            selectforeground=[("readonly", INK)],
        )


def _lists(style: ttk.Style, look: Look) -> None:
    pad = look.unit // 2
    style.configure(
        "Desk.Treeview",
        rowheight=look.line + pad,
        font=look.plain,
        background=PAPER,
        fieldbackground=PAPER,
        foreground=INK,
        borderwidth=0,
        relief="flat",
    )
    style.layout("Desk.Treeview", [("Treeview.treearea", {"sticky": "nswe"})])
    style.map(
        "Desk.Treeview",
        background=[("selected", "focus", ACCENT), ("selected", ACCENT_PALE)],
        foreground=[("selected", "focus", ON_ACCENT), ("selected", INK)],
    )
    style.configure(
        "Desk.Treeview.Heading",
        font=look.bold,
        background=GROUND,
        foreground=INK,
        relief="flat",
        padding=(pad, pad // 2),
        bordercolor=GROUND,
        lightcolor=GROUND,
        darkcolor=GROUND,
    )
    style.map("Desk.Treeview.Heading", background=[("active", GROUND)])
    thumb: Any = [
        (
            "Vertical.Scrollbar.trough",
            {"sticky": "ns", "children": [("Vertical.Scrollbar.thumb", {"expand": "1", "sticky": "nswe"})]},
        )
    ]
    style.layout("Desk.Vertical.TScrollbar", thumb)
    style.configure(
        "Desk.Vertical.TScrollbar",
        background=QUIET,
        troughcolor=GROUND,
        bordercolor=GROUND,
        lightcolor=QUIET,
        darkcolor=QUIET,
        gripcount=0,
        arrowsize=look.unit + 2,
        relief="flat",
    )
    style.map(
        "Desk.Vertical.TScrollbar",
        background=[("disabled", GROUND), ("active", ACCENT)],
        lightcolor=[("disabled", GROUND), ("active", ACCENT)],
        darkcolor=[("disabled", GROUND), ("active", ACCENT)],
    )
