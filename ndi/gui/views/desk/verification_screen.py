"""Shift verification: what must be dealt with first, then one signature over exactly what is green."""

from __future__ import annotations

from ndi.gui.presenters.desk.listing import Row
from ndi.gui.presenters.desk.verification import ReviewView
from ndi.gui.views.desk.screen import Screen
from ndi.gui.views.desk.texts import Lines
from ndi.gui.views.desk.virtual_list import VirtualList


class VerificationScreen(Screen):
    """Return on a line of a record opens the record."""

    name, title = "verification", "Verification"

    def build(self) -> None:
        self.lines = Lines(self.main)
        self.lines.pack(fill="x", pady=(0, self.look.unit // 2))
        self.list = VirtualList(self.main, on_open=self._open)
        self.list.pack(fill="both", expand=True)
        self.tool("Sign what is green (Ctrl+S)", self._sign, key="<Control-s>")
        self.tool("Another day (Ctrl+D)", lambda: self.fill(self.desk.verification.day_form()), key="<Control-d>")

    def refresh(self) -> None:
        self.ask(self.desk.verification.review, self._show)

    def take_focus(self) -> None:
        self.list.take_focus()

    def _show(self, view: ReviewView) -> None:
        self.lines.show(view.lines)
        self.list.show(view.items)

    def _open(self, row: Row) -> None:
        if row.key:
            self.go("record", row.key)

    def _sign(self) -> None:
        self.ask(self.desk.verification.sign, self.propose)
