"""Handover: every open line, read one by one with Return; shift sheet, shifts, tags."""

from __future__ import annotations

from ndi.gui.presenters.desk.listing import Listing, Row
from ndi.gui.views.desk.screen import Screen
from ndi.gui.views.desk.texts import wrapped
from ndi.gui.views.desk.virtual_list import VirtualList


class HandoverScreen(Screen):
    """Return says that the line under the bar was read; the bar goes on to the next."""

    name, title = "handover", "Handover"

    def build(self) -> None:
        self.said = self.caption(self.main)
        self.full = wrapped(self.main, style="Paper.TLabel")
        self.full.configure(padding=self.look.unit // 2)
        self.full.pack(side="bottom", fill="x", pady=(self.look.unit // 2, 0))
        self.list = VirtualList(self.main, on_select=self._choose, on_open=self._read)
        self.list.pack(fill="both", expand=True)
        self.tool("I have read it (Return)", self._read_chosen)
        self.tool("Handover sheet (Ctrl+L)", lambda: self.fill(self.desk.reports.handover_form()), key="<Control-l>")
        self.tool("Outages (Ctrl+O)", lambda: self.go("outages"), key="<Control-o>")
        self.tool("Shift sheet (Ctrl+P)", lambda: self.fill(self.desk.handover.sheet_form()), key="<Control-p>")
        self.tool("Shift opens, closes", lambda: self.ask(self.desk.handover.shift_form, self.fill))
        self.tool("Does a tag stand? (Ctrl+T)", lambda: self.fill(self.desk.handover.tag_form()), key="<Control-t>")

    def refresh(self) -> None:
        self.ask(self.desk.handover.lines, self._show)

    def take_focus(self) -> None:
        self.list.take_focus()

    def _show(self, answer: tuple[Listing, str]) -> None:
        listing, said = answer
        self.said.configure(text=said)
        self.list.show(listing)

    def _choose(self, row: Row) -> None:
        self.full.configure(text=row.key)

    def _read(self, row: Row) -> None:
        self.ask(lambda: self.desk.handover.acknowledge(row.key), self._was_read)

    def _read_chosen(self) -> None:
        if self.list.current is not None:
            self._read(self.list.current)

    def _was_read(self, said: str) -> None:
        self.say(said)
        self.list.move_to((self.list.index or 0) + 1)
        self.refresh()
