"""Process checks: due above, done below; Return on a line records the check."""

from __future__ import annotations

from ndi.gui.presenters.desk.listing import Listing, Row
from ndi.gui.views.desk.screen import Screen
from ndi.gui.views.desk.virtual_list import VirtualList


class ChecksScreen(Screen):
    """What the procedures in force ask to be checked."""

    name, title = "checks", "Process checks"

    def build(self) -> None:
        self.said = self.caption(self.main)
        self.due = VirtualList(self.main, on_open=self._record, height=5)
        self.due.pack(fill="both", expand=True)
        self.caption(self.main, "Done, the latest first")
        self.done = VirtualList(self.main)
        self.done.pack(fill="both", expand=True)
        self.tool("Record this check (Return)", self._record_chosen)
        self.tool("Another check (Ctrl+N)", lambda: self._open(""), key="<Control-n>")

    def refresh(self) -> None:
        self.ask(self.desk.checks.due, self._show)
        self.ask(self.desk.checks.done, self.done.show)

    def take_focus(self) -> None:
        self.due.take_focus()

    def _show(self, answer: tuple[Listing, str]) -> None:
        listing, said = answer
        self.said.configure(text=said)
        self.due.show(listing)

    def _record(self, row: Row) -> None:
        self._open(row.key)

    def _record_chosen(self) -> None:
        self._open(self.due.current.key if self.due.current else "")

    def _open(self, key: str) -> None:
        self.ask(lambda: self.desk.checks.form(key), self.fill)
