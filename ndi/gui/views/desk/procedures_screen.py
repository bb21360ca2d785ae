"""Procedures, technique sheets and part masters, with outline and zones."""

from __future__ import annotations

from tkinter import ttk

from ndi.gui.presenters.desk.listing import Listing, Row
from ndi.gui.presenters.desk.procedures import DocumentView
from ndi.gui.views.desk.outline_canvas import OutlineCanvas
from ndi.gui.views.desk.screen import Screen
from ndi.gui.views.desk.texts import Lines
from ndi.gui.views.desk.virtual_list import VirtualList


class ProceduresScreen(Screen):
    """The list at the left, the document at the right."""

    name, title = "procedures", "Procedures"

    def build(self) -> None:
        unit = self.look.unit
        self.main.columnconfigure(0, weight=1, uniform="halves")
        self.main.columnconfigure(1, weight=1, uniform="halves")
        self.main.rowconfigure(0, weight=1)
        self.list = VirtualList(self.main, on_select=self._choose, on_open=lambda _row: self.first.take_focus())
        self.list.grid(row=0, column=0, sticky="nsew", padx=(0, unit))
        self.right = ttk.Frame(self.main, style="Desk.TFrame")
        self.right.grid(row=0, column=1, sticky="nsew")
        self.document_title = self.caption(self.right)
        self.lines = Lines(self.right)
        self.lines.pack(fill="x")
        self.outline = OutlineCanvas(self.right, height=self.look.line * 6)
        self.first_title = self.caption(self.right)
        self.first = VirtualList(self.right, on_select=self._zone)
        self.first.pack(fill="both", expand=True)
        self.second_title = self.caption(self.right)
        self.second = VirtualList(self.right)
        self.second.pack(fill="both", expand=True)
        self._document: DocumentView | None = None
        self._chosen = ""

    def refresh(self) -> None:
        self._chosen = ""
        self.ask(self.desk.procedures.listing, self._listed)

    def _listed(self, listing: Listing) -> None:
        wanted = next((row.key for row in listing.all_rows if self.key and row.key.startswith(self.key)), None)
        self.list.show(listing, key=wanted)

    def take_focus(self) -> None:
        self.list.take_focus()

    def _choose(self, row: Row) -> None:
        if row.key != self._chosen:
            self._chosen = self.key = row.key
            self.ask(lambda: self.desk.procedures.document(row.key), self._show)

    def _show(self, view: DocumentView) -> None:
        if view.key != self._chosen:
            return
        self._document = view
        self.document_title.configure(text=view.title)
        self.lines.show(view.lines)
        if view.drawing.outline or view.drawing.zones:
            self.outline.pack(fill="both", expand=True, pady=(self.look.unit // 2, 0), before=self.first_title)
            self.outline.show(view.drawing)
        else:
            self.outline.pack_forget()
        self.first_title.configure(text=view.first[0])
        self.first.show(view.first[1])
        self.second_title.configure(text=view.second[0])
        self.second.show(view.second[1])

    def _zone(self, row: Row) -> None:
        if self._document is not None and row.key:
            self.outline.show(self._document.drawing, row.key)
