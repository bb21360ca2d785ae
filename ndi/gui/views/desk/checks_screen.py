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
        self.done = VirtualList(self.main, on_open=lambda row: self.go("correction", row.key))
        self.done.pack(fill="both", expand=True)
        self.tool("Record this check (Return)", self._record_chosen)
        self.tool("Another check (Ctrl+N)", lambda: self._open(""), key="<Control-n>")
        self.tool(
            "What a check recalls (Ctrl+R)",
            self._recall,
            key="<Control-r>",
        )
        self.tool("Calendar (Ctrl+P)", lambda: self.fill(self.desk.reports.calendar_form()), key="<Control-p>")

    def _recall(self) -> None:
        """Of the check under the bar below; of a line above, the last reading or check of its object."""
        if self.done.has_focus or not self.due.current:
            self.recall(self.done.current.key if self.done.current else "")
        else:
            thing = self.due.current.key.partition("|")[0]
            self.ask(lambda: self.desk.recalls.of_object(thing), lambda key: self.go("recalls", key))

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
