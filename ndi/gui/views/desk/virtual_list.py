"""A list that holds only the rows that are seen, whatever the number of rows behind it.

The rows come from a :class:`RowSource`.  One that is in memory is read at
once; any other is read through ``fetch``, in the worker's thread.  Which list
has the focus is drawn as a ring, because the toolkit's own list shows none.
"""

from __future__ import annotations

import tkinter as tk
from collections.abc import Callable, Sequence
from tkinter import ttk
from typing import Any, Literal

from ndi.gui.presenters.desk.listing import Column, Listing, Row, RowSource
from ndi.gui.views.desk import look as looks

Fetch = Callable[[Callable[[], Any], Callable[[Any], None]], None]
WHEEL_ROWS = 3
SHORTEST = 10  # characters of a column that may be cut short, before the others are cut too
SAMPLE = 60  # rows that are measured for the widths of the columns


def shared_out(needs: Sequence[int], weights: Sequence[int], room: int) -> list[int]:
    """Widths within ``room``: whoever needs less than a fair share gets it all, the others share what is left by weight."""
    widths = [0] * len(needs)
    left, waiting = room, list(range(len(needs)))
    while waiting:
        total = sum(weights[n] for n in waiting)
        content = [n for n in waiting if needs[n] <= left * weights[n] // total]
        if not content:
            for n in waiting:
                widths[n] = left * weights[n] // total
            break
        for n in content:
            widths[n] = needs[n]
            left -= needs[n]
            waiting.remove(n)
    return widths


class VirtualList(tk.Frame):
    """Columns and rows; ``on_select`` gets the row under the bar, ``on_open`` the one that Return is pressed on."""

    def __init__(
        self,
        parent: tk.Misc,
        *,
        on_select: Callable[[Row], None] | None = None,
        on_open: Callable[[Row], None] | None = None,
        fetch: Fetch | None = None,
        height: int = 3,
    ) -> None:
        super().__init__(
            parent,
            highlightthickness=2,
            highlightbackground=looks.LINE,
            highlightcolor=looks.LINE,
            background=looks.PAPER,
        )
        self._look = looks.dress(parent)
        self._on_select, self._on_open, self._fetch = on_select, on_open, fetch
        self._source: RowSource = Listing(())
        self._columns: tuple[Column, ...] = ()
        self._count = self._first = 0
        self._at: int | None = None
        self._shown: list[Row] = []
        self._asked = 0
        self._told: Row | None = None
        self._items: list[str] = []
        self.tree = ttk.Treeview(
            self, show="headings", selectmode="browse", style="Desk.Treeview", height=height, takefocus=True
        )
        self.bar = ttk.Scrollbar(self, orient="vertical", command=self._on_bar, style="Desk.Vertical.TScrollbar")
        self._empty = ttk.Label(self, style="Quiet.TLabel", anchor="nw", justify="left")
        self.rowconfigure(0, weight=1)
        self.columnconfigure(0, weight=1)
        self.tree.grid(row=0, column=0, sticky="nsew")
        self.bar.grid(row=0, column=1, sticky="ns")
        self.tree.tag_configure("act", font=self._look.bold)
        self._in_full = tk.Label(
            self, anchor="nw", justify="left", background=looks.PAPER, foreground=looks.QUIET, font=self._look.plain
        )
        self._bind()

    # --- what is shown ------------------------------------------------------------------------------

    def show(self, listing: Listing, *, key: str | None = None) -> None:
        """Show a list that is in memory; the bar goes to the row of ``key``, or stays where it was."""
        held = key or (self.current.key if self.current and self.current.key else None)
        self._source, self._count, self._told = listing, listing.count(), None
        self._set_columns(listing.columns)
        self._fit_columns()
        self._empty.configure(text=listing.empty, wraplength=max(self.winfo_width() - 4 * self._look.unit, 200))
        at = next((n for n, row in enumerate(listing.all_rows) if row.key == held), None) if held else None
        self._at = at if at is not None else (0 if self._count else None)
        self._first = 0
        self._bring_into_sight()
        self._paint()

    def show_source(self, columns: tuple[Column, ...], source: RowSource) -> None:
        """Show rows that are read as they come into sight."""
        self._source, self._first, self._told = source, 0, None
        self._set_columns(columns)
        self._fit_columns()
        if self._fetch is None:
            self._counted(source.count())
        else:
            self._fetch(source.count, self._counted)

    def _counted(self, count: int) -> None:
        self._count, self._at = count, 0 if count else None
        self._paint()

    def _set_columns(self, columns: tuple[Column, ...]) -> None:
        if columns == self._columns:
            return
        self._columns = columns
        self.tree.configure(columns=[str(n) for n in range(len(columns))])
        for number, column in enumerate(columns):
            anchor: Literal["e", "w"] = "e" if column.right else "w"
            self.tree.heading(str(number), text=column.title, anchor=anchor)
            self.tree.column(str(number), anchor=anchor, stretch=False)

    def _fit_columns(self) -> None:
        """Share the width out: what is narrow gets what it needs, the rest is shared, what is left over goes to those that stretch."""
        room = self.tree.winfo_width() - 2
        if room < self._look.digit * 8 or not self._columns:
            return
        needs = self._needs()
        flexible = [n for n, c in enumerate(self._columns) if c.stretch] or [len(needs) - 1]
        left = room - sum(need for n, need in enumerate(needs) if n not in flexible)
        if left >= len(flexible) * self._look.digit * SHORTEST:
            widths = list(needs)
            shared = shared_out([needs[n] for n in flexible], [1] * len(flexible), left)
            for n, width in zip(flexible, shared, strict=True):
                widths[n] = width
        else:
            widths = shared_out(needs, [1] * len(needs), room)
        spare = max(room - sum(widths), 0)
        for n in flexible:
            widths[n] += spare // len(flexible)
        for n, (width, column) in enumerate(zip(widths, self._columns, strict=True)):
            self.tree.column(str(n), width=width, minwidth=width)
            self.tree.heading(str(n), text=looks.shortened(column.title, self._look.bold, width - self._look.unit))
        self._make_room(any(need > width for need, width in zip(needs, widths, strict=True)))

    def _make_room(self, is_cut: bool) -> None:
        """Lines below the rows for the one under the bar in full, kept free as long as any cell is cut short."""
        if not is_cut or self.winfo_height() < 9 * self._look.line:
            self._in_full.grid_forget()
            return
        width = self.winfo_width() - 2 * self._look.unit
        lines = 2 if width > 100 * self._look.digit else 3
        self._in_full.configure(height=lines, wraplength=max(width, 1))
        self._in_full.grid(row=1, column=0, columnspan=2, sticky="ew", padx=self._look.unit // 2)

    def _say_in_full(self, row: Row | None) -> None:
        """Only the cells that are cut short, each after the title of its column."""
        cells = zip(self._columns, row.cells, self._cut(row), strict=False) if row is not None else ()
        said = (f"{column.title}: {cell}" for column, cell, shown in cells if shown != cell.replace("\n", " "))
        self._in_full.configure(text="  ".join(said).replace("\n", " "))

    def _needs(self) -> list[int]:
        """What each column needs for its title and for the rows that are in memory; else the characters it asks for."""
        bold, plain, unit = self._look.bold, self._look.plain, self._look.unit
        needs = [bold.measure(column.title) + 2 * unit for column in self._columns]
        if not isinstance(self._source, Listing):
            return [max(need, self._look.digit * c.width) for need, c in zip(needs, self._columns, strict=True)]
        for row in self._source.rows(0, SAMPLE):
            used = bold if row.act else plain
            for n, cell in enumerate(row.cells[: len(needs)]):
                needs[n] = max(needs[n], used.measure(cell) + 2 * unit)
        return needs

    # --- drawing ------------------------------------------------------------------------------------

    @property
    def visible(self) -> int:
        """How many rows fit."""
        row = self._look.line + self._look.unit // 2
        heading = self._look.line + self._look.unit
        return max((self.tree.winfo_height() - heading) // row, 1)

    @property
    def index(self) -> int | None:
        """The number of the row under the bar, from 0."""
        return self._at

    @property
    def current(self) -> Row | None:
        """The row under the bar, if it is in sight."""
        if self._at is None:
            return None
        place = self._at - self._first
        return self._shown[place] if 0 <= place < len(self._shown) else None

    def _paint(self) -> None:
        self._first = max(0, min(self._first, self._count - self.visible))
        source, first, most = self._source, self._first, self.visible
        self._asked += 1
        token = self._asked
        if self._fetch is None or isinstance(source, Listing):
            self._draw(source.rows(first, most))
        else:
            self._fetch(
                lambda: source.rows(first, most), lambda rows: self._draw(rows) if token == self._asked else None
            )

    def _draw(self, rows: Sequence[Row]) -> None:
        self._shown = list(rows)
        while len(self._items) < len(rows):
            self._items.append(self.tree.insert("", "end"))
        while len(self._items) > len(rows):
            self.tree.delete(self._items.pop())
        for item, row in zip(self._items, rows, strict=True):
            self.tree.item(item, values=self._cut(row), tags=("act",) if row.act else ())
        self._select()
        most = max(self._count, 1)
        self.bar.set(self._first / most, min((self._first + self.visible) / most, 1.0))
        if self._count:
            self._empty.place_forget()
        else:
            self._empty.place(x=self._look.unit, y=self._look.line * 2)

    def _cut(self, row: Row) -> list[str]:
        """The cells of a row, each shortened with … to what its column shows."""
        used = self._look.bold if row.act else self._look.plain
        cells = []
        for number, cell in enumerate(row.cells[: len(self._columns)]):
            room = int(self.tree.column(str(number), "width")) - self._look.unit
            cells.append(looks.shortened(cell.replace("\n", " "), used, room))
        return cells

    def _select(self) -> None:
        place = -1 if self._at is None else self._at - self._first
        if 0 <= place < len(self._items):
            self.tree.selection_set(self._items[place])
            self.tree.focus(self._items[place])
            row = self.current
            self._say_in_full(row)
            if self._on_select is not None and row is not None and row != self._told:
                self._told = row  # told once: drawing again, at another size, chooses nothing
                self._on_select(row)
        else:
            self.tree.selection_set(())

    @property
    def has_focus(self) -> bool:
        return bool(self.tree.focus_get() is self.tree)

    # --- moving -------------------------------------------------------------------------------------

    def move_to(self, index: int) -> None:
        """Put the bar on a row, by its number from 0."""
        if not self._count:
            return
        self._at = max(0, min(index, self._count - 1))
        self._bring_into_sight()
        self._paint()

    def scroll(self, rows: int) -> None:
        """Move what is seen, not the bar."""
        self._first += rows
        self._paint()

    def take_focus(self) -> None:
        self.tree.focus_set()

    def _bring_into_sight(self) -> None:
        if self._at is None:
            return
        if self._at < self._first:
            self._first = self._at
        elif self._at >= self._first + self.visible:
            self._first = self._at - self.visible + 1

    def _bind(self) -> None:
        tree = self.tree
        moves: dict[str, Callable[[], int]] = {
            "<Up>": lambda: (self._at or 0) - 1,
            "<Down>": lambda: -1 + 1 if self._at is None else self._at + 1,
            "<Prior>": lambda: (self._at or 0) - self.visible,
            "<Next>": lambda: (self._at or 0) + self.visible,
            "<Home>": lambda: 0,
            "<End>": lambda: self._count - 1,
        }
        for key, where in moves.items():
            tree.bind(key, lambda _event, where=where: self._moved(where()))  # type: ignore[misc]
        for key in ("<Return>", "<KP_Enter>", "<Double-Button-1>"):
            tree.bind(key, self._on_return)
        tree.bind("<Button-1>", self._on_click)
        tree.bind("<Button-4>", lambda _event: self._wheeled(-WHEEL_ROWS))
        tree.bind("<Button-5>", lambda _event: self._wheeled(WHEEL_ROWS))
        tree.bind("<MouseWheel>", lambda event: self._wheeled(-WHEEL_ROWS if event.delta > 0 else WHEEL_ROWS))
        tree.bind("<Configure>", self._on_size)
        tree.bind("<FocusIn>", lambda _event: self._ring(looks.ACCENT))
        tree.bind("<FocusOut>", lambda _event: self._ring(looks.LINE))

    def _ring(self, colour: str) -> None:
        self.configure(highlightbackground=colour, highlightcolor=colour)

    def _moved(self, index: int) -> str:
        self.move_to(index)
        return "break"

    def _wheeled(self, rows: int) -> str:
        self.scroll(rows)
        return "break"

    def _on_bar(self, what: str, amount: str, unit: str = "") -> None:
        if what == "moveto":
            self._first = int(float(amount) * self._count)
            self._paint()
        else:
            self.scroll(int(amount) * (self.visible if unit == "pages" else 1))

    def _on_click(self, event: tk.Event[tk.Misc]) -> str | None:
        self.tree.focus_set()
        item = self.tree.identify_row(event.y)
        if item in self._items:
            self._at = self._first + self._items.index(item)
            self._select()
            return "break"
        return None

    def _on_return(self, event: tk.Event[tk.Misc]) -> str:
        if self._on_open is not None and self.current is not None:
            self._on_open(self.current)
        return "break"

    def _on_size(self, _event: tk.Event[tk.Misc]) -> None:
        self._fit_columns()
        self._bring_into_sight()
        self._paint()
