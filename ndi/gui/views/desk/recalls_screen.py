"""Recall sets with their records, what is to be done with each, what is done."""

from __future__ import annotations

from ndi.gui.presenters.desk.listing import Row
from ndi.gui.presenters.desk.recalls import RecallView
from ndi.gui.views.desk.screen import Screen
from ndi.gui.views.desk.texts import Lines
from ndi.gui.views.desk.virtual_list import VirtualList


class RecallsScreen(Screen):
    """Return on a record opens it."""

    name, title = "recalls", "Recall sets"

    def build(self) -> None:
        self.sets = VirtualList(
            self.main, on_select=self._choose, on_open=lambda _row: self.items.take_focus(), height=4
        )
        self.sets.pack(fill="x")
        self.lines = Lines(self.main)
        self.lines.pack(fill="x", pady=(self.look.unit // 2, self.look.unit // 2))
        self.items = VirtualList(self.main, on_open=lambda row: self.go("record", row.key))
        self.items.pack(fill="both", expand=True)
        self._name = ""
        self.tool("Propose the actions anew (Ctrl+N)", self._propose, key="<Control-n>")

    def refresh(self) -> None:
        self._name = ""
        self.ask(self.desk.recalls.listing, lambda listing: self.sets.show(listing, key=self.key or None))

    def take_focus(self) -> None:
        self.items.take_focus()

    def _choose(self, row: Row) -> None:
        if row.key != self._name:
            self._name = self.key = row.key
            self.ask(lambda: self.desk.recalls.recall(row.key), self._show)

    def _show(self, view: RecallView) -> None:
        if view.name == self._name:
            self.lines.show(view.lines)
            self.items.show(view.items)

    def _propose(self) -> None:
        if self._name:
            self.propose(self.desk.recalls.propose(self._name))
