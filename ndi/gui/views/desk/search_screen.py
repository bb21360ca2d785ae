"""Search by anything: one field, a list that leads on."""

from __future__ import annotations

from tkinter import ttk

from ndi.gui.presenters.desk.listing import Listing, Row
from ndi.gui.views.desk.screen import Screen
from ndi.gui.views.desk.virtual_list import VirtualList

_WAIT_MS = 150  # after the last key, before the book is asked


class SearchScreen(Screen):
    """Type or scan; Down goes into the list, Return opens."""

    name, title = "search", "Search"

    def build(self) -> None:
        unit = self.look.unit
        line = ttk.Frame(self.main, style="Desk.TFrame")
        line.pack(fill="x", pady=(0, unit))
        self.field = ttk.Entry(line, font=self.look.large)
        self.field.pack(fill="x")
        self.list = VirtualList(self.main, on_open=self._open)
        self.list.pack(fill="both", expand=True)
        self._pending: str | None = None
        self._latest = 0
        self._asked_for = ""
        for event in ("<KeyRelease>", "<<Paste>>", "<<Cut>>"):
            self.field.bind(event, lambda _event: self.after_idle(self._changed))
        self.field.bind("<Down>", lambda _event: self._into_list())
        self.field.bind("<Return>", lambda _event: self._open_first())

    def refresh(self) -> None:
        self._look_up(open_one=False)

    def take_focus(self) -> None:
        self.field.focus_set()
        self.field.selection_range(0, "end")

    def _changed(self) -> None:
        if self.field.get() != self._asked_for:
            self._soon()

    def _soon(self) -> None:
        self._asked_for = self.field.get()
        if self._pending is not None:
            self.after_cancel(self._pending)
        self._pending = self.after(_WAIT_MS, lambda: self._look_up(open_one=False))

    def _look_up(self, *, open_one: bool) -> None:
        self._pending = None
        self._latest += 1
        latest, text = self._latest, self.field.get()

        def found(answer: tuple[Listing, str]) -> None:
            if latest != self._latest:
                return
            listing, said = answer
            self.list.show(listing)
            if said:
                self.say(said)
            if open_one and listing.count() == 1:
                self._open(listing.all_rows[0])
            elif open_one and listing.count():
                self.list.take_focus()

        self.ask(lambda: self.desk.search.find(text), found)

    def _open_first(self) -> str:
        """Return in the field: what was typed (or scanned) is looked up, and opened when it can be only one thing."""
        if self._pending is not None:
            self.after_cancel(self._pending)
        self._look_up(open_one=True)
        return "break"

    def _into_list(self) -> str:
        self.list.take_focus()
        return "break"

    def _open(self, row: Row) -> None:
        place = self.desk.place_of(row.key)
        self.go(place.screen, place.key)
