"""Texts that fit themselves to their place: wrapped labels, names with values, a row of buttons that breaks."""

from __future__ import annotations

import tkinter as tk
from collections.abc import Sequence
from tkinter import font as tkfont
from tkinter import ttk

from ndi.gui.presenters.desk.listing import Labelled
from ndi.gui.views.desk import look as looks

_EDGE = 4  # pixels that the last letter of a line may need
_NARROWEST = 40  # pixels; below that a label is not on the screen yet


def wrapped(parent: tk.Misc, text: str = "", *, style: str, font: tkfont.Font | None = None) -> ttk.Label:
    """A label that asks for no width of its own and breaks its text at the width it is given."""
    label = ttk.Label(parent, text=text, style=style, width=1, justify="left", anchor="nw")
    if font is not None:
        label.configure(font=font)

    def fit(event: tk.Event[tk.Misc]) -> None:
        room = event.width - _EDGE
        if room > _NARROWEST and int(str(label.cget("wraplength")) or 0) != room:
            label.configure(wraplength=room)

    label.bind("<Configure>", fit)
    return label


class Lines(ttk.Frame):
    """Names and values in one or more columns, values wrapped; filled anew with each ``show``."""

    def __init__(self, parent: tk.Misc, *, columns: int = 1) -> None:
        super().__init__(parent, style="Paper.TFrame", padding=looks.dress(parent).unit // 2)
        self._look, self._columns = looks.dress(parent), columns
        self._made: list[ttk.Label] = []
        for number in range(columns):
            self.columnconfigure(number * 2 + 1, weight=1, uniform="values")

    def show(self, lines: Sequence[Labelled]) -> None:
        for label in self._made:
            label.destroy()
        self._made = []
        deep = -(-len(lines) // self._columns)
        pad = self._look.unit
        for number, line in enumerate(lines):
            column, row = divmod(number, deep)
            name = ttk.Label(self, text=line.label, style="Quiet.TLabel")
            name.grid(row=row, column=column * 2, sticky="nw", padx=(0 if column == 0 else pad * 2, pad))
            value = wrapped(self, line.value, style="Paper.TLabel")
            value.grid(row=row, column=column * 2 + 1, sticky="new")
            self._made += [name, value]


class Flow(ttk.Frame):
    """Buttons beside a heading, at the right; under it, in as many rows as they need, where they do not fit."""

    def __init__(self, parent: tk.Misc, head: ttk.Frame) -> None:
        super().__init__(parent, style="Desk.TFrame")
        self._head, self._look = head, looks.dress(parent)
        self._buttons: list[ttk.Button] = []
        self._lines: list[ttk.Frame] = []
        self._told = (0, 0)
        parent.bind("<Configure>", lambda _event: self._arrange(), add="+")
        for widget in (head, *head.winfo_children()):
            self.watch(widget)

    def watch(self, widget: tk.Misc) -> None:
        """Look again whether the buttons fit when this widget becomes longer."""
        widget.bind("<Configure>", lambda _event: self._arrange(), add="+")

    def add(self, button: ttk.Button) -> None:
        self._buttons.append(button)
        button.bind("<Configure>", lambda _event: self._arrange(), add="+")

    def _arrange(self) -> None:
        room = self.master.winfo_width()
        taken = sum(child.winfo_reqwidth() for child in self._head.winfo_children()) + 4 * self._look.unit
        if room < _NARROWEST or not self._buttons or self._told == (room, taken):
            return
        self._told = (room, taken)
        gap = self._look.unit // 2
        widths = [button.winfo_reqwidth() + gap for button in self._buttons]
        beside = taken + sum(widths) <= room
        row = used = 0
        for button, width in zip(self._buttons, widths, strict=True):
            if not beside and used + width > room and used:
                row, used = row + 1, 0
            # a line of its own for each row: a long button below does not push apart the ones above it
            button.pack(in_=self._line(row), side="left", padx=(gap if beside else 0, 0 if beside else gap))
            button.lift()
            used += width
        for number, line in enumerate(self._lines):
            line.pack_forget()
            if number <= row:
                line.pack(fill="x", pady=(0 if number == 0 else gap, 0))
        self.pack_forget()
        if beside:
            self.pack(in_=self._head, side="right")
        else:
            self.pack(fill="x", after=self._head, pady=(0, gap))
        self.lift()

    def _line(self, number: int) -> ttk.Frame:
        while len(self._lines) <= number:
            self._lines.append(ttk.Frame(self, style="Desk.TFrame"))
        return self._lines[number]
