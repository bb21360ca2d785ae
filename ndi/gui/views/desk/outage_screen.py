"""Outages: every sheet of paper that stood in for the book, and what it waits for."""

from __future__ import annotations

from ndi.gui.presenters.desk.acts import Act, Form
from ndi.gui.presenters.desk.listing import Listing, Row
from ndi.gui.views.desk.screen import Screen
from ndi.gui.views.desk.virtual_list import VirtualList


class OutageScreen(Screen):
    """Return on a sheet goes on with it: typed in, then compared by another person."""

    name, title = "outages", "Outages"

    def build(self) -> None:
        self.said = self.caption(self.main)
        self.list = VirtualList(self.main, on_open=self._go_on)
        self.list.pack(fill="both", expand=True)
        self.tool("Go on with this sheet (Return)", self._go_on_chosen)
        self.tool("It differs (Ctrl+D)", self._differs, key="<Control-d>")
        self.tool("Declare an outage (Ctrl+N)", lambda: self.fill(self.desk.outages.declare_form()), key="<Control-n>")
        self.tool("Put it right (Ctrl+E)", self._amend, key="<Control-e>")
        self.tool("Print blank forms (Ctrl+P)", lambda: self.fill(self.desk.outages.blank_form()), key="<Control-p>")

    def refresh(self) -> None:
        self.ask(self.desk.outages.listing, self._show)

    def take_focus(self) -> None:
        self.list.take_focus()

    def _show(self, answer: tuple[Listing, str]) -> None:
        listing, said = answer
        self.said.configure(text=said)
        self.list.show(listing, key=self.key or None)

    def _go_on(self, row: Row) -> None:
        self.key = row.key
        self.ask(lambda: self.desk.outages.next_of(row.key), self._open)

    def _open(self, what: Form | Act) -> None:
        if isinstance(what, Act):
            self.propose(what)
        else:
            self.fill(what)

    def _go_on_chosen(self) -> None:
        if self.list.current is not None:
            self._go_on(self.list.current)

    def _amend(self) -> None:
        form = self.list.current.key if self.list.current is not None else ""
        self.ask(lambda: self.desk.outages.amend_form(form), self.fill)

    def _differs(self) -> None:
        form = self.list.current.key if self.list.current is not None else ""
        self.ask(lambda: self.desk.outages.differs_form(form), self.fill)
